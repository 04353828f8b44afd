//! What to do next in a centre that has just begun.

use super::super::App;
use super::super::error::WebError;
use super::super::extract::Manager;
use super::super::page::{Page, Place, html};
use crate::store::{centres, keeping, second_factors, staffing, tasks};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

#[derive(Template)]
#[template(path = "centre/next_steps.html")]
struct NextStepsPage {
    page: Page,
    centre: String,
    steps: Vec<Step>,
}

/// One thing to do.
struct Step {
    title: &'static str,
    says: &'static str,
    href: &'static str,
    /// Whether it is done, where that can be told.
    done: bool,
}

const fn step(title: &'static str, says: &'static str, href: &'static str, done: bool) -> Step {
    Step { title, says, href, done }
}

/// Shows the list.
pub async fn show(State(app): State<App>, Manager(who): Manager) -> Result<Response, WebError> {
    let centre = who.centre();
    let mut tx = app.store.begin(centre).await?;
    let settings = centres::settings(&mut tx, centre).await?.ok_or(WebError::Missing("centre"))?;
    let codes = second_factors::is_set_up(&mut tx, centre, who.staff.number).await?;
    let several = staffing::list(&mut tx, centre).await?.len() > 1;
    let has_task = !tasks::list(&mut tx, centre).await?.is_empty();
    let kept = keeping::periods(&mut tx, centre).await?.is_some_and(|(_, confirmed)| confirmed.is_some());
    tx.commit().await?;
    let steps = vec![
        step(
            "Set up your one-time codes",
            "From your next sign-in on, the password alone is not enough.",
            "/account/second-factor",
            codes,
        ),
        step(
            "Invite your staff",
            "Each person gets a link of their own and chooses a password. A centre needs at least one assessor.",
            "/staff",
            several,
        ),
        step(
            "Enrol the tablets that stay at the bays",
            "On them assessors sign in with the password alone. Open this page on the tablet.",
            "/centre/tablets",
            false,
        ),
        step("Make a checklist", "Pick criteria from the starter library, or write your own.", "/checklists", false),
        step("Describe a bay and its task", "Board, circuits, table, faults, and the checklist.", "/tasks", has_task),
        step("Add your candidates", "One by one, or from a file.", "/candidates", false),
        step("Plan the first session", "Who, when, at which bay, with which assessor.", "/plan", false),
        step("Look over the settings", "Release of results, languages, names.", "/centre", false),
        step(
            "Say how long records are kept",
            "Until you confirm it, nothing is erased by itself.",
            "/centre/records/periods",
            kept,
        ),
    ];
    let page = Page::at(&who.staff, Place::Centre);
    Ok(html(&NextStepsPage { page, centre: settings.name, steps })?.into_response())
}
