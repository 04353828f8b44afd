//! Signing in and out.

use super::App;
use super::cookies::{self, Purpose};
use super::device::Device;
use super::error::WebError;
use super::extract::{Form, Here, Query, SignInToken, SignedIn, TabletToken};
use super::page::{Page, html};
use super::tokens::Token;
use crate::store::sign_ins::{Factor, Start};
use crate::store::staff::Staff;
use crate::store::{CentreId, centres, deeds, second_factors, sign_ins, staff, tablets};
use askama::Template;
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;
use std::net::SocketAddr;

/// Longest password that is looked at, in bytes: 128 characters of four bytes.
const LONGEST_PASSWORD: usize = 512;

/// The page where one signs in.
#[derive(Template)]
#[template(path = "sign_in/show.html")]
struct SignInPage {
    page: Page,
    next: String,
    name: String,
    refused: bool,
}

/// Where to go on afterwards.
#[derive(Deserialize)]
pub struct Next {
    #[serde(default)]
    pub next: String,
}

/// What the form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Credentials {
    name: String,
    password: String,
    #[serde(default)]
    next: String,
}

/// Shows the form; where there is no centre yet, leads to its beginning.
pub async fn show(State(app): State<App>, Query(next): Query<Next>) -> Result<Response, WebError> {
    if super::begin::is_first(&app).await? {
        return Ok(Redirect::to("/begin").into_response());
    }
    let page = SignInPage { page: Page::of_nobody(), next: own_path(&next.next), name: String::new(), refused: false };
    Ok(html(&page)?.into_response())
}

/// Where a sign-in is made: the origin, the browser, and what it carries.
pub struct Place {
    pub here: super::origin::Origin,
    pub device: String,
    /// The enrolled tablet that the browser says it is.
    pub tablet: Option<(CentreId, Token)>,
    /// The sign-in that it had before.
    pub before: Option<(CentreId, Token)>,
}

impl axum::extract::FromRequestParts<App> for Place {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut axum::http::request::Parts, app: &App) -> Result<Self, WebError> {
        let Here(here) = Here::from_request_parts(parts, app).await?;
        let Device(device) = Device::from_request_parts(parts, app).await?;
        let TabletToken(tablet) = TabletToken::from_request_parts(parts, app).await?;
        let SignInToken(before) = SignInToken::from_request_parts(parts, app).await?;
        Ok(Self { here, device, tablet, before })
    }
}

/// Checks name and password, ends the sign-in this browser had, and starts a new one, which opens nothing yet where a
/// second factor is owed.
pub async fn enter(
    State(app): State<App>,
    ConnectInfo(address): ConnectInfo<SocketAddr>,
    place: Place,
    jar: CookieJar,
    Form(sent): Form<Credentials>,
) -> Result<Response, WebError> {
    let next = own_path(&sent.next);
    let Some(person) = prove(&app, &sent.name, sent.password, address).await? else {
        let page = SignInPage { page: Page::of_nobody(), next, name: sent.name, refused: true };
        return Ok((StatusCode::UNAUTHORIZED, html(&page)?).into_response());
    };
    let start = second_step(&app, &person, &place).await?;
    let owed = start.factor;
    let mut jar = begin(&app, &person, &place, start, jar).await?;
    if let Some((centre, tablet)) = place.tablet.as_ref().filter(|_| owed == Factor::Tablet) {
        // Given anew, so that a tablet in use is never forgotten.
        jar = jar.add(cookies::carry(Purpose::Tablet, &place.here, centre, tablet));
    }
    let to = match owed {
        Factor::CodeOwed => format!("/sign-in/code?next={}", super::show::percent(&next)),
        Factor::SetUpOwed => format!("/sign-in/second-factor?next={}", super::show::percent(&next)),
        _ => next,
    };
    Ok((jar, Redirect::to(&to)).into_response())
}

