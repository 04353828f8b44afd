//! Checklists that are being written. A draft counts its revisions, so that nobody overwrites what they have not seen.

use super::{CentreId, ChecklistId, StaffNo, StoreError};
use crate::marking::{Checklist, ChecklistFile, Criterion, Stage};
use serde::{Deserialize, Serialize};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// How many changes a draft remembers.
pub(super) const REMEMBERED: usize = 100;

/// A draft as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    pub id: ChecklistId,
    /// As far as it has come; it may not be valid yet.
    pub content: ChecklistFile,
    /// Counts from 1 with every change.
    pub revision: u32,
    /// The file it began with, byte for byte, as long as nothing was changed since.
    pub file: Option<String>,
    /// The last changes, the oldest first.
    pub changes: Vec<Change>,
}

/// One change of a draft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// The revision that it made.
    pub revision: u32,
    /// Staff number of whoever made it.
    pub by: i32,
    /// What was done, as a sentence.
    pub says: String,
}

/// A line in the list of drafts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub id: ChecklistId,
    pub title: String,
    pub changed_at: OffsetDateTime,
}

impl Draft {
    /// A draft of its first revision.
    pub fn begun(id: ChecklistId, content: ChecklistFile, file: Option<String>, by: StaffNo, says: &str) -> Self {
        let mut draft = Self { id, content, revision: 0, file: None, changes: Vec::new() };
        draft.note(by, says);
        draft.file = file;
        draft
    }

    /// Counts a change that was made in `content`.
    pub fn note(&mut self, by: StaffNo, says: &str) {
        self.revision += 1;
        self.file = None;
        self.changes.push(Change { revision: self.revision, by: by.0, says: says.to_owned() });
        let forgotten = self.changes.len().saturating_sub(REMEMBERED);
        self.changes.drain(..forgotten);
    }
}

/// The draft of a checklist.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: ChecklistId) -> Result<Option<Draft>, StoreError> {
    let source = sqlx::query_scalar!(
        "SELECT source FROM checklist_drafts WHERE centre_id = $1 AND checklist_id = $2",
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    source.map(|source| read(id, &source)).transpose()
}

/// The draft, with its row held until the transaction ends, so that a change is made to what was looked at.
pub async fn hold(tx: &mut PgConnection, centre: &CentreId, id: ChecklistId) -> Result<Option<Draft>, StoreError> {
    let source = sqlx::query_scalar!(
        "SELECT source FROM checklist_drafts WHERE centre_id = $1 AND checklist_id = $2 FOR NO KEY UPDATE",
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    source.map(|source| read(id, &source)).transpose()
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
        "INSERT INTO checklist_drafts (centre_id, checklist_id, title, source, changed_at, changed_by)
         VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING",
        centre.as_str(),
        draft.id.0,
        draft.content.title,
        written(draft)?,
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
        "UPDATE checklist_drafts SET title = $3, source = $4, changed_at = $5, changed_by = $6
         WHERE centre_id = $1 AND checklist_id = $2",
        centre.as_str(),
        draft.id.0,
        draft.content.title,
        written(draft)?,
        now,
        by.0,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Throws a draft away. `false` where there is none.
pub async fn discard(tx: &mut PgConnection, centre: &CentreId, id: ChecklistId) -> Result<bool, StoreError> {
    let done =
        sqlx::query!("DELETE FROM checklist_drafts WHERE centre_id = $1 AND checklist_id = $2", centre.as_str(), id.0,)
            .execute(tx)
            .await?;
    Ok(done.rows_affected() == 1)
}

/// Every draft, by title.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query!(
        "SELECT checklist_id, title, changed_at FROM checklist_drafts WHERE centre_id = $1 ORDER BY title, checklist_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let listed = |id, title, changed_at| Listed { id: ChecklistId(id), title, changed_at };
    Ok(rows.into_iter().map(|row| listed(row.checklist_id, row.title, row.changed_at)).collect())
}

/// A draft in the database. Criteria are read by the reader of files, which alone knows what one may be.
#[derive(Serialize, Deserialize)]
struct Stored {
    revision: u32,
    title: String,
    pass_percent: u8,
    stages: Vec<StoredStage>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    file: Option<String>,
    changes: Vec<Change>,
}

#[derive(Serialize, Deserialize)]
struct StoredStage {
    title: String,
    criteria: Vec<serde_json::Value>,
}

fn written(draft: &Draft) -> Result<String, StoreError> {
    let unreadable = |why: serde_json::Error| StoreError::unreadable("checklist_drafts", draft.id.0, why);
    let mut stages = Vec::with_capacity(draft.content.checklist.stages.len());
    for stage in &draft.content.checklist.stages {
        let criteria = stage.criteria.iter().map(serde_json::to_value).collect::<Result<_, _>>().map_err(unreadable)?;
        stages.push(StoredStage { title: stage.title.clone(), criteria });
    }
    let stored = Stored {
        revision: draft.revision,
        title: draft.content.title.clone(),
        pass_percent: draft.content.pass_percent,
        stages,
        file: draft.file.clone(),
        changes: draft.changes.clone(),
    };
    serde_json::to_string(&stored).map_err(unreadable)
}

fn read(id: ChecklistId, source: &str) -> Result<Draft, StoreError> {
    let stored: Stored =
        serde_json::from_str(source).map_err(|why| StoreError::unreadable("checklist_drafts", id.0, why))?;
    let criterion = |value: &serde_json::Value| {
        Criterion::read_json(&value.to_string()).map_err(|why| StoreError::unreadable("checklist_drafts", id.0, why))
    };
    let mut stages = Vec::with_capacity(stored.stages.len());
    for stage in stored.stages {
        let criteria = stage.criteria.iter().map(criterion).collect::<Result<_, _>>()?;
        stages.push(Stage { title: stage.title, criteria });
    }
    let content =
        ChecklistFile { title: stored.title, pass_percent: stored.pass_percent, checklist: Checklist { stages } };
    Ok(Draft { id, content, revision: stored.revision, file: stored.file, changes: stored.changes })
}
