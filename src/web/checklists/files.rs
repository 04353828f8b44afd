//! Checklists as files: a published version to take away, and a file to bring in.

use super::editor::refuse_stale;
use crate::marking::ChecklistFile;
use crate::reading::Fault;
use crate::store::drafts::{self, Draft};
use crate::store::{ChecklistId, checklists};
use crate::web::App;
use crate::web::criteria::typed::Typed;
use crate::web::error::WebError;
use crate::web::extract::{Author, Path, SignedIn, Upload};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

/// The file of a published version, byte for byte.
pub async fn file(
    State(app): State<App>,
    who: SignedIn,
    Path((id, version)): Path<(Uuid, i32)>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let found = checklists::find(&mut tx, who.centre(), ChecklistId(id), version).await?;
    let published = found.ok_or(WebError::Missing("version of a checklist"))?;
    tx.commit().await?;
    let name = file_name(&published.title, version);
    let headers = [
        (header::CONTENT_TYPE, "application/toml; charset=utf-8".to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
    ];
    Ok((headers, published.source).into_response())
}

/// A name that every file system and header takes (RFC 6266, section 4.3, wants ASCII there).
fn file_name(title: &str, version: i32) -> String {
    let slug = crate::web::criteria::form::slug(title, "checklist");
    format!("{slug}-{version}.toml")
}

/// The form that takes a file.
#[derive(Template)]
#[template(path = "checklists/import.html")]
struct ImportPage {
    page: Page,
    /// The checklist whose next version the file is to be.
    into: Option<(Uuid, String)>,
    faults: Faults,
    /// What is wrong with the file, line by line.
    wrong: Vec<Fault>,
    name: String,
}

/// The form for a new checklist.
pub async fn ask(Author(who): Author) -> Result<Response, WebError> {
    Ok(html(&page(&who, None))?.into_response())
}

/// The form for the next version of a checklist.
pub async fn ask_into(State(app): State<App>, Author(who): Author, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = super::load(&mut tx, who.centre(), id).await?;
    tx.commit().await?;
    let title = loaded.content()?.title;
    Ok(html(&page(&who, Some((id, title))))?.into_response())
}

fn page(who: &SignedIn, into: Option<(Uuid, String)>) -> ImportPage {
    let page = Page::at(&who.staff, Place::Checklists);
    ImportPage { page, into, faults: Faults::none(), wrong: Vec::new(), name: String::new() }
}

/// Takes a file in as the draft of a new checklist.
pub async fn take(State(app): State<App>, Author(who): Author, upload: Upload) -> Result<Response, WebError> {
    let content = match read(&upload) {
        Ok(content) => content,
        Err(refused) => return refused.answer(&who, None, &upload),
    };
    let mut tx = app.store.begin(who.centre()).await?;
    let says = format!("Began from the file {}.", shown(&upload.name));
    let (id, by) = (ChecklistId(app.clock.new_id()), who.staff.number);
    let draft = Draft::begun(id, content, Some(upload.text), by, &says);
    drafts::begin(&mut tx, who.centre(), &draft, by, app.clock.now()).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/checklists/{}?done=imported", draft.id.0)).into_response())
}

/// Takes a file in as the draft of a checklist that is there; a draft that is being written is not overwritten.
pub async fn take_into(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    upload: Upload,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = super::load(&mut tx, who.centre(), id).await?;
    let into = Some((id, loaded.content()?.title));
    let content = match read(&upload) {
        Ok(content) => content,
        Err(refused) => return refused.answer(&who, into, &upload),
    };
    let says = format!("Began from the file {}.", shown(&upload.name));
    let draft = Draft::begun(loaded.id, content, Some(upload.text), who.staff.number, &says);
    if !drafts::begin(&mut tx, who.centre(), &draft, who.staff.number, app.clock.now()).await? {
        let held = loaded.draft.ok_or(WebError::Stale("Somebody has just begun a draft of this checklist."))?;
        let stale = refuse_stale(&mut tx, &who, &held, &Typed::default()).await?;
        tx.commit().await?;
        return stale
            .ok_or(WebError::Stale("A draft of this checklist is being written. Publish it or throw it away first."));
    }
    tx.commit().await?;
    Ok(Redirect::to(&format!("/checklists/{id}?done=imported")).into_response())
}

fn shown(name: &str) -> String {
    format!("“{}”", name.chars().take(80).collect::<String>())
}

/// Why a file was not taken.
enum Refused {
    Field(String),
    File(Vec<Fault>),
}

impl Refused {
    fn answer(self, who: &SignedIn, into: Option<(Uuid, String)>, upload: &Upload) -> Result<Response, WebError> {
        let mut page = page(who, into);
        page.name = shown(&upload.name);
        match self {
            Self::Field(says) => page.faults.add("file", says),
            Self::File(wrong) => page.wrong = wrong,
        }
        Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response())
    }
}

fn read(upload: &Upload) -> Result<ChecklistFile, Refused> {
    if upload.text.trim().is_empty() {
        return Err(Refused::Field("Please choose a checklist file. The one that was sent is empty.".into()));
    }
    if !upload.is_utf8 {
        let says = "This file is not text in UTF-8, so it is no checklist file. Save it as UTF-8 and send it again.";
        return Err(Refused::Field(says.into()));
    }
    ChecklistFile::read_toml(&upload.text).map_err(|faults| Refused::File(faults.as_slice().to_vec()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_name_is_plain() {
        assert_eq!(file_name("Safe isolation — “GB”", 3), "safe-isolation-gb-3.toml");
        assert_eq!(file_name("漢", 1), "checklist-1.toml");
    }
}
