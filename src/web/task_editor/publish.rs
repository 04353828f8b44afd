//! The last step: what is wanting, what differs, and publishing.

use super::{Judged, Tab, found};
use crate::marking::difference::difference;
use crate::marking::sketch::{Sketch, Step, differences};
use crate::marking::{Checklist, ChecklistFile, Task, write};
use crate::store::task_drafts::{self, Draft};
use crate::store::{TaskId, checklists, tasks};
use crate::web::App;
use crate::web::criteria::{self, typed::Typed};
use crate::web::error::WebError;
use crate::web::extract::{Author, Form, Path, SignedIn};
use crate::web::page::{Page, Place, html};
use crate::web::show::Drawing;
use crate::web::task_files;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::PgConnection;
use uuid::Uuid;

/// What publishing would do.
#[derive(Template)]
#[template(path = "task_editor/publish.html")]
pub(super) struct PublishPage {
    page: Page,
    id: Uuid,
    title: String,
    step: Step,
    tabs: Vec<Tab>,
    may_write: bool,
    revision: u32,
    /// What keeps it from being published: the step, where in it, and why.
    wanting: Vec<(Step, String, String)>,
    warnings: Vec<(Step, String)>,
    /// The version that it would follow.
    last: Option<i32>,
    differences: Vec<(String, String)>,
    drawing: Option<Drawing>,
    /// Whether it can be taken away as a file.
    whole: bool,
    conflict: bool,
}

impl PublishPage {
    fn may_publish(&self) -> bool {
        self.may_write && self.wanting.is_empty() && (self.last.is_none() || !self.differences.is_empty())
    }
}

pub(super) async fn page(tx: &mut PgConnection, who: &SignedIn, draft: &Draft) -> Result<PublishPage, WebError> {
    let judged = Judged::of(&draft.sketch);
    let mut wanting: Vec<(Step, String, String)> = Vec::new();
    for fault in &judged.faults {
        let one = (Step::of(&fault.path), fault.path.clone(), format!("{}: {}", named(&fault.path), fault.says));
        if !wanting.contains(&one) {
            wanting.push(one);
        }
    }
    wanting.sort_by_key(|one| one.0);
    let checklist = draft.sketch.checklist().unwrap_or(Checklist { stages: Vec::new() });
    let refused = judged.fitness.refused.iter();
    wanting.extend(refused.map(|one| (one.step, String::new(), one.told(&checklist))));
    let warnings = judged.fitness.warnings.iter().map(|one| (one.step, one.told(&checklist))).collect();
    let last = tasks::list(tx, who.centre()).await?.into_iter().find(|task| task.id == draft.id);
    let mut told = Vec::new();
    if let Some(last) = &last
        && let Some(published) = tasks::find(tx, who.centre(), last.id, last.version).await?
    {
        told = differing(&published.task, &draft.sketch);
    }
    Ok(PublishPage {
        page: Page::at(&who.staff, Place::Tasks),
        id: draft.id.0,
        title: draft.sketch.shown_title(),
        step: Step::Publish,
        tabs: judged.tabs(),
        may_write: criteria::may_write(&who.staff),
        revision: draft.revision,
        wanting,
        warnings,
        last: last.map(|last| last.version),
        differences: told,
        drawing: draft.sketch.bay().as_ref().map(Drawing::of_task),
        whole: judged.faults.is_empty(),
        conflict: false,
    })
}

/// The draft as a task file, as soon as it is whole.
pub async fn file(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let draft = found(&mut tx, who.centre(), id).await?;
    tx.commit().await?;
    let task = draft.sketch.task();
    let task =
        task.map_err(|_| WebError::Stale("The draft is not whole yet. What is wanting stands on its last step."))?;
    Ok(task_files::attached(&format!("{}-draft", task.title), write::task_file(&task)))
}

/// A place in words, with the step where it has no other name.
fn named(path: &str) -> String {
    if path.is_empty() { Step::of(path).label().to_owned() } else { crate::marking::sketch::words(path) }
}

/// What differs between what was published and what is written: word and sentence.
fn differing(older: &Task, newer: &Sketch) -> Vec<(String, String)> {
    let places = differences(&Sketch::of_task(older), newer).into_iter();
    let mut told: Vec<(String, String)> = places.map(|one| (one.word.to_owned(), one.says)).collect();
    if let Some(checklist) = newer.checklist() {
        let file = |checklist| ChecklistFile { title: String::new(), pass_percent: older.pass_percent, checklist };
        let of_checklist = difference(&file(older.checklist.clone()), &file(checklist));
        told.extend(of_checklist.into_iter().map(|one| (one.word().to_owned(), one.says())));
    }
    told
}

/// Shows what publishing would do.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let draft = found(&mut tx, who.centre(), id).await?;
    let page = page(&mut tx, &who, &draft).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

/// Publishes the draft that was shown as the next version.
pub async fn publish(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    found(&mut tx, who.centre(), id).await?;
    let draft = task_drafts::hold(&mut tx, who.centre(), TaskId(id)).await?.ok_or(WebError::Missing("draft"))?;
    let mut page = page(&mut tx, &who, &draft).await?;
    if typed.number("revision") != Some(draft.revision) {
        page.conflict = true;
        tx.commit().await?;
        return Ok((StatusCode::CONFLICT, html(&page)?).into_response());
    }
    let task = draft.sketch.task().ok().filter(|_| page.may_publish());
    let Some(task) = task else {
        tx.commit().await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    };
    let source = write::task_file(&task);
    if Task::read_toml(&source).ok().as_ref() != Some(&task) {
        return Err(WebError::ours("a task does not read as it was written"));
    }
    let version = tasks::publish(&mut tx, who.centre(), draft.id, &task.title, &source, app.clock.now()).await?;
    if let Some(checklist) = draft.checklist {
        checklists::used_by_task(&mut tx, who.centre(), (draft.id, version), checklist).await?;
    }
    task_drafts::discard(&mut tx, who.centre(), draft.id).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/tasks/{id}/{version}")).into_response())
}
