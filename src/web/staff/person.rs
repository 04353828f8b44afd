//! One person's page: roles, a new password, disabling.

use super::super::error::WebError;
use super::super::extract::{Form, Here, Manager, Path, SignedIn};
use super::super::form::Faults;
use super::super::page::{Page, Place, html};
use super::super::{App, invitations as links, proof, show};
use super::{LinkPage, RoleBox, boxes, in_words, ticked};
use crate::store::invitations::Invitation;
use crate::store::staff::Role;
use crate::store::staffing::{self, Kept, Listed};
use crate::store::{StaffNo, deeds, second_factors, sessions};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

#[derive(Template)]
#[template(path = "staff/person.html")]
struct PersonPage {
    page: Page,
    number: i32,
    name: String,
    sign_in_name: String,
    roles: Vec<RoleBox>,
    disabled: Option<String>,
    has_codes: bool,
    seen: String,
    myself: bool,
    ask_password: bool,
    faults: Faults,
}

/// What the forms of the page send beside what each is about.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Sure {
    own_password: String,
}

/// The roles to hold from now on.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Roles {
    assessor: Option<String>,
    verifier: Option<String>,
    manager: Option<String>,
    own_password: String,
}

/// Whether the person is to be disabled or not.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Standing {
    standing: String,
    #[serde(default)]
    own_password: String,
}

const LAST_MANAGER: &str =
    "This is the last manager who can sign in. Make somebody else a manager first; nothing was changed.";

async fn listed(app: &App, who: &SignedIn, number: i32) -> Result<Listed, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let listed = staffing::find(&mut tx, who.centre(), StaffNo(number)).await?.ok_or(WebError::Missing("person"))?;
    tx.commit().await?;
    Ok(listed)
}

/// Shows a person.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Path(number): Path<i32>,
) -> Result<Response, WebError> {
    let listed = listed(&app, &who, number).await?;
    person_page(&app, &who, listed, Faults::none(), StatusCode::OK).await
}

