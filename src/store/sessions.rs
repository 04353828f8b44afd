//! Sessions: one candidate's attempt at one published task.

use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError, TaskId, results};
use crate::marking::{ExtraTime, VerdictOutcome};
use crate::seal::chain;
use sqlx::PgConnection;
use time::{Date, OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

/// A session as planned, and how far it has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    pub id: SessionId,
    pub task: TaskId,
    pub task_version: i32,
    pub candidate: CandidateId,
    pub assessor: StaffNo,
    /// Who marks the attempt beside the assessor, blind to them, where somebody does.
    pub second_marker: Option<StaffNo>,
    pub bay: String,
    pub planned_at: OffsetDateTime,
    pub extra: ExtraTime,
    /// When the bay check was confirmed and the evidence opened.
    pub opened_at: Option<OffsetDateTime>,
    /// Entries in the chain.
    pub count: i64,
    /// Hash of the last entry, or h(0).
    pub head: String,
}

/// A session to plan.
#[derive(Debug, Clone)]
pub struct NewSession {
    pub id: SessionId,
    pub task: TaskId,
    pub task_version: i32,
    pub candidate: CandidateId,
    pub assessor: StaffNo,
    pub bay: String,
    pub planned_at: OffsetDateTime,
    pub extra: ExtraTime,
}

/// A line in the list of sessions, with what a person wants to read there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub id: SessionId,
    pub candidate_name: String,
    pub candidate_reference: String,
    pub task_title: String,
    pub bay: String,
    pub assessor: StaffNo,
    pub assessor_name: String,
    pub second_marker: Option<StaffNo>,
    /// Whether something that the assessor recorded arrived only after the signature, so that a person must look again.
    pub to_review: bool,
    /// In the centre's time zone.
    pub planned_local: PrimitiveDateTime,
    pub standing: Standing,
}

/// How far a session has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    Planned,
    /// Bay checked; the log may be running.
    Open,
    Signed(VerdictOutcome),
}

