//! The plan of a day or a week, by bay or by assessor.

use super::when;
use crate::planning::{Booking, Shared, Span, clashes};
use crate::store::planning;
use crate::store::session_list::{self, Row};
use crate::store::sessions::{self, Standing};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Query, Reader};
use crate::web::page::{Page, Place, html};
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use std::collections::BTreeSet;
use time::{Date, Duration, PrimitiveDateTime};

/// The plan.
#[derive(Template)]
#[template(path = "plan/day.html")]
struct DayPage {
    page: Page,
    heading: String,
    zone: String,
    days: Vec<Day>,
    by: By,
    week: bool,
    /// Addresses: the other ways of looking, and the way on.
    ways: Ways,
    may_write: bool,
    done: &'static str,
    /// The day shown, for a link that plans on it.
    day: String,
    empty: bool,
    clashing: usize,
}

/// Where the links of the page lead.
struct Ways {
    by_bay: String,
    by_assessor: String,
    one_day: String,
    week: String,
    before: String,
    today: String,
    after: String,
}

/// What the columns are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    Bay,
    Assessor,
}

impl By {
    fn word(self) -> &'static str {
        match self {
            Self::Bay => "bay",
            Self::Assessor => "assessor",
        }
    }

    /// Whether it is the bay, for the template.
    pub fn is_bay(self) -> bool {
        self == Self::Bay
    }
}

/// One day as a table: a row for each time, a column for each bay or assessor.
struct Day {
    heading: String,
    columns: Vec<String>,
    rows: Vec<(String, Vec<Vec<Cell>>)>,
}

/// A session in the table.
struct Cell {
    id: String,
    href: String,
    time: String,
    name: String,
    reference: String,
    task: String,
    /// The bay or assessor of its column, for screens without columns.
    column: String,
    /// Bay and people, but for the column's own.
    with: String,
    sign: Sign,
    /// What it clashes over, as words.
    clashes: Vec<String>,
    resit: bool,
}

/// What stands in the address.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    by: String,
    span: String,
    day: String,
    done: String,
}

/// Shows the plan.
pub async fn show(
    State(app): State<App>,
    Reader(who): Reader,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let today = sessions::local_time(&mut tx, who.centre(), app.clock.now()).await?.date();
    let day = when::parse_day(&asked.day).unwrap_or(today);
    let by = if asked.by == "assessor" { By::Assessor } else { By::Bay };
    let week = asked.span == "week";
    let (from, to) = if week { week_of(day) } else { (day, day) };
    let rows = session_list::of_days(&mut tx, who.centre(), from, to).await?;
    let booked = booked(&mut tx, &who, &rows).await?;
    let zone = when::zone(&mut tx, who.centre(), day, day).await?.name;
    tx.commit().await?;
    let empty = rows.is_empty();
    let days = days(from, to, &rows, &booked, by);
    let clashing = days.iter().flat_map(|day| &day.rows).flat_map(|(_, cells)| cells).flatten();
    let clashing = clashing.filter(|cell| !cell.clashes.is_empty()).count();
    html(&DayPage {
        page: Page::at(&who.staff, Place::Plan),
        heading: heading(from, to),
        zone,
        days,
        by,
        week,
        ways: ways(day, today, by, week),
        may_write: who.staff.is(crate::store::staff::Role::Manager),
        done: done_words(&asked.done),
        day: when::day_value(day),
        empty,
        clashing,
    })
}

/// Monday to Sunday around a day.
fn week_of(day: Date) -> (Date, Date) {
    let monday = day - Duration::days(i64::from(day.weekday().number_days_from_monday()));
    (monday, monday + Duration::days(6))
}

fn done_words(word: &str) -> &'static str {
    match word {
        "planned" => "The session is planned.",
        "changed" => "The plan is changed.",
        "block" => "The block is planned.",
        _ => "",
    }
}

/// What all sessions around those of the page take up.
async fn booked(
    tx: &mut sqlx::PgConnection,
    who: &crate::web::extract::SignedIn,
    rows: &[Row],
) -> Result<Vec<Booking>, WebError> {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return Ok(Vec::new()) };
    let span = Span { from: first.planned_at, until: last.planned_at + Duration::minutes(10_600) };
    Ok(planning::booked(tx, who.centre(), span).await?)
}

fn ways(day: Date, today: Date, by: By, week: bool) -> Ways {
    let at = |day: Date, by: By, week: bool| {
        let span = if week { "week" } else { "day" };
        format!("/plan?by={}&span={span}&day={}", by.word(), when::day_value(day))
    };
    let step = Duration::days(if week { 7 } else { 1 });
    Ways {
        by_bay: at(day, By::Bay, week),
        by_assessor: at(day, By::Assessor, week),
        one_day: at(day, by, false),
        week: at(day, by, true),
        before: at(day - step, by, week),
        today: at(today, by, week),
        after: at(day + step, by, week),
    }
}

fn heading(from: Date, to: Date) -> String {
    if from == to {
        return named(from);
    }
    format!("{} to {}", show::day(from.midnight()), show::day(to.midnight()))
}

