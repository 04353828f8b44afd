//! The plan of one session: looked at, changed, cancelled, marked as a no-show, and repeated.

use super::form::{self, Fields, Shown};
use super::{Tasks, clash_words, when};
use crate::planning::clashes;
use crate::store::candidates::Candidate;
use crate::store::planning::{self, Changed, Plan};
use crate::store::sessions::{self, Ended, Session, Standing};
use crate::store::{CentreId, SessionId, candidates, identity, reviews, staff, tasks};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, Path, Reader, SignedIn};
use crate::web::form::{Faults, line};
use crate::web::page::{Page, Place, html};
use crate::web::sessions::check;
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// Longest reason for a cancellation.
const LONGEST_REASON: usize = 500;

const FIXED: &str = "This session was opened or given up since the page was shown, so that its plan stays as it is. Nothing was changed.";

/// The plan of one session.
#[derive(Template)]
#[template(path = "plan/change.html")]
struct ChangePage {
    page: Page,
    id: Uuid,
    candidate: Candidate,
    sign: Sign,
    /// Facts of the plan: name and value.
    facts: Vec<(&'static str, String)>,
    clashes: Vec<String>,
    earlier: Option<(String, String)>,
    resits: Vec<(String, String)>,
    given_up: Option<(String, Option<String>)>,
    history: Vec<Line>,
    /// Present where this person may change it.
    form: Option<Shown>,
    cancel: Faults,
    reason: String,
    may_be_no_show: bool,
    may_repeat: bool,
}

/// A line of the history.
struct Line {
    at: String,
    what: &'static str,
    by: String,
    plan: String,
    despite: String,
}

/// Shows the plan of a session.
pub async fn show(
    State(app): State<App>,
    Reader(who): Reader,
    Path(id): Path<Uuid>,
) -> Result<axum::response::Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let session = found(&mut tx, who.centre(), id).await?;
    let page = page(&mut tx, &who, session, Typed::default(), app.clock.now()).await?;
    tx.commit().await?;
    html(&page)
}

async fn found(tx: &mut PgConnection, centre: &CentreId, id: Uuid) -> Result<Session, WebError> {
    sessions::find(tx, centre, SessionId(id)).await?.ok_or(WebError::Missing("session"))
}

/// What a form of the page came back with.
#[derive(Default)]
struct Typed {
    form: Option<Shown>,
    cancel: Faults,
    reason: String,
}

async fn page(
    tx: &mut PgConnection,
    who: &SignedIn,
    session: Session,
    typed: Typed,
    now: OffsetDateTime,
) -> Result<ChangePage, WebError> {
    let centre = who.centre();
    let candidate = candidates::find(tx, centre, session.candidate).await?.ok_or(WebError::Missing("candidate"))?;
    let outcome = reviews::stands(tx, centre, session.id).await?.map(|result| result.verdict.outcome);
    let standing = standing(&session, outcome);
    let local = sessions::local_time(tx, centre, session.planned_at).await?;
    let may_write = who.staff.is(staff::Role::Manager) && standing == Standing::Planned;
    let form = match (typed.form, may_write) {
        (Some(form), true) => Some(form),
        (None, true) => Some(form::shown(tx, centre, Fields::of_session(&session, local)).await?),
        (_, false) => None,
    };
    let given_up = match &session.given_up {
        Some(given_up) => Some((check::given_up_words(tx, centre, given_up).await?, given_up.reason.clone())),
        None => None,
    };
    let history = planning::changes(tx, centre, session.id).await?.into_iter().map(line_of).collect();
    let manager = who.staff.is(staff::Role::Manager);
    Ok(ChangePage {
        page: Page::at(&who.staff, Place::Plan),
        id: session.id.0,
        sign: show::standing(standing),
        facts: facts(tx, centre, &session).await?,
        clashes: clashes_of(tx, centre, &session).await?,
        earlier: earlier(tx, centre, &session).await?,
        resits: planning::resits(tx, centre, session.id).await?.into_iter().map(check::linked).collect(),
        given_up,
        history,
        form,
        cancel: typed.cancel,
        reason: typed.reason,
        may_be_no_show: may_write && session.planned_at <= now,
        may_repeat: manager && candidate.erased_at.is_none() && !matches!(standing, Standing::Planned | Standing::Open),
        candidate,
    })
}

fn standing(session: &Session, outcome: Option<crate::marking::VerdictOutcome>) -> Standing {
    match (outcome, session.given_up.as_ref().map(|given_up| given_up.how)) {
        (Some(outcome), _) => Standing::Signed(outcome),
        (None, Some(Ended::Cancelled)) => Standing::Cancelled,
        (None, Some(Ended::NoShow)) => Standing::NoShow,
        (None, None) if session.opened_at.is_some() => Standing::Open,
        (None, None) => Standing::Planned,
    }
}

async fn facts(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: &Session,
) -> Result<Vec<(&'static str, String)>, WebError> {
    let local = sessions::local_time(tx, centre, session.planned_at).await?;
    let task = tasks::find(tx, centre, session.task, session.task_version).await?;
    let task = task.map_or_else(String::new, |task| format!("{}, version {}", task.task.title, session.task_version));
    let name = async |tx: &mut PgConnection, number| -> Result<String, WebError> {
        Ok(staff::find(tx, centre, number).await?.map_or_else(String::new, |person| person.name))
    };
    let assessor = name(&mut *tx, session.assessor).await?;
    let second = match session.second_marker {
        Some(marker) => name(&mut *tx, marker).await?,
        None => "nobody".into(),
    };
    let length = session.length;
    let mut facts = vec![
        ("When", show::moment(local)),
        ("How long", format!("{} minutes, then {} to put the bay back", length.minutes, length.turn_round)),
        ("Task", task),
        ("Bay", session.bay.clone()),
        ("Assessor", assessor),
        ("Second marker", second),
    ];
    if let Some((how, by)) = identity::find(tx, centre, session.id).await? {
        facts.push(("The candidate was known by", format!("{} ({by})", check::identity_of(how))));
    }
    Ok(facts)
}

