//! Making a task, beginning the next version of one, and throwing a draft away.

use super::at;
use crate::marking::examples;
use crate::marking::sketch::{Sketch, Step};
use crate::store::task_drafts::{self, Draft};
use crate::store::{CentreId, ChecklistId, TaskId, checklists, tasks};
use crate::web::App;
use crate::web::criteria::{self, typed::Typed};
use crate::web::error::WebError;
use crate::web::extract::{Author, Form, Path, SignedIn};
use crate::web::form::{self, Faults};
use crate::web::page::html;
use crate::web::tasks as pages;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::PgConnection;
use uuid::Uuid;

/// Makes a task: from nothing, from the example that comes with the program, or from one of the centre's.
pub async fn create(
    State(app): State<App>,
    Author(who): Author,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let mut faults = Faults::none();
    let title = form::line(&mut faults, "title", typed.get("title"), 200);
    let begun = begun(&mut tx, &who, &typed, &title).await?;
    if begun.is_none() {
        faults.add("how", "Please choose what to begin with.");
    }
    let Some((mut sketch, checklist, says)) = begun.filter(|_| faults.is_empty()) else {
        let page = pages::list_page(&mut tx, &who, typed, faults).await?;
        tx.commit().await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    };
    sketch.set("title", Some(title.into()));
    let id = TaskId(app.clock.new_id());
    let draft = Draft::begun(id, sketch, checklist, who.staff.number, says);
    task_drafts::begin(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    tx.commit().await?;
    Ok(Redirect::to(&at(id.0, Step::Board)).into_response())
}

type Begun = (Sketch, Option<(ChecklistId, i32)>, String);

async fn begun(tx: &mut PgConnection, who: &SignedIn, typed: &Typed, title: &str) -> Result<Option<Begun>, WebError> {
    let scheme = criteria::scheme_of_centre(tx, who.centre()).await?;
    let from = typed.get("from");
    Ok(match typed.get("how") {
        "empty" => Some((Sketch::empty(title, scheme), None, "Began with nothing in it.".to_owned())),
        "example" => {
            let example = examples::ALL[0].read().map_err(|_| WebError::ours("a shipped example cannot be read"))?;
            Some((Sketch::of_task(&example.0), None, "Began from the example.".to_owned()))
        }
        "copy" => source(tx, who.centre(), from).await?.map(|(sketch, checklist)| {
            let says = format!("Began as a copy of “{}”.", sketch.shown_title());
            (sketch, checklist, says)
        }),
        "bay" => source(tx, who.centre(), from).await?.map(|(other, _)| {
            let says = format!("Began with the bay of “{}”.", other.shown_title());
            let mut sketch = Sketch::empty(title, scheme);
            sketch.take_bay(&other);
            (sketch, None, says)
        }),
        _ => None,
    })
}

/// The task or draft that a form names: `task:ID` or `draft:ID`.
async fn source(
    tx: &mut PgConnection,
    centre: &CentreId,
    from: &str,
) -> Result<Option<(Sketch, Option<(ChecklistId, i32)>)>, WebError> {
    let Some((what, id)) = from.split_once(':') else { return Ok(None) };
    let Ok(id) = id.parse::<Uuid>() else { return Ok(None) };
    if what == "draft" {
        let draft = task_drafts::find(tx, centre, TaskId(id)).await?;
        return Ok(draft.map(|draft| (draft.sketch, draft.checklist)));
    }
    newest(tx, centre, id).await
}

/// The newest published version of a task, to begin from.
async fn newest(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: Uuid,
) -> Result<Option<(Sketch, Option<(ChecklistId, i32)>)>, WebError> {
    let Some(listed) = tasks::list(tx, centre).await?.into_iter().find(|task| task.id.0 == id) else { return Ok(None) };
    let Some(published) = tasks::find(tx, centre, listed.id, listed.version).await? else { return Ok(None) };
    let users = checklists::users(tx, centre).await?;
    let used = users.into_iter().find(|user| user.task == listed.id && user.task_version == listed.version);
    let checklist = used.map(|user| (user.checklist, user.checklist_version));
    Ok(Some((Sketch::of_task(&published.task), checklist)))
}

/// Begins the next version of a published task, or goes on with the draft that there is.
pub async fn begin(State(app): State<App>, Author(who): Author, Path(id): Path<Uuid>) -> Result<Redirect, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let (sketch, checklist) = newest(&mut tx, who.centre(), id).await?.ok_or(WebError::Missing("task"))?;
    let draft = Draft::begun(TaskId(id), sketch, checklist, who.staff.number, "Began from what was published last.");
    task_drafts::begin(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    tx.commit().await?;
    Ok(Redirect::to(&at(id, Step::Board)))
}

/// Throws a draft away.
pub async fn discard(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let draft = task_drafts::hold(&mut tx, who.centre(), TaskId(id)).await?.ok_or(WebError::Missing("draft"))?;
    if typed.number("revision") != Some(draft.revision) {
        return Err(WebError::Stale("The draft was changed after you opened the page. Open it anew and look first."));
    }
    task_drafts::discard(&mut tx, who.centre(), draft.id).await?;
    tx.commit().await?;
    Ok(Redirect::to("/tasks").into_response())
}
