//! Planning: sessions are planned, changed and given up here, and what they take up is read.
//!
//! Whoever plans for a centre holds it first ([`hold_centre`]), so that two people at once cannot both find a bay free.

use super::sessions::{self, Ended, Length, NewSession, TURN_ROUND};
use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError, TaskId, second_markers, tasks};
use crate::planning::{Booking, Span};
use crate::seal::chain;
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// A session to plan, with all that planning knows of it.
#[derive(Debug, Clone)]
pub struct Plan {
    pub session: NewSession,
    pub length: Length,
    pub second_marker: Option<StaffNo>,
    pub resit_of: Option<SessionId>,
    /// What the person was warned of and planned all the same, in the words of [`crate::planning::Shared`], and `planted`.
    pub despite: Vec<&'static str>,
}

/// Holds the plan of a centre until the transaction ends.
pub async fn hold_centre(tx: &mut PgConnection, centre: &CentreId) -> Result<(), StoreError> {
    sqlx::query!("SELECT pg_advisory_xact_lock(hashtextextended('plan ' || $1, 0))", centre.as_str())
        .execute(tx)
        .await?;
    Ok(())
}

/// Plans a session. `by` is nobody where the service itself plans it.
pub async fn plan(
    tx: &mut PgConnection,
    centre: &CentreId,
    plan: &Plan,
    by: Option<StaffNo>,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let session = &plan.session;
    let head = chain::start(session.id.0);
    sqlx::query!(
        "INSERT INTO sessions (centre_id, session_id, task_id, task_version, candidate_id, assessor, bay, planned_at,
                               extra_percent, extra_minutes, head, length_minutes, turn_round_minutes, resit_of, changed_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)",
        centre.as_str(),
        session.id.0,
        session.task.0,
        session.task_version,
        session.candidate.0,
        session.assessor.0,
        session.bay,
        session.planned_at,
        i32::from(session.extra.percent),
        i32::from(session.extra.minutes),
        head.as_str(),
        plan.length.minutes,
        plan.length.turn_round,
        plan.resit_of.map(|earlier| earlier.0),
        now,
    )
    .execute(&mut *tx)
    .await?;
    if let Some(marker) = plan.second_marker {
        second_markers::plan(tx, centre, session.id, marker).await?;
    }
    note(tx, centre, session.id, "planned", by, now, &plan.despite).await
}

/// Plans a session that takes as long as its task, by the service itself and with no question about clashes.
///
/// # Errors
/// Where the task is not there or cannot be read.
pub async fn plan_whole(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: &NewSession,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let published = tasks::find(tx, centre, session.task, session.task_version).await?;
    let missing = || StoreError::unreadable("tasks", session.task.0, "there is no such version");
    let task = published.ok_or_else(missing)?.task.with_extra(session.extra);
    let whole = Plan {
        session: session.clone(),
        length: Length::of(&task, TURN_ROUND),
        second_marker: None,
        resit_of: None,
        despite: Vec::new(),
    };
    plan(tx, centre, &whole, None, now).await
}

