//! The bay check: what must lie on the table, what must be true, who the candidate is and what is read out.

use super::{Loaded, has_ended, hold_to_sign, load, may_mark, may_read, may_sign};
use crate::marking::Task;
use crate::store::entries::{self, Arrival};
use crate::store::identity::{self, Identity};
use crate::store::planning::{self, Linked};
use crate::store::sessions::{self as stored, Ended, GivenUp, Session};
use crate::store::{CentreId, staff};
use crate::web::App;
use crate::web::bay_sheet::lists::{self, Laid};
use crate::web::error::WebError;
use crate::web::extract::{Form, Path, SignedIn};
use crate::web::page::{Page, Place, html};
use crate::web::show::{self, Drawing};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

/// The bay check.
#[derive(Template)]
#[template(path = "sessions/check.html")]
struct CheckPage {
    page: Page,
    loaded: Loaded,
    planned: String,
    on_table: Vec<Laid>,
    must_hold: Vec<String>,
    planted: Vec<String>,
    drawing: Drawing,
    minutes: String,
    may_confirm: bool,
    /// Where the session repeats an earlier one: its address, where this person may follow it, and its day.
    resit_of: Option<(Option<String>, String)>,
    /// Ways to know the candidate: the word, whether it was chosen, and the label.
    identities: [(&'static str, bool, &'static str); 3],
    /// Whether the form came back because something was left open.
    left_open: bool,
}

/// A session that will not take place.
#[derive(Template)]
#[template(path = "sessions/given_up.html")]
struct GivenUpPage {
    page: Page,
    loaded: Loaded,
    planned: String,
    says: String,
    reason: Option<String>,
    /// Address and day of each session that repeats this one.
    resits: Vec<(String, String)>,
    reads_plan: bool,
}

/// What the form sends: a tick for each part of the check; for the candidate, how they are known.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ticks {
    bay: Option<String>,
    candidate: Option<String>,
    briefing: Option<String>,
}

/// Shows the check, or the page that the session has come to.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, &who, id).await?;
    if loaded.result.is_some() {
        return Ok(Redirect::to(&loaded.at("sheet")).into_response());
    }
    if loaded.session.opened_at.is_some() {
        let ended = has_ended(&loaded.marked(&mut tx, who.centre()).await?.log);
        let mine = may_mark(&who, &loaded.session);
        return Ok(Redirect::to(&loaded.at(if ended || !mine { "decide" } else { "marking" })).into_response());
    }
    if let Some(given_up) = loaded.session.given_up.clone() {
        let page = given_up_page(&mut tx, &who, loaded, given_up).await?;
        tx.commit().await?;
        return Ok(page.into_response());
    }
    let page = page(&mut tx, &who, loaded, None).await?;
    tx.commit().await?;
    Ok(page.into_response())
}

/// Opens the evidence, once every part is ticked.
pub async fn confirm(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(ticks): Form<Ticks>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold_to_sign(&mut tx, &who, id).await?;
    if loaded.session.given_up.is_some() {
        return Err(WebError::Stale(
            "This session was given up, so that it cannot be opened. Nothing was changed. Ask the manager of your centre.",
        ));
    }
    let how = ticks.candidate.as_deref().and_then(Identity::of_word);
    let (Some(how), Some(_), Some(_)) = (how, &ticks.bay, &ticks.briefing) else {
        let page = page(&mut tx, &who, loaded, Some(&ticks)).await?;
        tx.commit().await?;
        return Ok((axum::http::StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    let arrival = Arrival {
        by: who.staff.number,
        device: "page".into(),
        run: "check".into(),
        received_at: app.clock.now(),
        offset_ms: 0,
        error_ms: 0,
    };
    // Confirmed twice is confirmed: the second time nothing is written and the way is the same.
    if entries::open(&mut tx, who.centre(), loaded.session.id, &arrival).await? {
        let (by, now) = (who.staff.number, arrival.received_at);
        identity::confirm(&mut tx, who.centre(), loaded.session.id, how, by, now).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("marking")).into_response())
}

/// How the ways to know a candidate are said.
pub fn identity_words(how: Identity) -> &'static str {
    match how {
        Identity::Known => "I know them",
        Identity::Photo => "a document with a photograph",
        Identity::Card => "the centre's own card",
    }
}

/// The same as a fact, for those who read it later.
pub fn identity_of(how: Identity) -> &'static str {
    match how {
        Identity::Known => "their assessor, who knows them",
        other => identity_words(other),
    }
}

