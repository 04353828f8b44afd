//! Planning one session: the candidate is looked for first, then the rest is chosen.

use super::form::{self, Fields, Shown};
use super::{Tasks, when};
use crate::store::candidates::{self, Candidate};
use crate::store::planning;
use crate::store::sessions::{self, Session};
use crate::store::{CentreId, SessionId};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, Query};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::show;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;

/// Candidates that one search shows.
pub const MOST_FOUND: i64 = 30;

/// The first step: who it is for.
#[derive(Template)]
#[template(path = "plan/who.html")]
struct WhoPage {
    page: Page,
    asked: Asked,
    found: Vec<Candidate>,
    more: bool,
    faults: Faults,
}

/// The second step: what, where, by whom and when.
#[derive(Template)]
#[template(path = "plan/new.html")]
struct NewPage {
    page: Page,
    candidate: Candidate,
    agreed: String,
    /// Where it repeats an earlier session: its address and day.
    earlier: Option<(String, String)>,
    form: Shown,
}

/// What stands in the address.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    pub q: String,
    pub candidate: String,
    pub resit_of: String,
    pub day: String,
    pub time: String,
    pub bay: String,
}

/// Shows the search for a candidate, or the form once one is chosen.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let centre = who.centre();
    let now = sessions::local_time(&mut tx, centre, app.clock.now()).await?;
    let earlier = form::resit_of(&mut tx, centre, &asked.resit_of).await?;
    let word = earlier.as_ref().map_or_else(|| asked.candidate.clone(), |earlier| earlier.candidate.0.to_string());
    let page = match form::candidate_of(&mut tx, centre, &word).await? {
        Some(candidate) => {
            let fields = first_fields(&candidate, earlier.as_ref(), &asked, now);
            let form = form::shown(&mut tx, centre, fields).await?;
            new_page(&mut tx, &who, candidate, earlier.as_ref(), form).await?.into_response()
        }
        None => html(&who_page(&mut tx, &who, asked).await?)?.into_response(),
    };
    tx.commit().await?;
    Ok(page)
}

fn first_fields(
    candidate: &Candidate,
    earlier: Option<&Session>,
    asked: &Asked,
    now: time::PrimitiveDateTime,
) -> Fields {
    let mut fields = Fields::for_candidate(candidate, now);
    if let Some(earlier) = earlier {
        fields.resit_of = earlier.id.0.to_string();
        fields.bay.clone_from(&earlier.bay);
    }
    if when::parse_day(&asked.day).is_some() {
        fields.day.clone_from(&asked.day);
    }
    fields.time.clone_from(&asked.time);
    if !asked.bay.is_empty() {
        fields.bay.clone_from(&asked.bay);
    }
    fields
}

async fn who_page(
    tx: &mut PgConnection,
    who: &crate::web::extract::SignedIn,
    asked: Asked,
) -> Result<WhoPage, WebError> {
    let mut found = candidates::search(tx, who.centre(), &asked.q, None, MOST_FOUND + 1).await?;
    let more = i64::try_from(found.len()).is_ok_and(|count| count > MOST_FOUND);
    found.truncate(usize::try_from(MOST_FOUND).unwrap_or_default());
    let mut faults = Faults::none();
    if !asked.candidate.is_empty() || !asked.resit_of.is_empty() {
        faults.add("q", "That candidate or session cannot be planned for. Choose a candidate here.");
    }
    Ok(WhoPage { page: Page::at(&who.staff, Place::Plan), asked, found, more, faults })
}

async fn new_page(
    tx: &mut PgConnection,
    who: &crate::web::extract::SignedIn,
    candidate: Candidate,
    earlier: Option<&Session>,
    form: Shown,
) -> Result<axum::response::Html<String>, WebError> {
    let earlier = match earlier {
        Some(earlier) => {
            let day = show::day(sessions::local_time(tx, who.centre(), earlier.planned_at).await?);
            Some((format!("/sessions/{}", earlier.id.0), day))
        }
        None => None,
    };
    let agreed = agreed(&candidate);
    html(&NewPage { page: Page::at(&who.staff, Place::Plan), agreed, candidate, earlier, form })
}

/// What was agreed with a candidate, as a sentence; empty where nothing was.
pub fn agreed(candidate: &Candidate) -> String {
    let words = candidate.adjustments.words();
    if words.is_empty() { String::new() } else { format!("Agreed with them: {}.", words.join(", ")) }
}

/// Plans the session.
pub async fn plan(
    State(app): State<App>,
    Manager(who): Manager,
    Form(fields): Form<Fields>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let centre: &CentreId = who.centre();
    let candidate = form::candidate_of(&mut tx, centre, &fields.candidate).await?;
    let earlier = form::resit_of(&mut tx, centre, &fields.resit_of).await?;
    let Some(candidate) = candidate else {
        let asked = Asked { candidate: "?".into(), ..Asked::default() };
        let page = html(&who_page(&mut tx, &who, asked).await?)?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    let repeats_another = earlier.as_ref().is_some_and(|earlier| earlier.candidate != candidate.id);
    if repeats_another || (earlier.is_none() && !fields.resit_of.is_empty()) {
        return Err(WebError::Stale(
            "The session to repeat is not one of this candidate's that is over. Nothing was planned. Begin again from its plan.",
        ));
    }
    let (id, mut tasks) = (SessionId(app.clock.new_id()), Tasks::default());
    let checked = form::check(&mut tx, centre, fields, id, &candidate, &mut tasks).await?;
    let plan = match checked {
        Ok(plan) => plan,
        Err(form) => {
            let page = new_page(&mut tx, &who, candidate, earlier.as_ref(), *form).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    planning::plan(&mut tx, centre, &plan, Some(who.staff.number), app.clock.now()).await?;
    let local = sessions::local_time(&mut tx, centre, plan.session.planned_at).await?;
    tx.commit().await?;
    let day = when::day_value(local.date());
    Ok(Redirect::to(&format!("/plan?day={day}&done={}#s-{}", "planned", id.0)).into_response())
}
