//! Private addresses under which a calendar program fetches plans. Unknown and revoked ones look alike; only hashes of
//! tokens are stored.

use super::sessions::Length;
use super::staff::{Role, Staff, of_row};
use super::{CentreId, StaffNo, StoreError, sessions};
use crate::planning::Span;
use sqlx::PgConnection;
use time::{OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

/// Makes a person's address; one made earlier is revoked.
pub async fn make(
    tx: &mut PgConnection,
    centre: &CentreId,
    person: StaffNo,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    revoke(&mut *tx, centre, person, now).await?;
    sqlx::query!(
        "INSERT INTO calendar_feeds (centre_id, token_hash, staff_number, made_at) VALUES ($1, $2, $3, $4)",
        centre.as_str(),
        token_hash.as_slice(),
        person.0,
        now,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Revokes a person's address. `false` where they have none.
pub async fn revoke(
    tx: &mut PgConnection,
    centre: &CentreId,
    person: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE calendar_feeds SET revoked_at = $3 WHERE centre_id = $1 AND staff_number = $2 AND revoked_at IS NULL",
        centre.as_str(),
        person.0,
        now,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() > 0)
}

/// When a person's address was made, in the centre's time zone; `None` where they have none.
pub async fn made_at(
    tx: &mut PgConnection,
    centre: &CentreId,
    person: StaffNo,
) -> Result<Option<PrimitiveDateTime>, StoreError> {
    let made = sqlx::query_scalar!(
        r#"SELECT made_at AT TIME ZONE time_zone AS "made!" FROM calendar_feeds JOIN centres USING (centre_id)
           WHERE centre_id = $1 AND staff_number = $2 AND revoked_at IS NULL ORDER BY made_at DESC LIMIT 1"#,
        centre.as_str(),
        person.0,
    )
    .fetch_optional(tx)
    .await?;
    Ok(made)
}

/// Whose address it is. `None` for one that is unknown or revoked, and where the person has been disabled.
pub async fn whose(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
) -> Result<Option<Staff>, StoreError> {
    let row = sqlx::query!(
        "SELECT number, sign_in_name, name, roles FROM calendar_feeds f
         JOIN staff s ON s.centre_id = f.centre_id AND s.number = f.staff_number
         WHERE f.centre_id = $1 AND f.token_hash = $2 AND f.revoked_at IS NULL AND s.disabled_at IS NULL",
        centre.as_str(),
        token_hash.as_slice(),
    )
    .fetch_optional(tx)
    .await?;
    row.map(|row| of_row(centre, row.number, row.sign_in_name, row.name, &row.roles)).transpose()
}

/// A session as a calendar shows it: nothing of the candidate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    pub id: Uuid,
    pub planned_at: OffsetDateTime,
    pub length: Length,
    pub task_title: String,
    pub bay: String,
    pub assessor: StaffNo,
    pub sequence: i32,
    /// When the plan was made or last changed, as far as that is known.
    pub changed_at: Option<OffsetDateTime>,
    pub cancelled: bool,
}

/// Most sessions that one calendar holds.
const MOST: i64 = 20_000;

/// The sessions that begin in a span and belong to this person: all of the centre's for those who read everything, else
/// those that they mark. By time.
pub async fn entries(
    tx: &mut PgConnection,
    centre: &CentreId,
    person: &Staff,
    span: Span,
) -> Result<Vec<Entry>, StoreError> {
    let all = person.is(Role::Manager) || person.is(Role::Verifier);
    let rows = sqlx::query!(
        "SELECT s.session_id, s.planned_at, s.length_minutes, s.turn_round_minutes, t.title, s.bay, s.assessor, s.sequence,
                s.changed_at, s.given_up
         FROM sessions s
         JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
         WHERE s.centre_id = $1 AND s.planned_at >= $2 AND s.planned_at < $3
           AND ($4::integer IS NULL OR s.assessor = $4 OR EXISTS (
               SELECT FROM second_markers m
               WHERE m.centre_id = s.centre_id AND m.session_id = s.session_id AND m.marker = $4))
         ORDER BY s.planned_at, s.session_id LIMIT $5",
        centre.as_str(),
        span.from,
        span.until,
        (!all).then_some(person.number.0),
        MOST,
    )
    .fetch_all(tx)
    .await?;
    let cancelled = sessions::Ended::Cancelled.word();
    let entries = rows.into_iter().map(|row| Entry {
        id: row.session_id,
        planned_at: row.planned_at,
        length: Length { minutes: row.length_minutes, turn_round: row.turn_round_minutes },
        task_title: row.title,
        bay: row.bay,
        assessor: StaffNo(row.assessor),
        sequence: row.sequence,
        changed_at: row.changed_at,
        cancelled: row.given_up.as_deref() == Some(cancelled),
    });
    Ok(entries.collect())
}
