//! When the candidate may read the result: how it stands, its history, and the steps of a person.

use super::App;
use super::error::WebError;
use super::extract::{Author, Form, Path, SignedIn};
use super::form::Faults;
use super::page::{Page, Place, html};
use super::plan::when::{self, Typed};
use super::sessions::{self, may_read, may_sign};
use super::show;
use crate::store::releases::{self, LONGEST_REASON, Release, State, Step};
use crate::store::staff::Role;
use crate::store::{CentreId, SessionId, deeds, sessions as stored};
use askama::Template;
use axum::extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::{PgConnection, Postgres, Transaction};
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// How the release of a session stands, with its history, in words.
pub struct Shown {
    /// Whether the candidate may read it now, in a sentence.
    pub says: String,
    pub open: bool,
    pub history: Vec<Row>,
    last: Option<Release>,
}

/// One row of the history.
pub struct Row {
    pub at: String,
    pub says: String,
    /// Who did it; nobody where the centre's rule did.
    pub by: Option<String>,
    pub reason: Option<String>,
}

impl Shown {
    /// As staff see it.
    pub async fn of(
        tx: &mut PgConnection,
        centre: &CentreId,
        session: SessionId,
        now: OffsetDateTime,
    ) -> Result<Self, WebError> {
        let releases = releases::history(tx, centre, session).await?;
        let mut history = Vec::with_capacity(releases.len());
        for release in &releases {
            let at = show::moment(stored::local_time(tx, centre, release.at).await?);
            let opens = moment(tx, centre, release.opens_at).await?;
            let says = row_words(release, opens.as_deref());
            history.push(Row { at, says, by: release.by_name.clone(), reason: release.reason.clone() });
        }
        let last = releases.into_iter().next_back();
        let open = last.as_ref().is_some_and(|last| last.is_open(now));
        let opens = moment(tx, centre, last.as_ref().and_then(|last| last.opens_at)).await?;
        let says = stands(last.as_ref().map(|last| last.state), open, opens.as_deref());
        Ok(Self { says, open, history, last })
    }

    /// Whether a step can be taken from here. Which moment is meant does not matter as long as it is to come.
    fn allows(&self, step: Step, now: OffsetDateTime) -> bool {
        self.last.as_ref().is_some_and(|last| last.allows(step, now))
    }
}

async fn moment(
    tx: &mut PgConnection,
    centre: &CentreId,
    at: Option<OffsetDateTime>,
) -> Result<Option<String>, WebError> {
    Ok(match at {
        Some(at) => Some(show::moment(stored::local_time(tx, centre, at).await?)),
        None => None,
    })
}

fn stands(state: Option<State>, open: bool, opens: Option<&str>) -> String {
    match (state, opens) {
        (_, Some(opens)) if open => format!("The candidate can read the feedback since {opens}."),
        (_, Some(opens)) => format!("The candidate can read the feedback from {opens} on."),
        (Some(State::Held), _) => {
            "The feedback is held back. The candidate's link says that it is not there yet.".into()
        }
        (Some(State::Withdrawn), _) => {
            "The feedback was withdrawn. The candidate's link says so and shows nothing of it.".into()
        }
        _ => "The candidate can read the feedback once somebody has told them in person.".into(),
    }
}

fn row_words(release: &Release, opens: Option<&str>) -> String {
    match (release.state, opens, release.by) {
        (State::Planned, Some(opens), None) => format!("By the centre's rule: to be read from {opens} on"),
        (State::Planned, Some(opens), Some(_)) => format!("Set: to be read from {opens} on"),
        (State::Planned | State::Waiting, ..) => "By the centre's rule: to be told in person first".into(),
        (State::Held, ..) => "Held back".into(),
        (State::Told, ..) => "Told in person; open since then".into(),
        (State::Released, ..) => "Opened".into(),
        (State::Withdrawn, ..) => "Withdrawn".into(),
    }
}

/// The page of a release.
#[derive(Template)]
#[template(path = "releases/show.html")]
struct ReleasePage {
    page: Page,
    session: Uuid,
    candidate: String,
    task: String,
    release: Shown,
    /// Whether this person may take a step.
    may_step: bool,
    /// Which steps can be taken from here: told in person, open now or later, hold, withdraw.
    may_open: bool,
    may_hold: bool,
    may_withdraw: bool,
    sent: Sent,
    faults: Faults,
}

impl ReleasePage {
    /// What is wrong with a field of the form of this step.
    fn fault(&self, step: &str, field: &str) -> Option<&str> {
        (self.sent.step == step).then(|| self.faults.of(field)).flatten()
    }

