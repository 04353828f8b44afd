//! What the assessor decided about proposed findings. Added to, never changed; the latest for a criterion counts.

use super::{CentreId, SessionId, StaffNo, StoreError};
use crate::marking::decision::Decision;
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Adds a decision on a session that the caller holds.
pub async fn add(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    by: StaffNo,
    decision: &Decision,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let _ = (tx, centre, session, by, decision, now);
    todo!()
}

/// The decisions on a session, in the order they were made; later ones on the same criterion replace earlier ones.
pub async fn of_session(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Vec<Decision>, StoreError> {
    let _ = (tx, centre, session);
    todo!()
}
