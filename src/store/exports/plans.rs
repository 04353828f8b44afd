//! Planned sessions, a page at a time.

use super::Bounds;
use crate::export::row::Plan;
use crate::store::sessions::Ended;
use crate::store::{CentreId, StoreError};
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// How many there are.
pub(super) async fn count(tx: &mut PgConnection, centre: &CentreId, bounds: &Bounds) -> Result<u64, StoreError> {
    let rows = sqlx::query_scalar!(
        r#"SELECT count(*) AS "rows!" FROM sessions s
           WHERE centre_id = $1 AND planned_at >= $2 AND planned_at < $3
             AND ($4::uuid IS NULL OR task_id = $4) AND ($5::integer IS NULL OR assessor = $5)
             AND ($6::text IS NULL OR EXISTS (SELECT FROM results r WHERE r.centre_id = s.centre_id
                                              AND r.session_id = s.session_id AND r.outcome = $6))"#,
        centre.as_str(),
        bounds.from,
        bounds.to,
        bounds.task,
        bounds.assessor,
        bounds.outcome,
    )
    .fetch_one(tx)
    .await?;
    Ok(u64::try_from(rows).unwrap_or(0))
}

/// The next of them, by time.
pub(super) async fn page(
    tx: &mut PgConnection,
    centre: &CentreId,
    bounds: &Bounds,
    after: (OffsetDateTime, Uuid),
    most: i64,
) -> Result<Vec<Plan>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT s.session_id, s.task_id, s.task_version, t.title, s.bay, s.assessor, s.planned_at,
                  s.length_minutes, s.sequence, s.changed_at, s.given_up
           FROM sessions s
           JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           WHERE s.centre_id = $1 AND s.planned_at >= $2 AND s.planned_at < $3
             AND ($4::uuid IS NULL OR s.task_id = $4) AND ($5::integer IS NULL OR s.assessor = $5)
             AND ($6::text IS NULL OR EXISTS (SELECT FROM results r WHERE r.centre_id = s.centre_id
                                              AND r.session_id = s.session_id AND r.outcome = $6))
             AND (s.planned_at, s.session_id) > ($7, $8)
           ORDER BY s.planned_at, s.session_id LIMIT $9"#,
        centre.as_str(),
        bounds.from,
        bounds.to,
        bounds.task,
        bounds.assessor,
        bounds.outcome,
        after.0,
        after.1,
        most,
    )
    .fetch_all(tx)
    .await?;
    let plans = rows.into_iter().map(|row| Plan {
        session: row.session_id,
        task_title: row.title,
        bay: row.bay,
        assessor: row.assessor,
        planned_at: row.planned_at,
        lasts: Duration::minutes(row.length_minutes.into()),
        sequence: u32::try_from(row.sequence).unwrap_or(0),
        changed_at: row.changed_at,
        cancelled: row.given_up.as_deref() == Some(Ended::Cancelled.word()),
    });
    Ok(plans.collect())
}