/// Changes a plan: everything but the candidate and what it repeats. `false`, and nothing changed, where the session is
/// not there, was opened or was given up.
pub async fn change(
    tx: &mut PgConnection,
    centre: &CentreId,
    plan: &Plan,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let session = &plan.session;
    let done = sqlx::query!(
        "UPDATE sessions SET task_id = $3, task_version = $4, assessor = $5, bay = $6, planned_at = $7, extra_percent = $8,
                extra_minutes = $9, length_minutes = $10, turn_round_minutes = $11, sequence = sequence + 1, changed_at = $12
         WHERE centre_id = $1 AND session_id = $2 AND opened_at IS NULL AND given_up IS NULL",
        centre.as_str(),
        session.id.0,
        session.task.0,
        session.task_version,
        session.assessor.0,
        session.bay,
        session.planned_at,
        i32::from(session.extra.percent),
        i32::from(session.extra.minutes),
        plan.length.minutes,
        plan.length.turn_round,
        now,
    )
    .execute(&mut *tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    second_markers::remove(tx, centre, session.id).await?;
    if let Some(marker) = plan.second_marker {
        second_markers::plan(tx, centre, session.id, marker).await?;
    }
    note(tx, centre, session.id, "changed", Some(by), now, &plan.despite).await?;
    Ok(true)
}

/// Gives a plan up. `false`, and nothing changed, where the session is not there, was opened or was given up already.
pub async fn give_up(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    how: Ended,
    reason: Option<&str>,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE sessions SET given_up = $3, given_up_at = $4, given_up_by = $5, given_up_reason = $6,
                sequence = sequence + 1, changed_at = $4
         WHERE centre_id = $1 AND session_id = $2 AND opened_at IS NULL AND given_up IS NULL",
        centre.as_str(),
        session.0,
        how.word(),
        now,
        by.0,
        reason,
    )
    .execute(&mut *tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    note(tx, centre, session, how.word(), Some(by), now, &[]).await?;
    Ok(true)
}

/// Writes the state of the plan into its history.
async fn note(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    kind: &str,
    by: Option<StaffNo>,
    now: OffsetDateTime,
    despite: &[&'static str],
) -> Result<(), StoreError> {
    let despite: Vec<String> = despite.iter().map(|word| (*word).to_owned()).collect();
    sqlx::query!(
        "INSERT INTO session_changes (centre_id, session_id, sequence, kind, changed_at, changed_by, task_id, task_version,
                                      assessor, second_marker, bay, planned_at, length_minutes, turn_round_minutes, despite)
         SELECT s.centre_id, s.session_id, s.sequence, $3, $4, $5, s.task_id, s.task_version, s.assessor,
                (SELECT marker FROM second_markers m WHERE m.centre_id = s.centre_id AND m.session_id = s.session_id),
                s.bay, s.planned_at, s.length_minutes, s.turn_round_minutes, $6
         FROM sessions s WHERE s.centre_id = $1 AND s.session_id = $2",
        centre.as_str(),
        session.0,
        kind,
        now,
        by.map(|by| by.0),
        &despite,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// What the sessions of a span take up: all that overlap it and were not given up, by time.
pub async fn booked(tx: &mut PgConnection, centre: &CentreId, span: Span) -> Result<Vec<Booking>, StoreError> {
    // No session takes longer than 10 600 minutes, so that one which began earlier than that is over.
    let rows = sqlx::query!(
        r#"SELECT s.session_id, s.candidate_id, s.assessor, m.marker AS "second_marker?", s.bay, s.planned_at,
                  s.length_minutes, s.turn_round_minutes
           FROM sessions s
           LEFT JOIN second_markers m ON m.centre_id = s.centre_id AND m.session_id = s.session_id
           WHERE s.centre_id = $1 AND s.planned_at < $3 AND s.planned_at > $2::timestamptz - interval '10600 minutes'
             AND s.planned_at + make_interval(mins => s.length_minutes + s.turn_round_minutes) > $2
             AND s.given_up IS NULL
           ORDER BY s.planned_at, s.session_id"#,
        centre.as_str(),
        span.from,
        span.until,
    )
    .fetch_all(tx)
    .await?;
    let booking = |id, candidate, assessor, second_marker, bay, from: OffsetDateTime, length: Length| Booking {
        session: id,
        candidate,
        assessor,
        second_marker,
        bay,
        span: Span { from, until: length.until(from) },
    };
    let length = |minutes, turn_round| Length { minutes, turn_round };
    let rows = rows.into_iter().map(|row| {
        let length = length(row.length_minutes, row.turn_round_minutes);
        booking(row.session_id, row.candidate_id, row.assessor, row.second_marker, row.bay, row.planned_at, length)
    });
    Ok(rows.collect())
}

/// The task versions of a candidate's last session before an instant and of the first from then on, leaving out those
/// that were given up and `except`.
pub async fn neighbours(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: CandidateId,
    at: OffsetDateTime,
    except: SessionId,
) -> Result<Vec<(TaskId, i32)>, StoreError> {
    let rows = sqlx::query!(
        r#"(SELECT task_id AS "task!", task_version AS "version!" FROM sessions
            WHERE centre_id = $1 AND candidate_id = $2 AND planned_at < $3 AND given_up IS NULL AND session_id <> $4
            ORDER BY planned_at DESC, session_id DESC LIMIT 1)
           UNION ALL
           (SELECT task_id, task_version FROM sessions
            WHERE centre_id = $1 AND candidate_id = $2 AND planned_at >= $3 AND given_up IS NULL AND session_id <> $4
            ORDER BY planned_at, session_id LIMIT 1)"#,
        centre.as_str(),
        candidate.0,
        at,
        except.0,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (TaskId(row.task), row.version)).collect())
}

/// A line of a plan's history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    pub sequence: i32,
    /// `planned`, `changed`, `cancelled` or `no_show`.
    pub kind: String,
    /// In the centre's time zone.
    pub at: time::PrimitiveDateTime,
    /// Who, by name; nobody where the service itself did it.
    pub by: Option<String>,
    pub task_title: String,
    pub assessor_name: String,
    pub second_marker_name: Option<String>,
    pub bay: String,
    /// In the centre's time zone.
    pub planned_at: time::PrimitiveDateTime,
    pub minutes: i32,
    pub despite: Vec<String>,
}

