//! The rows of exports, a page at a time out of one reading of the database, and the record of who took them.

mod choices;
mod marked;
mod plans;
mod record;
mod results;

pub use choices::assessors;
pub use record::{Begun, End, Ended, Listed, begin, end, list, remember_columns, remembered_columns};

use super::{CentreId, StaffNo, Store, StoreError, TaskId, credential_places};
use crate::export::row::{Plan, Row};
use crate::marking::VerdictOutcome;
use sqlx::{PgConnection, Postgres, Transaction};
use time::{Date, OffsetDateTime};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

/// Rows that are read at once. Two such pages wait at most, so that the memory needed is flat.
const PAGE: i64 = 1_000;
/// Sessions that are read at once with their logs.
const MARKED_PAGE: i64 = 50;

/// Which results: those that meet every condition that is set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filter {
    /// First and last day of signing (of planning, for plans), in the centre's time zone.
    pub from: Date,
    pub to: Date,
    pub task: Option<TaskId>,
    pub assessor: Option<StaffNo>,
    pub outcome: Option<VerdictOutcome>,
}

/// What is read for each result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// The row alone.
    Row,
    /// Its findings and observations too, marked anew.
    Marked,
    /// No results: plans.
    Plans,
}

/// A page of rows.
#[derive(Debug)]
pub enum Page {
    Rows(Vec<Row>),
    Plans(Vec<Plan>),
    /// There are no more.
    End,
}

/// A filter with its days as instants.
#[derive(Debug, Clone)]
struct Bounds {
    from: OffsetDateTime,
    /// The first instant that is too late.
    to: OffsetDateTime,
    task: Option<uuid::Uuid>,
    assessor: Option<i32>,
    outcome: Option<&'static str>,
    names: bool,
}

/// An export that is being read: how many rows there are, and the pages as they come.
pub struct Reading {
    /// Results, or plans, there are.
    pub rows: u64,
    /// The first and the last instant of the days asked for.
    pub span: (OffsetDateTime, OffsetDateTime),
    pages: mpsc::Receiver<Result<Page, StoreError>>,
    going: JoinHandle<()>,
}

impl Reading {
    /// The next page. Dropping the reading ends it after the page that is being read.
    ///
    /// # Errors
    /// [`StoreError`] where a row makes no sense or the database went away: there is nothing after that.
    pub async fn page(&mut self) -> Result<Page, StoreError> {
        self.pages.recv().await.unwrap_or(Err(StoreError::Busy("the reading of an export broke off")))
    }

    /// Ends the reading. When this answers, the next export of the centre may begin.
    pub async fn end(mut self) {
        self.pages.close();
        if self.going.await.is_err() {
            tracing::warn!("the reading of an export broke off");
        }
    }
}

impl Store {
    /// Reads what an export holds, as it was when the reading began. `None` while another export of this centre runs,
    /// from whichever program.
    ///
    /// The reading goes on in a task of its own, a page ahead of whoever takes the pages; no statement is ever broken
    /// off half way.
    ///
    /// # Errors
    /// [`StoreError`] where the database does not answer; later, in the pages, where a row makes no sense.
    pub async fn read_export(
        &self,
        centre: &CentreId,
        filter: &Filter,
        depth: Depth,
        names: bool,
    ) -> Result<Option<Reading>, StoreError> {
        let mut tx = self.begin_reading(centre).await?;
        let mine = sqlx::query_scalar!(
            r#"SELECT pg_try_advisory_xact_lock(hashtextextended('export ' || $1, 0)) AS "mine!""#,
            centre.as_str(),
        )
        .fetch_one(&mut *tx)
        .await?;
        if !mine {
            return Ok(None);
        }
        let bounds = bounds(&mut tx, centre, filter, names).await?;
        let span = (bounds.from, bounds.to);
        let rows = match depth {
            Depth::Plans => plans::count(&mut tx, centre, &bounds).await?,
            Depth::Row | Depth::Marked => results::count(&mut tx, centre, &bounds).await?,
        };
        let (give, pages) = mpsc::channel(2);
        let going = tokio::spawn(read(tx, centre.clone(), bounds, depth, give));
        Ok(Some(Reading { rows, span, pages, going }))
    }

