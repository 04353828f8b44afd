//! Bays and tasks, written in the browser: one page for each step, all of them of one draft.

mod apply;
pub mod begin;
pub mod edit;
mod fields;
pub mod publish;
mod steps;
mod table;

use super::App;
use super::criteria;
use super::error::WebError;
use super::extract::{Path, Query, SignedIn};
use super::page::{Page, Place, html};
use super::show::Drawing;
use crate::marking::fitness::{Fitness, fitness};
use crate::marking::sketch::{Fault, Sketch, Step};
use crate::store::task_drafts::{self, Draft};
use crate::store::{CentreId, ChecklistId, StaffNo, TaskId, checklists, staff};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use fields::{Field, Group, Kind};
use serde::Deserialize;
use sqlx::PgConnection;
use steps::Around;
use uuid::Uuid;

/// One step of a draft.
#[derive(Template)]
#[template(path = "task_editor/step.html")]
struct StepPage {
    page: Page,
    id: Uuid,
    title: String,
    step: Step,
    tabs: Vec<Tab>,
    may_write: bool,
    revision: u32,
    groups: Vec<Group>,
    /// What is wrong with the step as a whole, or cannot be given to the checklist.
    wanting: Vec<String>,
    drawing: Option<Drawing>,
    /// Why there is no drawing yet.
    undrawn: String,
    changes: Vec<Told>,
    /// What somebody else did since the page was made; then nothing was saved.
    conflict: Option<Vec<Told>>,
    /// What was typed and not saved: label and text.
    unsaved: Vec<(String, String)>,
    focus: String,
    done: &'static str,
}

/// A step in the strip.
struct Tab {
    step: Step,
    /// How much is wanting.
    wants: usize,
}

/// A change and who made it.
struct Told {
    by: String,
    says: String,
}

/// What the page is asked for.
#[derive(Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    focus: String,
    #[serde(default)]
    done: String,
}

/// What is known of a draft: what is wrong with it and how fit it is.
struct Judged {
    faults: Vec<Fault>,
    fitness: Fitness,
}

impl Judged {
    fn of(sketch: &Sketch) -> Self {
        match sketch.task() {
            Ok(task) => Self { faults: Vec::new(), fitness: fitness(&task) },
            Err(faults) => Self { faults, fitness: Fitness::default() },
        }
    }

    fn tabs(&self) -> Vec<Tab> {
        let wants = |step: Step| {
            let faults = self.faults.iter().filter(|fault| Step::of(&fault.path) == step).count();
            faults + self.fitness.refused.iter().filter(|one| one.step == step).count()
        };
        Step::ALL.into_iter().map(|step| Tab { step, wants: wants(step) }).collect()
    }
}

impl StepPage {
    fn options<'f>(&self, field: &'f Field) -> &'f [(String, String)] {
        match &field.kind {
            Kind::Choice(options) | Kind::Checks(options) => options,
            _ => &[],
        }
    }

    fn sorted<'f>(&self, field: &'f Field) -> &'f [(&'static str, Vec<(String, String)>)] {
        match &field.kind {
            Kind::Sorted(sorted) => sorted,
            _ => &[],
        }
    }

    fn input(&self, field: &Field) -> &'static str {
        match field.kind {
            Kind::Area => "area",
            Kind::Check => "check",
            Kind::Checks(_) => "checks",
            Kind::Sorted(_) => "sorted",
            Kind::Choice(_) => "choice",
            Kind::Text | Kind::Number => "line",
        }
    }

    /// How much is wanting here, as a sentence.
    fn standing(&self) -> String {
        match self.tabs.iter().find(|tab| tab.step == self.step).map_or(0, |tab| tab.wants) {
            0 => "Nothing is wanting in this step.".to_owned(),
            1 => "One thing is wanting in this step.".to_owned(),
            count => format!("{count} things are wanting in this step."),
        }
    }

    fn focused(&self, name: &str) -> bool {
        !name.is_empty() && self.focus == name
    }
}

async fn found(tx: &mut PgConnection, centre: &CentreId, id: Uuid) -> Result<Draft, WebError> {
    task_drafts::find(tx, centre, TaskId(id)).await?.ok_or(WebError::Missing("draft"))
}

/// Leads to the first step.
pub async fn first(who: SignedIn, Path(id): Path<Uuid>, State(app): State<App>) -> Result<Redirect, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    found(&mut tx, who.centre(), id).await?;
    tx.commit().await?;
    Ok(Redirect::to(&at(id, Step::Board)))
}

/// The address of a step.
fn at(id: Uuid, step: Step) -> String {
    format!("/tasks/drafts/{id}/{}", step.word())
}

