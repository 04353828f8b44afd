//! Setting and lifting a hold.

use super::{HoldRow, hold_row};
use crate::store::holds::{self, Set, Why};
use crate::store::session_list::{self, Search};
use crate::store::{CandidateId, SessionId, candidates, deeds};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, Path, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::{proof, show};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

/// Most sessions of one candidate that are offered.
const MOST: i64 = 50;
/// The choice that holds everything.
const ALL: &str = "all";

/// The form that sets a hold.
#[derive(Template)]
#[template(path = "records/hold.html")]
struct HoldPage {
    page: Page,
    id: String,
    name: String,
    whats: Vec<(String, String)>,
    whys: Vec<(&'static str, &'static str)>,
    sent: Typed,
    holds: Vec<HoldRow>,
    faults: Faults,
}

/// What the form sends.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Typed {
    what: String,
    why: String,
}

/// Asks what is to be held, and why.
pub async fn ask(State(app): State<App>, Manager(who): Manager, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let sent = Typed { what: ALL.to_owned(), why: String::new() };
    page(&app, &who, id, sent, Faults::none(), StatusCode::OK).await
}

/// Sets a hold and notes it.
pub async fn set(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
    Form(sent): Form<Typed>,
) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    let session = (sent.what != ALL).then(|| sent.what.parse::<Uuid>().map(SessionId).ok());
    if session == Some(None) {
        faults.add("what", "Please choose what is to be held.");
    }
    let why = Why::of_word(&sent.why);
    if why.is_none() {
        faults.add("why", "Please choose why it must be kept.");
    }
    let (Some(why), true) = (why, faults.is_empty()) else {
        return page(&app, &who, id, sent, faults, StatusCode::UNPROCESSABLE_ENTITY).await;
    };
    let (centre, by, now) = (who.centre(), who.staff.number, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    let what = (CandidateId(id), session.flatten());
    let done = holds::set(&mut tx, centre, what, why, by, now).await?;
    let about = match (done, what.1) {
        (Set::Done(n), Some(session)) => format!("hold {n}, session {}: {}", session.0, why.word()),
        (Set::Done(n), None) => format!("hold {n}, candidate {id}: {}", why.word()),
        (Set::Already, _) => {
            tx.rollback().await?;
            faults.add("what", "That is held already.");
            return page(&app, &who, id, sent, faults, StatusCode::CONFLICT).await;
        }
        (Set::Missing, None) => return Err(WebError::Missing("candidate")),
        (Set::Missing, Some(_)) => {
            tx.rollback().await?;
            faults.add("what", "This is not, or no longer, a session of theirs.");
            return page(&app, &who, id, sent, faults, StatusCode::CONFLICT).await;
        }
    };
    deeds::note(&mut tx, centre, Some(by), "hold_set", &about, now).await?;
    tx.commit().await?;
    Ok(Redirect::to("/centre/records?held=yes").into_response())
}

async fn page(
    app: &App,
    who: &SignedIn,
    id: Uuid,
    sent: Typed,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let (centre, candidate) = (who.centre(), CandidateId(id));
    let mut tx = app.store.begin(centre).await?;
    let known = candidates::find(&mut tx, centre, candidate).await?.ok_or(WebError::Missing("candidate"))?;
    if known.erased_at.is_some() {
        return Err(WebError::Stale("The details of this candidate were erased. There is nothing to hold."));
    }
    let search = Search { candidates: Some(vec![candidate]), ..Search::default() };
    let mut whats = vec![(ALL.to_owned(), "Everything of this candidate".to_owned())];
    for row in session_list::page(&mut tx, centre, &search, None, MOST).await? {
        let word = show::standing(row.standing).word;
        whats.push((row.id.0.to_string(), format!("{}, {}, {word}", row.task_title, show::day(row.planned_local))));
    }
    let mut held = Vec::new();
    for hold in holds::list(&mut tx, centre, Some(candidate), MOST).await? {
        held.push(hold_row(&mut tx, centre, hold).await?);
    }
    tx.commit().await?;
    let nothing = ("", "Choose why");
    let page = HoldPage {
        page: Page::at(&who.staff, Place::Candidates),
        id: id.to_string(),
        name: known.name,
        whats,
        whys: [nothing].into_iter().chain(Why::ALL.map(|why| (why.word(), why.label()))).collect(),
        sent,
        holds: held,
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// The form that lifts a hold.
#[derive(Template)]
#[template(path = "records/lift.html")]
struct LiftPage {
    page: Page,
    hold: HoldRow,
    ask_password: bool,
    faults: Faults,
}

/// What the form sends.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Proof {
    own_password: String,
}

/// Asks whether a hold is to be lifted.
pub async fn ask_lift(State(app): State<App>, Manager(who): Manager, Path(n): Path<i32>) -> Result<Response, WebError> {
    lift_page(&app, &who, n, Faults::none(), StatusCode::OK).await
}

/// Lifts a hold and notes it. What it held may be due: the password is asked for.
pub async fn lift(
    State(app): State<App>,
    Manager(who): Manager,
    Path(n): Path<i32>,
    Form(sent): Form<Proof>,
) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    if !proof::given(&app, &who, &sent.own_password, &mut faults).await? {
        return lift_page(&app, &who, n, faults, StatusCode::FORBIDDEN).await;
    }
    let (centre, by, now) = (who.centre(), who.staff.number, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    if !holds::lift(&mut tx, centre, n, by, now).await? {
        return Err(WebError::Missing("hold"));
    }
    deeds::note(&mut tx, centre, Some(by), "hold_lifted", &format!("hold {n}"), now).await?;
    tx.commit().await?;
    Ok(Redirect::to("/centre/records?lifted=yes").into_response())
}

async fn lift_page(
    app: &App,
    who: &SignedIn,
    n: i32,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let centre = who.centre();
    let mut tx = app.store.begin(centre).await?;
    let hold = holds::find(&mut tx, centre, n).await?.filter(|hold| hold.lifted.is_none());
    let hold = hold_row(&mut tx, centre, hold.ok_or(WebError::Missing("hold"))?).await?;
    tx.commit().await?;
    let page = LiftPage {
        page: Page::at(&who.staff, Place::Centre),
        hold,
        ask_password: !proof::is_fresh(who, app.clock.now()),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}
