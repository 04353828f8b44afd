//! Publishing a draft, published versions, and what differs between two.

use super::editor::refuse_stale;
use super::{Loaded, content_of, load};
use crate::marking::difference::{Difference, difference};
use crate::marking::draft::wanting;
use crate::marking::{ChecklistFile, write};
use crate::store::checklists::{self, Published, User, Version};
use crate::store::{ChecklistId, drafts, sessions};
use crate::web::App;
use crate::web::criteria::{Shown, typed::Typed};
use crate::web::error::WebError;
use crate::web::extract::{Author, Form, Path, Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::show;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;
use uuid::Uuid;

/// What publishing would do.
#[derive(Template)]
#[template(path = "checklists/publish.html")]
struct PublishPage {
    page: Page,
    id: Uuid,
    title: String,
    revision: u32,
    /// The version that it would follow.
    last: Option<i32>,
    differences: Vec<(String, String)>,
    /// Whether only the file's own letters differ, such as a comment in it.
    only_letters: bool,
    wanting: Vec<String>,
    users: Vec<User>,
}

impl PublishPage {
    fn may_publish(&self) -> bool {
        self.wanting.is_empty() && (self.last.is_none() || self.only_letters || !self.differences.is_empty())
    }
}

/// Differences as word and sentence.
fn told(older: &ChecklistFile, newer: &ChecklistFile) -> Vec<(String, String)> {
    let words = |one: Difference| (one.word().to_owned(), one.says());
    difference(older, newer).into_iter().map(words).collect()
}

/// Shows what publishing would do.
pub async fn ask(State(app): State<App>, Author(who): Author, Path(id): Path<Uuid>) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let page = publish_page(&mut tx, &who, id).await?;
    tx.commit().await?;
    html(&page)
}

async fn publish_page(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<PublishPage, WebError> {
    let loaded = load(tx, who.centre(), id).await?;
    let draft = loaded.draft.as_ref().ok_or(WebError::Missing("draft"))?;
    let (differences, only_letters) = match &loaded.newest {
        Some(published) => {
            let differences = told(&content_of(published)?, &draft.content);
            let letters = draft.file.as_ref().is_some_and(|file| *file != published.source);
            let only = differences.is_empty() && letters;
            (differences, only)
        }
        None => (Vec::new(), false),
    };
    Ok(PublishPage {
        page: Page::at(&who.staff, Place::Checklists),
        id,
        title: draft.content.title.clone(),
        revision: draft.revision,
        last: loaded.newest.as_ref().map(|published| published.version),
        differences,
        only_letters,
        wanting: wanting(&draft.content).iter().map(|one| one.told(&draft.content)).collect(),
        users: loaded.users,
    })
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
    let draft = drafts::hold(&mut tx, who.centre(), ChecklistId(id)).await?.ok_or(WebError::Missing("draft"))?;
    if let Some(refused) = refuse_stale(&mut tx, &who, &draft, &typed).await? {
        tx.commit().await?;
        return Ok(refused);
    }
    let page = publish_page(&mut tx, &who, id).await?;
    if !page.may_publish() {
        tx.commit().await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    }
    // What came as a file and was not changed stays as it is, byte for byte.
    let source = draft.file.clone().unwrap_or_else(|| write::checklist_file(&draft.content));
    let (title, by, now) = (&draft.content.title, who.staff.number, app.clock.now());
    checklists::publish(&mut tx, who.centre(), draft.id, title, &source, by, now).await?;
    drafts::discard(&mut tx, who.centre(), draft.id).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/checklists/{id}?done=published")).into_response())
}

/// One published version, to read.
#[derive(Template)]
#[template(path = "checklists/version.html")]
struct VersionPage {
    page: Page,
    id: Uuid,
    version: i32,
    content: ChecklistFile,
    stages: Vec<(String, Vec<Shown>)>,
    published: String,
    by: String,
    versions: Vec<Version>,
    users: Vec<User>,
    faults: Faults,
}

impl VersionPage {
    fn options(&self) -> Vec<(String, String)> {
        version_options(&self.versions)
    }
}

fn version_options(versions: &[Version]) -> Vec<(String, String)> {
    versions.iter().map(|one| (one.version.to_string(), format!("Version {}", one.version))).collect()
}

async fn published(tx: &mut PgConnection, who: &SignedIn, id: Uuid, version: i32) -> Result<Published, WebError> {
    let found = checklists::find(tx, who.centre(), ChecklistId(id), version).await?;
    found.ok_or(WebError::Missing("version of a checklist"))
}

/// Shows one published version.
pub async fn version(
    State(app): State<App>,
    who: SignedIn,
    Path((id, version)): Path<(Uuid, i32)>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let one = published(&mut tx, &who, id, version).await?;
    let loaded = load(&mut tx, who.centre(), id).await?;
    let at = sessions::local_time(&mut tx, who.centre(), one.published_at).await?;
    tx.commit().await?;
    let content = content_of(&one)?;
    let shown = |stage: &crate::marking::Stage| {
        (stage.title.clone(), stage.criteria.iter().map(|one| Shown::of(one.clone())).collect())
    };
    let by = loaded.versions.iter().find(|one| one.version == version).map(|one| one.by.clone());
    html(&VersionPage {
        page: Page::at(&who.staff, Place::Checklists),
        id,
        version,
        stages: content.checklist.stages.iter().map(shown).collect(),
        content,
        published: show::moment(at),
        by: by.unwrap_or_default(),
        users: loaded.users.into_iter().filter(|user| user.checklist_version == version).collect(),
        versions: loaded.versions,
        faults: Faults::none(),
    })
}

/// What differs between two versions.
#[derive(Template)]
#[template(path = "checklists/differences.html")]
struct DifferencesPage {
    page: Page,
    id: Uuid,
    title: String,
    from: String,
    to: String,
    options: Vec<(String, String)>,
    differences: Vec<(String, String)>,
    faults: Faults,
}

/// The versions to compare; the draft is called `draft`.
#[derive(Deserialize, Default)]
pub struct Between {
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
}

/// Shows what differs between two versions, or between a version and the draft.
pub async fn differences(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Query(between): Query<Between>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, who.centre(), id).await?;
    let older = side(&mut tx, &who, &loaded, &between.from).await?;
    let newer = side(&mut tx, &who, &loaded, &between.to).await?;
    tx.commit().await?;
    let mut options = version_options(&loaded.versions);
    if loaded.draft.is_some() {
        options.insert(0, ("draft".into(), "Draft".into()));
    }
    html(&DifferencesPage {
        page: Page::at(&who.staff, Place::Checklists),
        id,
        title: newer.title.clone(),
        differences: told(&older, &newer),
        from: between.from,
        to: between.to,
        options,
        faults: Faults::none(),
    })
}

async fn side(tx: &mut PgConnection, who: &SignedIn, loaded: &Loaded, name: &str) -> Result<ChecklistFile, WebError> {
    if let ("draft", Some(draft)) = (name, &loaded.draft) {
        return Ok(draft.content.clone());
    }
    let version = name.parse().map_err(|_| WebError::Missing("version of a checklist"))?;
    content_of(&published(tx, who, loaded.id.0, version).await?)
}
