//! Published tasks. A published version never changes.

use super::{CentreId, StoreError, TaskId};
use crate::marking::Task;
use sqlx::PgConnection;
use time::OffsetDateTime;

/// One published version of a task.
#[derive(Debug, Clone)]
pub struct Published {
    pub id: TaskId,
    pub version: i32,
    /// The file as published, byte for byte.
    pub source: String,
    /// SHA-256 of the file, as hex; evidence names the version by it.
    pub digest: String,
    pub task: Task,
}

/// A line in the list of tasks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub id: TaskId,
    pub version: i32,
    pub title: String,
}

/// Publishes a task file (TOML, already checked) as the next version of `id`. Answers the version; publishing the
/// same bytes again answers the version they have.
pub async fn publish(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: TaskId,
    title: &str,
    source: &str,
    now: OffsetDateTime,
) -> Result<i32, StoreError> {
    let _ = (tx, centre, id, title, source, now);
    todo!()
}

/// One published version, parsed.
pub async fn find(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: TaskId,
    version: i32,
) -> Result<Option<Published>, StoreError> {
    let _ = (tx, centre, id, version);
    todo!()
}

/// The newest version of every task, by title.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Listed>, StoreError> {
    let _ = (tx, centre);
    todo!()
}
