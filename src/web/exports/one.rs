//! One export: how far it is, giving it up, and fetching its file.

use super::{Past, is_fresh, number, proved};
use crate::export::format::Format;
use crate::export::json;
use crate::export::schema;
use crate::export::writer::columns_of;
use crate::store::StaffNo;
use crate::store::exports::{self as stored, End, Listed};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::exports::jobs::{self, Running};
use crate::web::extract::{Form, Path, Query, Reader, SignedIn};
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use subtle::ConstantTimeEq;
use tower::ServiceExt;
use tower_http::services::ServeFile;
use uuid::Uuid;

/// The page of an export.
#[derive(Template)]
#[template(path = "exports/show.html")]
struct ShowPage {
    page: Page,
    id: Uuid,
    past: Past,
    state: Stage,
    done: u64,
    of: u64,
    /// In words.
    progress: String,
    /// Where the file is fetched, for somebody who has the key.
    file: Option<String>,
    /// Where its schema is fetched, where it has one.
    schema: Option<String>,
    bytes: String,
    mine: bool,
    ask: bool,
    wrong: bool,
}

/// How it stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stage {
    Running,
    /// Ended elsewhere or broken off: nothing is known of its end.
    Unknown,
    Kept,
    /// Finished, and its file is gone.
    Gone,
    Cancelled,
    Failed,
}

/// What opens the file.
#[derive(Deserialize)]
pub struct Key {
    #[serde(default)]
    key: String,
}

/// Shows how far an export is, and with the key the way to its file.
pub async fn show(
    State(app): State<App>,
    Reader(who): Reader,
    Path(id): Path<Uuid>,
    Query(key): Query<Key>,
) -> Result<Response, WebError> {
    let (listed, running) = look(&app, &who, id).await?;
    Ok(html(&page(&app, &who, &listed, running.as_ref(), &key.key, false))?.into_response())
}

/// Gives an export up.
pub async fn cancel(
    State(app): State<App>,
    Reader(who): Reader,
    Path(id): Path<Uuid>,
    Form(key): Form<Key>,
) -> Result<Response, WebError> {
    find(&app, &who, id).await?;
    if let Some(running) = app.exports.of(who.centre()).filter(|running| running.id == id) {
        running.progress.cancel();
    }
    Ok(Redirect::to(&address(id, &key.key)).into_response())
}

/// What asks for the key again.
#[derive(Deserialize)]
pub struct Again {
    #[serde(default)]
    password: String,
}

/// Tells the person who made an export the way to its file once more, after their password.
pub async fn reopen(
    State(app): State<App>,
    Reader(who): Reader,
    Path(id): Path<Uuid>,
    Form(sent): Form<Again>,
) -> Result<Response, WebError> {
    let (listed, running) = look(&app, &who, id).await?;
    if listed.by != Some(who.staff.number) {
        return Err(WebError::Forbidden(
            "Only the person who made an export can fetch its file. Make one of your own.",
        ));
    }
    if !proved(&app, &who, sent.password).await? {
        let page = page(&app, &who, &listed, running.as_ref(), "", true);
        return Ok((StatusCode::FORBIDDEN, html(&page)?).into_response());
    }
    let key = app.settings.data.as_deref().and_then(|data| jobs::kept(data, id)).map(|kept| kept.key);
    Ok(Redirect::to(&address(id, &key.unwrap_or_default())).into_response())
}

/// Sends the file, whole or the part that is asked for, so that a download that broke off goes on where it was.
pub async fn fetch(
    State(app): State<App>,
    Reader(who): Reader,
    Path((id, what)): Path<(Uuid, String)>,
    Query(key): Query<Key>,
    request: Request,
) -> Result<Response, WebError> {
    let listed = find(&app, &who, id).await?;
    let kept = opened(&app, &listed, who.staff.number, &key.key).ok_or(WebError::Missing("file"))?;
    let format = Format::of_word(&listed.format).ok_or(WebError::Missing("file"))?;
    let name = format!("{}-{}-{}", who.centre().as_str(), listed.filter.from, listed.filter.to);
    match what.as_str() {
        "file" => {
            let sent = ServeFile::new(&kept.path).oneshot(request.map(|_| Body::empty())).await;
            let Ok(sent) = sent;
            let mut response = sent.map(Body::new).into_response();
            label(&mut response, format.media_type(), &format!("{name}-{}", format.ending()));
            Ok(response)
        }
        "schema" => {
            let text = schema_of(format, &listed).ok_or(WebError::Missing("file"))?;
            let mut response = text.into_response();
            let stem = format.ending().rsplit_once('.').map_or(format.ending(), |(stem, _)| stem);
            label(&mut response, "application/schema+json", &format!("{name}-{stem}.schema.json"));
            Ok(response)
        }
        _ => Err(WebError::Missing("file")),
    }
}

