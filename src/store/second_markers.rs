//! Second markers: people who mark an attempt beside its assessor, in a log of their own.

use super::{CentreId, SessionId, StaffNo, StoreError};
use sqlx::PgConnection;

/// Plans a second marker. `false`, and nothing written, where the session is not there, the person is its assessor, or
/// it has a second marker already.
pub async fn plan(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    marker: StaffNo,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO second_markers (centre_id, session_id, marker)
         SELECT centre_id, session_id, $3 FROM sessions
         WHERE centre_id = $1 AND session_id = $2 AND assessor <> $3
         ON CONFLICT (centre_id, session_id) DO NOTHING",
        centre.as_str(),
        session.0,
        marker.0,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Takes the second marker of a session that is not open yet out of the plan.
///
/// # Errors
/// Where the session was opened: the evidence may hold their log.
pub async fn remove(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM second_markers WHERE centre_id = $1 AND session_id = $2", centre.as_str(), session.0)
        .execute(tx)
        .await?;
    Ok(())
}