/// A day with its weekday.
fn named(day: Date) -> String {
    format!("{}, {}", day.weekday(), show::day(day.midnight()))
}

fn days(from: Date, to: Date, rows: &[Row], booked: &[Booking], by: By) -> Vec<Day> {
    let mut days = Vec::new();
    let mut day = from;
    while day <= to {
        let of_day: Vec<&Row> = rows.iter().filter(|row| row.planned_local.date() == day).collect();
        if !of_day.is_empty() {
            days.push(table(day, &of_day, booked, by));
        }
        let Some(next) = day.next_day() else { break };
        day = next;
    }
    days
}

fn column(row: &Row, by: By) -> &str {
    match by {
        By::Bay => &row.bay,
        By::Assessor => &row.assessor_name,
    }
}

fn table(day: Date, rows: &[&Row], booked: &[Booking], by: By) -> Day {
    let columns: BTreeSet<&str> = rows.iter().map(|row| column(row, by)).collect();
    let starts: BTreeSet<(time::OffsetDateTime, PrimitiveDateTime)> =
        rows.iter().map(|row| (row.planned_at, row.planned_local)).collect();
    let cells = |at: time::OffsetDateTime, name: &str| -> Vec<Cell> {
        let here = rows.iter().filter(|row| row.planned_at == at && column(row, by) == name);
        here.map(|row| cell(row, rows, booked, by)).collect()
    };
    let line = |(at, local): &(time::OffsetDateTime, PrimitiveDateTime)| {
        (show::time_of_day(*local), columns.iter().map(|name| cells(*at, name)).collect())
    };
    Day {
        heading: named(day),
        rows: starts.iter().map(line).collect(),
        columns: columns.into_iter().map(ToOwned::to_owned).collect(),
    }
}

fn cell(row: &Row, rows: &[&Row], booked: &[Booking], by: By) -> Cell {
    let second = row.second_marker_name.as_ref().map(|name| format!(" and {name}")).unwrap_or_default();
    let with = match by {
        By::Bay => format!("{}{second}", row.assessor_name),
        By::Assessor => format!("{}{second}", row.bay),
    };
    let until = row.planned_local + Duration::minutes(row.minutes.into());
    Cell {
        id: format!("s-{}", row.id.0),
        href: format!("/sessions/{}/plan", row.id.0),
        time: format!("{} to {}", show::time_of_day(row.planned_local), show::time_of_day(until)),
        name: row.candidate_name.clone(),
        reference: row.candidate_reference.clone(),
        task: row.task_title.clone(),
        column: column(row, by).to_owned(),
        with,
        sign: show::standing(row.standing),
        clashes: clash_lines(row, rows, booked),
        resit: row.resit,
    }
}

fn clash_lines(row: &Row, rows: &[&Row], booked: &[Booking]) -> Vec<String> {
    // Those given up take up nothing, and a signed one is over.
    let Some(mine) = booked.iter().find(|booking| booking.session == row.id.0) else { return Vec::new() };
    if !matches!(row.standing, Standing::Planned | Standing::Open) {
        return Vec::new();
    }
    let says = |clash: crate::planning::Clash| {
        let what = match clash.over {
            Shared::Candidate => "candidate",
            Shared::Assessor => "assessor",
            Shared::SecondMarker => "second marker",
            Shared::Bay => "bay",
        };
        let taken = booked.iter().find(|booking| booking.session == clash.with).map(|booking| booking.span);
        match rows.iter().find(|other| other.id.0 == clash.with).zip(taken) {
            // With the minutes for putting the bay back, which the sessions themselves do not show.
            Some((other, taken)) => {
                let until = other.planned_local + (taken.until - taken.from);
                let (from, until) = (show::time_of_day(other.planned_local), show::time_of_day(until));
                format!("{what}, with {} at {from}, taken until {until}", other.candidate_name)
            }
            None => format!("{what}, with a session of another day"),
        }
    };
    clashes(mine, booked).into_iter().map(says).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::date;

    #[test]
    fn a_week_runs_from_monday_to_sunday() {
        let week = (date!(2027 - 02 - 01), date!(2027 - 02 - 07));
        for day in [1, 3, 7] {
            assert_eq!(week_of(date!(2027 - 01 - 31) + Duration::days(day)), week, "{day}");
        }
        assert_eq!(heading(week.0, week.1), "1 February 2027 to 7 February 2027");
        assert_eq!(named(week.0), "Monday, 1 February 2027");
    }

    #[test]
    fn the_way_of_looking_is_kept_in_every_address() {
        let ways = ways(date!(2027 - 02 - 03), date!(2027 - 02 - 09), By::Assessor, true);
        assert_eq!(ways.after, "/plan?by=assessor&span=week&day=2027-02-10");
        assert_eq!(ways.before, "/plan?by=assessor&span=week&day=2027-01-27");
        assert_eq!(ways.today, "/plan?by=assessor&span=week&day=2027-02-09");
        assert_eq!(ways.one_day, "/plan?by=assessor&span=day&day=2027-02-03");
    }
}
