//! Records kept: how much there is, until when, what forbids its erasing, and what was erased. For managers.

pub mod due;
pub mod hold;
pub mod periods;
mod words;

use super::App;
use super::error::WebError;
use super::extract::{Manager, Query};
use super::page::{Page, Place, html};
use super::show;
use crate::store::holds;
use crate::store::keeping::{self, Due, Kind, Run, When};
use crate::store::{CentreId, sessions};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use sqlx::PgConnection;
use std::collections::HashMap;
use time::{Date, OffsetDateTime};

/// Months that are looked ahead, the running one not counted.
const AHEAD: i32 = 12;
/// Most holds that are shown.
const HOLDS: i64 = 100;

/// The page of everything that is kept.
#[derive(Template)]
#[template(path = "records/show.html")]
struct RecordsPage {
    page: Page,
    /// Who confirmed the periods, and when.
    confirmed: Option<(String, String)>,
    saved: bool,
    done: Option<&'static str>,
    kinds: Vec<KindRow>,
    open: i64,
    /// The next run, and those months in which something is due.
    months: Vec<MonthRow>,
    /// The last month that is looked at.
    until: String,
    holds: Vec<HoldRow>,
    runs: Vec<RunRow>,
}

/// A line of what is kept.
struct KindRow {
    label: &'static str,
    goes: &'static str,
    kept: i64,
    held: i64,
    months: i16,
    from: &'static str,
}

/// A line of what will be erased when.
struct MonthRow {
    name: String,
    due: Vec<DueLink>,
}

/// How much of a kind, and where it is listed.
struct DueLink {
    href: String,
    label: &'static str,
    free: i64,
    held: i64,
}

/// A hold.
pub struct HoldRow {
    pub n: i32,
    pub href: String,
    pub name: String,
    /// The session, where it is one.
    pub session: Option<String>,
    pub why: &'static str,
    pub set: String,
    pub set_by: String,
    pub lifted: Option<String>,
}

