//! A candidate's private way to the feedback on one session: a link, a code, and visits.
//!
//! Unknown, expired, revoked and locked links look alike. Only hashes of tokens are stored.

use super::{CentreId, SessionId, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Wrong codes after which a link locks.
pub const WRONG_CODES: i32 = 5;
/// Days a link lives.
pub const LINK_DAYS: i64 = 180;
/// Minutes a visit lasts.
pub const VISIT_MINUTES: i64 = 30;

/// Makes a link to the feedback on a session. `code_hash` is the SHA-256 of token and code together.
pub async fn make_link(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    token_hash: &[u8; 32],
    code_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let _ = (tx, centre, session, token_hash, code_hash, now);
    todo!()
}

/// Tries a code on a link. With the right one, starts a visit under `visit_hash` and answers the session; with a wrong
/// one counts it. `None` for a wrong code and for a link that is unknown, expired, revoked or locked.
pub async fn visit(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    code_hash: &[u8; 32],
    visit_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<SessionId>, StoreError> {
    let _ = (tx, centre, token_hash, code_hash, visit_hash, now);
    todo!()
}

/// The session a visit may read, while it lasts and its link is not revoked.
pub async fn visited(
    tx: &mut PgConnection,
    centre: &CentreId,
    visit_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<SessionId>, StoreError> {
    let _ = (tx, centre, visit_hash, now);
    todo!()
}
