//! Tablets that the centre has enrolled: on them the password is enough.

use super::super::error::WebError;
use super::super::extract::{Form, Here, Manager, Path, SignedIn, TabletToken};
use super::super::form::{self, Faults};
use super::super::page::{Page, Place, html};
use super::super::tokens::Token;
use super::super::{App, cookies, proof, show};
use crate::store::{TabletId, deeds, sessions, tablets};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;
use uuid::Uuid;

#[derive(Template)]
#[template(path = "centre/tablets.html")]
struct TabletsPage {
    page: Page,
    rows: Vec<Row>,
    /// The name of this browser, where it is enrolled.
    this_one: Option<String>,
    /// What was typed for a name so far.
    typed: String,
    ask_password: bool,
    faults: Faults,
}

struct Row {
    id: String,
    name: String,
    enrolled: String,
    by: String,
    revoked: Option<String>,
    this_one: bool,
}

/// What the form sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Enrolment {
    name: String,
    own_password: String,
}

/// Shows every tablet.
pub async fn list(State(app): State<App>, Manager(who): Manager, tablet: TabletToken) -> Result<Response, WebError> {
    tablets_page(&app, &who, tablet, String::new(), Faults::none(), StatusCode::OK).await
}

async fn tablets_page(
    app: &App,
    who: &SignedIn,
    TabletToken(tablet): TabletToken,
    typed: String,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let centre = who.centre();
    let mut tx = app.store.begin(centre).await?;
    let this = match tablet.filter(|(of, _)| of == centre) {
        Some((_, token)) => tablets::of_token(&mut tx, centre, &token.hash()).await?,
        None => None,
    };
    let mut rows = Vec::new();
    for tablet in tablets::list(&mut tx, centre).await? {
        let revoked = match tablet.revoked_at {
            Some(at) => Some(show::moment(sessions::local_time(&mut tx, centre, at).await?)),
            None => None,
        };
        rows.push(Row {
            this_one: this.as_ref().is_some_and(|(id, _)| *id == tablet.id),
            id: tablet.id.0.to_string(),
            enrolled: show::moment(sessions::local_time(&mut tx, centre, tablet.enrolled_at).await?),
            by: tablet.enrolled_by,
            name: tablet.name,
            revoked,
        });
    }
    tx.commit().await?;
    let page = TabletsPage {
        page: Page::at(&who.staff, Place::Centre),
        rows,
        this_one: this.map(|(_, name)| name),
        typed,
        ask_password: !proof::is_fresh(who, app.clock.now()),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// Enrols the browser that the form came from.
pub async fn enrol(
    State(app): State<App>,
    Here(here): Here,
    Manager(who): Manager,
    tablet: TabletToken,
    jar: CookieJar,
    Form(sent): Form<Enrolment>,
) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    let name = form::line(&mut faults, "name", &sent.name, 80);
    if !faults.is_empty() {
        return tablets_page(&app, &who, tablet, sent.name, faults, StatusCode::UNPROCESSABLE_ENTITY).await;
    }
    if !proof::given(&app, &who, &sent.own_password, &mut faults).await? {
        return tablets_page(&app, &who, tablet, sent.name, faults, StatusCode::FORBIDDEN).await;
    }
    let (token, now, by) = (Token::new(), app.clock.now(), who.staff.number);
    let mut tx = app.store.begin(who.centre()).await?;
    let enrolled = tablets::enrol(&mut tx, who.centre(), &token.hash(), &name, by, now).await?;
    deeds::note(&mut tx, who.centre(), Some(by), "tablet_enrolled", &about(enrolled, &name), now).await?;
    tx.commit().await?;
    let jar = jar.add(cookies::carry(cookies::Purpose::Tablet, &here, who.centre(), &token));
    Ok((jar, Redirect::to("/centre/tablets")).into_response())
}

/// Revokes a tablet: the next request of whoever is signed in on it is refused.
pub async fn revoke(State(app): State<App>, Manager(who): Manager, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let now = app.clock.now();
    let mut tx = app.store.begin(who.centre()).await?;
    let name = tablets::revoke(&mut tx, who.centre(), TabletId(id), now).await?.ok_or(WebError::Missing("tablet"))?;
    let by = Some(who.staff.number);
    deeds::note(&mut tx, who.centre(), by, "tablet_revoked", &about(TabletId(id), &name), now).await?;
    tx.commit().await?;
    Ok(Redirect::to("/centre/tablets").into_response())
}

fn about(tablet: TabletId, name: &str) -> String {
    format!("{name} ({})", tablet.0)
}
