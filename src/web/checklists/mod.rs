//! Checklists: the list, the editor, preview, publishing, versions, and what a draft would change.

pub mod change;
pub mod editor;
mod edits;
pub mod files;
pub mod pick;
pub mod preview;
pub mod publish;

use super::App;
use super::criteria::{self, typed::Typed};
use super::error::WebError;
use super::extract::{Author, Form, SignedIn};
use super::form::{self, Faults};
use super::page::{Page, Place, html};
use crate::marking::{ChecklistFile, draft, library};
use crate::store::checklists::{self, Published, User, Version};
use crate::store::drafts::{self, Draft};
use crate::store::{CentreId, ChecklistId};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::PgConnection;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A checklist with its draft and its versions, at least one of them.
pub struct Loaded {
    pub id: ChecklistId,
    pub draft: Option<Draft>,
    pub newest: Option<Published>,
    pub versions: Vec<Version>,
    pub users: Vec<User>,
}

/// The checklist, where the centre has it.
pub async fn load(tx: &mut PgConnection, centre: &CentreId, id: Uuid) -> Result<Loaded, WebError> {
    let id = ChecklistId(id);
    let draft = drafts::find(tx, centre, id).await?;
    let versions = checklists::versions(tx, centre, id).await?;
    let newest = match versions.first() {
        Some(version) => checklists::find(tx, centre, id, version.version).await?,
        None => None,
    };
    if draft.is_none() && newest.is_none() {
        return Err(WebError::Missing("checklist"));
    }
    let users = checklists::users(tx, centre).await?.into_iter().filter(|user| user.checklist == id).collect();
    Ok(Loaded { id, draft, newest, versions, users })
}

impl Loaded {
    /// What is being written, else what was published last.
    pub fn content(&self) -> Result<ChecklistFile, WebError> {
        match (&self.draft, &self.newest) {
            (Some(draft), _) => Ok(draft.content.clone()),
            (None, Some(published)) => content_of(published),
            (None, None) => Err(WebError::Missing("checklist")),
        }
    }

    /// The page of this checklist.
    pub fn at(&self, page: &str) -> String {
        format!("/checklists/{}{page}", self.id.0)
    }
}

/// The content of a published version, which was read before it was published.
pub fn content_of(published: &Published) -> Result<ChecklistFile, WebError> {
    ChecklistFile::read_toml(&published.source).map_err(|_| WebError::ours("a published checklist cannot be read"))
}

/// The list of checklists.
#[derive(Template)]
#[template(path = "checklists/list.html")]
struct ListPage {
    page: Page,
    may_write: bool,
    rows: Vec<Row>,
    copies: Vec<(String, String)>,
    schemes: Vec<(&'static str, String)>,
    scheme: &'static str,
    typed: Typed,
    faults: Faults,
}

/// One line of the list.
struct Row {
    id: Uuid,
    title: String,
    draft: bool,
    version: Option<i32>,
    users: Vec<User>,
}

/// Shows the list.
pub async fn list(State(app): State<App>, who: SignedIn) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let page = list_page(&mut tx, &who, Typed::default(), Faults::none()).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

async fn list_page(
    tx: &mut PgConnection,
    who: &SignedIn,
    mut typed: Typed,
    faults: Faults,
) -> Result<ListPage, WebError> {
    let centre = who.centre();
    let newest = checklists::newest(tx, centre).await?;
    let users = checklists::users(tx, centre).await?;
    let scheme = criteria::scheme_of_centre(tx, centre).await?;
    if !typed.has("how") {
        typed.set("how", "starter");
    }
    let mut rows: BTreeMap<Uuid, Row> = BTreeMap::new();
    let mut copies = Vec::new();
    for published in newest {
        let (id, version) = (published.id, published.version);
        copies.push((id.0.to_string(), format!("{}, version {version}", published.title)));
        let mut users: Vec<User> = users.iter().filter(|user| user.checklist == id).cloned().collect();
        // One line for each task: the newest of its versions.
        users.reverse();
        users.dedup_by_key(|user| user.task);
        users.reverse();
        let row = Row { id: id.0, title: published.title, draft: false, version: Some(version), users };
        rows.insert(id.0, row);
    }
    for draft in drafts::list(tx, centre).await? {
        let empty = Row { id: draft.id.0, title: String::new(), draft: true, version: None, users: Vec::new() };
        let row = rows.entry(draft.id.0).or_insert(empty);
        (row.title, row.draft) = (draft.title, true);
    }
    let mut rows: Vec<Row> = rows.into_values().collect();
    rows.sort_by_key(|row| (row.title.to_lowercase(), row.id));
    Ok(ListPage {
        page: Page::at(&who.staff, Place::Checklists),
        may_write: criteria::may_write(&who.staff),
        rows,
        copies,
        schemes: criteria::scheme_options(),
        scheme: criteria::scheme_word(scheme),
        typed,
        faults,
    })
}

/// Makes a checklist: empty, from a scheme's starter, or as a copy of a published one.
pub async fn create(
    State(app): State<App>,
    Author(who): Author,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let mut faults = Faults::none();
    let begun = match typed.get("how") {
        "empty" => Some((draft::empty("New checklist"), None, "Began with nothing in it.".to_owned())),
        "starter" => criteria::scheme_of_word(typed.get("scheme")).map(|scheme| {
            let says = format!("Began from the starter checklist of {}.", criteria::scheme_word(scheme));
            (library::checklist_file(scheme), None, says)
        }),
        "copy" => copied(&mut tx, who.centre(), typed.get("copy")).await?,
        _ => None,
    };
    if begun.is_none() {
        faults.add("how", "Please choose what to begin with.");
    }
    if typed.get("how") == "empty" || typed.has("title") {
        form::line(&mut faults, "title", typed.get("title"), draft::LONGEST_TITLE);
    }
    let Some((mut content, file, says)) = begun.filter(|_| faults.is_empty()) else {
        let page = list_page(&mut tx, &who, typed, faults).await?;
        tx.commit().await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    };
    if typed.has("title") {
        content.title = typed.get("title").trim().to_owned();
    }
    let draft = Draft::begun(ChecklistId(app.clock.new_id()), content, file, who.staff.number, &says);
    drafts::begin(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/checklists/{}", draft.id.0)).into_response())
}

type Begun = (ChecklistFile, Option<String>, String);

async fn copied(tx: &mut PgConnection, centre: &CentreId, id: &str) -> Result<Option<Begun>, WebError> {
    let Ok(id) = id.parse::<Uuid>() else { return Ok(None) };
    let newest = checklists::newest(tx, centre).await?.into_iter().find(|published| published.id.0 == id);
    let Some(published) = newest else { return Ok(None) };
    let mut content = content_of(&published)?;
    let says = format!("Began as a copy of “{}”, version {}.", published.title, published.version);
    // Two of one title could not be told apart in any list.
    let room = draft::LONGEST_TITLE - 7;
    content.title = format!("{} (copy)", content.title.chars().take(room).collect::<String>());
    Ok(Some((content, None, says)))
}