/// A run and what it erased.
struct RunRow {
    run: i32,
    began: String,
    /// What it erased, in words; empty where nothing was due.
    erased: Vec<(&'static str, i64)>,
    broke_off: bool,
}

/// What was just done.
#[derive(Deserialize, Default)]
#[serde(default)]
pub struct After {
    saved: Option<String>,
    held: Option<String>,
    lifted: Option<String>,
}

/// Shows the page.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Query(after): Query<After>,
) -> Result<Html<String>, WebError> {
    let (centre, now) = (who.centre(), app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    let (periods, confirmed) = keeping::periods(&mut tx, centre).await?.ok_or(WebError::Missing("centre"))?;
    let confirmed = match confirmed {
        Some(one) => Some((one.name, show::moment(sessions::local_time(&mut tx, centre, one.at).await?))),
        None => None,
    };
    let ahead = keeping::months(&mut tx, centre, now, AHEAD + 1).await?;
    let end = ahead.last().map_or(now, |(_, at)| *at);
    let overview = keeping::overview(&mut tx, centre, now, end).await?;
    let kinds = Kind::ALL.into_iter().map(|kind| {
        let total = overview.totals.get(&kind).copied().unwrap_or_default();
        KindRow {
            label: words::label(kind),
            goes: words::goes(kind),
            kept: total.kept,
            held: total.held,
            months: periods.of(kind),
            from: words::from(kind),
        }
    });
    let (months, until) = month_rows(&ahead, &overview.due);
    let holds = hold_rows(&mut tx, centre).await?;
    let mut runs = Vec::new();
    for run in keeping::runs(&mut tx, centre).await? {
        let began = show::moment(sessions::local_time(&mut tx, centre, run.began_at).await?);
        runs.push(run_row(&run, began));
    }
    tx.commit().await?;
    let done = match (after.held.is_some(), after.lifted.is_some()) {
        (true, _) => Some("The hold is set. Nothing that it is about is erased until it is lifted."),
        (_, true) => Some("The hold is lifted. What is due goes with the next run."),
        _ => None,
    };
    html(&RecordsPage {
        page: Page::at(&who.staff, Place::Centre),
        confirmed,
        saved: after.saved.is_some(),
        done,
        kinds: kinds.collect(),
        open: overview.open,
        months,
        until,
        holds,
        runs,
    })
}

/// What is due now, then in each month in which something is; and the last month that was looked at.
fn month_rows(months: &[(Date, OffsetDateTime)], all: &[Due]) -> (Vec<MonthRow>, String) {
    let mut due: HashMap<When, Vec<DueLink>> = HashMap::new();
    for one in all {
        due.entry(one.when).or_default().push(DueLink {
            href: format!("/centre/records/due?kind={}&month={}", one.kind.word(), month_word(one.when)),
            label: words::label(one.kind),
            free: one.free,
            held: one.held,
        });
    }
    let shown: Vec<_> = months.iter().take(months.len().saturating_sub(1)).map(|(day, _)| When::Month(*day)).collect();
    let last = shown.last().copied().unwrap_or(When::Now);
    let mut rows = Vec::new();
    for when in std::iter::once(When::Now).chain(shown) {
        let due = due.remove(&when).unwrap_or_default();
        if when == When::Now || !due.is_empty() {
            rows.push(MonthRow { name: month_name(when), due });
        }
    }
    (rows, month_name(last))
}

/// A month as it stands in an address: `2027-03`, or `now`.
fn month_word(when: When) -> String {
    match when {
        When::Now => "now".to_owned(),
        When::Month(day) => format!("{:04}-{:02}", day.year(), u8::from(day.month())),
    }
}

fn month_name(when: When) -> String {
    match when {
        When::Now => "Next run".to_owned(),
        When::Month(day) => format!("{} {}", day.month(), day.year()),
    }
}

/// The month that an address tells.
fn month_of(word: &str) -> Option<When> {
    if word == "now" {
        return Some(When::Now);
    }
    let (year, month) = word.split_once('-')?;
    let month = time::Month::try_from(month.parse::<u8>().ok()?).ok()?;
    let year = year.parse().ok().filter(|year| (2000..=2300).contains(year))?;
    Date::from_calendar_date(year, month, 1).ok().map(When::Month)
}

async fn hold_rows(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<HoldRow>, WebError> {
    let mut rows = Vec::new();
    for hold in holds::list(tx, centre, None, HOLDS).await? {
        rows.push(hold_row(tx, centre, hold).await?);
    }
    Ok(rows)
}

/// A hold as pages show it.
async fn hold_row(tx: &mut PgConnection, centre: &CentreId, hold: holds::Hold) -> Result<HoldRow, WebError> {
    let day = async |tx: &mut PgConnection, at| -> Result<String, WebError> {
        Ok(show::day(sessions::local_time(tx, centre, at).await?))
    };
    let session = match &hold.session {
        Some((_, title, at)) => Some(format!("{title}, {}", day(tx, *at).await?)),
        None => None,
    };
    let lifted = match &hold.lifted {
        Some((at, by)) => Some(format!("{} by {by}", day(tx, *at).await?)),
        None => None,
    };
    Ok(HoldRow {
        n: hold.n,
        href: format!("/candidates/{}", hold.candidate.0),
        name: hold.name,
        session,
        why: hold.why.label(),
        set: day(tx, hold.set_at).await?,
        set_by: hold.set_by,
        lifted,
    })
}

fn run_row(run: &Run, began: String) -> RunRow {
    let erased = Kind::ALL.into_iter().filter_map(|kind| run.erased.get(&kind).map(|n| (words::label(kind), *n)));
    RunRow { run: run.run, began, erased: erased.collect(), broke_off: run.ended_at.is_none() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::date;

    #[test]
    fn a_month_is_read_as_it_is_written_and_nothing_else_is() {
        for when in [When::Now, When::Month(date!(2027 - 03 - 01)), When::Month(date!(2100 - 12 - 01))] {
            assert_eq!(month_of(&month_word(when)), Some(when));
        }
        for bad in ["", "2027", "2027-13", "2027-0", "1999-01", "99999-01", "now-1", "2027-03-01"] {
            assert_eq!(month_of(bad), None, "{bad}");
        }
        assert_eq!(month_name(When::Month(date!(2027 - 03 - 01))), "March 2027");
    }
}