/// The check, with what was ticked where it came back because something was left open.
async fn page(
    tx: &mut sqlx::PgConnection,
    who: &SignedIn,
    loaded: Loaded,
    ticks: Option<&Ticks>,
) -> Result<axum::response::Html<String>, WebError> {
    let chosen = ticks.and_then(|ticks| ticks.candidate.as_deref()).and_then(Identity::of_word);
    let page = CheckPage {
        page: Page::at(&who.staff, Place::Sessions),
        planned: show::moment(stored::local_time(tx, who.centre(), loaded.session.planned_at).await?),
        on_table: lists::table(&loaded.task),
        must_hold: lists::positions(&loaded.task.bay),
        planted: loaded.task.bay.setup.planted.iter().map(|fault| fault.says(&loaded.task.bay)).collect(),
        drawing: Drawing::of_task(&loaded.task.bay),
        minutes: minutes(&loaded.task),
        may_confirm: may_sign(who, &loaded.session),
        resit_of: earlier(tx, who, &loaded.session).await?,
        identities: Identity::ALL.map(|how| (how.word(), chosen == Some(how), identity_words(how))),
        left_open: ticks.is_some(),
        loaded,
    };
    html(&page)
}

/// The day of the session that this one repeats, with its address where this person may see it.
async fn earlier(
    tx: &mut sqlx::PgConnection,
    who: &SignedIn,
    session: &Session,
) -> Result<Option<(Option<String>, String)>, WebError> {
    let Some(id) = session.resit_of else { return Ok(None) };
    let Some(earlier) = stored::find(tx, who.centre(), id).await? else { return Ok(None) };
    let day = show::day(stored::local_time(tx, who.centre(), earlier.planned_at).await?);
    Ok(Some((may_read(who, &earlier).then(|| format!("/sessions/{}", id.0)), day)))
}

async fn given_up_page(
    tx: &mut sqlx::PgConnection,
    who: &SignedIn,
    loaded: Loaded,
    given_up: GivenUp,
) -> Result<axum::response::Html<String>, WebError> {
    let planned = show::moment(stored::local_time(tx, who.centre(), loaded.session.planned_at).await?);
    let says = given_up_words(tx, who.centre(), &given_up).await?;
    let resits = planning::resits(tx, who.centre(), loaded.session.id).await?;
    let page = GivenUpPage {
        page: Page::at(&who.staff, Place::Sessions),
        planned,
        says,
        reason: given_up.reason,
        resits: resits.into_iter().map(linked).collect(),
        reads_plan: who.reads_all(),
        loaded,
    };
    html(&page)
}

/// Who gave a session up, and when, as a sentence.
pub async fn given_up_words(
    tx: &mut sqlx::PgConnection,
    centre: &CentreId,
    given_up: &GivenUp,
) -> Result<String, WebError> {
    let by = staff::find(tx, centre, given_up.by).await?.map_or_else(|| "somebody".into(), |by| by.name);
    let at = show::moment(stored::local_time(tx, centre, given_up.at).await?);
    Ok(match given_up.how {
        Ended::Cancelled => format!("{by} cancelled it on {at}."),
        Ended::NoShow => format!("The candidate did not come. {by} noted it on {at}."),
    })
}

/// Address and words of a session that another leads to.
pub fn linked(linked: Linked) -> (String, String) {
    let word = show::standing(linked.standing).word;
    (format!("/sessions/{}", linked.id.0), format!("{} ({word})", show::moment(linked.planned_at)))
}

/// The time allowed, with what was agreed on top of it.
fn minutes(task: &Task) -> String {
    let allowed = task.allowed_ms() / 60_000;
    if task.extra == crate::marking::ExtraTime::default() {
        format!("{allowed} minutes")
    } else {
        format!("{allowed} minutes ({} and the time agreed with the candidate)", task.minutes)
    }
}
