//! What a tablet keeps to open the marking page without a network: an empty page, and the worker that answers with it.

use crate::web::assets;
use crate::web::error::WebError;
use crate::web::page::{Page, html};
use askama::Template;
use axum::http::{HeaderName, HeaderValue, header};
use axum::response::{IntoResponse, Response};

/// The marking page of no session in particular: it holds nothing about anybody.
#[derive(Template)]
#[template(path = "marking/shell.html")]
struct Shell {
    page: Page,
}

/// Shows the empty page.
pub async fn show() -> Result<Response, WebError> {
    Ok(html(&Shell { page: Page::of_nobody() })?.into_response())
}

/// The worker's script, with the files of this version before it, so that a new version is a new script.
pub async fn worker() -> Result<Response, WebError> {
    let script = assets::worker().ok_or(WebError::Missing("file"))?;
    let files = serde_json::to_string(&assets::addresses()).unwrap_or_default();
    let text = format!("self.VERSION = \"{}\";\nself.FILES = {files};\n{script}", assets::folder());
    let mut response = text.into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("text/javascript; charset=utf-8"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    headers.insert(HeaderName::from_static("service-worker-allowed"), HeaderValue::from_static("/"));
    Ok(response)
}
