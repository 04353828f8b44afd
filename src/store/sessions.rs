//! Sessions: one candidate's attempt at one published task.

use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError, TaskId};
use crate::marking::{ExtraTime, VerdictOutcome};
use sqlx::PgConnection;
use time::{Date, OffsetDateTime, PrimitiveDateTime};

/// A session as planned, and how far it has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    pub id: SessionId,
    pub task: TaskId,
    pub task_version: i32,
    pub candidate: CandidateId,
    pub assessor: StaffNo,
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
    let _ = (tx, centre, session);
    todo!()
}

/// The session with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<Option<Session>, StoreError> {
    let _ = (tx, centre, id);
    todo!()
}

/// The session, with its row held until the transaction ends, so that a check and the write that relies on it see
/// the same state.
pub async fn hold(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<Option<Session>, StoreError> {
    let _ = (tx, centre, id);
    todo!()
}

/// The sessions planned for `day` in the centre's time zone, and every other one that is open and not signed; by time.
/// With `assessor`, only that person's.
pub async fn of_day(
    tx: &mut PgConnection,
    centre: &CentreId,
    day: Date,
    assessor: Option<StaffNo>,
) -> Result<Vec<Listed>, StoreError> {
    let _ = (tx, centre, day, assessor);
    todo!()
}

/// An instant as wall time in the centre's zone.
pub async fn local_time(
    tx: &mut PgConnection,
    centre: &CentreId,
    at: OffsetDateTime,
) -> Result<PrimitiveDateTime, StoreError> {
    let _ = (tx, centre, at);
    todo!()
}
