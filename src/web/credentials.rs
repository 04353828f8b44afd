//! The lists in which a centre says which credentials it calls back: for whoever checks one, without signing in. They hold
//! bits and nothing of a person.

use super::App;
use super::error::WebError;
use super::extract::Here;
use crate::config;
use crate::export::badge::Issuer;
use crate::export::status_list::FRESH;
use crate::store::{CentreId, centres, credential_places};
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};

/// One list. What is not there and what makes no sense looks alike.
pub async fn list(
    State(app): State<App>,
    Here(here): Here,
    Path((centre, list)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let none = || WebError::Missing("list of credentials");
    let centre = CentreId::new(&centre).ok_or_else(none)?;
    // One spelling for each list, so that a copy kept on the way is kept once.
    let number: u32 = list.parse().ok().filter(|number: &u32| number.to_string() == list).ok_or_else(none)?;
    let mut tx = app.store.begin(&centre).await?;
    let called_back = credential_places::called_back(&mut tx, &centre, number).await?.ok_or_else(none)?;
    let named = centres::find(&mut tx, &centre).await?.ok_or_else(none)?;
    tx.commit().await?;
    let data = app.settings.data.as_deref().ok_or_else(|| WebError::ours("there is no data folder with a key"))?;
    let ours = |why| WebError::Ours(Box::new(why));
    let key = config::badge_key(data).map_err(ours)?;
    let issuer = Issuer::new(&key, here.to_string(), centre.as_str().to_owned(), named.name);
    let signed = issuer.status_list(number, &called_back, app.clock.now()).map_err(ours)?;
    let headers = [
        (header::CONTENT_TYPE, "application/vc+jwt".to_owned()),
        (header::CACHE_CONTROL, format!("public, max-age={}", FRESH.whole_seconds())),
    ];
    Ok((headers, signed).into_response())
}
