//! Signed results.

use super::{CentreId, SessionId, StaffNo, StoreError};
use crate::marking::Verdict;
use sqlx::PgConnection;
use time::OffsetDateTime;

/// What was signed.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedResult {
    pub verdict: Verdict,
    /// Entries in the chain when it was signed, the `outcome` entry included.
    pub count: i64,
    /// The hash of the last of them.
    pub head: String,
    pub by: StaffNo,
    pub at: OffsetDateTime,
}

/// Signs a session that the caller holds: appends the `outcome` entry and stores the result. The caller states the
/// head it saw; `None`, and nothing written, where the chain has moved on or the session is signed already.
#[allow(clippy::too_many_arguments)]
pub async fn sign(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    seen_head: &str,
    verdict: &Verdict,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<Option<SignedResult>, StoreError> {
    let _ = (tx, centre, session, seen_head, verdict, by, now);
    todo!()
}

/// The result of a session, once signed.
pub async fn find(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<SignedResult>, StoreError> {
    let _ = (tx, centre, session);
    todo!()
}
