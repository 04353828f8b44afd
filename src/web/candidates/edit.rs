//! Adding a candidate, and changing their details.

use super::{at, load_there};
use crate::candidates::details::{self, Field, Refusal};
use crate::candidates::{Adjustments, Details};
use crate::store::candidates::{self, Changed};
use crate::store::{CandidateId, deeds};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, Path, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

/// What the form sends, as it was typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Typed {
    pub name: String,
    pub called: String,
    pub sort_name: String,
    pub reference: String,
    pub extra_percent: String,
    pub extra_minutes: String,
    pub reader: String,
    pub other: String,
}

impl Typed {
    fn of(&self, field: Field) -> String {
        let text = match field {
            Field::Name => &self.name,
            Field::Called => &self.called,
            Field::SortName => &self.sort_name,
            Field::Reference => &self.reference,
            Field::ExtraPercent => &self.extra_percent,
            Field::ExtraMinutes => &self.extra_minutes,
            Field::Reader => &self.reader,
            Field::Other => &self.other,
        };
        text.clone()
    }

    fn read(&self) -> Result<Details, Faults> {
        details::read(|field| self.of(field)).map_err(|refused| {
            let mut faults = Faults::none();
            for (field, why) in refused {
                let says = match why {
                    // Above the form two of these would read alike.
                    Refusal::Empty => format!("Please fill in the {}.", field.label().to_lowercase()),
                    why => why.to_string(),
                };
                faults.add(field.word(), says);
            }
            faults
        })
    }
}

impl From<Details> for Typed {
    fn from(details: Details) -> Self {
        let Adjustments { extra, reader, other } = details.adjustments;
        let number = |number: u16| if number == 0 { String::new() } else { number.to_string() };
        Self {
            name: details.name,
            called: details.called.unwrap_or_default(),
            sort_name: details.sort_name.unwrap_or_default(),
            reference: details.reference,
            extra_percent: number(extra.percent),
            extra_minutes: number(extra.minutes),
            reader: if reader { "on".into() } else { String::new() },
            other: other.unwrap_or_default(),
        }
    }
}

/// The form, for a new candidate or for one who is there.
#[derive(Template)]
#[template(path = "candidates/edit.html")]
struct EditPage {
    page: Page,
    /// The candidate, where they are there already.
    id: Option<String>,
    typed: Typed,
    faults: Faults,
}

/// An empty form.
pub async fn new(Manager(who): Manager) -> Result<Response, WebError> {
    form(&who, None, Typed::default(), Faults::none(), StatusCode::OK)
}

/// The form with what is known of a candidate.
pub async fn change_form(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load_there(&mut tx, who.centre(), id).await?;
    tx.commit().await?;
    form(&who, Some(id), candidate.details().into(), Faults::none(), StatusCode::OK)
}

/// Adds a candidate.
pub async fn add(
    State(app): State<App>,
    Manager(who): Manager,
    Form(typed): Form<Typed>,
) -> Result<Response, WebError> {
    let details = match typed.read() {
        Ok(details) => details,
        Err(faults) => return form(&who, None, typed, faults, StatusCode::UNPROCESSABLE_ENTITY),
    };
    let (id, now) = (CandidateId(app.clock.new_id()), app.clock.now());
    let mut tx = app.store.begin(who.centre()).await?;
    if !candidates::add(&mut tx, who.centre(), id, &details, now).await? {
        tx.commit().await?;
        return form(&who, None, typed, taken(), StatusCode::CONFLICT);
    }
    deeds::note(&mut tx, who.centre(), Some(who.staff.number), "candidate_added", &id.0.to_string(), now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&at(id)).into_response())
}

/// Changes a candidate's details.
pub async fn change(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
    Form(typed): Form<Typed>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load_there(&mut tx, who.centre(), id).await?;
    let details = match typed.read() {
        Ok(details) => details,
        Err(faults) => return form(&who, Some(id), typed, faults, StatusCode::UNPROCESSABLE_ENTITY),
    };
    if details == candidate.details() {
        return Ok(Redirect::to(&at(candidate.id)).into_response());
    }
    match candidates::change(&mut tx, who.centre(), candidate.id, &details).await? {
        Changed::Done => {}
        Changed::Taken => return form(&who, Some(id), typed, taken(), StatusCode::CONFLICT),
        Changed::Missing => return Err(WebError::Missing("candidate")),
    }
    let (by, now) = (Some(who.staff.number), app.clock.now());
    deeds::note(&mut tx, who.centre(), by, "candidate_changed", &id.to_string(), now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&at(candidate.id)).into_response())
}

fn taken() -> Faults {
    let mut faults = Faults::none();
    faults.add(Field::Reference.word(), "Another candidate has this reference. Each needs one of their own.");
    faults
}

fn form(
    who: &SignedIn,
    id: Option<Uuid>,
    typed: Typed,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let page = Page::at(&who.staff, Place::Candidates);
    let id = id.map(|id| id.to_string());
    Ok((status, html(&EditPage { page, id, typed, faults })?).into_response())
}
