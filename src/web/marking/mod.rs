//! The marking page: what was seen, tapped as it happens.

pub mod acts;
pub mod chips;
pub mod entries;
pub mod more;
pub mod record;
pub mod sheet;
pub mod shell;
pub mod state;
pub mod tiles;

use super::App;
use super::error::WebError;
use super::extract::{Path, SignedIn};
use super::page::{Page, html};
use super::sessions::{load, may_mark};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use record::Record;
use uuid::Uuid;

/// The marking page.
#[derive(Template)]
#[template(path = "marking/show.html")]
pub struct MarkingPage {
    pub page: Page,
    pub record: Record,
}

/// What a reply to a batch tells the page: what was worked out from the log. What was tapped the page knows itself.
#[derive(Template)]
#[template(path = "marking/reply.html")]
pub struct Fragment<'a> {
    pub record: &'a Record,
}

/// Shows the page to the session's own assessor.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, &who, id).await?;
    if loaded.result.is_some() {
        return Ok(Redirect::to(&loaded.at("sheet")).into_response());
    }
    if !may_mark(&who, &loaded.session) {
        return Err(WebError::Forbidden("Only the assessor of this session marks it."));
    }
    if loaded.session.opened_at.is_none() {
        return Ok(Redirect::to(&format!("/sessions/{id}")).into_response());
    }
    let marked = loaded.marked(&mut tx, who.centre()).await?;
    let head = crate::store::entries::head(&mut tx, who.centre(), loaded.session.id).await?;
    tx.commit().await?;
    let record = Record::of(&loaded, &marked.log, &marked.marking, &head, app.clock.now_ms());
    Ok(html(&MarkingPage { page: Page::of(&who.staff), record })?.into_response())
}
