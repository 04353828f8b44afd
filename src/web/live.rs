//! A running session as a verifier or manager watches it: read only, and fresh within a moment of each tap.
//!
//! The stream says only that something changed; the page then fetches itself, so that what is shown passes the same
//! checks as every page. Without a script there is a link that does the same.

use super::App;
use super::error::WebError;
use super::extract::{Path, SignedIn};
use super::marking::record::Record;
use super::page::{self, Page, html};
use super::sessions::{Loaded, load};
use crate::store::changes::{Changes, Watching};
use crate::store::{CentreId, SessionId, StaffNo, Store, entries};
use askama::Template;
use axum::extract::State;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Redirect, Response};
use futures_util::stream::{Stream, unfold};
use std::collections::HashMap;
use std::convert::Infallible;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Duration;
use tokio::time::{Instant, timeout_at};
use uuid::Uuid;

/// Most streams that one person may have open at once.
const MOST: usize = 4;
/// How long a stream lasts. The browser then asks again, and sign-in and roles are looked at afresh.
const LASTS: Duration = Duration::from_secs(300);
/// How often a stream says that it is still there.
const ALIVE: Duration = Duration::from_secs(15);

/// Who watches, and what they are told.
#[derive(Clone)]
pub struct Live {
    store: Store,
    /// Listening starts with the first who watches.
    changes: Arc<OnceLock<Changes>>,
    open: Arc<Mutex<HashMap<(CentreId, StaffNo), usize>>>,
}

impl Live {
    /// Nobody watches yet.
    pub fn new(store: &Store) -> Self {
        Self { store: store.clone(), changes: Arc::default(), open: Arc::default() }
    }

    /// Ends every stream.
    pub fn stop(&self) {
        if let Some(changes) = self.changes.get() {
            changes.stop();
        }
    }

    fn watch(&self) -> Watching {
        self.changes.get_or_init(|| Changes::listen(&self.store)).watch()
    }

    /// A place for one more stream of this person; `None` where they have as many as they may.
    fn admit(&self, centre: &CentreId, who: StaffNo) -> Option<Place> {
        let whose = (centre.clone(), who);
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        let count = open.entry(whose.clone()).or_default();
        if *count >= MOST {
            return None;
        }
        *count += 1;
        drop(open);
        Some(Place { open: Arc::clone(&self.open), whose })
    }
}

/// A stream's place among those of its person; given back when the stream ends.
struct Place {
    open: Arc<Mutex<HashMap<(CentreId, StaffNo), usize>>>,
    whose: (CentreId, StaffNo),
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = open.get_mut(&self.whose) {
            *count -= 1;
            if *count == 0 {
                open.remove(&self.whose);
            }
        }
    }
}

/// The page of a running session.
#[derive(Template)]
#[template(path = "live/show.html")]
struct LivePage {
    page: Page,
    record: Record,
}

/// Shows the session as it stands.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = to_watch(load(&mut tx, &who, id).await?, &who)?;
    if loaded.result.is_some() {
        return Ok(Redirect::to(&loaded.at("sheet")).into_response());
    }
    let marked = loaded.marked(&mut tx, who.centre()).await?;
    let head = entries::head(&mut tx, who.centre(), loaded.session.id).await?;
    tx.commit().await?;
    let record = Record::of(&loaded, &marked.log, &marked.marking, &head, app.clock.now_ms());
    Ok(html(&LivePage { page: Page::at(&who.staff, page::Place::Sessions), record })?.into_response())
}

/// Says `change` at once, and again whenever something is added to the session.
pub async fn events(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = to_watch(load(&mut tx, &who, id).await?, &who)?;
    tx.commit().await?;
    let place = app.live.admit(who.centre(), who.staff.number).ok_or(WebError::TooMany(30))?;
    let stream = stream(app.live.watch(), place, loaded.session.id);
    Ok(Sse::new(stream).keep_alive(KeepAlive::new().interval(ALIVE)).into_response())
}

/// Verifiers and managers watch; those who mark the session themselves have their own page, and the second of them must
/// not see the first's record.
fn to_watch(loaded: Loaded, who: &SignedIn) -> Result<Loaded, WebError> {
    let marks_it = [Some(loaded.session.assessor), loaded.session.second_marker].contains(&Some(who.staff.number));
    if marks_it || !who.reads_all() {
        return Err(WebError::Forbidden("Only a verifier or a manager who does not mark this session watches it."));
    }
    Ok(loaded)
}

fn stream(watching: Watching, place: Place, session: SessionId) -> impl Stream<Item = Result<Event, Infallible>> {
    let until = Instant::now() + LASTS;
    unfold((watching, place, true), move |(mut watching, place, is_first)| async move {
        if !is_first {
            timeout_at(until, watching.next(&place.whose.0, session)).await.ok()??;
        }
        // A change says nothing but that there is one: what it is, the page asks for itself.
        Some((Ok(Event::default().event("change").data("new")), (watching, place, false)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_person_has_so_many_places_and_gets_them_back() {
        let open = Arc::new(Mutex::new(HashMap::new()));
        let centre = CentreId::new("northgate").unwrap();
        let place = || Place { open: Arc::clone(&open), whose: (centre.clone(), StaffNo(1)) };
        open.lock().unwrap().insert((centre.clone(), StaffNo(1)), 2);
        drop(place());
        assert_eq!(open.lock().unwrap().get(&(centre.clone(), StaffNo(1))), Some(&1));
        drop(place());
        assert!(open.lock().unwrap().is_empty(), "nobody is remembered who has none open");
    }
}
