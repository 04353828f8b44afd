//! How long records are kept: what there is, what is due when, and the runs that erase it (UK GDPR, article 5(1)(e)).
//!
//! The view `kept` of the database says of each record when it is due and what forbids its erasing; pages, dry runs and
//! erasing read nothing else.

mod kinds;
mod runs;

pub use kinds::{Confirmed, Kind, Periods, periods, set_periods};
pub use runs::{BATCH, Begin, Run, Turn, Undertaken, batch, begin, end, every_centre, runs};

use super::{CentreId, StoreError};
use sqlx::PgConnection;
use std::collections::HashMap;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

/// Rows on one page of a list.
pub const PAGE: i64 = 50;

/// How much there is of a kind.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Total {
    pub kept: i64,
    /// Of these, what must not be erased for now: a hold, a review, a session that is open.
    pub held: i64,
}

/// When something is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum When {
    /// Its time is over: the next run erases it.
    Now,
    /// In the month that begins on this day, by the centre's calendar.
    Month(Date),
}

/// How much of a kind is due at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    pub kind: Kind,
    pub when: When,
    /// What will be erased.
    pub free: i64,
    /// What would be, if nothing forbade it.
    pub held: i64,
}

/// What there is, and when it is due.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Overview {
    pub totals: HashMap<Kind, Total>,
    /// Sessions that are open: they have no period yet.
    pub open: i64,
    /// What is due, in the order of the kinds and then of time.
    pub due: Vec<Due>,
}

/// What is kept, and what of it is due before `until`: from one look through everything. In a centre of many years that
/// takes longer than other statements may, so that this transaction gives its statements more time.
pub async fn overview(
    tx: &mut PgConnection,
    centre: &CentreId,
    now: OffsetDateTime,
    until: OffsetDateTime,
) -> Result<Overview, StoreError> {
    sqlx::query!("SELECT set_config('statement_timeout', '20s', true)").fetch_one(&mut *tx).await?;
    let rows = sqlx::query!(
        r#"SELECT k.kind AS "kind!", coalesce(k.due_at <= $2, false) AS "now!",
                  CASE WHEN k.due_at > $2 AND k.due_at < $3
                      THEN date_trunc('month', k.due_at AT TIME ZONE z.time_zone)::date END AS month,
                  count(*) AS "kept!", count(k.held) AS "held!"
           FROM kept k JOIN centres z ON z.centre_id = k.centre_id
           WHERE k.centre_id = $1 GROUP BY 1, 2, 3"#,
        centre.as_str(),
        now,
        until,
    )
    .fetch_all(tx)
    .await?;
    let mut overview = Overview::default();
    for row in rows {
        let Some(kind) = Kind::of_word(&row.kind) else {
            overview.open += row.kept;
            continue;
        };
        let total = overview.totals.entry(kind).or_default();
        total.kept += row.kept;
        total.held += row.held;
        let when = if row.now { Some(When::Now) } else { row.month.map(When::Month) };
        let due = when.map(|when| Due { kind, when, free: row.kept - row.held, held: row.held });
        overview.due.extend(due);
    }
    overview.due.sort_by_key(|one| (Kind::ALL.iter().position(|kind| *kind == one.kind), one.when));
    Ok(overview)
}

/// One record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thing {
    /// Its identifier: of a session, a candidate, an export; the number of a deed; of a link the hash, which is no use to
    /// anybody.
    pub id: String,
    pub since: OffsetDateTime,
    pub due_at: OffsetDateTime,
    /// What forbids its erasing: `running`, `review`, `hold`.
    pub held: Option<String>,
}

/// Where a list goes on.
#[derive(Debug, Clone)]
pub struct After {
    pub due_at: OffsetDateTime,
    pub id: String,
}

/// What of a kind is due from `from` on and before `until`, the first due first: at most [`PAGE`] and one more, which
/// tells whether there are others.
pub async fn list(
    tx: &mut PgConnection,
    centre: &CentreId,
    kind: Kind,
    from: Option<OffsetDateTime>,
    until: OffsetDateTime,
    after: Option<After>,
) -> Result<Vec<Thing>, StoreError> {
    let (after_at, after_id) = after.map(|after| (after.due_at, after.id)).unzip();
    let rows = sqlx::query!(
        r#"SELECT thing AS "thing!", since AS "since!", due_at AS "due_at!", held FROM kept
           WHERE centre_id = $1 AND kind = $2 AND due_at < $4 AND ($3::timestamptz IS NULL OR due_at >= $3)
             AND ($5::timestamptz IS NULL OR (due_at, thing) > ($5, $6::text))
           ORDER BY due_at, thing LIMIT $7"#,
        centre.as_str(),
        kind.word(),
        from,
        until,
        after_at,
        after_id,
        PAGE + 1,
    )
    .fetch_all(tx)
    .await?;
    let thing = |id, since, due_at, held| Thing { id, since, due_at, held };
    Ok(rows.into_iter().map(|row| thing(row.thing, row.since, row.due_at, row.held)).collect())
}

/// What a person calls these sessions: the candidate's name and the task's title.
pub async fn names_of_sessions(
    tx: &mut PgConnection,
    centre: &CentreId,
    sessions: &[Uuid],
) -> Result<HashMap<Uuid, (String, String)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT s.session_id, c.name, t.title FROM sessions s
         JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
         JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
         WHERE s.centre_id = $1 AND s.session_id = ANY($2)",
        centre.as_str(),
        sessions,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (row.session_id, (row.name, row.title))).collect())
}

/// The names of these candidates.
pub async fn names_of_candidates(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidates: &[Uuid],
) -> Result<HashMap<Uuid, String>, StoreError> {
    let rows = sqlx::query!(
        "SELECT candidate_id, name FROM candidates WHERE centre_id = $1 AND candidate_id = ANY($2)",
        centre.as_str(),
        candidates,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (row.candidate_id, row.name)).collect())
}

/// The first moments of the month of `now` and of so many months after it, by the centre's clocks.
pub async fn months(
    tx: &mut PgConnection,
    centre: &CentreId,
    now: OffsetDateTime,
    count: i32,
) -> Result<Vec<(Date, OffsetDateTime)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT month::date AS "day!", month AT TIME ZONE z.time_zone AS "at!"
           FROM centres z, generate_series(date_trunc('month', $2::timestamptz AT TIME ZONE z.time_zone),
               date_trunc('month', $2::timestamptz AT TIME ZONE z.time_zone) + make_interval(months => $3),
               interval '1 month') AS month
           WHERE z.centre_id = $1 ORDER BY month"#,
        centre.as_str(),
        now,
        count,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (row.day, row.at)).collect())
}