    /// Begins a transaction that changes nothing, sees the rows of `centre` alone, and sees them as they are now to its end.
    async fn begin_reading(&self, centre: &CentreId) -> Result<Transaction<'static, Postgres>, StoreError> {
        let mut tx = self.pool.begin_with("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY").await?;
        super::belong_to(&mut tx, centre).await?;
        // Whoever takes the pages may be held up by a slow disk.
        sqlx::query!("SELECT set_config('idle_in_transaction_session_timeout', '10min', true)")
            .fetch_one(&mut *tx)
            .await?;
        Ok(tx)
    }
}

async fn read(
    mut tx: Transaction<'static, Postgres>,
    centre: CentreId,
    bounds: Bounds,
    depth: Depth,
    give: mpsc::Sender<Result<Page, StoreError>>,
) {
    let mut reader = Reader { centre, bounds, after: None, tasks: marked::Tasks::default() };
    loop {
        let page = reader.page(&mut tx, depth).await;
        let more = match &page {
            Ok(Page::Rows(rows)) => !rows.is_empty(),
            Ok(Page::Plans(plans)) => !plans.is_empty(),
            Ok(Page::End) | Err(_) => false,
        };
        let page = if more || page.is_err() { page } else { Ok(Page::End) };
        // Where nobody takes it, the export was given up.
        if give.send(page).await.is_err() {
            break;
        }
        if !more {
            // The centre's one place is held until the file is made, not only until the rows are read.
            give.closed().await;
            break;
        }
    }
    if let Err(why) = tx.rollback().await {
        tracing::debug!(%why, "a reading did not end in order");
    }
}

struct Reader {
    centre: CentreId,
    bounds: Bounds,
    /// The last row that was read.
    after: Option<(OffsetDateTime, uuid::Uuid)>,
    tasks: marked::Tasks,
}

impl Reader {
    async fn page(&mut self, tx: &mut PgConnection, depth: Depth) -> Result<Page, StoreError> {
        // Before the first: no row is planned or signed at the instant before the first day by a session without a name.
        let after = self.after.unwrap_or((self.bounds.from, uuid::Uuid::nil()));
        if depth == Depth::Plans {
            let plans = plans::page(tx, &self.centre, &self.bounds, after, PAGE).await?;
            self.after = plans.last().map(|plan| (plan.planned_at, plan.session)).or(self.after);
            return Ok(Page::Plans(plans));
        }
        let most = if depth == Depth::Marked { MARKED_PAGE } else { PAGE };
        let mut rows = results::page(tx, &self.centre, &self.bounds, after, most).await?;
        self.after = rows.last().map(|row| (row.signed_at, row.session)).or(self.after);
        if depth == Depth::Marked {
            let sessions: Vec<_> = rows.iter().map(|row| row.session).collect();
            let places = credential_places::of_sessions(tx, &self.centre, &sessions).await?;
            for row in &mut rows {
                row.marked = Some(self.tasks.mark(tx, &self.centre, row).await?);
                row.place = places.get(&(row.session, row.ordinal)).copied();
            }
        }
        Ok(Page::Rows(rows))
    }
}

async fn bounds(tx: &mut PgConnection, centre: &CentreId, filter: &Filter, names: bool) -> Result<Bounds, StoreError> {
    let days = sqlx::query!(
        r#"SELECT $2::date::timestamp AT TIME ZONE time_zone AS "from!",
                  ($3::date + 1)::timestamp AT TIME ZONE time_zone AS "to!"
           FROM centres WHERE centre_id = $1"#,
        centre.as_str(),
        filter.from,
        filter.to,
    )
    .fetch_one(tx)
    .await?;
    Ok(Bounds {
        from: days.from,
        to: days.to,
        task: filter.task.map(|task| task.0),
        assessor: filter.assessor.map(|assessor| assessor.0),
        outcome: filter.outcome.map(crate::export::row::verdict_word),
        names,
    })
}
