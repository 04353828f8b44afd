//! What is saved of a step.

use super::fields::{Field, Group};
use super::{apply, at, found, reference, step_page, told};
use crate::marking::ChecklistFile;
use crate::marking::sketch::{Sketch, Step, differences};
use crate::store::task_drafts::{self, Draft};
use crate::store::{ChecklistId, TaskId, checklists};
use crate::web::App;
use crate::web::criteria::typed::Typed;
use crate::web::error::WebError;
use crate::web::extract::{Author, Form, Path, SignedIn};
use crate::web::page::html;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::PgConnection;
use std::collections::BTreeSet;
use uuid::Uuid;

/// How many changes are told in one sentence.
const TOLD: usize = 3;

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
    let then = then(&mut draft.sketch, step, typed.get("do")).ok_or_else(unreadable)?;
    if draft.sketch != before || says.is_some() {
        let says = says.unwrap_or_else(|| changed(&before, &draft.sketch, step));
        draft.note(who.staff.number, says);
        task_drafts::save(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    }
    tx.commit().await?;
    let to = match then {
        Then::Go(step) => at(id, step),
        Then::Stay(focus) if focus.is_empty() => format!("{}?done=saved", at(id, step)),
        Then::Stay(focus) => format!("{}?focus={}", at(id, step), crate::web::show::percent(&focus)),
    };
    Ok(Redirect::to(&to).into_response())
}

/// Where a save leads.
enum Then {
    /// To the same step, with this under the keyboard.
    Stay(String),
    Go(Step),
}

/// Does what the pressed button asks for besides saving; `None` where it asks for nothing that can be done.
fn then(sketch: &mut Sketch, step: Step, button: &str) -> Option<Then> {
    Some(match button.strip_prefix("go:") {
        Some(word) => Then::Go(Step::of_word(word)?),
        None if button == "next" => Then::Go(step.next().unwrap_or(step)),
        None if button == "save" || button.is_empty() => Then::Stay(String::new()),
        None => Then::Stay(apply::press(sketch, button)?),
    })
}

/// What the page would be if what was typed were saved; nothing is. The page asks while a form is filled in, so that
/// faults and drawing keep up with it.
pub async fn look(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let mut draft = found(&mut tx, who.centre(), id).await?;
    let step = Step::of_word(typed.get("step")).ok_or_else(unreadable)?;
    if typed.number("revision") != Some(draft.revision) {
        return Err(WebError::Stale("The draft was changed after you opened the page."));
    }
    let page = step_page(&mut tx, &who, &draft, step).await?;
    apply::fill(&mut draft.sketch, step, &page.groups, &typed);
    choose_checklist(&mut tx, &who, &mut draft, step, &typed).await?;
    let page = step_page(&mut tx, &who, &draft, step).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

fn unreadable() -> WebError {
    WebError::Unreadable("The form says nothing that can be done with a task.".into())
}

/// What a form holds that is not what stands in the draft.
fn unsaved(groups: &[Group], typed: &Typed) -> Vec<(String, String)> {
    let differs = |field: &Field| {
        let values = typed.all(&field.name);
        let ticks = |values: &[String]| values.iter().cloned().collect::<BTreeSet<String>>();
        typed.has(&field.name) && typed.get(&field.name) != field.value && ticks(values) != ticks(&field.values)
    };
    let lines = groups.iter().flat_map(|group| group.fields.iter().map(move |field| (group, field)));
    let told = |(group, field): (&Group, &Field)| {
        (format!("{}, {}", group.title, field.label), typed.all(&field.name).join(", "))
    };
    lines.filter(|(_, field)| differs(field)).map(told).collect()
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
    let content = crate::web::checklists::content_of(&published)?;
    take_checklist(draft, (published.id, version), &content);
    Ok(Some(format!("Checklist: “{}”, version {version}.", content.title)))
}

fn take_checklist(draft: &mut Draft, which: (ChecklistId, i32), content: &ChecklistFile) {
    draft.sketch.set_checklist(&content.checklist);
    draft.sketch.set("pass_percent", Some(content.pass_percent.into()));
    draft.checklist = Some(which);
}
