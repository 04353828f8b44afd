//! Tasks as files: a published version to take away, and a file or pasted text to publish or to go on writing.

use super::App;
use super::criteria::form::slug;
use super::error::WebError;
use super::extract::{Author, Path, Sent, SignedIn};
use super::form::Faults;
use super::page::{Page, Place, html};
use crate::marking::fitness::fitness;
use crate::marking::sketch::Sketch;
use crate::marking::{Task, write};
use crate::reading::Fault;
use crate::store::task_drafts::{self, Draft};
use crate::store::{TaskId, tasks};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::PgConnection;
use uuid::Uuid;

/// Under this name a new task's identifier is made of its bytes, so that the same file sent twice is one task.
const OF_FILES: Uuid = Uuid::from_u128(0x6d0c_1a52_41f7_4f0e_9d5b_7e64_90aa_31c8);

/// The file of a published version, byte for byte.
pub async fn file(
    State(app): State<App>,
    who: SignedIn,
    Path((id, version)): Path<(Uuid, i32)>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let published = tasks::find(&mut tx, who.centre(), TaskId(id), version).await?.ok_or(WebError::Missing("task"))?;
    tx.commit().await?;
    Ok(attached(&format!("{}-{version}", published.task.title), published.source))
}

/// A task file as an answer that is saved, named after the task.
pub fn attached(title: &str, source: String) -> Response {
    // ASCII, which every file system and header takes (RFC 6266, section 4.3).
    let name = format!("{}.toml", slug(title, "task"));
    let headers = [
        (header::CONTENT_TYPE, "application/toml; charset=utf-8".to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
    ];
    (headers, source).into_response()
}

/// The form that takes a task file.
#[derive(Template)]
#[template(path = "tasks/import.html")]
struct ImportPage {
    page: Page,
    /// What the file becomes: the word, and what it says.
    choices: Vec<(String, String)>,
    into: String,
    text: String,
    faults: Faults,
    wrong: Wrong,
}

/// What keeps a file from being taken.
#[derive(Default)]
struct Wrong {
    /// Line by line.
    lines: Vec<Fault>,
    /// What its checklist asks for and the task cannot give.
    unfit: Vec<String>,
}

/// What a file becomes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Becomes {
    Draft,
    New,
    Next(TaskId),
}

/// What was sent.
struct Typed {
    into: String,
    text: String,
    is_utf8: bool,
}

impl Typed {
    fn of(sent: Sent) -> Self {
        let into = sent.field("into").unwrap_or_default().to_owned();
        match sent.file {
            // A file that was chosen comes before what stands in the box, where its last state may still be.
            Some(file) if !file.text.trim().is_empty() => Self { into, text: file.text, is_utf8: file.is_utf8 },
            _ => {
                // Browsers send the lines of a box with CR LF, whatever was pasted.
                let text = sent.field("text").unwrap_or_default().replace("\r\n", "\n");
                Self { into, text, is_utf8: true }
            }
        }
    }
}

/// Shows the form.
pub async fn ask(State(app): State<App>, Author(who): Author) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let typed = Typed { into: String::new(), text: String::new(), is_utf8: true };
    let page = page(&mut tx, &who, typed, Faults::none(), Wrong::default()).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

/// Publishes a file as a new task or as the next version of one, or keeps it as a draft. The same bytes again are the
/// version they were.
pub async fn take(State(app): State<App>, Author(who): Author, sent: Sent) -> Result<Response, WebError> {
    let typed = Typed::of(sent);
    let mut tx = app.store.begin(who.centre()).await?;
    let mut faults = Faults::none();
    let becomes = chosen(&mut tx, &who, &typed.into, &mut faults).await?;
    if typed.text.trim().is_empty() {
        faults.add("file", "Please choose a task file, or paste its text below.");
    } else if !typed.is_utf8 {
        faults
            .add("file", "This file is not text in UTF-8, so it is no task file. Save it as UTF-8 and send it again.");
    }
    let read = if faults.is_empty() { read(&typed.text, becomes) } else { Err(Wrong::default()) };
    let (task, source) = match read {
        Ok(read) => read,
        Err(wrong) => {
            let page = page(&mut tx, &who, typed, faults, wrong).await?;
            tx.commit().await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
        }
    };
    let (by, now) = (who.staff.number, app.clock.now());
    let id = match becomes {
        Becomes::Draft => {
            let id = TaskId(app.clock.new_id());
            let draft = Draft::begun(id, Sketch::of_task(&task), None, by, "Began from a file.");
            task_drafts::begin(&mut tx, who.centre(), &draft, by, now).await?;
            tx.commit().await?;
            return Ok(Redirect::to(&format!("/tasks/drafts/{}/board", id.0)).into_response());
        }
        Becomes::New => TaskId(Uuid::new_v5(&OF_FILES, source.as_bytes())),
        Becomes::Next(id) => id,
    };
    let version = tasks::publish(&mut tx, who.centre(), id, &task.title, &source, now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/tasks/{}/{version}", id.0)).into_response())
}

/// What the file is to become.
async fn chosen(tx: &mut PgConnection, who: &SignedIn, into: &str, faults: &mut Faults) -> Result<Becomes, WebError> {
    match into {
        "" | "new" => return Ok(Becomes::New),
        "draft" => return Ok(Becomes::Draft),
        _ => {}
    }
    let listed = tasks::list(tx, who.centre()).await?;
    let found = listed.into_iter().map(|task| task.id).find(|id| id.0.to_string() == into);
    if found.is_none() {
        faults.add("into", "There is no such task in your centre. Please choose again.");
    }
    Ok(found.map_or(Becomes::New, Becomes::Next))
}

/// The task in a text, with the bytes to publish: those that were sent where they are TOML, else the same task as TOML.
/// What is published must be fit for its checklist; a draft may become so.
fn read(text: &str, becomes: Becomes) -> Result<(Task, String), Wrong> {
    let is_json = text.trim_start_matches('\u{feff}').trim_start().starts_with('{');
    let task = if is_json { Task::read_json(text) } else { Task::read_toml(text) };
    let task = task.map_err(|faults| Wrong { lines: faults.as_slice().to_vec(), unfit: Vec::new() })?;
    let refused = if becomes == Becomes::Draft { Vec::new() } else { fitness(&task).refused };
    if !refused.is_empty() {
        let unfit = refused.iter().map(|one| one.told(&task.checklist)).collect();
        return Err(Wrong { lines: Vec::new(), unfit });
    }
    let source = if is_json { write::task_file(&task) } else { text.to_owned() };
    Ok((task, source))
}

async fn page(
    tx: &mut PgConnection,
    who: &SignedIn,
    typed: Typed,
    faults: Faults,
    wrong: Wrong,
) -> Result<ImportPage, WebError> {
    let listed = tasks::list(tx, who.centre()).await?;
    let next =
        |task: tasks::Listed| (task.id.0.to_string(), format!("version {} of “{}”", task.version + 1, task.title));
    let new = [("new", "a new task, published at once"), ("draft", "a draft, to go on writing")];
    let new = new.map(|(word, says)| (word.to_owned(), says.to_owned()));
    let choices = new.into_iter().chain(listed.into_iter().map(next));
    Ok(ImportPage {
        page: Page::at(&who.staff, Place::Tasks),
        choices: choices.collect(),
        into: typed.into,
        text: typed.text,
        faults,
        wrong,
    })
}
