//! Published tasks and their checklists, to read.

use super::App;
use super::cards::fails_words;
use super::criteria::{self, typed::Typed};
use super::error::WebError;
use super::extract::{Path, SignedIn};
use super::form::Faults;
use super::page::{Page, Place, html};
use crate::bay::Conductor;
use crate::bay::plan::{self, Plan};
use crate::marking::{Decided, Task};
use crate::store::{TaskId, task_drafts, tasks};
use crate::web::show::Drawing;
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use sqlx::PgConnection;
use std::collections::BTreeMap;
use uuid::Uuid;

/// The list of tasks.
#[derive(Template)]
#[template(path = "tasks/list.html")]
pub struct ListPage {
    page: Page,
    may_write: bool,
    rows: Vec<Row>,
    /// What a new task can begin from.
    sources: Vec<(String, String)>,
    typed: Typed,
    faults: Faults,
}

/// One line of the list.
struct Row {
    id: Uuid,
    title: String,
    draft: bool,
    version: Option<i32>,
}

impl ListPage {
    fn ways(&self) -> [(&'static str, &'static str); 4] {
        [
            ("example", "the example that comes with the program"),
            ("empty", "nothing"),
            ("copy", "a copy of one of the centre’s tasks"),
            ("bay", "the bay of one of the centre’s tasks, and all else empty"),
        ]
    }
}

/// One version of a task.
#[derive(Template)]
#[template(path = "tasks/show.html")]
pub struct TaskPage {
    pub page: Page,
    pub id: Uuid,
    pub task: Task,
    pub version: i32,
    pub digest: String,
    pub isolates: String,
    pub drawing: Drawing,
    pub plan: Plan,
    /// For each pair, what only it would show; for the switches, the fewest throws. Empty where it cannot be worked out.
    pub pair_reasons: Vec<(String, String)>,
    pub throws: Vec<String>,
}

/// Shows the newest version of every task, and what is being written.
pub async fn list(State(app): State<App>, who: SignedIn) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let page = list_page(&mut tx, &who, Typed::default(), Faults::none()).await?;
    tx.commit().await?;
    html(&page)
}

/// The list, with what was typed into the form for a new task.
pub async fn list_page(
    tx: &mut PgConnection,
    who: &SignedIn,
    mut typed: Typed,
    faults: Faults,
) -> Result<ListPage, WebError> {
    if !typed.has("how") {
        typed.set("how", "example");
    }
    let mut rows: BTreeMap<Uuid, Row> = BTreeMap::new();
    let mut sources = Vec::new();
    for task in tasks::list(tx, who.centre()).await? {
        sources.push((format!("task:{}", task.id.0), format!("{}, version {}", task.title, task.version)));
        let row = Row { id: task.id.0, title: task.title, draft: false, version: Some(task.version) };
        rows.insert(task.id.0, row);
    }
    for draft in task_drafts::list(tx, who.centre()).await? {
        sources.push((format!("draft:{}", draft.id.0), format!("{}, draft", draft.title)));
        let empty = Row { id: draft.id.0, title: String::new(), draft: true, version: None };
        let row = rows.entry(draft.id.0).or_insert(empty);
        (row.title, row.draft) = (draft.title, true);
    }
    let mut rows: Vec<Row> = rows.into_values().collect();
    rows.sort_by_key(|row| (row.title.to_lowercase(), row.id));
    let may_write = criteria::may_write(&who.staff);
    Ok(ListPage { page: Page::at(&who.staff, Place::Tasks), may_write, rows, sources, typed, faults })
}

/// Shows one version.
pub async fn show(
    State(app): State<App>,
    who: SignedIn,
    Path((id, version)): Path<(Uuid, i32)>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let published = tasks::find(&mut tx, who.centre(), TaskId(id), version).await?.ok_or(WebError::Missing("task"))?;
    tx.commit().await?;
    html(&TaskPage::of(Page::at(&who.staff, Place::Tasks), published.task, (id, version), &published.digest))
}

impl TaskPage {
    /// The page of one version.
    pub fn of(page: Page, task: Task, (id, version): (Uuid, i32), digest: &str) -> Self {
        let isolate = &task.bay.isolate;
        let circuit = task.bay.circuit(&isolate.circuit).map_or(isolate.circuit.as_str(), |circuit| &circuit.label);
        let point = task.bay.point(&isolate.point).map_or(isolate.point.as_str(), |point| &point.label);
        let isolates = format!("{circuit}, fed by {}, proved dead at {point}", isolate.device);
        let reasons = plan::reasons(&task.bay).ok();
        let alone = |pair: &[Conductor; 2]| {
            let reason = reasons.iter().flat_map(|reasons| &reasons.pairs).find(|reason| reason.pair == *pair);
            reason.map(|reason| reason.says.clone()).unwrap_or_default()
        };
        let plan = plan::plan(&task.bay, task.checklist.rounds());
        let named = |pair: &[Conductor; 2]| (format!("{} then {}", pair[0], pair[1]), alone(pair));
        Self {
            pair_reasons: plan.pairs.iter().map(named).collect(),
            throws: reasons.iter().flat_map(|reasons| &reasons.exposing).map(plan::Exposing::says).collect(),
            plan,
            page,
            id,
            version,
            digest: digest.chars().take(16).collect(),
            isolates,
            drawing: Drawing::of_task(&task.bay),
            task,
        }
    }

    /// How a criterion is decided, in words.
    pub fn decided(&self, decided: &Decided) -> &'static str {
        match decided {
            Decided::ByEye => "by eye",
            Decided::Rule(_) => "worked out",
        }
    }

    /// What a criterion that is not met does.
    pub fn fails(&self, fails: &crate::marking::Fails) -> &'static str {
        fails_words(*fails)
    }

    /// Letters of the conductors at a point.
    pub fn letters(&self, point: &crate::bay::Point) -> String {
        point.conductors.iter().map(|one| one.letters()).collect::<Vec<_>>().join(", ")
    }
}
