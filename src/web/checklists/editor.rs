//! A checklist as it stands, and every change of its draft: saved at once, refused where somebody else was quicker.

use super::edits::{edits, focus, row_key};
use super::{Loaded, load};
use crate::marking::draft::{At, Place as Spot, wanting};
use crate::marking::{ChecklistFile, Criterion, Fails};
use crate::store::criteria::{self as own_criteria, Own};
use crate::store::drafts::{self, Draft};
use crate::store::{ChecklistId, StaffNo, staff};
use crate::web::App;
use crate::web::criteria::typed::Typed;
use crate::web::criteria::{self, Shown};
use crate::web::error::WebError;
use crate::web::extract::{Author, Form, Path, Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;
use uuid::Uuid;

/// A checklist, to read or to write.
#[derive(Template)]
#[template(path = "checklists/editor.html")]
struct EditorPage {
    page: Page,
    loaded: Loaded,
    content: ChecklistFile,
    /// Whether this person may change it now: there is a draft, and they write checklists.
    writes: bool,
    may_write: bool,
    revision: u32,
    stages: Vec<StageView>,
    /// What the checklist as a whole still wants.
    wanting: Vec<String>,
    /// How much is wanting in all.
    wants: usize,
    changes: Vec<Told>,
    /// What somebody else did since the page was made; then nothing was saved.
    conflict: Vec<Told>,
    typed: Typed,
    faults: Faults,
    done: String,
    focus: String,
}

/// One stage as the page shows it.
struct StageView {
    at: usize,
    title: String,
    wanting: Option<String>,
    rows: Vec<RowView>,
}

/// One criterion as the page shows it.
struct RowView {
    at: At,
    key: String,
    shown: Shown,
    wanting: Option<String>,
    /// Whether the library has it in other words now, and whose.
    newer: Option<String>,
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
    done: String,
    #[serde(default)]
    focus: String,
}

impl EditorPage {
    fn fails_options(&self) -> [(&'static str, &'static str, Fails); 3] {
        [
            ("ordinary", "ordinary", Fails::Ordinary),
            ("must", "must", Fails::Must),
            ("automatic", "automatic fail", Fails::Automatic),
        ]
    }

    fn is_first(&self, at: &At) -> bool {
        at.stage == 0 && at.place == 0
    }

    fn is_last(&self, at: &At) -> bool {
        at.stage + 1 == self.stages.len() && at.place + 1 == self.stages[at.stage].rows.len()
    }

    /// Whether the page begins with this button under the keyboard: the one that was pressed last.
    fn focused(&self, name: &str) -> bool {
        !name.is_empty() && self.focus == name
    }
}

/// Shows a checklist.
pub async fn show(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, who.centre(), id).await?;
    let mut page = page(&mut tx, &who, loaded, Typed::default(), Faults::none(), None).await?;
    tx.commit().await?;
    page.done = done_words(&asked.done);
    page.focus = asked.focus;
    Ok(html(&page)?.into_response())
}

fn done_words(done: &str) -> String {
    match done {
        "published" => "Published. This version never changes; a new draft begins from it.",
        "discarded" => "The draft is thrown away. What was published is as it was.",
        "imported" => "The file is read and kept as a draft. Publish it to use it.",
        _ => "",
    }
    .to_owned()
}

/// Begins a draft from the version published last.
pub async fn begin(State(app): State<App>, Author(who): Author, Path(id): Path<Uuid>) -> Result<Redirect, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, who.centre(), id).await?;
    if let (None, Some(published)) = (&loaded.draft, &loaded.newest) {
        let says = format!("Began from version {}.", published.version);
        let file = Some(published.source.clone());
        let draft = Draft::begun(loaded.id, super::content_of(published)?, file, who.staff.number, &says);
        drafts::begin(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("")))
}

/// Throws the draft away.
pub async fn discard(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let draft = drafts::hold(&mut tx, who.centre(), ChecklistId(id)).await?.ok_or(WebError::Missing("draft"))?;
    if let Some(refused) = refuse_stale(&mut tx, &who, &draft, &typed).await? {
        tx.commit().await?;
        return Ok(refused);
    }
    let loaded = load(&mut tx, who.centre(), id).await?;
    drafts::discard(&mut tx, who.centre(), draft.id).await?;
    tx.commit().await?;
    let to = if loaded.newest.is_some() { loaded.at("?done=discarded") } else { "/checklists".into() };
    Ok(Redirect::to(&to).into_response())
}

/// The page that says what somebody else changed, where the form was made for an earlier revision.
pub async fn refuse_stale(
    tx: &mut PgConnection,
    who: &SignedIn,
    draft: &Draft,
    typed: &Typed,
) -> Result<Option<Response>, WebError> {
    let seen: u32 = typed.number("revision").unwrap_or(0);
    if seen == draft.revision {
        return Ok(None);
    }
    let loaded = load(tx, who.centre(), draft.id.0).await?;
    let page = page(tx, who, loaded, typed.clone(), Faults::none(), Some(seen)).await?;
    Ok(Some((StatusCode::CONFLICT, html(&page)?).into_response()))
}

