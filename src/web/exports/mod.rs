//! Exports: asked for in a form, made one at a time for each centre, fetched for a day, and every one of them listed.

pub mod form;
pub mod jobs;
mod one;

pub use one::{cancel, fetch, reopen, show};

use self::form::{Choice, OUTCOMES, Typed};
use super::App;
use super::error::WebError;
use super::extract::{Form, Here, Reader, SignedIn};
use super::form::Faults;
use super::page::{Page, Place, html};
use super::show::{self as words, Sign};
use super::sign_in::prove_again;
use crate::export::format::Format;
use crate::exporter::{self, ExportError};
use crate::store::exports::{self as stored, End, Listed};
use crate::store::{sessions, tasks};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use std::collections::HashMap;
use time::Duration;

/// How long after the password was given nothing is asked again.
const FRESH: Duration = Duration::minutes(5);

/// Exports in the list.
const LISTED: i64 = 50;

/// The page.
#[derive(Template)]
#[template(path = "exports/list.html")]
struct ListPage {
    page: Page,
    faults: Faults,
    typed: Typed,
    choices: Vec<Choice>,
    formats: Vec<(String, String)>,
    tasks: Vec<(String, String)>,
    assessors: Vec<(String, String)>,
    outcomes: [(&'static str, &'static str); 5],
    /// Whether the password is asked for again.
    ask: bool,
    /// The page of the export that is running.
    running: Option<String>,
    past: Vec<Past>,
}

/// A line of the list of exports.
pub(super) struct Past {
    pub href: String,
    pub when: String,
    pub who: String,
    pub what: String,
    /// The days and what else narrows it.
    pub which: String,
    pub rows: String,
    pub sign: Sign,
}

/// Shows the form and the exports so far.
pub async fn list(State(app): State<App>, Reader(who): Reader) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let today = sessions::local_time(&mut tx, who.centre(), app.clock.now()).await?.date();
    let remembered = stored::remembered_columns(&mut tx, who.centre(), who.staff.number).await?;
    tx.commit().await?;
    let page = list_page(&app, &who, Faults::none(), Typed::fresh(today, remembered)).await?;
    Ok(html(&page)?.into_response())
}

/// Begins an export.
pub async fn begin(
    State(app): State<App>,
    Here(here): Here,
    Reader(who): Reader,
    Form(mut sent): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    let password = sent.remove("password").unwrap_or_default();
    let typed = Typed::of(&sent);
    let base = here.to_string();
    let order = match typed.order(app.clock.new_id(), who.staff.number) {
        Ok(order) => order,
        Err(faults) => return refused(&app, &who, StatusCode::UNPROCESSABLE_ENTITY, faults, typed).await,
    };
    let mut faults = Faults::none();
    for fault in exporter::check(&app.store, who.centre(), &order, &base).await? {
        faults.add(fault.field, fault.says);
    }
    if !faults.is_empty() {
        return refused(&app, &who, StatusCode::UNPROCESSABLE_ENTITY, faults, typed).await;
    }
    let Some(data) = app.settings.data.clone() else {
        return Err(WebError::ours("there is no data folder to keep exports in"));
    };
    if !proved(&app, &who, password).await? {
        faults.add("password", "That is not your password. Nothing was exported.");
        return refused(&app, &who, StatusCode::FORBIDDEN, faults, typed).await;
    }
    let (id, columns, has_columns) = (order.id, order.columns.clone(), order.format.has_columns());
    let started = match exporter::start(&app.store, &app.clock, who.centre(), order).await {
        Err(ExportError::Running) => {
            faults.add("format", "Another export of your centre is running. Wait until it has ended, then try again.");
            return refused(&app, &who, StatusCode::CONFLICT, faults, typed).await;
        }
        started => started?,
    };
    if has_columns {
        let mut tx = app.store.begin(who.centre()).await?;
        stored::remember_columns(&mut tx, who.centre(), who.staff.number, &columns).await?;
        tx.commit().await?;
    }
    let key = app.exports.carry(who.centre(), id, started, &data, base, app.clock.now());
    let key = key.map_err(|why| WebError::Ours(Box::new(why)))?;
    Ok(Redirect::to(&format!("/exports/{id}?key={key}")).into_response())
}

/// Whether the person gave their password a moment ago, or gives it now.
async fn proved(app: &App, who: &SignedIn, password: String) -> Result<bool, WebError> {
    Ok(is_fresh(app, who) || prove_again(app, who, password).await?)
}