/// What a sign-in rests on now that the password was right: the tablet, where it is one that the centre has enrolled; a code
/// that is owed, where the person has set such up; else nothing, or the setting up of one, as the centre asks.
async fn second_step(app: &App, person: &Staff, place: &Place) -> Result<Start, WebError> {
    let centre = &person.centre;
    let mut tx = app.store.begin(centre).await?;
    let tablet = match place.tablet.as_ref().filter(|(of, _)| of == centre) {
        Some((_, token)) => tablets::of_token(&mut tx, centre, &token.hash()).await?,
        None => None,
    };
    let settings = centres::settings(&mut tx, centre).await?;
    let factor = if tablet.is_some() {
        Factor::Tablet
    } else if second_factors::is_set_up(&mut tx, centre, person.number).await? {
        Factor::CodeOwed
    } else if settings.is_some_and(|settings| settings.second_factor_asked) {
        Factor::SetUpOwed
    } else {
        Factor::None
    };
    tx.commit().await?;
    Ok(Start { factor, tablet: tablet.map(|(id, _)| id), device: place.device.clone() })
}

/// Ends the sign-in this browser had and starts a new one under a new token, which the jar then carries.
pub async fn begin(
    app: &App,
    person: &Staff,
    place: &Place,
    start: Start,
    jar: CookieJar,
) -> Result<CookieJar, WebError> {
    if let Some((centre, old)) = &place.before {
        end(app, centre, old).await?;
    }
    let token = Token::new();
    let mut tx = app.store.begin(&person.centre).await?;
    start_in(app, &mut tx, person, &token, &start).await?;
    tx.commit().await?;
    Ok(jar.add(cookies::carry(Purpose::SignIn, &place.here, &person.centre, &token)))
}

/// Starts a sign-in in a transaction that does other things as well, and notes it once it is complete.
pub async fn start_in(
    app: &App,
    tx: &mut sqlx::PgConnection,
    person: &Staff,
    token: &Token,
    start: &Start,
) -> Result<(), WebError> {
    let (centre, now) = (&person.centre, app.clock.now());
    sign_ins::start_with(tx, centre, person.number, &token.hash(), start, now).await?;
    if !start.factor.is_owed() {
        tracing::info!(staff = person.number.0, centre = centre.as_str(), "signed in");
        let about = format!("{}, {}", start.factor.word(), start.device);
        deeds::note(tx, centre, Some(person.number), "signed_in", &about, now).await?;
    }
    Ok(())
}

/// Ends the sign-in.
pub async fn leave(
    State(app): State<App>,
    Here(here): Here,
    SignInToken(token): SignInToken,
    jar: CookieJar,
) -> Result<Response, WebError> {
    if let Some((centre, token)) = token {
        end(&app, &centre, &token).await?;
    }
    let jar = jar.add(cookies::forget(Purpose::SignIn, &here));
    let mut response = (jar, Redirect::to("/sign-in")).into_response();
    let clear = axum::http::HeaderValue::from_static("\"cache\"");
    response.headers_mut().insert(axum::http::HeaderName::from_static("clear-site-data"), clear);
    Ok(response)
}

async fn end(app: &App, centre: &CentreId, token: &Token) -> Result<(), WebError> {
    let mut tx = app.store.begin(centre).await?;
    sign_ins::end(&mut tx, centre, &token.hash()).await?;
    Ok(tx.commit().await?)
}

/// The person behind a sign-in name, where the password is theirs.
///
/// An unknown centre, an unknown name and a wrong password cost the same work and get the same answer.
async fn prove(app: &App, typed: &str, password: String, address: SocketAddr) -> Result<Option<Staff>, WebError> {
    let mut known = None;
    if let Some((name, centre)) = sign_in_name(typed) {
        let mut tx = app.store.begin(&centre).await?;
        if centres::find(&mut tx, &centre).await?.is_some() {
            let now = app.clock.now();
            let wait = sign_ins::may_try(&mut tx, &centre, &name, &address.ip().to_string(), now).await?;
            if wait.is_none() {
                known = staff::for_sign_in(&mut tx, &centre, &name).await?;
            }
            tx.commit().await?;
            if let Some(seconds) = wait {
                return Err(WebError::TooMany(seconds));
            }
        }
    }
    let (person, stored) = known.unzip();
    let right = check(app, password, stored).await?;
    if !right {
        note_refusal(app, typed, person.as_ref()).await?;
    }
    if let Some(person) = person.as_ref().filter(|_| right) {
        give_back(app, &person.centre, &person.sign_in_name, &address.ip().to_string()).await?;
    }
    Ok(person.filter(|_| right))
}