async fn clashes_of(tx: &mut PgConnection, centre: &CentreId, session: &Session) -> Result<Vec<String>, WebError> {
    if session.given_up.is_some() {
        return Ok(Vec::new());
    }
    let plan = plan_of(session);
    let mine = form::booking(&plan);
    let booked = planning::booked(tx, centre, mine.span).await?;
    let mut says = Vec::new();
    for clash in clashes(&mine, &booked) {
        says.push(clash_words(tx, centre, &clash).await?);
    }
    Ok(says)
}

/// A session as the plan it was made by.
fn plan_of(session: &Session) -> Plan {
    Plan {
        session: sessions::NewSession {
            id: session.id,
            task: session.task,
            task_version: session.task_version,
            candidate: session.candidate,
            assessor: session.assessor,
            bay: session.bay.clone(),
            planned_at: session.planned_at,
            extra: session.extra,
        },
        length: session.length,
        second_marker: session.second_marker,
        resit_of: session.resit_of,
        despite: Vec::new(),
    }
}

async fn earlier(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: &Session,
) -> Result<Option<(String, String)>, WebError> {
    let Some(id) = session.resit_of else { return Ok(None) };
    let Some(earlier) = sessions::find(tx, centre, id).await? else { return Ok(None) };
    let day = show::moment(sessions::local_time(tx, centre, earlier.planned_at).await?);
    Ok(Some((format!("/sessions/{}", id.0), day)))
}

fn line_of(changed: Changed) -> Line {
    let what = match changed.kind.as_str() {
        "planned" => "planned",
        "changed" => "changed",
        "cancelled" => "cancelled",
        _ => "did not come",
    };
    let second = changed.second_marker_name.map(|name| format!(", second marker {name}")).unwrap_or_default();
    let despite: Vec<&str> = changed.despite.iter().map(|word| despite_words(word)).collect();
    Line {
        at: show::moment(changed.at),
        what,
        by: changed.by.unwrap_or_else(|| "the service".into()),
        plan: format!(
            "{}, {}, {}, {}{second}",
            show::moment(changed.planned_at),
            changed.task_title,
            changed.bay,
            changed.assessor_name
        ),
        despite: despite.join(", "),
    }
}

fn despite_words(word: &str) -> &'static str {
    match word {
        "planted" => "the same planted faults",
        "bay" => "a clash of the bay",
        "second_marker" => "a clash of the second marker",
        _ => "a clash of the assessor",
    }
}

/// Changes the plan.
pub async fn change(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
    Form(mut fields): Form<Fields>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let centre = who.centre();
    let session = found(&mut tx, centre, id).await?;
    if session.opened_at.is_some() || session.given_up.is_some() {
        return Err(WebError::Stale(FIXED));
    }
    let candidate =
        candidates::find(&mut tx, centre, session.candidate).await?.ok_or(WebError::Missing("candidate"))?;
    // What it repeats does not change, whatever the form says.
    fields.resit_of = session.resit_of.map(|earlier| earlier.0.to_string()).unwrap_or_default();
    let checked = form::check(&mut tx, centre, fields, session.id, &candidate, &mut Tasks::default()).await?;
    let plan = match checked {
        Ok(plan) => plan,
        Err(form) => {
            let typed = Typed { form: Some(*form), ..Typed::default() };
            let page = page(&mut tx, &who, session, typed, app.clock.now()).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
        }
    };
    if !planning::change(&mut tx, centre, &plan, who.staff.number, app.clock.now()).await? {
        return Err(WebError::Stale(FIXED));
    }
    let local = sessions::local_time(&mut tx, centre, plan.session.planned_at).await?;
    tx.commit().await?;
    let day = when::day_value(local.date());
    Ok(Redirect::to(&format!("/plan?day={day}&done=changed#s-{id}")).into_response())
}

/// Why a session is cancelled.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Reason {
    reason: String,
}

/// Cancels the session.
pub async fn cancel(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
    Form(typed): Form<Reason>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let session = found(&mut tx, who.centre(), id).await?;
    let mut faults = Faults::none();
    let reason = line(&mut faults, "reason", &typed.reason, LONGEST_REASON);
    if !faults.is_empty() {
        let typed = Typed { cancel: faults, reason: typed.reason, ..Typed::default() };
        let page = page(&mut tx, &who, session, typed, app.clock.now()).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    }
    give_up(&app, tx, &who, &session, Ended::Cancelled, Some(&reason)).await
}

/// Notes that the candidate did not come.
pub async fn no_show(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let session = found(&mut tx, who.centre(), id).await?;
    if session.planned_at > app.clock.now() {
        return Err(WebError::Stale(
            "It is not time for this session yet, so nobody can have missed it. Nothing was changed.",
        ));
    }
    give_up(&app, tx, &who, &session, Ended::NoShow, None).await
}

async fn give_up(
    app: &App,
    mut tx: sqlx::Transaction<'static, sqlx::Postgres>,
    who: &SignedIn,
    session: &Session,
    how: Ended,
    reason: Option<&str>,
) -> Result<Response, WebError> {
    let (by, now) = (who.staff.number, app.clock.now());
    if !planning::give_up(&mut tx, who.centre(), session.id, how, reason, by, now).await? {
        return Err(WebError::Stale(FIXED));
    }
    tx.commit().await?;
    Ok(Redirect::to(&format!("/sessions/{}/plan", session.id.0)).into_response())
}