    /// What was typed into a field of the form of this step.
    fn typed<'t>(&self, step: &str, typed: &'t str) -> &'t str {
        if self.sent.step == step { typed } else { "" }
    }
}

/// Who may take a step: the session's own assessor, and managers.
pub fn may_step(who: &SignedIn, session: &stored::Session) -> bool {
    may_sign(who, session) || who.staff.is(Role::Manager)
}

/// What the form of a step sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Sent {
    step: String,
    reason: String,
    day: String,
    time: String,
    which: String,
}

/// How the release of a signed session stands.
pub async fn show(
    extract::State(app): extract::State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = sessions::load(&mut tx, &who, id).await?;
    if loaded.result.is_none() {
        return Ok(Redirect::to(&format!("/sessions/{id}")).into_response());
    }
    page(&app, tx, &who, loaded.session, Sent::default(), Faults::none()).await
}

async fn page(
    app: &App,
    mut tx: Transaction<'static, Postgres>,
    who: &SignedIn,
    session: stored::Session,
    sent: Sent,
    faults: Faults,
) -> Result<Response, WebError> {
    let now = app.clock.now();
    let may_step = may_step(who, &session);
    let loaded = sessions::rest_of(&mut tx, who.centre(), session).await?;
    let release = Shown::of(&mut tx, who.centre(), loaded.session.id, now).await?;
    tx.commit().await?;
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let page = ReleasePage {
        page: Page::at(&who.staff, Place::Sessions),
        session: loaded.session.id.0,
        candidate: loaded.candidate.name,
        task: loaded.task.title,
        may_step,
        may_open: release.allows(Step::At(now + Duration::minutes(1)), now),
        may_hold: release.allows(Step::Hold, now),
        may_withdraw: release.allows(Step::Withdraw, now),
        release,
        sent,
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// Takes a step and shows how the release stands then.
pub async fn step(
    extract::State(app): extract::State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(sent): Form<Sent>,
) -> Result<Response, WebError> {
    let (centre, now) = (who.centre(), app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    let session = stored::hold(&mut tx, centre, SessionId(id)).await?.ok_or(WebError::Missing("session"))?;
    if !may_read(&who, &session) {
        return Err(WebError::Missing("session"));
    }
    if !may_step(&who, &session) {
        return Err(WebError::Forbidden("Only the assessor of this session or a manager can do that."));
    }
    let mut faults = Faults::none();
    let step = read_step(&mut tx, centre, &sent, now, &mut faults).await?;
    let reason = read_reason(&sent, step, &mut faults);
    let Some(step) = step.filter(|_| faults.is_empty()) else {
        return page(&app, tx, &who, session, sent, faults).await;
    };
    if !releases::step(&mut tx, centre, session.id, step, reason.as_deref(), who.staff.number, now).await? {
        return Err(WebError::Stale("The release has moved on since the page was shown. Look at it again."));
    }
    let what = match step {
        Step::Hold => "feedback_held",
        Step::Told => "feedback_told",
        Step::Release => "feedback_opened",
        Step::At(_) => "feedback_set",
        Step::Withdraw => "feedback_withdrawn",
    };
    deeds::note(&mut tx, centre, Some(who.staff.number), what, &id.to_string(), now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/sessions/{id}/release")).into_response())
}

/// The step that the form means; `None`, and a fault noted, where it means none.
async fn read_step(
    tx: &mut PgConnection,
    centre: &CentreId,
    sent: &Sent,
    now: OffsetDateTime,
    faults: &mut Faults,
) -> Result<Option<Step>, WebError> {
    Ok(match sent.step.as_str() {
        "hold" => Some(Step::Hold),
        "told" => Some(Step::Told),
        "release" => Some(Step::Release),
        "withdraw" => Some(Step::Withdraw),
        "at" => {
            let typed = Typed { day: &sent.day, time: &sent.time, which: &sent.which };
            let at = when::instant(tx, centre, &typed, faults).await?;
            if at.is_some_and(|at| at <= now) {
                faults.add("day", "That is over. Choose a moment to come, or open it now.");
            }
            at.map(Step::At)
        }
        _ => return Err(WebError::Unreadable("A step is told, release, at, hold or withdraw.".into())),
    })
}

fn read_reason(sent: &Sent, step: Option<Step>, faults: &mut Faults) -> Option<String> {
    let reason = sent.reason.trim();
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if reason.chars().count() > LONGEST_REASON || reason.chars().any(odd) {
        faults.add("reason", "Please write at most 2,000 characters, without control characters.");
    }
    if reason.is_empty() && step.is_some_and(Step::needs_reason) {
        faults.add("reason", "Please say why.");
    }
    (!reason.is_empty()).then(|| reason.to_owned())
}
