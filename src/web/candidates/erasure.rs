//! Erasing a person's details (UK GDPR, article 17): what goes, what stays and why; the password again; and the list that
//! is kept outside for the day an older backup is restored.

use super::{at, load_there};
use crate::store::candidates::Candidate;
use crate::store::erasures::{self, Counts, Despite, Erasure, Hold};
use crate::store::{CentreId, deeds, sessions};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, Path, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::{show, sign_in};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use serde::{Deserialize, Serialize};
use sqlx::PgConnection;
use uuid::Uuid;

/// The page that says what would go.
#[derive(Template)]
#[template(path = "candidates/erasure.html")]
struct ErasurePage {
    page: Page,
    id: String,
    candidate: Candidate,
    counts: Counts,
    /// Why it should wait, in sentences.
    holds: Vec<String>,
    reasons: Vec<(&'static str, &'static str)>,
    despite: String,
    signer: String,
    /// For the browser's password keeper.
    sign_in_name: String,
    faults: Faults,
}

/// What the form sends.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Asked {
    despite: String,
    password: String,
}

/// Says what would be erased, what would stay, and what stands in the way.
pub async fn ask(State(app): State<App>, Manager(who): Manager, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load_there(&mut tx, who.centre(), id).await?;
    let page = page(&app, &mut tx, &who, candidate, String::new(), Faults::none()).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

/// Erases: the password again, and a reason where something stands in the way.
pub async fn erase(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
    Form(asked): Form<Asked>,
) -> Result<Response, WebError> {
    // Asked first: a try at a password is not spent on somebody who is not there.
    let mut tx = app.store.begin(who.centre()).await?;
    load_there(&mut tx, who.centre(), id).await?;
    tx.commit().await?;
    let proved = sign_in::prove_again(&app, &who, asked.password).await?;
    let (now, despite) = (app.clock.now(), Despite::of_word(&asked.despite));
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load_there(&mut tx, who.centre(), id).await?;
    let held = !erasures::holds(&mut tx, who.centre(), candidate.id, now).await?.is_empty();
    let mut faults = Faults::none();
    let mut status = StatusCode::FORBIDDEN;
    if held && despite.is_none() {
        faults.add("despite", "Say why it cannot wait, or come back when nothing stands in the way.");
        status = StatusCode::CONFLICT;
    }
    if !proved {
        faults.add("password", "That is not your password.");
    }
    if !faults.is_empty() {
        let page = page(&app, &mut tx, &who, candidate, asked.despite, faults).await?;
        tx.commit().await?;
        return Ok((status, html(&page)?).into_response());
    }
    let despite = despite.filter(|_| held);
    let gone = erasures::erase(&mut tx, who.centre(), candidate.id, who.staff.number, despite, now).await?;
    if gone.is_none() {
        return Err(WebError::Stale("The details of this candidate were erased just now by somebody else."));
    }
    deeds::note(&mut tx, who.centre(), Some(who.staff.number), "candidate_erased", &id.to_string(), now).await?;
    tx.commit().await?;
    tracing::info!(candidate = %id, staff = who.staff.number.0, "erased");
    Ok(Redirect::to(&at(candidate.id)).into_response())
}

async fn page(
    app: &App,
    tx: &mut PgConnection,
    who: &SignedIn,
    candidate: Candidate,
    despite: String,
    faults: Faults,
) -> Result<ErasurePage, WebError> {
    let mut holds = Vec::new();
    for hold in erasures::holds(tx, who.centre(), candidate.id, app.clock.now()).await? {
        holds.push(sentence(tx, who.centre(), hold).await?);
    }
    let reasons = [("", "It can wait")].into_iter().chain(Despite::ALL.map(|why| (why.word(), words(why))));
    Ok(ErasurePage {
        page: Page::at(&who.staff, Place::Candidates),
        id: candidate.id.0.to_string(),
        counts: erasures::counts(tx, who.centre(), candidate.id).await?,
        candidate,
        holds,
        reasons: reasons.collect(),
        despite,
        signer: who.staff.name.clone(),
        sign_in_name: sign_in_name(who),
        faults,
    })
}

fn sign_in_name(who: &SignedIn) -> String {
    format!("{}@{}", who.staff.sign_in_name, who.centre().as_str())
}

async fn sentence(tx: &mut PgConnection, centre: &CentreId, hold: Hold) -> Result<String, WebError> {
    Ok(match hold {
        Hold::Running(_) => "A session of theirs is open and not signed.".to_owned(),
        Hold::Review(_, until) => {
            let day = show::day(sessions::local_time(tx, centre, until).await?);
            format!("They can ask for a review of a result until {day}.")
        }
    })
}

fn words(why: Despite) -> &'static str {
    match why {
        Despite::Withdrawn => "They give up the attempt and their right to a review",
        Despite::Unlawful => "The details should never have been kept",
        Despite::Ordered => "A court or an authority asks for it",
        Despite::EnteredTwice => "The same person is in the list twice",
    }
}

