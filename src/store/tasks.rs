//! Published tasks. A published version never changes.

use super::{CentreId, StoreError, TaskId};
use crate::marking::Task;
use crate::reading::Faults;
use crate::seal::Digest;
use sqlx::PgConnection;
use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, MutexGuard, PoisonError};
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
    let task =
        read(&row.source).map_err(|why| StoreError::unreadable("tasks", format!("{} version {version}", id.0), why))?;
    Ok(Some(Published { id, version, source: row.source, digest: row.digest, task }))
}

/// Tasks that are remembered at once.
const REMEMBERED: usize = 64;

/// Tasks as they were read, by the hash of their text. The same text reads the same in any database and any year.
static READ: LazyLock<Mutex<HashMap<Digest, Arc<Task>>>> = LazyLock::new(Mutex::default);

/// Reads the text of a task, which every tap asks for and which takes longer than marking what was tapped.
fn read(source: &str) -> Result<Task, Faults> {
    let digest = Digest::of(source);
    let known = remembered().get(&digest).cloned();
    if let Some(task) = known {
        return Ok(Task::clone(&task));
    }
    let task = Task::read_toml(source)?;
    let mut all = remembered();
    if all.len() >= REMEMBERED {
        all.clear();
    }
    all.insert(digest, Arc::new(task.clone()));
    Ok(task)
}

fn remembered() -> MutexGuard<'static, HashMap<Digest, Arc<Task>>> {
    // Whoever broke off while holding it left it whole: one insertion, or none.
    READ.lock().unwrap_or_else(PoisonError::into_inner)
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

#[cfg(test)]
mod tests {
    use super::*;

    const STAIRWELL: &str = include_str!("../../tests/reference/examples/stairwell.toml");

    #[test]
    fn a_text_reads_the_same_again_and_more_texts_than_are_remembered_each_read_as_themselves() {
        let with_minutes = |minutes: usize| STAIRWELL.replace("minutes = 25", &format!("minutes = {minutes}"));
        for _ in 0..2 {
            for minutes in 1..=REMEMBERED + 1 {
                let text = with_minutes(minutes);
                assert_eq!(read(&text).unwrap(), Task::read_toml(&text).unwrap());
                assert_eq!(read(&text).unwrap().minutes as usize, minutes);
            }
        }
        assert!(remembered().len() <= REMEMBERED);
    }

    #[test]
    fn a_text_that_makes_no_sense_is_refused_each_time() {
        let text = STAIRWELL.replace("minutes = 25", "minutes = \"soon\"");
        assert_eq!(read(&text), Task::read_toml(&text));
        assert!(read(&text).is_err());
    }
}