/// Makes one change of a draft.
pub async fn edit(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let held = drafts::hold(&mut tx, who.centre(), ChecklistId(id)).await?;
    let Some(mut draft) = held else {
        load(&mut tx, who.centre(), id).await?;
        return Err(WebError::Stale("The draft was published or thrown away meanwhile. Open the checklist anew."));
    };
    if let Some(refused) = refuse_stale(&mut tx, &who, &draft, &typed).await? {
        tx.commit().await?;
        return Ok(refused);
    }
    let before = draft.content.clone();
    let mut faults = Faults::none();
    for (field, edit) in edits(&mut tx, &who, &typed, &before, &mut faults).await? {
        match edit.make(&mut draft.content) {
            Ok(says) => draft.note(who.staff.number, &says),
            Err(says) => faults.add(field, says),
        }
    }
    if !faults.is_empty() {
        // The draft as stored is shown: what was refused changed nothing.
        let loaded = load(&mut tx, who.centre(), id).await?;
        let page = page(&mut tx, &who, loaded, typed, faults, None).await?;
        tx.commit().await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    }
    if draft.content != before {
        drafts::save(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to(&format!("/checklists/{id}{}", focus(&typed, &before, &draft.content))).into_response())
}

async fn page(
    tx: &mut PgConnection,
    who: &SignedIn,
    loaded: Loaded,
    typed: Typed,
    faults: Faults,
    seen: Option<u32>,
) -> Result<EditorPage, WebError> {
    let content = loaded.content()?;
    let may_write = criteria::may_write(&who.staff);
    let writes = may_write && loaded.draft.is_some();
    let own = if writes { own_criteria::list(tx, who.centre()).await? } else { Vec::new() };
    let wants = if loaded.draft.is_some() { wanting(&content) } else { Vec::new() };
    let at = |spot: Spot| wants.iter().find(|one| one.place == spot).map(|one| one.says.clone());
    let row = |at_stage: usize, (place, criterion): (usize, &Criterion)| {
        let here = At { stage: at_stage, place };
        RowView {
            at: here,
            key: row_key(here),
            shown: Shown::of(criterion.clone()),
            wanting: at(Spot::Criterion(here)),
            newer: newer_words(criterion, &own),
        }
    };
    let stages = content.checklist.stages.iter().enumerate().map(|(number, stage)| StageView {
        at: number,
        title: stage.title.clone(),
        wanting: at(Spot::Stage(number)),
        rows: stage.criteria.iter().enumerate().map(|held| row(number, held)).collect(),
    });
    let stages = stages.collect();
    let changes = told(tx, who, &loaded, |_| true).await?;
    let conflict = match seen {
        Some(seen) => told(tx, who, &loaded, |revision| revision > seen).await?,
        None => Vec::new(),
    };
    Ok(EditorPage {
        page: Page::at(&who.staff, Place::Checklists),
        writes,
        may_write,
        revision: loaded.draft.as_ref().map_or(0, |draft| draft.revision),
        stages,
        wanting: wants.iter().filter(|one| one.place == Spot::Checklist).map(|one| one.says.clone()).collect(),
        wants: wants.len(),
        changes: changes.into_iter().take(8).collect(),
        conflict,
        content,
        loaded,
        typed,
        faults,
        done: String::new(),
        focus: String::new(),
    })
}

/// Whether the centre's criterion of this name reads otherwise now: retired ones are not offered.
fn newer_words(criterion: &Criterion, own: &[Own]) -> Option<String> {
    let now = own.iter().find(|one| one.criterion.id == criterion.id && one.retired_at.is_none())?;
    let same = Criterion { weight: criterion.weight, fails: criterion.fails, ..now.criterion.clone() } == *criterion;
    (!same).then(|| format!("The centre’s criterion reads otherwise now: “{}”", now.criterion.says))
}

/// The remembered changes of the draft that were made by these revisions, the newest first, each with who made it.
async fn told(
    tx: &mut PgConnection,
    who: &SignedIn,
    loaded: &Loaded,
    wanted: impl Fn(u32) -> bool,
) -> Result<Vec<Told>, WebError> {
    let mut told = Vec::new();
    let changes = loaded.draft.iter().flat_map(|draft| draft.changes.iter().rev());
    let mut known: Vec<(i32, String)> = Vec::new();
    for change in changes.filter(|change| wanted(change.revision)) {
        let by = match known.iter().find(|(number, _)| *number == change.by) {
            Some((_, name)) => name.clone(),
            None => {
                let person = staff::find(tx, who.centre(), StaffNo(change.by)).await?;
                let name = person.map_or_else(|| "Somebody".to_owned(), |person| person.name);
                known.push((change.by, name.clone()));
                name
            }
        };
        told.push(Told { by, says: change.says.clone() });
    }
    Ok(told)
}
