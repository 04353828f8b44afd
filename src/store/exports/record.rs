//! Who took what, and the columns that each person chose last.

use super::Filter;
use crate::export::row::verdict_word;
use crate::store::{CentreId, StaffNo, StoreError, TaskId, results};
use sqlx::PgConnection;
use time::{Date, OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

/// An export that begins.
#[derive(Debug, Clone)]
pub struct Begun<'a> {
    pub id: Uuid,
    /// `None` from the command line.
    pub by: Option<StaffNo>,
    pub at: OffsetDateTime,
    /// The word of its format.
    pub format: &'a str,
    pub filter: &'a Filter,
    pub columns: &'a [String],
    pub names: bool,
    /// Rows there are.
    pub rows: u64,
}

/// How an export ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    Finished,
    Cancelled,
    Failed,
}

/// An export that has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ended {
    pub how: End,
    pub at: OffsetDateTime,
    pub rows: u64,
    /// Size of the file; 0 where none is left.
    pub bytes: u64,
}

/// An export in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub id: Uuid,
    pub by: Option<StaffNo>,
    pub by_name: Option<String>,
    /// In the centre's time zone.
    pub begun_local: PrimitiveDateTime,
    pub begun_at: OffsetDateTime,
    pub format: String,
    pub filter: Filter,
    pub task_title: Option<String>,
    pub assessor_name: Option<String>,
    pub columns: Vec<String>,
    pub names: bool,
    pub rows_to_do: u64,
    /// `None` while it runs, and where it broke off with the program.
    pub ended: Option<Ended>,
}

impl End {
    fn word(self) -> &'static str {
        match self {
            Self::Finished => "finished",
            Self::Cancelled => "cancelled",
            Self::Failed => "failed",
        }
    }

    fn of_word(word: &str) -> Option<Self> {
        [Self::Finished, Self::Cancelled, Self::Failed].into_iter().find(|end| end.word() == word)
    }
}

fn stored(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// Notes that an export begins.
pub async fn begin(tx: &mut PgConnection, centre: &CentreId, export: &Begun<'_>) -> Result<(), StoreError> {
    let filter = export.filter;
    sqlx::query!(
        "INSERT INTO exports (centre_id, export_id, begun_by, begun_at, format, from_day, to_day, task_id, assessor, outcome,
                              columns, names, rows_to_do)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)",
        centre.as_str(),
        export.id,
        export.by.map(|by| by.0),
        export.at,
        export.format,
        filter.from,
        filter.to,
        filter.task.map(|task| task.0),
        filter.assessor.map(|assessor| assessor.0),
        filter.outcome.map(verdict_word),
        export.columns,
        export.names,
        stored(export.rows),
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Notes how an export ended.
pub async fn end(tx: &mut PgConnection, centre: &CentreId, id: Uuid, ended: &Ended) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO export_ends (centre_id, export_id, ended_at, how, rows_done, bytes) VALUES ($1, $2, $3, $4, $5, $6)",
        centre.as_str(),
        id,
        ended.at,
        ended.how.word(),
        stored(ended.rows),
        stored(ended.bytes),
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The exports of the centre, the newest first; with `only`, that one alone.
pub async fn list(
    tx: &mut PgConnection,
    centre: &CentreId,
    only: Option<Uuid>,
    most: i64,
) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query_as!(
        Stored,
        r#"SELECT x.export_id, x.begun_by, b.name AS "by_name?", x.begun_at,
                  x.begun_at AT TIME ZONE z.time_zone AS "begun_local!", x.format, x.from_day, x.to_day, x.task_id,
                  (SELECT title FROM tasks t WHERE t.centre_id = x.centre_id AND t.task_id = x.task_id
                   ORDER BY version DESC LIMIT 1) AS task_title,
                  x.assessor, a.name AS "assessor_name?", x.outcome, x.columns, x.names, x.rows_to_do,
                  e.how AS "how?", e.ended_at AS "ended_at?", e.rows_done AS "rows_done?", e.bytes AS "bytes?"
           FROM exports x
           JOIN centres z ON z.centre_id = x.centre_id
           LEFT JOIN staff b ON b.centre_id = x.centre_id AND b.number = x.begun_by
           LEFT JOIN staff a ON a.centre_id = x.centre_id AND a.number = x.assessor
           LEFT JOIN export_ends e ON e.centre_id = x.centre_id AND e.export_id = x.export_id
           WHERE x.centre_id = $1 AND ($2::uuid IS NULL OR x.export_id = $2)
           ORDER BY x.begun_at DESC, x.export_id DESC LIMIT $3"#,
        centre.as_str(),
        only,
        most,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(Stored::read).collect()
}

struct Stored {
    export_id: Uuid,
    begun_by: Option<i32>,
    by_name: Option<String>,
    begun_at: OffsetDateTime,
    begun_local: PrimitiveDateTime,
    format: String,
    from_day: Date,
    to_day: Date,
    task_id: Option<Uuid>,
    task_title: Option<String>,
    assessor: Option<i32>,
    assessor_name: Option<String>,
    outcome: Option<String>,
    columns: Vec<String>,
    names: bool,
    rows_to_do: i64,
    how: Option<String>,
    ended_at: Option<OffsetDateTime>,
    rows_done: Option<i64>,
    bytes: Option<i64>,
}

impl Stored {
    fn read(self) -> Result<Listed, StoreError> {
        let id = self.export_id;
        let number = |number: i64| u64::try_from(number).map_err(|why| StoreError::unreadable("exports", id, why));
        let ended = match (self.how, self.ended_at, self.rows_done, self.bytes) {
            (Some(how), Some(at), Some(rows), Some(bytes)) => {
                let unknown = || StoreError::unreadable("export_ends", id, format!("no export ends {how}"));
                let how = End::of_word(&how).ok_or_else(unknown)?;
                Some(Ended { how, at, rows: number(rows)?, bytes: number(bytes)? })
            }
            _ => None,
        };
        let outcome = self.outcome.map(|word| results::outcome_of(&word, id)).transpose()?;
        Ok(Listed {
            id,
            by: self.begun_by.map(StaffNo),
            by_name: self.by_name,
            begun_local: self.begun_local,
            begun_at: self.begun_at,
            format: self.format,
            filter: Filter {
                from: self.from_day,
                to: self.to_day,
                task: self.task_id.map(TaskId),
                assessor: self.assessor.map(StaffNo),
                outcome,
            },
            task_title: self.task_title,
            assessor_name: self.assessor_name,
            columns: self.columns,
            names: self.names,
            rows_to_do: number(self.rows_to_do)?,
            ended,
        })
    }
}

/// The columns that this person chose last; none where they never did.
pub async fn remembered_columns(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
) -> Result<Vec<String>, StoreError> {
    let columns = sqlx::query_scalar!(
        "SELECT columns FROM export_columns WHERE centre_id = $1 AND staff_number = $2",
        centre.as_str(),
        who.0,
    )
    .fetch_optional(tx)
    .await?;
    Ok(columns.unwrap_or_default())
}

/// Remembers the columns that this person chose.
pub async fn remember_columns(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    columns: &[String],
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO export_columns (centre_id, staff_number, columns) VALUES ($1, $2, $3)
         ON CONFLICT (centre_id, staff_number) DO UPDATE SET columns = excluded.columns",
        centre.as_str(),
        who.0,
        columns,
    )
    .execute(tx)
    .await?;
    Ok(())
}