/// The list of erasures as a file, to be kept apart from the backups.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ListFile {
    centre: String,
    erasures: Vec<Erasure>,
}

/// The page of the list.
#[derive(Template)]
#[template(path = "candidates/erasures.html")]
struct ListPage {
    page: Page,
    rows: Vec<(String, String, Counts)>,
    done: Option<String>,
    typed: String,
    signer: String,
    /// For the browser's password keeper.
    sign_in_name: String,
    faults: Faults,
}

/// Shows who was erased, by number and time: nobody's name is left to show.
pub async fn list(State(app): State<App>, Manager(who): Manager) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let page = list_page(&mut tx, &who, None, String::new(), Faults::none()).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

/// Gives the list as a file.
pub async fn list_file(State(app): State<App>, Manager(who): Manager) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let erasures = erasures::list(&mut tx, who.centre()).await?;
    tx.commit().await?;
    let file = ListFile { centre: who.centre().as_str().to_owned(), erasures };
    let text = serde_json::to_string_pretty(&file).map_err(|why| WebError::Ours(Box::new(why)))?;
    let headers = [
        (header::CONTENT_TYPE, "application/json"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"erasures.json\""),
    ];
    Ok((headers, text).into_response())
}

/// A list that was kept outside.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Kept {
    list: String,
    password: String,
}

/// Erases everybody on a list once more, after an older backup was restored.
pub async fn replay(
    State(app): State<App>,
    Manager(who): Manager,
    Form(kept): Form<Kept>,
) -> Result<Response, WebError> {
    // A list can be made up, so that it asks for as much as erasing somebody does.
    let proved = sign_in::prove_again(&app, &who, kept.password).await?;
    let file = serde_json::from_str::<ListFile>(&kept.list).ok().filter(|file| file.centre == who.centre().as_str());
    let mut faults = Faults::none();
    if file.is_none() {
        faults.add("list", "This is not a list of erasures of this centre.");
    }
    if !proved {
        faults.add("password", "That is not your password.");
    }
    let mut tx = app.store.begin(who.centre()).await?;
    let Some(file) = file.filter(|_| proved) else {
        let page = list_page(&mut tx, &who, None, kept.list, faults).await?;
        tx.commit().await?;
        let status = if proved { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::FORBIDDEN };
        return Ok((status, html(&page)?).into_response());
    };
    let now = app.clock.now();
    let done = erasures::replay(&mut tx, who.centre(), &file.erasures, who.staff.number, now).await?;
    let about = format!("{} erased again, {} already, {} unknown", done.erased, done.already, done.unknown);
    deeds::note(&mut tx, who.centre(), Some(who.staff.number), "erasures_replayed", &about, now).await?;
    let page = list_page(&mut tx, &who, Some(about), String::new(), Faults::none()).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

async fn list_page(
    tx: &mut PgConnection,
    who: &SignedIn,
    done: Option<String>,
    typed: String,
    faults: Faults,
) -> Result<ListPage, WebError> {
    let mut rows = Vec::new();
    for erasure in erasures::list(tx, who.centre()).await? {
        let when = show::moment(sessions::local_time(tx, who.centre(), erasure.erased_at).await?);
        rows.push((erasure.candidate.to_string(), when, erasure.counts));
    }
    Ok(ListPage {
        page: Page::at(&who.staff, Place::Candidates),
        rows,
        done,
        typed,
        signer: who.staff.name.clone(),
        sign_in_name: sign_in_name(who),
        faults,
    })
}
