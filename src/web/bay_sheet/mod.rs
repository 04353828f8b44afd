//! The bay sheet: how a bay is set up, what is expected to be read there and what is put back. Not for candidates.

pub mod lists;
mod planting;
mod readings;

use super::App;
use super::error::WebError;
use super::extract::{Path, SignedIn};
use super::page::{Page, Place, html};
use super::sessions;
use super::show::{self, Drawing};
use crate::bay::Bay;
use crate::bay::network::State as Stands;
use crate::marking::Task;
use crate::store::sessions::local_time;
use crate::store::{TaskId, tasks};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use lists::Laid;
use planting::Planted;
use readings::Table;
use uuid::Uuid;

/// The session a sheet is for.
struct For {
    at: String,
    bay: String,
    when: String,
    /// The candidate's reference: whoever prepares the bay needs no name.
    reference: String,
}

/// The sheet of a task, or of one session of it.
#[derive(Template)]
#[template(path = "bay_sheet/show.html")]
struct BaySheet {
    page: Page,
    id: Uuid,
    version: i32,
    title: String,
    isolates: String,
    of: Option<For>,
    on_table: Vec<Laid>,
    positions: Vec<String>,
    planted: Vec<Planted>,
    always: [&'static str; 4],
    drawing: Drawing,
    tables: Vec<Table>,
    switches: Vec<String>,
    has_lamp: bool,
    put_back: Vec<String>,
}

/// The sheet of one version of a task.
pub async fn of_task(
    State(app): State<App>,
    who: SignedIn,
    Path((id, version)): Path<(Uuid, i32)>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let published = tasks::find(&mut tx, who.centre(), TaskId(id), version).await?.ok_or(WebError::Missing("task"))?;
    tx.commit().await?;
    html(&sheet(Page::at(&who.staff, Place::Tasks), (id, version), &published.task, None))
}

/// The sheet of one session, for those who may see the session.
pub async fn of_session(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = sessions::load(&mut tx, &who, id).await?;
    let when = show::moment(local_time(&mut tx, who.centre(), loaded.session.planned_at).await?);
    tx.commit().await?;
    let of = For {
        at: format!("/sessions/{id}"),
        bay: loaded.session.bay.clone(),
        when,
        reference: loaded.candidate.reference.clone(),
    };
    let version = (loaded.session.task.0, loaded.session.task_version);
    html(&sheet(Page::at(&who.staff, Place::Sessions), version, &loaded.task, Some(of)))
}

fn sheet(page: Page, (id, version): (Uuid, i32), task: &Task, of: Option<For>) -> BaySheet {
    let bay = &task.bay;
    let (tables, switches) = readings::tables(bay);
    let planted = planting::planted(bay);
    let point = bay.point(&bay.isolate.point);
    let circuit = bay.circuit(&bay.isolate.circuit).map_or(bay.isolate.circuit.as_str(), |circuit| &circuit.label);
    let at = point.map_or(bay.isolate.point.as_str(), |point| &point.label);
    BaySheet {
        page,
        id,
        version,
        title: task.title.clone(),
        isolates: format!("{circuit}, by {}, proved dead at {at}", bay.isolate.device),
        of,
        on_table: lists::table(task),
        positions: lists::positions(bay),
        always: planting::ALWAYS,
        drawing: Drawing::circuit(bay, &Stands::set_up(bay), &bay.setup.planted, "circuit"),
        tables,
        switches,
        has_lamp: point.is_some_and(|point| point.lamp),
        put_back: put_back(bay, &planted),
        planted,
    }
}

/// What is put back after the candidate has left.
fn put_back(bay: &Bay, planted: &[Planted]) -> Vec<String> {
    let mut lines =
        vec!["Locks, lock-off devices and notices are off the board, and each key is with its padlock.".to_owned()];
    if let Some(point) = bay.point(&bay.isolate.point) {
        let lamp = if point.lamp { ", its lamp is in" } else { "" };
        lines.push(format!("{}: every conductor is back in its terminal{lamp}, and it is closed.", point.label));
    }
    lines.extend(planted.iter().map(|fault| format!("Unless the next session needs it: {}", fault.undone)));
    lines.push("Devices and switches stand again as under “How everything stands at the start”.".into());
    lines.push(format!(
        "All {} things are back on the table. What is damaged on purpose is marked, so that nobody works with it.",
        bay.table.len()
    ));
    lines.push("The readings before the isolation are those of part 6. Anything else is reported before the bay is used again.".into());
    lines
}
