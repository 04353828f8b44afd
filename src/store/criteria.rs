//! The centre's own criteria, to pick from when a checklist is made. What a checklist took from here it keeps as it was.

use super::{CentreId, StaffNo, StoreError};
use crate::marking::{Criterion, CriterionId, write};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// A criterion of the centre.
#[derive(Debug, Clone, PartialEq)]
pub struct Own {
    pub criterion: Criterion,
    /// The stage it usually stands in.
    pub stage: String,
    /// From then on it is not offered any more.
    pub retired_at: Option<OffsetDateTime>,
    /// When it was last changed; a change is made only to what was looked at.
    pub changed_at: OffsetDateTime,
}

/// Every criterion of the centre, retired ones too, by stage and name.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Own>, StoreError> {
    let rows = sqlx::query_as!(
        Row,
        "SELECT criterion_id, stage, source, retired_at, changed_at FROM criteria
         WHERE centre_id = $1 ORDER BY stage, criterion_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(Row::read).collect()
}

/// The criterion with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: &CriterionId) -> Result<Option<Own>, StoreError> {
    let row = sqlx::query_as!(
        Row,
        "SELECT criterion_id, stage, source, retired_at, changed_at FROM criteria
         WHERE centre_id = $1 AND criterion_id = $2",
        centre.as_str(),
        id.as_str(),
    )
    .fetch_optional(tx)
    .await?;
    row.map(Row::read).transpose()
}

struct Row {
    criterion_id: String,
    stage: String,
    source: String,
    retired_at: Option<OffsetDateTime>,
    changed_at: OffsetDateTime,
}

impl Row {
    fn read(self) -> Result<Own, StoreError> {
        let criterion = Criterion::read_toml(&self.source)
            .map_err(|why| StoreError::unreadable("criteria", &self.criterion_id, why))?;
        Ok(Own { criterion, stage: self.stage, retired_at: self.retired_at, changed_at: self.changed_at })
    }
}

/// Adds a criterion. `false`, and nothing written, where its identifier is taken.
pub async fn add(
    tx: &mut PgConnection,
    centre: &CentreId,
    criterion: &Criterion,
    stage: &str,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO criteria (centre_id, criterion_id, stage, source, changed_at, changed_by)
         VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING",
        centre.as_str(),
        criterion.id.as_str(),
        stage,
        write::criterion(criterion),
        now,
        by.0,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Changes a criterion that nobody has changed since `seen`. `false`, and nothing written, where somebody has.
pub async fn change(
    tx: &mut PgConnection,
    centre: &CentreId,
    criterion: &Criterion,
    stage: &str,
    seen: OffsetDateTime,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE criteria SET stage = $3, source = $4, changed_at = greatest($5, changed_at + interval '1 microsecond'),
                             changed_by = $6
         WHERE centre_id = $1 AND criterion_id = $2 AND changed_at = $7",
        centre.as_str(),
        criterion.id.as_str(),
        stage,
        write::criterion(criterion),
        now,
        by.0,
        seen,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Retires a criterion, or brings it back. `false` where there is none.
pub async fn retire(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: &CriterionId,
    from: Option<OffsetDateTime>,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE criteria SET retired_at = $3 WHERE centre_id = $1 AND criterion_id = $2",
        centre.as_str(),
        id.as_str(),
        from,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
