//! Sign-ins: who is known to the service on which browser. Only the SHA-256 of the token is stored.

use super::{CentreId, StaffNo, StoreError, staff::Staff};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Idle minutes after which a sign-in ends.
pub const IDLE_MINUTES: i64 = 60;
/// Hours after which a sign-in ends whatever happens.
pub const LONGEST_HOURS: i64 = 12;

/// Starts a sign-in for this person.
pub async fn start(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let _ = (tx, centre, who, token_hash, now);
    todo!()
}

/// The person behind a token, with the roles they hold now; notes that they were seen. `None` where the sign-in is
/// unknown, ended, idle too long or its owner disabled. Also answers when the password was last given.
pub async fn resume(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<(Staff, OffsetDateTime)>, StoreError> {
    let _ = (tx, centre, token_hash, now);
    todo!()
}

/// Ends a sign-in.
pub async fn end(tx: &mut PgConnection, centre: &CentreId, token_hash: &[u8; 32]) -> Result<(), StoreError> {
    let _ = (tx, centre, token_hash);
    todo!()
}

/// Counts a try at a sign-in name from an address and says whether it may go on to the password check: 10 at once for
/// a name and 5 for an address, then one more each minute or 20 seconds. Kept in the database, so that several nodes
/// share the count. `None` means go on; otherwise the seconds to wait.
pub async fn may_try(
    tx: &mut PgConnection,
    centre: &CentreId,
    sign_in_name: &str,
    address: &str,
    now: OffsetDateTime,
) -> Result<Option<i64>, StoreError> {
    let _ = (tx, centre, sign_in_name, address, now);
    todo!()
}