fn is_fresh(app: &App, who: &SignedIn) -> bool {
    app.clock.now() - who.password_at <= FRESH
}

async fn refused(
    app: &App,
    who: &SignedIn,
    status: StatusCode,
    faults: Faults,
    typed: Typed,
) -> Result<Response, WebError> {
    let page = list_page(app, who, faults, typed).await?;
    Ok((status, html(&page)?).into_response())
}

async fn list_page(app: &App, who: &SignedIn, faults: Faults, typed: Typed) -> Result<ListPage, WebError> {
    let centre = who.centre();
    // Before the record is read: what ends in between is there with its end.
    let running = app.exports.of(centre).map(|running| running.id);
    let mut tx = app.store.begin(centre).await?;
    let any = |says: &str| vec![(String::new(), says.to_owned())];
    let mut tasks_shown = any("Every task");
    let listed = tasks::list(&mut tx, centre).await?;
    tasks_shown.extend(listed.into_iter().map(|task| (task.id.0.to_string(), task.title)));
    let mut assessors = any("Every assessor");
    let known = stored::assessors(&mut tx, centre).await?;
    assessors.extend(known.into_iter().map(|(number, name)| (number.0.to_string(), name)));
    let past = stored::list(&mut tx, centre, None, LISTED).await?;
    tx.commit().await?;
    let running = running.filter(|id| past.iter().any(|listed| listed.id == *id && listed.ended.is_none()));
    let formats = Format::ALL.map(|format| (format.word().to_owned(), format.about().to_owned())).to_vec();
    Ok(ListPage {
        page: Page::at(&who.staff, Place::Exports),
        faults,
        choices: typed.choices(),
        typed,
        formats,
        tasks: tasks_shown,
        assessors,
        outcomes: OUTCOMES,
        ask: !is_fresh(app, who),
        running: running.map(|id| format!("/exports/{id}")),
        past: past.iter().map(|listed| Past::of(listed, running == Some(listed.id))).collect(),
    })
}

impl Past {
    /// A line; `runs` says whether this program is making it just now.
    pub(super) fn of(listed: &Listed, runs: bool) -> Self {
        let filter = &listed.filter;
        let mut which = vec![format!("{} to {}", day(filter.from), day(filter.to))];
        which.extend(listed.task_title.clone());
        which.extend(listed.assessor_name.clone());
        which.extend(filter.outcome.map(|outcome| words::verdict(outcome).word.to_owned()));
        which.push(if listed.names { "with names".into() } else { "without names".into() });
        let rows = listed.ended.map_or(listed.rows_to_do, |ended| ended.rows);
        Self {
            href: format!("/exports/{}", listed.id),
            when: words::moment(listed.begun_local),
            who: listed.by_name.clone().unwrap_or_else(|| "The command line".into()),
            what: Format::of_word(&listed.format).map_or(listed.format.clone(), |format| format.about().to_owned()),
            which: which.join(" · "),
            rows: if rows == 1 { "1 row".into() } else { format!("{} rows", number(rows)) },
            sign: sign(listed, runs),
        }
    }
}

/// How an export stands, by shape and word.
pub(super) fn sign(listed: &Listed, runs: bool) -> Sign {
    match listed.ended.map(|ended| ended.how) {
        None if runs => Sign { look: "open", shape: "◐", word: "running" },
        None => Sign { look: "open", shape: "○", word: "not ended" },
        Some(End::Finished) => Sign { look: "good", shape: "●", word: "finished" },
        Some(End::Cancelled) => Sign { look: "open", shape: "✕", word: "cancelled" },
        Some(End::Failed) => Sign { look: "bad", shape: "◆", word: "failed" },
    }
}

fn day(day: time::Date) -> String {
    words::day(day.midnight())
}

/// A number with its thousands apart.
pub(super) fn number(number: u64) -> String {
    let digits = number.to_string();
    let mut shown = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            shown.push(',');
        }
        shown.push(digit);
    }
    shown
}

impl From<ExportError> for WebError {
    fn from(why: ExportError) -> Self {
        match why {
            ExportError::Store(why) => Self::from(why),
            ExportError::Running => Self::Stale("Another export of your centre is running."),
            other => Self::Ours(Box::new(other)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_stand_apart() {
        let shown = [0, 999, 1_000, 100_000, 1_048_576].map(number);
        assert_eq!(shown, ["0", "999", "1,000", "100,000", "1,048,576"]);
    }
}