/// Notes that somebody was turned away. What was typed is not kept: people type their passwords there.
async fn note_refusal(app: &App, typed: &str, person: Option<&Staff>) -> Result<(), WebError> {
    let Some((_, centre)) = sign_in_name(typed) else { return Ok(()) };
    let mut tx = app.store.begin(&centre).await?;
    if centres::find(&mut tx, &centre).await?.is_some() {
        let about = person.map(|person| format!("u-{}", person.number.0)).unwrap_or_default();
        deeds::note(&mut tx, &centre, None, "sign_in_refused", &about, app.clock.now()).await?;
    }
    Ok(tx.commit().await?)
}

/// Checks the password of somebody who is signed in, before something that needs it afresh. `false` where it is wrong.
/// Tries count against the person, not against the address: a centre's assessors often share one.
pub async fn prove_again(app: &App, who: &SignedIn, password: String) -> Result<bool, WebError> {
    let (centre, name) = (who.centre(), &who.staff.sign_in_name);
    let counted = format!("signed-in:{name}");
    let mut tx = app.store.begin(centre).await?;
    let wait = sign_ins::may_try(&mut tx, centre, name, &counted, app.clock.now()).await?;
    let known = staff::for_sign_in(&mut tx, centre, name).await?;
    tx.commit().await?;
    if let Some(seconds) = wait {
        return Err(WebError::TooMany(seconds));
    }
    let right = check(app, password, known.map(|(_, stored)| stored)).await?;
    if right {
        give_back(app, centre, name, &counted).await?;
    }
    Ok(right)
}

/// The right password costs no try: the staff of a centre often share one address.
async fn give_back(app: &App, centre: &CentreId, name: &str, counted: &str) -> Result<(), WebError> {
    let mut tx = app.store.begin(centre).await?;
    sign_ins::give_back(&mut tx, centre, name, counted).await?;
    Ok(tx.commit().await?)
}

async fn check(app: &App, password: String, stored: Option<String>) -> Result<bool, WebError> {
    if password.len() > LONGEST_PASSWORD {
        return Ok(false);
    }
    app.passwords.verify(password, stored).await.map_err(|why| WebError::Ours(Box::new(why)))
}

/// A typed sign-in name, `name@centre`, in its two parts. Capitals and spaces around it do not matter.
fn sign_in_name(typed: &str) -> Option<(String, CentreId)> {
    let typed = typed.trim().to_lowercase();
    let (name, centre) = typed.rsplit_once('@')?;
    let fits = (1..=64).contains(&name.len()) && !name.contains(char::is_control);
    fits.then(|| CentreId::new(centre).map(|centre| (name.to_owned(), centre)))?
}

/// The path to go on to: one of ours, or the list of sessions.
pub fn own_path(next: &str) -> String {
    let ours = next.starts_with('/')
        && next.len() <= 200
        && next.bytes().all(|b| b.is_ascii_alphanumeric() || b"/-_.".contains(&b))
        && !next.starts_with("//")
        && !next.starts_with("/sign-");
    if ours { next.to_owned() } else { "/".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_in_name_is_a_name_at_a_centre() {
        let (name, centre) = sign_in_name("  Kim.O@North-Yard ").unwrap();
        assert_eq!((name.as_str(), centre.as_str()), ("kim.o", "north-yard"));
        for bad in ["", "kim", "@north-yard", "kim@", "kim@n", "kim@north yard", "k\0m@north-yard"] {
            assert!(sign_in_name(bad).is_none(), "{bad}");
        }
    }

    #[test]
    fn one_is_never_sent_on_to_a_foreign_place() {
        assert_eq!(own_path("/sessions/7/marking"), "/sessions/7/marking");
        for bad in ["", "//evil.test", "/\\evil.test", "https://evil.test", "/sign-out", "/a?b", "/%0d%0aX"] {
            assert_eq!(own_path(bad), "/", "{bad}");
        }
    }
}
