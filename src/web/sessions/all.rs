//! All sessions of the centre, to look through and search.

use crate::store::session_list::{self, After, Row, STANDINGS, Search};
use crate::store::{SessionId, StaffNo, candidates, planning, tasks};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::plan::when;
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use time::OffsetDateTime;

/// Rows on a page.
const ROWS: usize = 50;
/// Candidates that a search by name goes on with.
const MOST_CANDIDATES: i64 = 200;

/// The list.
#[derive(Template)]
#[template(path = "sessions/all.html")]
struct AllPage {
    page: Page,
    /// None: what makes no sense is passed over.
    faults: Faults,
    asked: Asked,
    tasks: Vec<(String, String)>,
    assessors: Vec<(String, String)>,
    standings: Vec<(&'static str, &'static str)>,
    /// Whether other assessors' sessions are in the list.
    all: bool,
    /// The name searched for is too short: only the first candidates were looked at.
    cut: bool,
    may_plan: bool,
    rows: Vec<Line>,
    /// Addresses of the next page and of the first, where this is not it.
    older: Option<String>,
    newest: Option<String>,
}

/// A line of the list.
struct Line {
    href: String,
    plan: String,
    day: String,
    time: String,
    name: String,
    reference: String,
    task: String,
    bay: String,
    assessor: String,
    sign: Sign,
    resit: bool,
    /// For those who sample: a finding was overruled.
    sample: Option<Sign>,
}

/// What stands in the address.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    pub q: String,
    pub task: String,
    pub assessor: String,
    pub standing: String,
    pub from: String,
    pub to: String,
    /// Where the page before ended: microseconds since 1970, a dot, the session.
    pub after: String,
}

impl Asked {
    /// Whether anything is asked for.
    pub fn is_anything(&self) -> bool {
        [&self.q, &self.task, &self.assessor, &self.standing, &self.from, &self.to].iter().any(|word| !word.is_empty())
    }

    fn address(&self, after: Option<&str>) -> String {
        let fields = [
            ("q", &self.q),
            ("task", &self.task),
            ("assessor", &self.assessor),
            ("standing", &self.standing),
            ("from", &self.from),
            ("to", &self.to),
        ];
        let mut parts: Vec<String> = fields
            .into_iter()
            .filter(|(_, word)| !word.is_empty())
            .map(|(name, word)| format!("{name}={}", show::percent(word)))
            .collect();
        parts.extend(after.map(|after| format!("after={after}")));
        if parts.is_empty() { "/sessions/all".into() } else { format!("/sessions/all?{}", parts.join("&")) }
    }
}

/// Shows a page of the sessions that fit: the whole centre's, or an assessor's own.
pub async fn show(State(app): State<App>, who: SignedIn, Query(asked): Query<Asked>) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let centre = who.centre();
    let (search, cut) = search(&mut tx, &who, &asked).await?;
    let most = i64::try_from(ROWS).unwrap_or(0) + 1;
    let mut found = session_list::page(&mut tx, centre, &search, after_of(&asked.after), most).await?;
    let tasks = tasks::list(&mut tx, centre).await?;
    let assessors = planning::assessors(&mut tx, centre).await?;
    tx.commit().await?;
    let more = found.len() > ROWS;
    found.truncate(ROWS);
    let older = found.last().filter(|_| more).map(|last| asked.address(Some(&after_word(last))));
    let newest = (!asked.after.is_empty()).then(|| asked.address(None));
    let any = |says: &str| (String::new(), says.to_owned());
    html(&AllPage {
        page: Page::at(&who.staff, Place::Sessions),
        faults: Faults::none(),
        tasks: std::iter::once(any("Any task"))
            .chain(tasks.into_iter().map(|task| (task.id.0.to_string(), task.title)))
            .collect(),
        assessors: std::iter::once(any("Anybody"))
            .chain(assessors.into_iter().map(|(number, name)| (number.0.to_string(), name)))
            .collect(),
        standings: std::iter::once(("", "Any")).chain(STANDINGS.map(|word| (word, standing_words(word)))).collect(),
        all: who.reads_all(),
        cut,
        may_plan: who.staff.is(crate::store::staff::Role::Manager),
        rows: found.into_iter().map(|row| line(row, who.reads_all())).collect(),
        older,
        newest,
        asked,
    })
}

/// What the address asks for; and whether more candidates fit than were looked at. What makes no sense is passed over.
async fn search(tx: &mut sqlx::PgConnection, who: &SignedIn, asked: &Asked) -> Result<(Search, bool), WebError> {
    let mut cut = false;
    let candidates = if asked.q.trim().is_empty() {
        None
    } else {
        let mut found = candidates::search(tx, who.centre(), &asked.q, None, MOST_CANDIDATES + 1).await?;
        cut = i64::try_from(found.len()).is_ok_and(|count| count > MOST_CANDIDATES);
        found.truncate(usize::try_from(MOST_CANDIDATES).unwrap_or_default());
        Some(found.into_iter().map(|candidate| candidate.id).collect())
    };
    let chosen: Option<StaffNo> = asked.assessor.parse().ok().map(StaffNo);
    let search = Search {
        candidates,
        task: asked.task.parse().ok().map(crate::store::TaskId),
        assessor: if who.reads_all() { chosen } else { Some(who.staff.number) },
        standing: STANDINGS.contains(&asked.standing.as_str()).then(|| asked.standing.clone()),
        from: when::parse_day(&asked.from),
        to: when::parse_day(&asked.to),
    };
    Ok((search, cut))
}

fn after_word(row: &Row) -> String {
    format!("{}.{}", row.planned_at.unix_timestamp_nanos() / 1_000, row.id.0)
}

fn after_of(word: &str) -> Option<After> {
    let (at, id) = word.split_once('.')?;
    let micros: i128 = at.parse().ok()?;
    let planned_at = OffsetDateTime::from_unix_timestamp_nanos(micros.checked_mul(1_000)?).ok()?;
    Some(After { planned_at, id: SessionId(id.parse().ok()?) })
}

fn standing_words(word: &'static str) -> &'static str {
    match word {
        "automatic_fail" => "automatic fail",
        "no_show" => "did not come",
        other => other,
    }
}

fn line(row: Row, reads_plan: bool) -> Line {
    let address = format!("/sessions/{}", row.id.0);
    Line {
        plan: if reads_plan { format!("{address}/plan") } else { String::new() },
        href: address,
        day: show::day(row.planned_local),
        time: show::time_of_day(row.planned_local),
        name: row.candidate_name,
        reference: row.candidate_reference,
        task: row.task_title,
        bay: row.bay,
        assessor: row.assessor_name,
        sign: show::standing(row.standing),
        resit: row.resit,
        sample: (row.sampled && reads_plan).then_some(show::SAMPLED),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_asked_for_goes_on_to_the_next_page() {
        let asked = Asked { q: "zoë & co".into(), standing: "fail".into(), ..Asked::default() };
        assert_eq!(asked.address(Some("5.x")), "/sessions/all?q=zo%C3%AB%20%26%20co&standing=fail&after=5.x");
        assert_eq!(Asked::default().address(None), "/sessions/all");
    }

    #[test]
    fn a_place_in_the_list_that_makes_no_sense_is_none() {
        for bad in ["", "x", "1.x", "9999999999999999999999999999.0", "170141183460469231731687303715884105727.x"] {
            assert_eq!(after_of(bad), None, "{bad}");
        }
    }
}