/// Shows a step.
pub async fn show(
    State(app): State<App>,
    who: SignedIn,
    Path((id, step)): Path<(Uuid, String)>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let draft = found(&mut tx, who.centre(), id).await?;
    let step = Step::of_word(&step).filter(|step| *step != Step::Publish).ok_or(WebError::Missing("page"))?;
    let mut page = step_page(&mut tx, &who, &draft, step).await?;
    tx.commit().await?;
    page.focus = asked.focus;
    page.done = if asked.done == "saved" { "Saved." } else { "" };
    Ok(html(&page)?.into_response())
}

async fn step_page(tx: &mut PgConnection, who: &SignedIn, draft: &Draft, step: Step) -> Result<StepPage, WebError> {
    let sketch = &draft.sketch;
    let bay = sketch.bay();
    let judged = Judged::of(sketch);
    let (checklists, checklist) =
        if step == Step::Checklist { offered(tx, who.centre(), draft).await? } else { Default::default() };
    let around = Around { bay: bay.as_ref(), checklists, checklist };
    let mut groups = steps::groups(step, sketch, &around);
    let here: Vec<&Fault> = judged.faults.iter().filter(|fault| Step::of(&fault.path) == step).collect();
    let mut wanting = fields::place(&mut groups, &here);
    wanting.extend(judged.fitness.refused.iter().filter(|one| one.step == step).map(|one| one.says.clone()));
    Ok(StepPage {
        page: Page::at(&who.staff, Place::Tasks),
        id: draft.id.0,
        title: sketch.shown_title(),
        step,
        tabs: judged.tabs(),
        may_write: criteria::may_write(&who.staff),
        revision: draft.revision,
        groups,
        wanting,
        drawing: bay.as_ref().map(Drawing::of_task),
        undrawn: undrawn(&judged),
        changes: told(tx, who.centre(), draft, 0).await?.into_iter().take(8).collect(),
        conflict: None,
        unsaved: Vec::new(),
        focus: String::new(),
        done: "",
    })
}

/// What keeps the circuit from being drawn.
fn undrawn(judged: &Judged) -> String {
    let of = |step: Step| judged.faults.iter().filter(|fault| Step::of(&fault.path) == step).count();
    let (wants, what) = match (of(Step::Board), of(Step::Circuits)) {
        (0, 0) => return "The circuit is drawn here as soon as one is described.".to_owned(),
        (0, circuits) => (circuits, "the circuits are"),
        (board, 0) => (board, "the board is"),
        (board, circuits) => (board + circuits, "board and circuits are"),
    };
    let things =
        if wants == 1 { "One thing is still wanting".to_owned() } else { format!("{wants} things are still wanting") };
    format!("The circuit is drawn here once {what} whole. {things}.")
}

/// The checklists that can be chosen, and the one that is.
async fn offered(
    tx: &mut PgConnection,
    centre: &CentreId,
    draft: &Draft,
) -> Result<(Vec<(String, String)>, String), WebError> {
    let newest = checklists::newest(tx, centre).await?;
    let mut options: Vec<(String, String)> = newest
        .iter()
        .map(|one| (reference(one.id, one.version), format!("{}, version {}", one.title, one.version)))
        .collect();
    let chosen = draft.checklist.map(|(id, version)| reference(id, version)).unwrap_or_default();
    if let (Some((id, version)), false) = (draft.checklist, options.iter().any(|(value, _)| *value == chosen)) {
        let title = checklists::find(tx, centre, id, version).await?.map(|one| one.title).unwrap_or_default();
        options.push((chosen.clone(), format!("{title}, version {version}, which is not the newest")));
    }
    if chosen.is_empty() {
        let none = if draft.sketch.at("checklist").is_some() { "The one it came with" } else { "Please choose" };
        options.insert(0, (String::new(), none.to_owned()));
    }
    Ok((options, chosen))
}

fn reference(id: ChecklistId, version: i32) -> String {
    format!("{}:{version}", id.0)
}

/// The remembered changes after a revision, the newest first, each with who made it.
async fn told(tx: &mut PgConnection, centre: &CentreId, draft: &Draft, after: u32) -> Result<Vec<Told>, WebError> {
    let mut told = Vec::new();
    let mut known: Vec<(i32, String)> = Vec::new();
    for change in draft.changes.iter().rev().filter(|change| change.revision > after) {
        let by = match known.iter().find(|(number, _)| *number == change.by) {
            Some((_, name)) => name.clone(),
            None => {
                let person = staff::find(tx, centre, StaffNo(change.by)).await?;
                let name = person.map_or_else(|| "Somebody".to_owned(), |person| person.name);
                known.push((change.by, name.clone()));
                name
            }
        };
        told.push(Told { by, says: change.says.clone() });
    }
    Ok(told)
}
