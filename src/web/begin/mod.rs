//! The first page of an installation: with the code from the console somebody begins a centre and becomes its manager.

pub mod code;

use super::error::WebError;
use super::extract::Form;
use super::form::{self, Faults};
use super::page::{Page, html};
use super::sign_in::{self, Place};
use super::tokens::Token;
use super::{App, cookies, password_rules};
use crate::store::centres::{self, Centre, Scheme};
use crate::store::sign_ins::{self, Factor, Start};
use crate::store::staff::{self, NewStaff, Role, Staff};
use crate::store::{CentreId, deeds};
use askama::Template;
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use code::Codes;
use serde::Deserialize;
use std::net::SocketAddr;

/// The page, with what was typed so far.
#[derive(Template)]
#[template(path = "begin/show.html")]
struct BeginPage {
    page: Page,
    sent: Beginning,
    zones: Vec<String>,
    schemes: Vec<(&'static str, &'static str)>,
    faults: Faults,
}

/// What the form sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Beginning {
    code: String,
    centre: String,
    centre_code: String,
    time_zone: String,
    scheme: String,
    name: String,
    sign_in_name: String,
    password: String,
}

/// A beginning that makes sense.
struct Read {
    centre: Centre,
    scheme: Scheme,
    manager: NewStaff,
}

/// Whether this installation waits for its first centre.
pub async fn is_first(app: &App) -> Result<bool, WebError> {
    if !app.settings.codes.as_ref().is_some_and(|codes| codes.is_live(app.clock.now())) {
        return Ok(false);
    }
    let mut tx = app.store.begin(&CentreId::nobodys()).await?;
    let any = centres::any(&mut tx).await?;
    tx.commit().await?;
    Ok(!any)
}

/// The codes, while there is one to be used; without one there is no such page.
fn live(app: &App) -> Result<&Codes, WebError> {
    let codes = app.settings.codes.as_ref().filter(|codes| codes.is_live(app.clock.now()));
    codes.ok_or(WebError::Missing("page"))
}

/// Shows the form while a code waits to be used.
pub async fn show(State(app): State<App>) -> Result<Response, WebError> {
    live(&app)?;
    let sent = Beginning { time_zone: "Europe/London".into(), ..Beginning::default() };
    form_page(&app, sent, Faults::none(), StatusCode::OK).await
}

/// Begins the centre, signs its manager in and leads to what to do next. Nothing is made where anything is wrong.
pub async fn make(
    State(app): State<App>,
    ConnectInfo(address): ConnectInfo<SocketAddr>,
    place: Place,
    jar: CookieJar,
    Form(sent): Form<Beginning>,
) -> Result<Response, WebError> {
    let codes = live(&app)?.clone();
    count_try(&app, address, true).await?;
    if !codes.fits(&sent.code, app.clock.now()) {
        let mut faults = Faults::none();
        faults.add("code", "That is not the code. It stands on the console of the service, where it was started.");
        return form_page(&app, sent, faults, StatusCode::UNPROCESSABLE_ENTITY).await;
    }
    count_try(&app, address, false).await?;
    let mut faults = Faults::none();
    let Some(mut read) = read(&app, &sent, &mut faults).await? else {
        return form_page(&app, sent, faults, StatusCode::UNPROCESSABLE_ENTITY).await;
    };
    read.manager.password_hash = app.passwords.keep(sent.password.clone()).await?;
    let claim = codes.claim(&sent.code, app.clock.now());
    let claim = claim.ok_or(WebError::Stale("Somebody else has just used this code. It works once."))?;
    let token = Token::new();
    match write(&app, &read, &place, &token).await {
        Ok(true) => {
            claim.done();
            tracing::info!(centre = read.centre.id.as_str(), "a centre was begun");
            let jar = jar.add(cookies::carry(cookies::Purpose::SignIn, &place.here, &read.centre.id, &token));
            Ok((jar, Redirect::to("/centre/next-steps")).into_response())
        }
        Ok(false) => {
            claim.give_back();
            faults.add("centre_code", "There is a centre of this code already. Choose another.");
            form_page(&app, sent, faults, StatusCode::UNPROCESSABLE_ENTITY).await
        }
        Err(why) => {
            claim.give_back();
            Err(why)
        }
    }
}

