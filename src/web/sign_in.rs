//! Signing in and out.

use super::App;
use super::cookies::{self, Purpose};
use super::error::WebError;
use super::extract::{Form, Here, Query, SignInToken, SignedIn};
use super::page::{Page, html};
use super::tokens::Token;
use crate::store::staff::Staff;
use crate::store::{CentreId, centres, sign_ins, staff};
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
    next: String,
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

/// Shows the form.
pub async fn show(Query(next): Query<Next>) -> Result<Response, WebError> {
    let page = SignInPage { page: Page::of_nobody(), next: own_path(&next.next), name: String::new(), refused: false };
    Ok(html(&page)?.into_response())
}

/// Checks name and password, ends the sign-in this browser had, and starts a new one.
pub async fn enter(
    State(app): State<App>,
    Here(here): Here,
    ConnectInfo(address): ConnectInfo<SocketAddr>,
    SignInToken(before): SignInToken,
    jar: CookieJar,
    Form(sent): Form<Credentials>,
) -> Result<Response, WebError> {
    let next = own_path(&sent.next);
    let Some(person) = prove(&app, &sent.name, sent.password, address).await? else {
        let page = SignInPage { page: Page::of_nobody(), next, name: sent.name, refused: true };
        return Ok((StatusCode::UNAUTHORIZED, html(&page)?).into_response());
    };
    if let Some((centre, old)) = before {
        end(&app, &centre, &old).await?;
    }
    let token = Token::new();
    let mut tx = app.store.begin(&person.centre).await?;
    sign_ins::start(&mut tx, &person.centre, person.number, &token.hash(), app.clock.now()).await?;
    tx.commit().await?;
    tracing::info!(staff = person.number.0, centre = person.centre.as_str(), "signed in");
    let jar = jar.add(cookies::carry(Purpose::SignIn, &here, &person.centre, &token));
    Ok((jar, Redirect::to(&next)).into_response())
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
    if let Some(person) = person.as_ref().filter(|_| right) {
        give_back(app, &person.centre, &person.sign_in_name, &address.ip().to_string()).await?;
    }
    Ok(person.filter(|_| right))
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
fn own_path(next: &str) -> String {
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
