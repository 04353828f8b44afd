//! Training centres.

use super::{CentreId, StoreError};
use sqlx::PgConnection;

/// A training centre.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Centre {
    pub id: CentreId,
    pub name: String,
    /// A name of the tz database, such as `Europe/London`.
    pub time_zone: String,
}

/// Adds a centre. Answers `false`, and changes nothing, where the code is taken.
pub async fn add(tx: &mut PgConnection, centre: &Centre) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO centres (centre_id, name, time_zone) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING",
        centre.id.as_str(),
        centre.name,
        centre.time_zone,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The centre of this transaction.
pub async fn find(tx: &mut PgConnection, id: &CentreId) -> Result<Option<Centre>, StoreError> {
    let row = sqlx::query!("SELECT name, time_zone FROM centres WHERE centre_id = $1", id.as_str());
    let row = row.fetch_optional(tx).await?;
    Ok(row.map(|row| Centre { id: id.clone(), name: row.name, time_zone: row.time_zone }))
}
