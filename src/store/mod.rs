//! Postgres: the only place with SQL, one file for each thing stored.
//!
//! Functions take a connection whose transaction [`Store::begin`] has tied to one centre; row-level security keeps
//! every other centre's rows out of sight even where a query forgets to. The application's role owns no table.

pub mod candidates;
pub mod centres;
pub mod decisions;
pub mod entries;
pub mod feedback;
pub mod ids;
pub mod migrate;
pub mod results;
pub mod sessions;
pub mod sign_ins;
pub mod staff;
pub mod tasks;

pub use ids::{CandidateId, CentreId, SessionId, StaffNo, TaskId};

use sqlx::{PgPool, Postgres, Transaction};

/// A question to the database that has no good answer.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    #[error("the database did not answer as it should")]
    Database(#[from] sqlx::Error),
    /// A row that makes no sense: which table and row, and why.
    #[error("{table} {row} cannot be read: {why}")]
    Unreadable { table: &'static str, row: String, why: String },
}

/// The database as the application sees it: through a role that owns nothing.
#[derive(Debug, Clone)]
pub struct Store {
    pool: PgPool,
}

impl Store {
    /// Begins a transaction that sees the rows of `centre` and of no other.
    pub async fn begin(&self, centre: &CentreId) -> Result<Transaction<'static, Postgres>, StoreError> {
        let _ = (centre, &self.pool);
        todo!()
    }
}
