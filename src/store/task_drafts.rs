//! Tasks that are being written. A draft counts its revisions, so that nobody overwrites what they have not seen.

use super::drafts::{Change, REMEMBERED};
use super::{CentreId, ChecklistId, StaffNo, StoreError, TaskId};
use crate::marking::sketch::Sketch;
use serde::{Deserialize, Serialize};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// A draft as stored: of a new task, or of the next version of a published one.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    pub id: TaskId,
    /// As far as it has come; it may not be valid yet.
    pub sketch: Sketch,
    /// The published checklist that was chosen, with its version; `None` where it has none, or one of its own that came
    /// with the task it was copied from.
    pub checklist: Option<(ChecklistId, i32)>,
    /// Counts from 1 with every change.
    pub revision: u32,
    /// The last changes, the oldest first.
    pub changes: Vec<Change>,
}

/// A line in the list of drafts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub id: TaskId,
    pub title: String,
    pub changed_at: OffsetDateTime,
}

#[derive(Serialize, Deserialize)]
struct Stored {
    revision: u32,
    sketch: Sketch,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    checklist: Option<(Uuid, i32)>,
    changes: Vec<Change>,
}

impl Draft {
    /// A draft of its first revision.
    pub fn begun(
        id: TaskId,
        sketch: Sketch,
        checklist: Option<(ChecklistId, i32)>,
        by: StaffNo,
        says: impl Into<String>,
    ) -> Self {
        let mut draft = Self { id, sketch, checklist, revision: 0, changes: Vec::new() };
        draft.note(by, says);
        draft
    }

    /// Counts a change that was made.
    pub fn note(&mut self, by: StaffNo, says: impl Into<String>) {
        self.revision += 1;
        self.changes.push(Change { revision: self.revision, by: by.0, says: says.into() });
        let forgotten = self.changes.len().saturating_sub(REMEMBERED);
        self.changes.drain(..forgotten);
    }

    fn written(&self) -> Result<String, StoreError> {
        let stored = Stored {
            revision: self.revision,
            sketch: self.sketch.clone(),
            checklist: self.checklist.map(|(id, version)| (id.0, version)),
            changes: self.changes.clone(),
        };
        serde_json::to_string(&stored).map_err(|why| StoreError::unreadable("task_drafts", self.id.0, why))
    }

    fn read(id: TaskId, source: &str) -> Result<Self, StoreError> {
        let stored: Stored =
            serde_json::from_str(source).map_err(|why| StoreError::unreadable("task_drafts", id.0, why))?;
        let checklist = stored.checklist.map(|(id, version)| (ChecklistId(id), version));
        Ok(Self { id, sketch: stored.sketch, checklist, revision: stored.revision, changes: stored.changes })
    }
}

/// The draft of a task.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: TaskId) -> Result<Option<Draft>, StoreError> {
    let source = sqlx::query_scalar!(
        "SELECT source FROM task_drafts WHERE centre_id = $1 AND task_id = $2",
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    source.map(|source| Draft::read(id, &source)).transpose()
}

/// The draft, with its row held until the transaction ends, so that a change is made to what was looked at.
pub async fn hold(tx: &mut PgConnection, centre: &CentreId, id: TaskId) -> Result<Option<Draft>, StoreError> {
    let source = sqlx::query_scalar!(
        "SELECT source FROM task_drafts WHERE centre_id = $1 AND task_id = $2 FOR NO KEY UPDATE",
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    source.map(|source| Draft::read(id, &source)).transpose()
}

/// Begins a draft. `false`, and nothing written, where there is one already.
pub async fn begin(
    tx: &mut PgConnection,
    centre: &CentreId,
    draft: &Draft,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO task_drafts (centre_id, task_id, title, source, changed_at, changed_by)
         VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING",
        centre.as_str(),
        draft.id.0,
        draft.sketch.shown_title(),
        draft.written()?,
        now,
        by.0,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Stores a draft that the caller holds.
pub async fn save(
    tx: &mut PgConnection,
    centre: &CentreId,
    draft: &Draft,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE task_drafts SET title = $3, source = $4, changed_at = $5, changed_by = $6
         WHERE centre_id = $1 AND task_id = $2",
        centre.as_str(),
        draft.id.0,
        draft.sketch.shown_title(),
        draft.written()?,
        now,
        by.0,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Throws a draft away. `false` where there is none.
pub async fn discard(tx: &mut PgConnection, centre: &CentreId, id: TaskId) -> Result<bool, StoreError> {
    let done = sqlx::query!("DELETE FROM task_drafts WHERE centre_id = $1 AND task_id = $2", centre.as_str(), id.0)
        .execute(tx)
        .await?;
    Ok(done.rows_affected() == 1)
}

/// Every draft, by title.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query!(
        "SELECT task_id, title, changed_at FROM task_drafts WHERE centre_id = $1 ORDER BY title, task_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let listed = |id, title, changed_at| Listed { id: TaskId(id), title, changed_at };
    Ok(rows.into_iter().map(|row| listed(row.task_id, row.title, row.changed_at)).collect())
}
