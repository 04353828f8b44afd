//! When the candidate may read the result: what the sheet shows of it, and the steps of a person.

use super::App;
use super::error::WebError;
use super::extract::{Author, Form, Path, SignedIn};
use super::sessions::{may_read, may_sign};
use super::show;
use crate::store::releases::{self, LONGEST_REASON, Release, State, Step};
use crate::store::staff::Role;
use crate::store::{CentreId, SessionId, deeds, sessions as stored};
use axum::extract;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// How the release of a session stands, with its history, in words.
pub struct Shown {
    /// Whether the candidate may read it now, in a sentence.
    pub says: String,
    pub open: bool,
    pub history: Vec<Row>,
    /// What this person may do now.
    pub steps: Vec<Offered>,
}

/// One row of the history.
pub struct Row {
    pub at: String,
    pub says: String,
    /// Who did it; nobody where the centre's rule did.
    pub by: Option<String>,
    pub reason: Option<String>,
}

/// A step that is offered as a button.
pub struct Offered {
    pub word: &'static str,
    pub label: &'static str,
    pub needs_reason: bool,
}

impl Shown {
    /// As this person sees it on the page of a signed session.
    pub async fn of(
        tx: &mut PgConnection,
        centre: &CentreId,
        session: SessionId,
        may_step: bool,
        now: OffsetDateTime,
    ) -> Result<Self, WebError> {
        let releases = releases::history(tx, centre, session).await?;
        let mut history = Vec::with_capacity(releases.len());
        for release in &releases {
            let at = show::moment(stored::local_time(tx, centre, release.at).await?);
            let opens = match release.opens_at {
                Some(opens) => Some(show::moment(stored::local_time(tx, centre, opens).await?)),
                None => None,
            };
            let says = row_words(release, opens.as_deref());
            history.push(Row { at, says, by: release.by_name.clone(), reason: release.reason.clone() });
        }
        let last = releases.last();
        let open = last.is_some_and(|last| last.is_open(now));
        let opens = match last.and_then(|last| last.opens_at) {
            Some(opens) => Some(show::moment(stored::local_time(tx, centre, opens).await?)),
            None => None,
        };
        let steps = last.map(|last| last.steps(now)).unwrap_or_default();
        let steps = steps.into_iter().filter(|_| may_step).map(offer).collect();
        Ok(Self { says: stands(last, open, opens.as_deref()), open, history, steps })
    }
}

fn stands(last: Option<&Release>, open: bool, opens: Option<&str>) -> String {
    match (last.map(|last| last.state), opens) {
        (_, Some(opens)) if open => format!("The candidate can read the feedback since {opens}."),
        (_, Some(opens)) => format!("The candidate can read the feedback from {opens} on."),
        (Some(State::Held), _) => {
            "The feedback is held back. The candidate's link says that it is not there yet.".into()
        }
        (Some(State::Withdrawn), _) => "The feedback was taken back. The candidate's link shows nothing of it.".into(),
        _ => "The candidate can read the feedback once somebody has told them in person.".into(),
    }
}

fn row_words(release: &Release, opens: Option<&str>) -> String {
    match (release.state, opens) {
        (State::Planned, Some(opens)) => format!("By the centre's rule, to be read from {opens} on"),
        (State::Planned | State::Waiting, _) => "By the centre's rule, to be told in person first".into(),
        (State::Held, _) => "Held back".into(),
        (State::Told, _) => "Told in person; open since then".into(),
        (State::Released, _) => "Opened".into(),
        (State::Withdrawn, _) => "Taken back".into(),
    }
}

fn offer(step: Step) -> Offered {
    let label = match step {
        Step::Told => "Told in person",
        Step::Release => "Open it now",
        Step::Hold => "Hold it back",
        Step::Withdraw => "Take it back",
    };
    Offered { word: step.word(), label, needs_reason: step.needs_reason() }
}

/// Who may take a step: the session's own assessor, and managers.
pub fn may_step(who: &SignedIn, session: &stored::Session) -> bool {
    may_sign(who, session) || who.staff.is(Role::Manager)
}

/// What the form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sent {
    step: String,
    #[serde(default)]
    reason: String,
}

/// Takes a step and goes back to the sheet.
pub async fn step(
    extract::State(app): extract::State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(sent): Form<Sent>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let session = stored::hold(&mut tx, who.centre(), SessionId(id)).await?.ok_or(WebError::Missing("session"))?;
    if !may_read(&who, &session) {
        return Err(WebError::Missing("session"));
    }
    if !may_step(&who, &session) {
        return Err(WebError::Forbidden("Only the assessor of this session or a manager can do that."));
    }
    let unknown = || WebError::Unreadable("A step is hold, told, release or withdraw.".into());
    let step = Step::of_word(&sent.step).ok_or_else(unknown)?;
    let reason = sent.reason.trim();
    if reason.chars().count() > LONGEST_REASON || reason.contains('\0') {
        return Err(WebError::Unreadable("A reason has at most 2,000 characters.".into()));
    }
    if step.needs_reason() && reason.is_empty() {
        let says = "Say why, in the field above the button. The candidate does not see it.";
        return Err(WebError::Unreadable(says.into()));
    }
    let (centre, now) = (who.centre(), app.clock.now());
    let reason = (!reason.is_empty()).then_some(reason);
    if !releases::step(&mut tx, centre, session.id, step, reason, who.staff.number, now).await? {
        return Err(WebError::Stale("The release has moved on since the page was shown. Look at the sheet again."));
    }
    let what = match step {
        Step::Hold => "feedback_held",
        Step::Told => "feedback_told",
        Step::Release => "feedback_opened",
        Step::Withdraw => "feedback_taken_back",
    };
    deeds::note(&mut tx, centre, Some(who.staff.number), what, &id.to_string(), now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/sessions/{id}/sheet#release")).into_response())
}
