//! One candidate: details, adjustments, and the sessions they had and will have.

use super::{load, may_write};
use crate::store::candidates::Candidate;
use crate::store::session_list::{self, Search};
use crate::store::sessions::{self, Standing};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Path, Reader};
use crate::web::page::{Page, Place, html};
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use uuid::Uuid;

/// Most sessions that are shown of one person.
const MOST: usize = 100;

/// The page of a candidate.
#[derive(Template)]
#[template(path = "candidates/show.html")]
struct ShowPage {
    page: Page,
    id: String,
    candidate: Candidate,
    adjustments: Vec<String>,
    added: String,
    erased: Option<String>,
    planned: Vec<Row>,
    had: Vec<Row>,
    /// Whether there are older sessions than those shown.
    older: bool,
    may_write: bool,
}

/// A session of theirs.
struct Row {
    href: String,
    when: String,
    task: String,
    bay: String,
    assessor: String,
    sign: Sign,
    resit: bool,
}

/// Shows a candidate.
pub async fn show(State(app): State<App>, Reader(who): Reader, Path(id): Path<Uuid>) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load(&mut tx, who.centre(), id).await?;
    let search = Search { candidates: Some(vec![candidate.id]), ..Search::default() };
    let mut found = session_list::page(&mut tx, who.centre(), &search, None, MOST as i64 + 1).await?;
    let added = show::moment(sessions::local_time(&mut tx, who.centre(), candidate.added_at).await?);
    let erased = match candidate.erased_at {
        Some(at) => Some(show::moment(sessions::local_time(&mut tx, who.centre(), at).await?)),
        None => None,
    };
    tx.commit().await?;
    let older = found.len() > MOST;
    found.truncate(MOST);
    let (mut planned, had): (Vec<_>, Vec<_>) = found.into_iter().partition(|row| row.standing == Standing::Planned);
    // What comes first is what one looks for.
    planned.reverse();
    html(&ShowPage {
        page: Page::at(&who.staff, Place::Candidates),
        id: id.to_string(),
        adjustments: candidate.adjustments.words(),
        candidate,
        added,
        erased,
        planned: planned.into_iter().map(Row::of).collect(),
        had: had.into_iter().map(Row::of).collect(),
        older,
        may_write: may_write(&who),
    })
}

impl Row {
    fn of(row: session_list::Row) -> Self {
        Self {
            href: format!("/sessions/{}", row.id.0),
            when: show::moment(row.planned_local),
            task: row.task_title,
            bay: row.bay,
            assessor: row.assessor_name,
            sign: show::standing(row.standing),
            resit: row.resit,
        }
    }
}
