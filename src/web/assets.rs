//! Style and scripts, built into the program. One hash over all of them stands in their addresses, so that browsers may
//! keep them for ever and scripts can import each other by relative names.

use super::error::WebError;
use super::extract::Path;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;
use sha2::{Digest, Sha256};
use std::sync::LazyLock;

#[derive(RustEmbed)]
#[folder = "static/"]
struct Files;

static HASH: LazyLock<String> = LazyLock::new(|| {
    let mut names: Vec<_> = Files::iter().collect();
    names.sort();
    let mut digest = Sha256::new();
    for name in names {
        digest.update(name.as_bytes());
        digest.update([0]);
        if let Some(file) = Files::get(&name) {
            digest.update(file.metadata.sha256_hash());
        }
    }
    digest.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect()
});

/// The folder in the address: 16 hex digits.
pub fn folder() -> &'static str {
    &HASH
}

/// The addresses of the files that the marking page may need when there is no network: style, scripts and marks. What
/// lies in `desk/` belongs to the other pages.
pub fn addresses() -> Vec<String> {
    let mut names: Vec<_> = Files::iter().filter(|name| name != WORKER && !name.starts_with("desk/")).collect();
    names.sort();
    names.into_iter().map(|name| format!("/a/{}/{name}", folder())).collect()
}

/// The service worker's file; it is served at a fixed address instead, since its address decides what it may do.
const WORKER: &str = "marking-worker.js";

/// The service worker's script, or `None` where it was left out of the program.
pub fn worker() -> Option<String> {
    let file = Files::get(WORKER)?;
    String::from_utf8(file.data.into_owned()).ok()
}

/// One file. Any folder is answered, so that a page from before an update still finds its style; only the present one
/// may be kept.
pub async fn serve(Path((hash, path)): Path<(String, String)>) -> Result<Response, WebError> {
    let file = Files::get(&path).ok_or(WebError::Missing("file"))?;
    let kind = file.metadata.mimetype().to_owned();
    let kind = if kind.starts_with("text/") { format!("{kind}; charset=utf-8") } else { kind };
    let keep = if hash == folder() { "public, max-age=31536000, immutable" } else { "no-cache" };
    let mut response = file.data.into_response();
    let kind = HeaderValue::from_str(&kind).unwrap_or(HeaderValue::from_static("application/octet-stream"));
    response.headers_mut().insert(header::CONTENT_TYPE, kind);
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    Ok(response)
}