/// Counts a try at the code, or gives the last one back.
async fn count_try(app: &App, address: SocketAddr, takes: bool) -> Result<(), WebError> {
    let (nobody, address) = (CentreId::nobodys(), address.ip().to_string());
    let mut tx = app.store.begin(&nobody).await?;
    let mut wait = None;
    if takes {
        wait = sign_ins::may_try(&mut tx, &nobody, "begin", &address, app.clock.now()).await?;
    } else {
        sign_ins::give_back(&mut tx, &nobody, "begin", &address).await?;
    }
    tx.commit().await?;
    wait.map_or(Ok(()), |seconds| Err(WebError::TooMany(seconds)))
}

async fn form_page(app: &App, mut sent: Beginning, faults: Faults, status: StatusCode) -> Result<Response, WebError> {
    let mut tx = app.store.begin(&CentreId::nobodys()).await?;
    let zones = centres::time_zones(&mut tx).await?;
    tx.commit().await?;
    sent.password.clear();
    let schemes = Scheme::ALL.iter().map(|scheme| (scheme.word(), scheme.label())).collect();
    let page = BeginPage { page: Page::of_nobody(), sent, zones, schemes, faults };
    Ok((status, html(&page)?).into_response())
}

async fn read(app: &App, sent: &Beginning, faults: &mut Faults) -> Result<Option<Read>, WebError> {
    let name = form::line(faults, "centre", &sent.centre, 200);
    let id = centre_code(faults, &sent.centre_code);
    let mut tx = app.store.begin(&CentreId::nobodys()).await?;
    let zones = centres::time_zones(&mut tx).await?;
    tx.commit().await?;
    let time_zone = super::centre::time_zone(faults, &sent.time_zone, &zones);
    let scheme = Scheme::of_word(&sent.scheme);
    if scheme.is_none() {
        faults.add("scheme", "Please choose one.");
    }
    let person = form::line(faults, "name", &sent.name, 200);
    let sign_in_name = super::invitations::sign_in_name(faults, &sent.sign_in_name);
    let names = [name.as_str(), sent.centre_code.as_str(), person.as_str(), sent.sign_in_name.as_str()];
    if let Some(says) = password_rules::fault(&sent.password, &names) {
        faults.add("password", says);
    }
    let (Some(id), Some(scheme), true) = (id, scheme, faults.is_empty()) else { return Ok(None) };
    let roles = vec![Role::Manager];
    let manager = NewStaff { sign_in_name, name: person, roles, password_hash: String::new() };
    Ok(Some(Read { centre: Centre { id, name, time_zone }, scheme, manager }))
}

fn centre_code(faults: &mut Faults, typed: &str) -> Option<CentreId> {
    let code = CentreId::new(typed.trim()).filter(|code| {
        let ends = [code.as_str().chars().next(), code.as_str().chars().last()];
        ends.iter().flatten().all(char::is_ascii_alphanumeric)
    });
    if code.is_none() {
        faults.add(
            "centre_code",
            "Please give 2 to 32 small letters, digits and dashes, such as north-yard; no dash at either end.",
        );
    }
    code
}

/// Writes centre, manager and sign-in at once. `false`, and nothing written, where the code is taken.
async fn write(app: &App, read: &Read, place: &Place, token: &Token) -> Result<bool, WebError> {
    let (centre, now) = (&read.centre.id, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    if !centres::add(&mut tx, &read.centre).await? {
        return Ok(false);
    }
    let gone = || WebError::ours("a centre that was just added is not there");
    let mut settings = centres::settings(&mut tx, centre).await?.ok_or_else(gone)?;
    settings.scheme = read.scheme;
    settings.second_factor_asked = true;
    centres::change(&mut tx, centre, &settings).await?;
    let number = staff::add(&mut tx, centre, &read.manager).await?.ok_or_else(gone)?;
    let manager = Staff {
        centre: centre.clone(),
        number,
        sign_in_name: read.manager.sign_in_name.clone(),
        name: read.manager.name.clone(),
        roles: read.manager.roles.clone(),
    };
    deeds::note(&mut tx, centre, Some(number), "centre_begun", centre.as_str(), now).await?;
    let start = Start { factor: Factor::Link, tablet: None, device: place.device.clone() };
    sign_in::start_in(app, &mut tx, &manager, token, &start).await?;
    tx.commit().await?;
    Ok(true)
}