/// The history of a plan, from its making on.
pub async fn changes(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Vec<Changed>, StoreError> {
    let rows = sqlx::query_as!(
        Changed,
        r#"SELECT c.sequence, c.kind, c.changed_at AT TIME ZONE z.time_zone AS "at!", b.name AS "by?",
                  t.title AS task_title, a.name AS assessor_name, m.name AS "second_marker_name?", c.bay,
                  c.planned_at AT TIME ZONE z.time_zone AS "planned_at!", c.length_minutes AS minutes, c.despite
           FROM session_changes c
           JOIN centres z ON z.centre_id = c.centre_id
           JOIN tasks t ON t.centre_id = c.centre_id AND t.task_id = c.task_id AND t.version = c.task_version
           JOIN staff a ON a.centre_id = c.centre_id AND a.number = c.assessor
           LEFT JOIN staff m ON m.centre_id = c.centre_id AND m.number = c.second_marker
           LEFT JOIN staff b ON b.centre_id = c.centre_id AND b.number = c.changed_by
           WHERE c.centre_id = $1 AND c.session_id = $2 ORDER BY c.sequence"#,
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows)
}

/// Everybody who can be planned as an assessor, by name.
pub async fn assessors(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<(StaffNo, String)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT number, name FROM staff
         WHERE centre_id = $1 AND 'assessor' = ANY (roles) AND disabled_at IS NULL ORDER BY name, number",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (StaffNo(row.number), row.name)).collect())
}

/// The bays of the centre's last sessions, by name.
pub async fn bays(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<String>, StoreError> {
    let bays = sqlx::query_scalar!(
        "SELECT DISTINCT bay FROM (
             SELECT bay FROM sessions WHERE centre_id = $1 ORDER BY planned_at DESC LIMIT 1000) AS latest
         ORDER BY bay",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    Ok(bays)
}

/// A session that another page leads to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Linked {
    pub id: SessionId,
    /// In the centre's time zone.
    pub planned_at: time::PrimitiveDateTime,
    pub standing: sessions::Standing,
}

/// The sessions that repeat this one, by time.
pub async fn resits(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Vec<Linked>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT session_id, planned_at AT TIME ZONE time_zone AS "planned_at!", standing
           FROM sessions JOIN centres USING (centre_id)
           WHERE centre_id = $1 AND resit_of = $2 ORDER BY planned_at, session_id"#,
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    let linked = |id: Uuid, planned_at, standing: &str| {
        Ok(Linked { id: SessionId(id), planned_at, standing: sessions::Standing::of_word(standing, id)? })
    };
    rows.into_iter().map(|row| linked(row.session_id, row.planned_at, &row.standing)).collect()
}
