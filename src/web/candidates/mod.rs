//! Candidates: the list, one person, and what is done with their details. Verifiers read, managers write.

pub mod data;
pub mod edit;
pub mod erasure;
pub mod import;
pub mod sent;
pub mod show;

use super::App;
use super::error::WebError;
use super::extract::{Query, Reader, SignedIn};
use super::page::{Page, Place, html};
use crate::store::candidates::{self, Candidate};
use crate::store::staff::Role;
use crate::store::{CandidateId, CentreId};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use sqlx::PgConnection;
use uuid::Uuid;

/// Candidates on one page of the list.
const PAGE: usize = 50;

/// What the list is asked for.
#[derive(Deserialize)]
pub struct Asked {
    #[serde(default)]
    find: String,
    /// The last candidate of the page before.
    after: Option<Uuid>,
}

/// The list of candidates.
#[derive(Template)]
#[template(path = "candidates/list.html")]
struct ListPage {
    page: Page,
    find: String,
    rows: Vec<Row>,
    /// Where the next page goes on, where there is one.
    next: Option<String>,
    /// Whether this page is not the first.
    later: bool,
    may_write: bool,
}

/// A line of the list.
struct Row {
    href: String,
    name: String,
    called: Option<String>,
    reference: String,
    adjustments: String,
}

/// Shows a page of the list, of everybody or of whom a search finds.
pub async fn list(
    State(app): State<App>,
    Reader(who): Reader,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let after = asked.after.map(CandidateId);
    let mut found = candidates::search(&mut tx, who.centre(), &asked.find, after, PAGE as i64 + 1).await?;
    tx.commit().await?;
    let more = found.len() > PAGE;
    found.truncate(PAGE);
    let find = asked.find.trim().to_owned();
    let next = found.last().filter(|_| more).map(|last| last.id.0.to_string());
    let rows = found.into_iter().map(Row::of).collect();
    let later = asked.after.is_some();
    let page = Page::at(&who.staff, Place::Candidates);
    html(&ListPage { page, find, rows, next, later, may_write: may_write(&who) })
}

impl Row {
    fn of(candidate: Candidate) -> Self {
        Self {
            href: at(candidate.id),
            adjustments: candidate.adjustments.words().join(", "),
            name: candidate.name,
            called: candidate.called,
            reference: candidate.reference,
        }
    }
}

/// The page of a candidate.
fn at(id: CandidateId) -> String {
    format!("/candidates/{}", id.0)
}

/// Whether this person may add and change candidates.
fn may_write(who: &SignedIn) -> bool {
    who.staff.is(Role::Manager)
}

/// The candidate with this identifier, erased or not.
async fn load(tx: &mut PgConnection, centre: &CentreId, id: Uuid) -> Result<Candidate, WebError> {
    candidates::find(tx, centre, CandidateId(id)).await?.ok_or(WebError::Missing("candidate"))
}

/// The same, where their details are not erased.
async fn load_there(tx: &mut PgConnection, centre: &CentreId, id: Uuid) -> Result<Candidate, WebError> {
    let candidate = load(tx, centre, id).await?;
    if candidate.erased_at.is_some() {
        return Err(WebError::Stale("The details of this candidate were erased. Nothing of them can be changed."));
    }
    Ok(candidate)
}
