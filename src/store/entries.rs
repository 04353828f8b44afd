//! The evidence: each session's chain of entries. Nothing here is ever changed or removed.

use super::{CentreId, SessionId, StaffNo, StoreError};
use crate::marking::{Log, Observation, Task};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Where a batch came from and when it arrived.
#[derive(Debug, Clone)]
pub struct Arrival {
    pub by: StaffNo,
    /// The device, as it names itself: an identifier.
    pub device: String,
    /// The page load on that device: an identifier.
    pub run: String,
    pub received_at: OffsetDateTime,
    /// Milliseconds to add to the device's wall clock.
    pub offset_ms: i64,
    /// Half the round trip, in milliseconds.
    pub error_ms: i64,
}

/// What became of one observation that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Receipt {
    /// Stored as entry `n`.
    Accepted(i64),
    /// Already there, with the same content, as entry `n`.
    Duplicate(i64),
    /// The name is taken by other content. Nothing was written.
    Conflict,
    /// It makes no sense in this session: why. Nothing was written.
    Refused(String),
}

/// Where the chain of a session stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    pub count: i64,
    /// 64 lower-case hex digits.
    pub hash: String,
}

/// Opens the evidence of a session that the caller holds: writes the `opened` entry with the commitment to the
/// candidate and the digest of the task version. `false` where it is open already.
pub async fn open(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    arrival: &Arrival,
) -> Result<bool, StoreError> {
    let _ = (tx, centre, session, arrival);
    todo!()
}

/// Appends a batch to a session that the caller holds and answers for each observation, in order. One bad observation
/// never blocks its neighbours. Everything is refused while the session is not open, and once it is signed.
pub async fn append(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    task: &Task,
    arrival: &Arrival,
    batch: &[Observation],
) -> Result<Vec<Receipt>, StoreError> {
    let _ = (tx, centre, session, task, arrival, batch);
    todo!()
}

/// The log that one marker has written on a session.
pub async fn log_of(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    marker: StaffNo,
    task: &Task,
) -> Result<Log, StoreError> {
    let _ = (tx, centre, session, marker, task);
    todo!()
}

/// Where the chain stands.
pub async fn head(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Head, StoreError> {
    let _ = (tx, centre, session);
    todo!()
}
