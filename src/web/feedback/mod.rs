//! The candidate's way in and the candidate's page.

pub mod catalogue;
pub mod story;

use super::App;
use super::cookies::{self, Purpose};
use super::error::WebError;
use super::extract::{Form, Here, Path, Visit};
use super::page::{Page, html};
use super::sessions::rest_of;
use super::tokens::Token;
use crate::store::{CentreId, feedback, sessions as stored};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;

/// The form that asks for the code.
#[derive(Template)]
#[template(path = "feedback/ask.html")]
struct AskPage {
    page: Page,
    /// Where the form goes: the address it was asked for at.
    action: String,
    refused: bool,
}

impl AskPage {
    fn of(centre: &str, token: &str, refused: bool) -> Self {
        let part = |text: &str| super::show::percent(text).replace('/', "%2F");
        Self { page: Page::of_nobody(), action: format!("/feedback/{}/{}", part(centre), part(token)), refused }
    }
}

/// Shows the form, the same for every link, real or not. It looks nothing up: mail scanners open links too.
pub async fn ask(Path((centre, token)): Path<(String, String)>) -> Result<Response, WebError> {
    Ok(html(&AskPage::of(&centre, &token, false))?.into_response())
}

/// What the form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Code {
    code: String,
}

/// Tries the code. With the right one, starts a visit and goes on to an address that holds no secret.
pub async fn visit(
    State(app): State<App>,
    Here(here): Here,
    Path((centre, token)): Path<(String, String)>,
    jar: CookieJar,
    Form(sent): Form<Code>,
) -> Result<Response, WebError> {
    let refused = AskPage::of(&centre, &token, true);
    if let (Some(centre), Some(token)) = (CentreId::new(&centre), Token::from_hex(&token)) {
        let visit = Token::new();
        let code_hash = token.hash_with(&sent.code);
        let mut tx = app.store.begin(&centre).await?;
        let now = app.clock.now();
        let found = feedback::visit(&mut tx, &centre, &token.hash(), &code_hash, &visit.hash(), now).await?;
        // Also where the code was wrong: the count of wrong ones must stay.
        tx.commit().await?;
        if found.is_some() {
            let jar = jar.add(cookies::carry(Purpose::Feedback, &here, &centre, &visit));
            return Ok((jar, Redirect::to("/feedback")).into_response());
        }
    }
    Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&refused)?).into_response())
}

/// Where a visit has ended or never was.
#[derive(Template)]
#[template(path = "feedback/ended.html")]
struct EndedPage {
    page: Page,
}

/// The candidate's page, during a visit.
pub async fn show(State(app): State<App>, Visit(visit): Visit) -> Result<Response, WebError> {
    let ended = || -> Result<Response, WebError> {
        Ok((StatusCode::UNAUTHORIZED, html(&EndedPage { page: Page::of_nobody() })?).into_response())
    };
    let Some((centre, token)) = visit else { return ended() };
    let mut tx = app.store.begin(&centre).await?;
    let Some(id) = feedback::visited(&mut tx, &centre, &token.hash(), app.clock.now()).await? else { return ended() };
    let session = stored::find(&mut tx, &centre, id).await?.ok_or(WebError::Missing("session"))?;
    let loaded = rest_of(&mut tx, &centre, session).await?;
    let Some(result) = loaded.result.clone() else { return ended() };
    let marked = loaded.marked(&mut tx, &centre).await?;
    let signed = stored::local_time(&mut tx, &centre, result.at).await?;
    tx.commit().await?;
    Ok(html(&story::CandidatePage::of(&loaded, &marked, &result, signed))?.into_response())
}
