//! Postgres: the only place with SQL, one file for each thing stored.
//!
//! Functions take a connection whose transaction [`Store::begin`] has tied to one centre; row-level security keeps
//! every other centre's rows out of sight even where a query forgets to. The application's role owns no table.

pub mod candidates;
pub mod centres;
mod chain;
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
    #[error("the database could not be brought to its newest shape")]
    Migration(#[from] sqlx::migrate::MigrateError),
    /// The database would not keep what it acknowledges, or would not hold centres apart.
    #[error("the database is not safe to serve from: {why}")]
    Unsafe { why: String },
    /// Something that does not fit an entry of the evidence.
    #[error("the evidence cannot hold this: {0}")]
    Unfit(#[from] crate::seal::LineFault),
    /// A row that makes no sense: which table and row, and why.
    #[error("{table} {row} cannot be read: {why}")]
    Unreadable { table: &'static str, row: String, why: String },
}

impl StoreError {
    /// A row of `table` that makes no sense.
    fn unreadable(table: &'static str, row: impl std::fmt::Display, why: impl std::fmt::Display) -> Self {
        Self::Unreadable { table, row: row.to_string(), why: why.to_string() }
    }
}

/// The database as the application sees it: through a role that owns nothing.
#[derive(Debug, Clone)]
pub struct Store {
    pool: PgPool,
}

impl Store {
    /// Begins a transaction that sees the rows of `centre` and of no other.
    pub async fn begin(&self, centre: &CentreId) -> Result<Transaction<'static, Postgres>, StoreError> {
        let mut tx = self.pool.begin().await?;
        // Local to the transaction: a pooled connection never carries one centre's setting into another's request.
        sqlx::query!("SELECT set_config('baywitness.centre', $1, true)", centre.as_str()).fetch_one(&mut *tx).await?;
        Ok(tx)
    }

    /// Waits for the connections that are out and closes them all.
    pub async fn close(&self) {
        self.pool.close().await;
    }
}
