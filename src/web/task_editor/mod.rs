//! Bays and tasks, written in the browser: one page for each step, all of them of one draft.

mod apply;
mod fields;
pub mod publish;
mod steps;
mod table;

use super::App;
use super::criteria::{self, typed::Typed};
use super::error::WebError;
use super::extract::{Author, Form, Path, Query, SignedIn};
use super::form::{self, Faults};
use super::page::{Page, Place, html};
use super::show::Drawing;
use super::tasks as pages;
use crate::marking::fitness::{Fitness, fitness};
use crate::marking::sketch::{Fault, Sketch, Step, differences};
use crate::marking::{ChecklistFile, examples};
use crate::store::task_drafts::{self, Draft};
use crate::store::{CentreId, ChecklistId, StaffNo, TaskId, checklists, staff, tasks};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fields::{Field, Group, Kind};
use serde::Deserialize;
use sqlx::PgConnection;
use steps::Around;
use uuid::Uuid;

/// How many changes are told in one sentence.
const TOLD: usize = 3;

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

    fn input(&self, field: &Field) -> &'static str {
        match field.kind {
            Kind::Area => "area",
            Kind::Check => "check",
            Kind::Checks(_) => "checks",
            Kind::Choice(_) => "choice",
            Kind::Text | Kind::Number => "line",
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
    let step = Step::of_word(&step).ok_or(WebError::Missing("page"))?;
    if step == Step::Publish {
        let page = publish::page(&mut tx, &who, &draft).await?;
        tx.commit().await?;
        return Ok(html(&page)?.into_response());
    }
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
    match (of(Step::Board), of(Step::Circuits)) {
        (0, 0) => "The circuit is drawn here as soon as one is described.".to_owned(),
        (0, circuits) => format!("The circuit is drawn here once the circuits are whole: {circuits} still wanting."),
        (board, 0) => format!("The circuit is drawn here once the board is whole: {board} still wanting."),
        (board, circuits) => format!(
            "The circuit is drawn here once board and circuits are whole: {board} and {circuits} things are still wanting."
        ),
    }
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

/// Saves what was typed in a step, and does what its button asks for.
pub async fn edit(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let held = task_drafts::hold(&mut tx, who.centre(), TaskId(id)).await?;
    let mut draft = held.ok_or(WebError::Missing("draft"))?;
    let step = Step::of_word(typed.get("step")).ok_or_else(unreadable)?;
    let mut page = step_page(&mut tx, &who, &draft, step).await?;
    if typed.number("revision") != Some(draft.revision) {
        page.conflict = Some(told(&mut tx, who.centre(), &draft, typed.number("revision").unwrap_or(0)).await?);
        page.unsaved = unsaved(&page.groups, &typed);
        tx.commit().await?;
        return Ok((StatusCode::CONFLICT, html(&page)?).into_response());
    }
    let before = draft.sketch.clone();
    apply::fill(&mut draft.sketch, step, &page.groups, &typed);
    let says = choose_checklist(&mut tx, &who, &mut draft, step, &typed).await?;
    let action = typed.get("do");
    let focus = match action {
        "save" | "next" | "" => String::new(),
        button => apply::press(&mut draft.sketch, button).ok_or_else(unreadable)?,
    };
    if draft.sketch != before || says.is_some() {
        let says = says.unwrap_or_else(|| changed(&before, &draft.sketch, step));
        draft.note(who.staff.number, says);
        task_drafts::save(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    }
    tx.commit().await?;
    let to = match (action, step.next()) {
        ("next", Some(next)) => at(id, next),
        _ if focus.is_empty() => format!("{}?done=saved", at(id, step)),
        _ => format!("{}?focus={}#{focus}", at(id, step), super::show::percent(&focus)),
    };
    Ok(Redirect::to(&to).into_response())
}

fn unreadable() -> WebError {
    WebError::Unreadable("The form says nothing that can be done with a task.".into())
}

/// What a form holds that is not what stands in the draft.
fn unsaved(groups: &[Group], typed: &Typed) -> Vec<(String, String)> {
    let lines = groups.iter().flat_map(|group| group.fields.iter().map(move |field| (group, field)));
    let differs = lines.filter(|(_, field)| typed.has(&field.name) && typed.all(&field.name) != field.values);
    let differs = differs.filter(|(_, field)| typed.get(&field.name) != field.value);
    let told = |(group, field): (&Group, &Field)| {
        (format!("{}, {}", group.title, field.label), typed.all(&field.name).join(", "))
    };
    differs.map(told).collect()
}

/// What was changed, as one sentence.
fn changed(before: &Sketch, after: &Sketch, step: Step) -> String {
    let all = differences(before, after);
    let mut says: Vec<String> = all.iter().take(TOLD).map(|one| one.says.clone()).collect();
    match all.len() {
        0 => return format!("{} put in another order.", step.label()),
        more if more > TOLD => says.push(format!("and {} more", more - TOLD)),
        _ => {}
    }
    format!("{}.", says.join("; "))
}

/// Takes the checklist that was chosen into the draft, with its pass mark.
async fn choose_checklist(
    tx: &mut PgConnection,
    who: &SignedIn,
    draft: &mut Draft,
    step: Step,
    typed: &Typed,
) -> Result<Option<String>, WebError> {
    let chosen = typed.get("checklist");
    let known = draft.checklist.map(|(id, version)| reference(id, version)).unwrap_or_default();
    if step != Step::Checklist || chosen.is_empty() || chosen == known {
        return Ok(None);
    }
    let parsed = chosen.split_once(':').and_then(|(id, version)| Some((id.parse().ok()?, version.parse().ok()?)));
    let (id, version) = parsed.ok_or_else(unreadable)?;
    let published = checklists::find(tx, who.centre(), ChecklistId(id), version).await?;
    let published = published.ok_or(WebError::Missing("checklist"))?;
    let content = super::checklists::content_of(&published)?;
    take_checklist(draft, (published.id, version), &content);
    Ok(Some(format!("Checklist: “{}”, version {version}.", content.title)))
}

fn take_checklist(draft: &mut Draft, which: (ChecklistId, i32), content: &ChecklistFile) {
    draft.sketch.set_checklist(&content.checklist);
    draft.sketch.set("pass_percent", Some(content.pass_percent.into()));
    draft.checklist = Some(which);
}

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