async fn person_page(
    app: &App,
    who: &SignedIn,
    listed: Listed,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let disabled = match listed.disabled_at {
        Some(at) => Some(show::moment(sessions::local_time(&mut tx, who.centre(), at).await?)),
        None => None,
    };
    let seen = match listed.seen_at {
        Some(at) => show::moment(sessions::local_time(&mut tx, who.centre(), at).await?),
        None => "not in the last twelve hours".to_owned(),
    };
    tx.commit().await?;
    let person = listed.staff;
    let page = PersonPage {
        page: Page::at(&who.staff, Place::Centre),
        number: person.number.0,
        sign_in_name: format!("{}@{}", person.sign_in_name, person.centre.as_str()),
        roles: boxes(&person.roles),
        myself: person.number == who.staff.number,
        name: person.name,
        disabled,
        has_codes: listed.has_codes,
        seen,
        ask_password: !proof::is_fresh(who, app.clock.now()),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// Whether the manager has proved themselves afresh; where not, the page that asks for it.
async fn sure(app: &App, who: &SignedIn, number: i32, typed: &str) -> Result<Result<(), Response>, WebError> {
    // First, so that a person of another centre is not there, whatever was typed.
    let listed = listed(app, who, number).await?;
    let mut faults = Faults::none();
    if proof::given(app, who, typed, &mut faults).await? {
        return Ok(Ok(()));
    }
    Ok(Err(person_page(app, who, listed, faults, StatusCode::FORBIDDEN).await?))
}

/// The answer to a change that was, or was not, made.
async fn answer(app: &App, who: &SignedIn, number: i32, done: Result<(), Kept>) -> Result<Response, WebError> {
    match done {
        Ok(()) => Ok(Redirect::to(&format!("/staff/{number}")).into_response()),
        Err(Kept::Unknown) => Err(WebError::Missing("person")),
        Err(Kept::LastManager) => {
            let mut faults = Faults::none();
            faults.add("standing", LAST_MANAGER);
            let listed = listed(app, who, number).await?;
            person_page(app, who, listed, faults, StatusCode::UNPROCESSABLE_ENTITY).await
        }
    }
}

/// Changes the roles; they bite at the person's next request.
pub async fn set_roles(
    State(app): State<App>,
    Manager(who): Manager,
    Path(number): Path<i32>,
    Form(sent): Form<Roles>,
) -> Result<Response, WebError> {
    if let Err(page) = sure(&app, &who, number, &sent.own_password).await? {
        return Ok(page);
    }
    let boxes = [(&sent.assessor, Role::Assessor), (&sent.verifier, Role::Verifier), (&sent.manager, Role::Manager)];
    let roles = ticked(&boxes);
    let mut tx = app.store.begin(who.centre()).await?;
    let done = staffing::set_roles(&mut tx, who.centre(), StaffNo(number), &roles).await?;
    if done.is_ok() {
        let about = format!("u-{number}: {}", in_words(&roles));
        deeds::note(&mut tx, who.centre(), Some(who.staff.number), "roles_changed", &about, app.clock.now()).await?;
        tx.commit().await?;
    }
    answer(&app, &who, number, done).await
}

/// Disables a person, which ends every sign-in of theirs, or lets them in again.
pub async fn set_standing(
    State(app): State<App>,
    Manager(who): Manager,
    Path(number): Path<i32>,
    Form(sent): Form<Standing>,
) -> Result<Response, WebError> {
    if let Err(page) = sure(&app, &who, number, &sent.own_password).await? {
        return Ok(page);
    }
    let now = app.clock.now();
    let mut tx = app.store.begin(who.centre()).await?;
    let (done, what) = match sent.standing.as_str() {
        "disabled" => (staffing::disable(&mut tx, who.centre(), StaffNo(number), now).await?, "disabled"),
        "enabled" => (staffing::enable(&mut tx, who.centre(), StaffNo(number)).await?, "enabled"),
        _ => return Err(WebError::Unreadable("Expected disabled or enabled.".into())),
    };
    if done.is_ok() {
        deeds::note(&mut tx, who.centre(), Some(who.staff.number), what, &format!("u-{number}"), now).await?;
        tx.commit().await?;
    }
    answer(&app, &who, number, done).await
}

/// Makes a link with which the person sets a new password, and shows it, this once.
pub async fn make_link(
    State(app): State<App>,
    Here(here): Here,
    Manager(who): Manager,
    Path(number): Path<i32>,
    Form(sent): Form<Sure>,
) -> Result<Response, WebError> {
    if let Err(page) = sure(&app, &who, number, &sent.own_password).await? {
        return Ok(page);
    }
    let person = listed(&app, &who, number).await?;
    if person.disabled_at.is_some() {
        return Err(WebError::Stale("This person is disabled. Let them sign in again first."));
    }
    let whom = person.staff.name;
    let resets = Some(StaffNo(number));
    let invitation = Invitation { whom: whom.clone(), roles: Vec::new(), resets, made_by: who.staff.number };
    let mut tx = app.store.begin(who.centre()).await?;
    let address = links::new_link(&app, &mut tx, &here, &who.staff, &invitation).await?;
    tx.commit().await?;
    let page = Page::at(&who.staff, Place::Centre);
    Ok(html(&LinkPage { page, whom, resets: true, address, lasts: "one hour" })?.into_response())
}

/// Forgets a person's one-time codes, so that they set up new ones at their next sign-in.
pub async fn forget_factor(
    State(app): State<App>,
    Manager(who): Manager,
    Path(number): Path<i32>,
    Form(sent): Form<Sure>,
) -> Result<Response, WebError> {
    if let Err(page) = sure(&app, &who, number, &sent.own_password).await? {
        return Ok(page);
    }
    let mut tx = app.store.begin(who.centre()).await?;
    if second_factors::forget(&mut tx, who.centre(), StaffNo(number)).await? {
        let (by, now) = (Some(who.staff.number), app.clock.now());
        deeds::note(&mut tx, who.centre(), by, "second_factor_forgotten", &format!("u-{number}"), now).await?;
    }
    tx.commit().await?;
    answer(&app, &who, number, Ok(())).await
}
