//! Today's sessions.

use crate::store::sessions::{self, Listed, Standing};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::SignedIn;
use crate::web::page::{Page, Place, html};
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::response::Html;

/// The list of today's sessions.
#[derive(Template)]
#[template(path = "sessions/list.html")]
struct ListPage {
    page: Page,
    today: String,
    /// Whether other assessors' sessions are in the list.
    all: bool,
    rows: Vec<Row>,
}

/// One line of the list.
struct Row {
    href: String,
    /// Its id, where whoever looks may still have something to mark there: a tablet keeps such a page.
    to_mark: Option<String>,
    day: Option<String>,
    time: String,
    name: String,
    reference: String,
    task: String,
    bay: String,
    assessor: String,
    sign: Sign,
    /// Where something arrived after the signature.
    review: Option<Sign>,
    /// For those who sample: a finding was overruled.
    sample: Option<Sign>,
    next: &'static str,
}

/// Shows the sessions of today and those still open: an assessor's own, or the whole centre's.
pub async fn show(State(app): State<App>, who: SignedIn) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let now = sessions::local_time(&mut tx, who.centre(), app.clock.now()).await?;
    let only = (!who.reads_all()).then_some(who.staff.number);
    let listed = sessions::of_day(&mut tx, who.centre(), now.date(), only).await?;
    tx.commit().await?;
    let rows = listed.into_iter().map(|listed| row(listed, now.date(), &who)).collect();
    html(&ListPage { page: Page::at(&who.staff, Place::Sessions), today: show::day(now), all: who.reads_all(), rows })
}

fn row(listed: Listed, today: time::Date, who: &SignedIn) -> Row {
    let second = listed.second_marker == Some(who.staff.number);
    let own = second || listed.assessor == who.staff.number;
    // A second marker works blind, and so does their list.
    let standing = match listed.standing {
        Standing::Signed(_) if second => Standing::Open,
        standing => standing,
    };
    Row {
        to_mark: (own && !matches!(standing, Standing::Signed(_))).then(|| listed.id.0.to_string()),
        href: format!("/sessions/{}", listed.id.0),
        day: (listed.planned_local.date() != today).then(|| show::day(listed.planned_local)),
        time: show::time_of_day(listed.planned_local),
        name: listed.candidate_name,
        reference: listed.candidate_reference,
        task: listed.task_title,
        bay: listed.bay,
        assessor: listed.assessor_name,
        sign: show::standing(standing),
        review: (listed.to_review && !second).then_some(show::TO_REVIEW),
        sample: (listed.sampled && who.reads_all()).then_some(show::SAMPLED),
        next: match standing {
            Standing::Planned if second => "Second marking",
            Standing::Planned if own => "Prepare the bay",
            Standing::Open if own => "Go on marking",
            Standing::Planned | Standing::Open => "Look",
            Standing::Signed(_) => "Result sheet",
            Standing::Cancelled | Standing::NoShow => "Look",
        },
    }
}