/// Names an answer as a file to keep. Nothing of a person stands in the name.
fn label(response: &mut Response, media_type: &'static str, name: &str) {
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(media_type));
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
        headers.insert(header::CONTENT_DISPOSITION, value);
    }
}

fn schema_of(format: Format, listed: &Listed) -> Option<String> {
    let key = match format {
        Format::CsvSheet | Format::CsvData => Some("result_id"),
        Format::ObservationsSheet | Format::ObservationsData => Some("observation_id"),
        Format::FindingsSheet | Format::FindingsData => None,
        Format::Json => return Some(json::SCHEMA.to_owned()),
        _ => return None,
    };
    let columns = columns_of(format, &listed.columns, listed.names);
    serde_json::to_string_pretty(&schema::table(&columns, key)).ok()
}

/// An export of the record, and whether it runs here: looked at first, since an export that has ended in between is in the
/// record with its end, and one that was looked at after might be in neither place.
async fn look(app: &App, who: &SignedIn, id: Uuid) -> Result<(Listed, Option<Running>), WebError> {
    let running = app.exports.of(who.centre()).filter(|running| running.id == id);
    Ok((find(app, who, id).await?, running))
}

async fn find(app: &App, who: &SignedIn, id: Uuid) -> Result<Listed, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let listed = stored::list(&mut tx, who.centre(), Some(id), 1).await?.pop();
    tx.commit().await?;
    listed.ok_or(WebError::Missing("export"))
}

fn address(id: Uuid, key: &str) -> String {
    let key: String = key.chars().filter(char::is_ascii_hexdigit).take(64).collect();
    if key.is_empty() { format!("/exports/{id}") } else { format!("/exports/{id}?key={key}") }
}

/// The file, for the person who made it and knows its key.
fn opened(app: &App, listed: &Listed, who: StaffNo, key: &str) -> Option<jobs::Kept> {
    let kept = jobs::kept(app.settings.data.as_deref()?, listed.id)?;
    let known: bool = kept.key.as_bytes().ct_eq(key.as_bytes()).into();
    (known && listed.by == Some(who)).then_some(kept)
}

fn page(app: &App, who: &SignedIn, listed: &Listed, running: Option<&Running>, key: &str, wrong: bool) -> ShowPage {
    let id = listed.id;
    let kept = app.settings.data.as_deref().and_then(|data| jobs::kept(data, id));
    let open = opened(app, listed, who.staff.number, key).is_some();
    let state = match (listed.ended.map(|ended| ended.how), running) {
        (None, Some(_)) => Stage::Running,
        (None, None) => Stage::Unknown,
        (Some(End::Finished), _) if kept.is_some() => Stage::Kept,
        (Some(End::Finished), _) => Stage::Gone,
        (Some(End::Cancelled), _) => Stage::Cancelled,
        (Some(End::Failed), _) => Stage::Failed,
    };
    let of = listed.rows_to_do;
    let done = running.map_or(0, |running| running.progress.done()).min(of);
    let format = Format::of_word(&listed.format);
    let has_schema = format.is_some_and(|format| schema_of(format, listed).is_some());
    ShowPage {
        page: Page::at(&who.staff, Place::Exports),
        id,
        past: Past::of(listed, state == Stage::Running),
        state,
        done,
        of,
        progress: format!("{} of {}", number(done), number(of)),
        file: open.then(|| format!("/exports/{id}/file?key={key}")),
        schema: (open && has_schema).then(|| format!("/exports/{id}/schema?key={key}")),
        bytes: kept.map(|kept| number(kept.bytes)).unwrap_or_default(),
        mine: listed.by == Some(who.staff.number),
        ask: !is_fresh(app, who),
        wrong,
    }
}

impl ShowPage {
    fn runs(&self) -> bool {
        self.state == Stage::Running
    }

    fn is_kept(&self) -> bool {
        self.state == Stage::Kept
    }

    /// What there is to say of an export that left no file.
    fn says(&self) -> &'static str {
        match self.state {
            Stage::Running | Stage::Kept => "",
            Stage::Unknown => {
                "Nothing is known of its end. It may run elsewhere, or the service stopped while it ran; then no file is left. Make it once more."
            }
            Stage::Gone => "Its file was kept for a day and is gone. Make it once more if you need it.",
            Stage::Cancelled => "It was cancelled. No file is left.",
            Stage::Failed => {
                "It could not be finished, and no file is left. The fault is ours, not yours. Make it once more."
            }
        }
    }
}
