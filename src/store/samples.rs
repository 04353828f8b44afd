//! Signed sessions that a verifier is to look at.

use super::{CentreId, SessionId, StoreError};
use crate::marking::CriterionId;
use sqlx::PgConnection;

/// Notes that these criteria of a session that was just signed were overruled; nothing where there are none.
pub async fn mark(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    overruled: &[CriterionId],
) -> Result<(), StoreError> {
    if overruled.is_empty() {
        return Ok(());
    }
    let overruled: Vec<String> = overruled.iter().map(|criterion| criterion.as_str().to_owned()).collect();
    sqlx::query!(
        "INSERT INTO samples (centre_id, session_id, overruled) VALUES ($1, $2, $3)",
        centre.as_str(),
        session.0,
        &overruled,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Whether a verifier is to look at a session.
pub async fn holds(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<bool, StoreError> {
    let there = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM samples WHERE centre_id = $1 AND session_id = $2) AS "there!""#,
        centre.as_str(),
        session.0,
    );
    Ok(there.fetch_one(tx).await?)
}
