//! Published checklists. A published version never changes.

use super::{CentreId, ChecklistId, StaffNo, StoreError, TaskId};
use crate::seal::Digest;
use sqlx::PgConnection;
use time::OffsetDateTime;

/// One published version of a checklist.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Published {
    pub id: ChecklistId,
    pub version: i32,
    pub title: String,
    /// The file as published, byte for byte.
    pub source: String,
    pub published_at: OffsetDateTime,
}

/// Publishes a checklist file (TOML, already checked) as the next version of `id`. Answers the version; publishing the
/// same bytes again answers the version they have.
pub async fn publish(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: ChecklistId,
    title: &str,
    source: &str,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<i32, StoreError> {
    // Two at once take turns: each needs the version after the other's.
    sqlx::query!(
        "SELECT pg_advisory_xact_lock(hashtextextended('checklist ' || $1 || ' ' || $2::uuid::text, 0))",
        centre.as_str(),
        id.0,
    )
    .execute(&mut *tx)
    .await?;
    let digest = Digest::of(source);
    let version = sqlx::query_scalar!(
        "SELECT version FROM checklists WHERE centre_id = $1 AND checklist_id = $2 AND digest = $3",
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
        "INSERT INTO checklists (centre_id, checklist_id, version, title, source, digest, published_at, published_by)
         SELECT $1, $2, coalesce(max(version), 0) + 1, $3, $4, $5, $6, $7
         FROM checklists WHERE centre_id = $1 AND checklist_id = $2
         RETURNING version",
        centre.as_str(),
        id.0,
        title,
        source,
        digest.as_str(),
        now,
        by.0,
    )
    .fetch_one(tx)
    .await?;
    Ok(version)
}

/// One published version.
pub async fn find(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: ChecklistId,
    version: i32,
) -> Result<Option<Published>, StoreError> {
    let row = sqlx::query!(
        "SELECT title, source, published_at FROM checklists
         WHERE centre_id = $1 AND checklist_id = $2 AND version = $3",
        centre.as_str(),
        id.0,
        version,
    )
    .fetch_optional(tx)
    .await?;
    let published = |title, source, published_at| Published { id, version, title, source, published_at };
    Ok(row.map(|row| published(row.title, row.source, row.published_at)))
}

/// The newest version of every checklist, by title.
pub async fn newest(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Published>, StoreError> {
    let rows = sqlx::query!(
        "SELECT checklist_id, version, title, source, published_at FROM (
             SELECT DISTINCT ON (checklist_id) checklist_id, version, title, source, published_at FROM checklists
             WHERE centre_id = $1 ORDER BY checklist_id, version DESC) AS newest
         ORDER BY title, checklist_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let published = rows.into_iter().map(|row| Published {
        id: ChecklistId(row.checklist_id),
        version: row.version,
        title: row.title,
        source: row.source,
        published_at: row.published_at,
    });
    Ok(published.collect())
}

/// Notes which version of a checklist a version of a task was made with. Noting it again changes nothing.
pub async fn used_by_task(
    tx: &mut PgConnection,
    centre: &CentreId,
    (task, task_version): (TaskId, i32),
    (checklist, version): (ChecklistId, i32),
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO task_checklists (centre_id, task_id, task_version, checklist_id, checklist_version)
         VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING",
        centre.as_str(),
        task.0,
        task_version,
        checklist.0,
        version,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// A version in the list of a checklist's versions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Version {
    pub version: i32,
    pub title: String,
    pub published_at: OffsetDateTime,
    pub by: String,
}

/// Every published version of a checklist, the newest first.
pub async fn versions(tx: &mut PgConnection, centre: &CentreId, id: ChecklistId) -> Result<Vec<Version>, StoreError> {
    let versions = sqlx::query_as!(
        Version,
        "SELECT c.version, c.title, c.published_at, s.name AS by
         FROM checklists c JOIN staff s ON s.centre_id = c.centre_id AND s.number = c.published_by
         WHERE c.centre_id = $1 AND c.checklist_id = $2 ORDER BY c.version DESC",
        centre.as_str(),
        id.0,
    )
    .fetch_all(tx)
    .await?;
    Ok(versions)
}

/// A version of a task that was made with a checklist.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct User {
    pub checklist: ChecklistId,
    pub checklist_version: i32,
    pub task: TaskId,
    pub task_version: i32,
    pub title: String,
}

/// The versions of tasks that were made with any checklist, by title and version.
pub async fn users(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<User>, StoreError> {
    let rows = sqlx::query!(
        "SELECT u.checklist_id, u.checklist_version, u.task_id, u.task_version, t.title
         FROM task_checklists u
         JOIN tasks t ON t.centre_id = u.centre_id AND t.task_id = u.task_id AND t.version = u.task_version
         WHERE u.centre_id = $1 ORDER BY t.title, u.task_id, u.task_version",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let user = rows.into_iter().map(|row| User {
        checklist: ChecklistId(row.checklist_id),
        checklist_version: row.checklist_version,
        task: TaskId(row.task_id),
        task_version: row.task_version,
        title: row.title,
    });
    Ok(user.collect())
}