/// Plans a session.
pub async fn plan(tx: &mut PgConnection, centre: &CentreId, session: &NewSession) -> Result<(), StoreError> {
    let head = chain::start(session.id.0);
    sqlx::query!(
        "INSERT INTO sessions (centre_id, session_id, task_id, task_version, candidate_id, assessor, bay, planned_at,
                               extra_percent, extra_minutes, head)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)",
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
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The session with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<Option<Session>, StoreError> {
    let row = sqlx::query_as!(
        SessionRow,
        r#"SELECT session_id, task_id, task_version, candidate_id, assessor, bay, planned_at, extra_percent,
                extra_minutes, opened_at, count, head,
                (SELECT marker FROM second_markers m WHERE m.centre_id = s.centre_id AND m.session_id = s.session_id)
                AS "second_marker?"
         FROM sessions s WHERE centre_id = $1 AND session_id = $2"#,
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    row.map(SessionRow::read).transpose()
}

/// The session, with its row held until the transaction ends, so that a check and the write that relies on it see
/// the same state.
pub async fn hold(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<Option<Session>, StoreError> {
    let row = sqlx::query_as!(
        SessionRow,
        r#"SELECT session_id, task_id, task_version, candidate_id, assessor, bay, planned_at, extra_percent,
                extra_minutes, opened_at, count, head,
                (SELECT marker FROM second_markers m WHERE m.centre_id = s.centre_id AND m.session_id = s.session_id)
                AS "second_marker?"
         FROM sessions s WHERE centre_id = $1 AND session_id = $2 FOR NO KEY UPDATE OF s"#,
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    row.map(SessionRow::read).transpose()
}

/// A session as its row tells.
struct SessionRow {
    session_id: Uuid,
    task_id: Uuid,
    task_version: i32,
    candidate_id: Uuid,
    assessor: i32,
    bay: String,
    planned_at: OffsetDateTime,
    extra_percent: i32,
    extra_minutes: i32,
    opened_at: Option<OffsetDateTime>,
    count: i64,
    head: String,
    second_marker: Option<i32>,
}

impl SessionRow {
    fn read(self) -> Result<Session, StoreError> {
        let id = self.session_id;
        let small = |number: i32| u16::try_from(number).map_err(|why| StoreError::unreadable("sessions", id, why));
        Ok(Session {
            id: SessionId(id),
            task: TaskId(self.task_id),
            task_version: self.task_version,
            candidate: CandidateId(self.candidate_id),
            assessor: StaffNo(self.assessor),
            second_marker: self.second_marker.map(StaffNo),
            bay: self.bay,
            planned_at: self.planned_at,
            extra: ExtraTime { percent: small(self.extra_percent)?, minutes: small(self.extra_minutes)? },
            opened_at: self.opened_at,
            count: self.count,
            head: self.head,
        })
    }
}

/// The sessions planned for `day` in the centre's time zone, and every other one that is open and not signed; by time.
/// With `marker`, only those that this person marks, as assessor or as second marker.
pub async fn of_day(
    tx: &mut PgConnection,
    centre: &CentreId,
    day: Date,
    marker: Option<StaffNo>,
) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query_as!(
        ListedRow,
        r#"SELECT s.session_id, c.name AS candidate_name, c.reference AS candidate_reference, t.title AS task_title,
                  s.bay, s.assessor, a.name AS assessor_name, s.opened_at, r.outcome AS "outcome?",
                  m.marker AS "second_marker?",
                  coalesce(s.count > r.count AND EXISTS (
                      SELECT FROM entries e WHERE e.centre_id = s.centre_id AND e.session_id = s.session_id
                      AND e.n > r.count AND e.kind = 'late' AND e.marker = s.assessor), false) AS "to_review!",
                  s.planned_at AT TIME ZONE z.time_zone AS "planned_local!"
           FROM sessions s
           JOIN centres z ON z.centre_id = s.centre_id
           JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
           JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           JOIN staff a ON a.centre_id = s.centre_id AND a.number = s.assessor
           LEFT JOIN results r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
           LEFT JOIN second_markers m ON m.centre_id = s.centre_id AND m.session_id = s.session_id
           WHERE s.centre_id = $1
             AND ($3::integer IS NULL OR s.assessor = $3 OR m.marker = $3)
             AND ((s.planned_at >= $2::date::timestamp AT TIME ZONE z.time_zone
                   AND s.planned_at < ($2::date + 1)::timestamp AT TIME ZONE z.time_zone)
                  OR (s.opened_at IS NOT NULL AND r.outcome IS NULL))
           ORDER BY s.planned_at, s.session_id"#,
        centre.as_str(),
        day,
        marker.map(|marker| marker.0),
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(ListedRow::read).collect()
}

/// A line in the list as the rows tell.
struct ListedRow {
    session_id: Uuid,
    candidate_name: String,
    candidate_reference: String,
    task_title: String,
    bay: String,
    assessor: i32,
    assessor_name: String,
    opened_at: Option<OffsetDateTime>,
    outcome: Option<String>,
    second_marker: Option<i32>,
    to_review: bool,
    planned_local: PrimitiveDateTime,
}

impl ListedRow {
    fn read(self) -> Result<Listed, StoreError> {
        let standing = match (self.outcome, self.opened_at) {
            (Some(word), _) => Standing::Signed(results::outcome_of(&word, self.session_id)?),
            (None, Some(_)) => Standing::Open,
            (None, None) => Standing::Planned,
        };
        Ok(Listed {
            id: SessionId(self.session_id),
            candidate_name: self.candidate_name,
            candidate_reference: self.candidate_reference,
            task_title: self.task_title,
            bay: self.bay,
            assessor: StaffNo(self.assessor),
            assessor_name: self.assessor_name,
            second_marker: self.second_marker.map(StaffNo),
            to_review: self.to_review,
            planned_local: self.planned_local,
            standing,
        })
    }
}

/// An instant as wall time in the centre's zone.
pub async fn local_time(
    tx: &mut PgConnection,
    centre: &CentreId,
    at: OffsetDateTime,
) -> Result<PrimitiveDateTime, StoreError> {
    let local = sqlx::query_scalar!(
        r#"SELECT $2::timestamptz AT TIME ZONE time_zone AS "local!" FROM centres WHERE centre_id = $1"#,
        centre.as_str(),
        at,
    )
    .fetch_one(tx)
    .await?;
    Ok(local)
}
