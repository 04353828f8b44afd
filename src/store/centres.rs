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
    let _ = (tx, centre);
    todo!()
}

/// The centre of this transaction.
pub async fn find(tx: &mut PgConnection, id: &CentreId) -> Result<Option<Centre>, StoreError> {
    let _ = (tx, id);
    todo!()
}
