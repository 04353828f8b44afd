//! Published tasks. A published version never changes.

use super::{CentreId, StoreError, TaskId};
use crate::marking::Task;
use crate::seal::Digest;
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
    // Two at once take turns: each needs the version after the other's.
    sqlx::query!(
        "SELECT pg_advisory_xact_lock(hashtextextended('task ' || $1 || ' ' || $2::uuid::text, 0))",
        centre.as_str(),
        id.0,
    )
    .execute(&mut *tx)
    .await?;
    let digest = Digest::of(source);
    let version = sqlx::query_scalar!(
        "SELECT version FROM tasks WHERE centre_id = $1 AND task_id = $2 AND digest = $3",
        centre.as_str(),
        id.0,
        digest.as_str(),
    )
    .fetch_optional(&mut *tx)
    .await?;
    if let Some(version) = version {
        return Ok(version);
    }
    let version = sqlx::query_scalar!(
        "INSERT INTO tasks (centre_id, task_id, version, title, source, digest, published_at)
         SELECT $1, $2, coalesce(max(version), 0) + 1, $3, $4, $5, $6
         FROM tasks WHERE centre_id = $1 AND task_id = $2
         RETURNING version",
        centre.as_str(),
        id.0,
        title,
        source,
        digest.as_str(),
        now,
    )
    .fetch_one(tx)
    .await?;
    Ok(version)
}

/// One published version, parsed.
pub async fn find(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: TaskId,
    version: i32,
) -> Result<Option<Published>, StoreError> {
    let row = sqlx::query!(
        "SELECT source, digest FROM tasks WHERE centre_id = $1 AND task_id = $2 AND version = $3",
        centre.as_str(),
        id.0,
        version,
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let task = Task::read_toml(&row.source)
        .map_err(|why| StoreError::unreadable("tasks", format!("{} version {version}", id.0), why))?;
    Ok(Some(Published { id, version, source: row.source, digest: row.digest, task }))
}

/// The newest version of every task, by title.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query!(
        "SELECT task_id, version, title FROM (
             SELECT DISTINCT ON (task_id) task_id, version, title FROM tasks
             WHERE centre_id = $1 ORDER BY task_id, version DESC) AS newest
         ORDER BY title, task_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let listed = |id, version, title| Listed { id: TaskId(id), version, title };
    Ok(rows.into_iter().map(|row| listed(row.task_id, row.version, row.title)).collect())
}
