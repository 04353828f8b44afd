//! Signed sessions in batches, each with all that marking them anew needs, so that thousands are read in little memory.

use super::entries::{ERASED, read};
use super::{CentreId, SessionId, StaffNo, StoreError, TaskId, decisions, results};
use crate::marking::decision::Decision;
use crate::marking::{ExtraTime, Log, Observation, VerdictOutcome};
use sqlx::PgConnection;
use std::collections::HashMap;
use uuid::Uuid;

/// A signed session.
#[derive(Debug, Clone, PartialEq)]
pub struct Past {
    pub id: SessionId,
    pub task_version: i32,
    pub assessor: StaffNo,
    pub candidate_name: String,
    pub extra: ExtraTime,
    pub signed: VerdictOutcome,
    /// The signed log: the assessor's.
    pub log: Log,
    pub decisions: Vec<Decision>,
}

/// Up to `most` signed sessions of a task, any version, from the newest on; those before `before` in that order. A person
/// who marks a session as its second marker works blind: `viewer` never gets theirs.
pub async fn of_task(
    tx: &mut PgConnection,
    centre: &CentreId,
    task: TaskId,
    before: Option<SessionId>,
    most: i64,
    viewer: StaffNo,
) -> Result<Vec<Past>, StoreError> {
    let rows = sqlx::query_as!(
        Row,
        "SELECT s.session_id, s.task_version, s.assessor, c.name AS candidate_name, s.extra_percent, s.extra_minutes,
                r.outcome
         FROM sessions s
         JOIN results r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
         JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
         WHERE s.centre_id = $1 AND s.task_id = $2 AND ($3::uuid IS NULL OR s.session_id < $3)
           AND NOT EXISTS (SELECT FROM second_markers m WHERE m.centre_id = s.centre_id
                           AND m.session_id = s.session_id AND m.marker = $5)
         ORDER BY s.session_id DESC LIMIT $4",
        centre.as_str(),
        task.0,
        before.map(|before| before.0),
        most,
        viewer.0,
    )
    .fetch_all(&mut *tx)
    .await?;
    complete(tx, centre, rows).await
}

/// The newest signed sessions of the centre, without their logs, to choose one from: the session, the candidate's name and
/// the task's title. With `assessor`, only theirs.
pub async fn newest(
    tx: &mut PgConnection,
    centre: &CentreId,
    assessor: Option<StaffNo>,
    most: i64,
) -> Result<Vec<(SessionId, String, String)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT s.session_id, c.name, t.title
         FROM sessions s
         JOIN results r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
         JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
         JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
         WHERE s.centre_id = $1 AND ($2::integer IS NULL OR s.assessor = $2)
         ORDER BY s.session_id DESC LIMIT $3",
        centre.as_str(),
        assessor.map(|assessor| assessor.0),
        most,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (SessionId(row.session_id), row.name, row.title)).collect())
}

struct Row {
    session_id: Uuid,
    task_version: i32,
    assessor: i32,
    candidate_name: String,
    extra_percent: i32,
    extra_minutes: i32,
    outcome: String,
}

/// Adds logs and decisions: two queries for the whole batch.
async fn complete(tx: &mut PgConnection, centre: &CentreId, rows: Vec<Row>) -> Result<Vec<Past>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.session_id).collect();
    let mut logs = logs(tx, centre, &ids).await?;
    let mut decisions = decisions::of_sessions(tx, centre, &ids).await?;
    let mut past = Vec::with_capacity(rows.len());
    for row in rows {
        let id = row.session_id;
        let small = |number: i32| u16::try_from(number).map_err(|why| StoreError::unreadable("sessions", id, why));
        past.push(Past {
            id: SessionId(id),
            task_version: row.task_version,
            assessor: StaffNo(row.assessor),
            candidate_name: row.candidate_name,
            extra: ExtraTime { percent: small(row.extra_percent)?, minutes: small(row.extra_minutes)? },
            signed: results::outcome_of(&row.outcome, id)?,
            log: Log::of_stored(logs.remove(&id).unwrap_or_default()),
            decisions: decisions.remove(&id).unwrap_or_default(),
        });
    }
    Ok(past)
}

/// The assessor's log of each session, in the order of receipt. What they hold was checked when it was taken in.
async fn logs(
    tx: &mut PgConnection,
    centre: &CentreId,
    sessions: &[Uuid],
) -> Result<HashMap<Uuid, Vec<Observation>>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT e.session_id, e.n, e.line, t.body AS "body?"
           FROM entries e
           JOIN sessions s ON s.centre_id = e.centre_id AND s.session_id = e.session_id AND s.assessor = e.marker
           LEFT JOIN texts t ON t.centre_id = e.centre_id AND t.session_id = e.session_id AND t.n = e.n
           WHERE e.centre_id = $1 AND e.session_id = ANY($2) AND e.kind = 'observation'
           ORDER BY e.session_id, e.n"#,
        centre.as_str(),
        sessions,
    )
    .fetch_all(tx)
    .await?;
    let mut logs: HashMap<Uuid, Vec<Observation>> = HashMap::new();
    for row in rows {
        let unreadable = |why: String| StoreError::unreadable("entries", format!("{} {}", row.session_id, row.n), why);
        let entry = read(SessionId(row.session_id), row.n, &row.line)?;
        let seen = entry.observation(Some(row.body.as_deref().unwrap_or(ERASED)));
        let seen = seen.map_err(|why| unreadable(why.to_string()))?;
        let seen = seen.ok_or_else(|| unreadable("it is not an observation".to_owned()))?;
        logs.entry(row.session_id).or_default().push(seen);
    }
    Ok(logs)
}
