//! A person's plan as an iCalendar under a private address, and the page on which that address is made and revoked.

use crate::export::calendar::{Calendar, Event};
use crate::planning::Span;
use crate::store::calendar_feeds::{self, Entry};
use crate::store::{CentreId, centres, zones};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Here, Path, SignedIn};
use crate::web::page::{Page, Place, html};
use crate::web::show;
use crate::web::tokens::Token;
use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{Html, IntoResponse, Redirect, Response};
use time::Duration;

/// Days back and ahead that a calendar shows.
const DAYS_BACK: i64 = 60;
const DAYS_AHEAD: i64 = 400;

/// The page about a person's calendar address.
#[derive(Template)]
#[template(path = "plan/feed.html")]
struct FeedPage {
    page: Page,
    all: bool,
    /// When it was made, where there is one.
    made: Option<String>,
    /// The address, just made: it is shown this once.
    address: Option<String>,
}

/// Shows whether there is an address.
pub async fn show(State(app): State<App>, who: SignedIn) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let made = calendar_feeds::made_at(&mut tx, who.centre(), who.staff.number).await?;
    tx.commit().await?;
    page(&who, made.map(show::moment), None)
}

fn page(who: &SignedIn, made: Option<String>, address: Option<String>) -> Result<Html<String>, WebError> {
    html(&FeedPage { page: Page::at(&who.staff, Place::Account), all: who.reads_all(), made, address })
}

/// Makes an address; the one before stops working.
pub async fn make(State(app): State<App>, who: SignedIn, Here(here): Here) -> Result<Html<String>, WebError> {
    let token = Token::new();
    let mut tx = app.store.begin(who.centre()).await?;
    calendar_feeds::make(&mut tx, who.centre(), who.staff.number, &token.hash(), app.clock.now()).await?;
    tx.commit().await?;
    let address = format!("{here}/calendar/{}/{}.ics", who.centre().as_str(), token.hex());
    page(&who, None, Some(address))
}

/// Revokes the address.
pub async fn revoke(State(app): State<App>, who: SignedIn) -> Result<Redirect, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    calendar_feeds::revoke(&mut tx, who.centre(), who.staff.number, app.clock.now()).await?;
    tx.commit().await?;
    Ok(Redirect::to("/plan/feed"))
}

/// The calendar under an address. What is not there, was revoked or makes no sense looks alike.
pub async fn fetch(State(app): State<App>, Path((centre, file)): Path<(String, String)>) -> Result<Response, WebError> {
    let gone = || WebError::Missing("calendar");
    let token = file.strip_suffix(".ics").and_then(Token::from_hex).ok_or_else(gone)?;
    let centre = CentreId::new(&centre).ok_or_else(gone)?;
    let mut tx = app.store.begin(&centre).await?;
    let person = calendar_feeds::whose(&mut tx, &centre, &token.hash()).await?.ok_or_else(gone)?;
    let named = centres::find(&mut tx, &centre).await?.ok_or_else(gone)?;
    let now = app.clock.now();
    let span = Span { from: now - Duration::days(DAYS_BACK), until: now + Duration::days(DAYS_AHEAD) };
    let entries = calendar_feeds::entries(&mut tx, &centre, &person, span).await?;
    let zone = zones::of_centre(&mut tx, &centre, span.from, span.until).await?;
    tx.commit().await?;
    let mut calendar = Calendar::new(&format!("Sessions at {}", named.name), &zone);
    for entry in &entries {
        calendar.add(&event(&centre, entry));
    }
    let headers = [
        (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
        (header::CACHE_CONTROL, "no-store"),
        (header::CONTENT_DISPOSITION, "inline; filename=\"sessions.ics\""),
    ];
    Ok((headers, calendar.finish()).into_response())
}

/// A session as an event. Calendars travel far, so that nothing of the candidate is in it.
fn event(centre: &CentreId, entry: &Entry) -> Event {
    Event {
        uid: format!("{}@{}", entry.id, centre.as_str()),
        // Where it is not known when the plan was last changed, it has been the same since it came to be.
        stamp: entry.changed_at.unwrap_or(entry.planned_at),
        start: entry.planned_at,
        end: entry.planned_at + Duration::minutes(entry.length.minutes.into()),
        summary: format!("{}, {}", entry.task_title, entry.bay),
        description: Some(format!("Assessor u-{}", entry.assessor.0)),
        location: None,
        sequence: u32::try_from(entry.sequence).unwrap_or(0),
        cancelled: entry.cancelled,
    }
}
