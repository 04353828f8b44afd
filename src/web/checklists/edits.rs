//! What a form of the editor asks for.

use crate::marking::draft::{At, Edit, Way};
use crate::marking::{ChecklistFile, Criterion, CriterionId, Fails, library};
use crate::reading::words::word;
use crate::store::criteria as own_criteria;
use crate::web::criteria::{self, typed::Typed};
use crate::web::error::WebError;
use crate::web::extract::SignedIn;
use crate::web::form::Faults;
use sqlx::PgConnection;

/// The changes that a form asks for, each with the field that a refusal belongs to.
pub(super) async fn edits(
    tx: &mut PgConnection,
    who: &SignedIn,
    typed: &Typed,
    content: &ChecklistFile,
    faults: &mut Faults,
) -> Result<Vec<(String, Edit)>, WebError> {
    let stage = typed.number("stage").unwrap_or(usize::MAX);
    let at = At { stage, place: typed.number("place").unwrap_or(usize::MAX) };
    let row = row_key(at);
    let one = |field: &str, edit| vec![(field.to_owned(), edit)];
    Ok(match typed.get("do") {
        "settings" => {
            let mut edits = Vec::new();
            if typed.get("title").trim() != content.title {
                edits.push(("title".to_owned(), Edit::Title(typed.get("title").to_owned())));
            }
            match typed.number("pass_percent") {
                Some(percent) if percent == content.pass_percent => {}
                percent => edits.push(("pass_percent".to_owned(), Edit::PassPercent(percent.unwrap_or(u8::MAX)))),
            }
            edits
        }
        "add-stage" => one("new_stage", Edit::AddStage(typed.get("new_stage").to_owned())),
        "rename-stage" => one(&stage_key(stage), Edit::RenameStage(stage, typed.get("stage_title").to_owned())),
        "stage-up" => one(&stage_key(stage), Edit::MoveStage(stage, Way::Up)),
        "stage-down" => one(&stage_key(stage), Edit::MoveStage(stage, Way::Down)),
        "remove-stage" => one(&stage_key(stage), Edit::RemoveStage(stage)),
        "add" => one(&stage_key(stage), Edit::Add(stage, picked(tx, who, typed).await?)),
        "up" => one(&row, Edit::Move(at, Way::Up)),
        "down" => one(&row, Edit::Move(at, Way::Down)),
        "to-stage" => one(&row, Edit::MoveTo(at, typed.number("to").unwrap_or(usize::MAX))),
        "remove" => one(&row, Edit::Remove(at)),
        "weigh" => match word::<Fails>(typed.get("fails")) {
            Ok(fails) => one(&row, Edit::Weigh(at, typed.number("weight").unwrap_or(0), fails)),
            Err(_) => {
                faults.add(row, "Please choose what follows if it is not met.");
                Vec::new()
            }
        },
        "reword" => match newer_of(tx, who, content, at).await? {
            Some(newer) => one(&row, Edit::Reword(at, Box::new(newer))),
            None => Vec::new(),
        },
        _ => return Err(WebError::Unreadable("The form says nothing that can be done with a checklist.".into())),
    })
}

/// The criteria that were ticked: `own:ID` or `GB:ID`.
async fn picked(tx: &mut PgConnection, who: &SignedIn, typed: &Typed) -> Result<Vec<Criterion>, WebError> {
    let own = own_criteria::list(tx, who.centre()).await?;
    let find = |pick: &String| {
        let (from, id) = pick.split_once(':')?;
        let id = CriterionId::new(id)?;
        match criteria::scheme_of_word(from) {
            Some(scheme) => library::criterion(scheme, &id).map(|starter| starter.criterion.clone()),
            None => own.iter().find(|one| one.criterion.id == id).map(|one| one.criterion.clone()),
        }
    };
    Ok(typed.all("pick").iter().filter_map(find).collect())
}

async fn newer_of(
    tx: &mut PgConnection,
    who: &SignedIn,
    content: &ChecklistFile,
    at: At,
) -> Result<Option<Criterion>, WebError> {
    let held = content.checklist.stages.get(at.stage).and_then(|stage| stage.criteria.get(at.place));
    let Some(held) = held else { return Ok(None) };
    let own = own_criteria::find(tx, who.centre(), &held.id).await?;
    Ok(own.map(|own| own.criterion))
}

/// The name of a criterion's fields in faults.
pub(super) fn row_key(at: At) -> String {
    format!("c-{}-{}", at.stage, at.place)
}

fn stage_key(stage: usize) -> String {
    format!("s-{stage}")
}

/// Where the keyboard goes on after a change: on the button that was pressed, at the place where its thing now stands.
pub(super) fn focus(typed: &Typed, before: &ChecklistFile, after: &ChecklistFile) -> String {
    let action = typed.get("do");
    let (Some(stage), place) = (typed.number::<usize>("stage"), typed.number::<usize>("place").unwrap_or(0)) else {
        return if action == "add-stage" { "?focus=new_stage".into() } else { String::new() };
    };
    match action {
        "stage-up" => format!("?focus=stage-up-{}", stage.saturating_sub(1)),
        "stage-down" => format!("?focus=stage-down-{}", stage + 1),
        "rename-stage" => format!("?focus=s-{stage}"),
        "up" | "down" | "weigh" | "to-stage" | "reword" => {
            let held = before.checklist.stages.get(stage).and_then(|stage| stage.criteria.get(place));
            let stages = after.checklist.stages.iter().enumerate();
            let mut all = stages.flat_map(|(stage, held)| {
                held.criteria.iter().enumerate().map(move |(place, criterion)| (At { stage, place }, criterion))
            });
            let found = held.and_then(|held| all.find(|(_, criterion)| criterion.id == held.id));
            let button = if matches!(action, "up" | "down") { action } else { "more" };
            found.map_or_else(String::new, |(at, _)| format!("?focus={button}-{}-{}", at.stage, at.place))
        }
        _ => String::new(),
    }
}
