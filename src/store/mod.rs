//! Postgres: the only place with SQL, one file for each thing stored.
//!
//! Functions take a connection whose transaction [`Store::begin`] has tied to one centre; row-level security keeps
//! every other centre's rows out of sight even where a query forgets to. The application's role owns no table.

mod append;
pub mod calendar_feeds;
pub mod candidates;
pub mod centres;
mod chain;
pub mod changes;
pub mod checklists;
pub mod credential_places;
pub mod criteria;
pub mod decisions;
pub mod deeds;
pub mod devices;
pub mod drafts;
pub mod entries;
pub mod erasures;
pub mod exports;
pub mod feedback;
mod gather;
pub mod holds;
pub mod identity;
pub mod ids;
pub mod invitations;
pub mod keeping;
pub mod migrate;
pub mod past;
pub mod planning;
pub mod releases;
pub mod results;
pub mod reviews;
pub mod samples;
pub mod second_factors;
pub mod second_markers;
pub mod session_list;
pub mod sessions;
pub mod sign_ins;
pub mod staff;
pub mod staffing;
pub mod tablets;
pub mod task_drafts;
pub mod tasks;
pub mod zones;

pub use ids::{CandidateId, CentreId, ChecklistId, SessionId, StaffNo, TabletId, TaskId};

use sqlx::{PgConnection, PgPool, Postgres, Transaction};

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
    /// It was not tried, or not to its end; why.
    #[error("{0}")]
    Busy(&'static str),
    /// Something that does not fit an entry of the evidence.
    #[error("the evidence cannot hold this: {0}")]
    Unfit(#[from] crate::seal::LineFault),
    /// A row that makes no sense: which table and row, and why.
    #[error("{table} {row} cannot be read: {why}")]
    Unreadable { table: &'static str, row: String, why: String },
}

impl StoreError {
    /// Whether the same may well succeed a little later: the database cannot be reached, is busy or restarting, or a
    /// row is held by somebody else.
    pub fn is_passing(&self) -> bool {
        use sqlx::Error::{Database, Io, PoolClosed, PoolTimedOut, WorkerCrashed};
        match self {
            Self::Busy(_) => true,
            Self::Database(PoolTimedOut | PoolClosed | Io(_) | WorkerCrashed) => true,
            Self::Database(Database(why)) => why.code().is_some_and(|code| is_passing(&code)),
            _ => false,
        }
    }

    /// A row of `table` that makes no sense.
    fn unreadable(table: &'static str, row: impl std::fmt::Display, why: impl std::fmt::Display) -> Self {
        Self::Unreadable { table, row: row.to_string(), why: why.to_string() }
    }
}

/// Whether an SQLSTATE (PostgreSQL documentation, appendix A) tells of something that passes: no connection (08), a
/// write to a standby (25006), a transaction rolled back for another's sake (40), no memory, disk or connection left
/// (53), a lock or a statement that took too long (55P03, 57014), a server that stops or starts (57P), a file that could
/// not be read or written (58).
fn is_passing(code: &str) -> bool {
    let classes = ["08", "40", "53", "57P", "58"];
    classes.iter().any(|class| code.starts_with(class)) || ["25006", "55P03", "57014"].contains(&code)
}

/// The database as the application sees it: through a role that owns nothing.
#[derive(Debug, Clone)]
pub struct Store {
    pool: PgPool,
    gather: gather::Gather,
}

impl Store {
    /// A store over a pool whose connections have stepped down to the application's role.
    fn over(pool: PgPool) -> Self {
        Self { gather: gather::Gather::start(&pool), pool }
    }

    /// Begins a transaction that sees the rows of `centre` and of no other.
    pub async fn begin(&self, centre: &CentreId) -> Result<Transaction<'static, Postgres>, StoreError> {
        begin(&self.pool, centre).await
    }

    /// Takes a batch that a device sent, in a transaction of its own or together with others that arrive just now, and
    /// answers once it is committed. `None` where there is no such session.
    ///
    /// # Errors
    /// [`StoreError::is_passing`] where the session's row stays held by somebody else, or the database cannot answer:
    /// whatever was sent may be sent again.
    pub async fn take(&self, centre: &CentreId, batch: entries::Batch) -> Result<Option<entries::Taken>, StoreError> {
        self.gather.take(centre, batch).await
    }

    /// Waits for the connections that are out and closes them all.
    pub async fn close(&self) {
        self.pool.close().await;
    }
}

/// Begins a transaction that sees the rows of `centre` and of no other.
async fn begin(pool: &PgPool, centre: &CentreId) -> Result<Transaction<'static, Postgres>, StoreError> {
    let mut tx = pool.begin().await?;
    belong_to(&mut tx, centre).await?;
    Ok(tx)
}

/// Ties the running transaction to one centre.
async fn belong_to(tx: &mut PgConnection, centre: &CentreId) -> Result<(), StoreError> {
    // Local to the transaction: a pooled connection never carries one centre's setting into another's request.
    sqlx::query!("SELECT set_config('baywitness.centre', $1, true)", centre.as_str()).fetch_one(tx).await?;
    Ok(())
}
