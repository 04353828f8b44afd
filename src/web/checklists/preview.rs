//! How a checklist marks an example, or a session of the centre: shown and never stored.

use super::load;
use crate::marking::decision::decide;
use crate::marking::retrial::{with_checklist, with_eye_met};
use crate::marking::{ChecklistFile, Decided, Log, Task, examples, feed, mark_without_coverage};
use crate::store::{entries, past};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Path, Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::sessions;
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use sqlx::PgConnection;
use uuid::Uuid;

/// How many past sessions are offered.
const OFFERED: i64 = 30;

/// A checklist at work on one log.
#[derive(Template)]
#[template(path = "checklists/preview.html")]
struct PreviewPage {
    page: Page,
    id: Uuid,
    title: String,
    draft: bool,
    of: String,
    options: Vec<(String, String)>,
    task: String,
    verdict: Sign,
    marks: String,
    /// Where nobody judged what is by eye: how many, and what it would come to if all of it were met.
    unjudged: Option<(usize, Sign)>,
    /// Rules that the task cannot feed: the criterion and why.
    unfed: Vec<(String, String)>,
    stages: Vec<(String, Vec<Row>)>,
    faults: Faults,
}

/// What became of one criterion.
struct Row {
    says: String,
    sign: Sign,
    finding: String,
    minute: String,
    by_eye: bool,
}

/// What is marked: `example:NAME` or `session:UUID`.
#[derive(Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    of: String,
}

/// Shows the marking.
pub async fn show(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, who.centre(), id).await?;
    let content = loaded.content()?;
    let of = if asked.of.is_empty() { format!("example:{}", examples::ALL[0].name) } else { asked.of };
    let (task, log) = chosen(&mut tx, &who, &of).await?;
    let only = (!who.reads_all()).then_some(who.staff.number);
    let mut options: Vec<(String, String)> =
        examples::ALL.iter().map(|one| (format!("example:{}", one.name), one.title.to_owned())).collect();
    for (session, name, title) in past::newest(&mut tx, who.centre(), only, OFFERED).await? {
        options.push((format!("session:{}", session.0), format!("{name}: {title}")));
    }
    tx.commit().await?;
    let task = with_checklist(&task, &content);
    let marking = mark_without_coverage(&task, &log);
    let says = |unfed: feed::Unfed| {
        let criterion = task.checklist.criterion(&unfed.criterion).map(|one| one.says.clone());
        (criterion.unwrap_or_default(), unfed.says)
    };
    let met = with_eye_met(&task, &marking, &[]);
    let as_met = decide(&task, &marking, &met).verdict.outcome;
    html(&PreviewPage {
        unjudged: (!met.is_empty()).then(|| (met.len(), show::verdict(as_met))),
        page: Page::at(&who.staff, Place::Checklists),
        id,
        title: content.title.clone(),
        draft: loaded.draft.is_some(),
        of,
        options,
        verdict: show::verdict(marking.verdict.outcome),
        marks: show::marks(&marking.verdict),
        unfed: feed::unfed(&task).into_iter().map(says).collect(),
        stages: stages(&content, &marking),
        task: task.title.clone(),
        faults: Faults::none(),
    })
}

async fn chosen(tx: &mut PgConnection, who: &SignedIn, of: &str) -> Result<(Task, Log), WebError> {
    match of.split_once(':') {
        Some(("example", name)) => {
            let example = examples::named(name).ok_or(WebError::Missing("example"))?;
            example.read().map_err(|_| WebError::ours("a shipped example cannot be read"))
        }
        Some(("session", id)) => {
            let id = id.parse().map_err(|_| WebError::Missing("session"))?;
            let loaded = sessions::load(tx, who, id).await?;
            let log = entries::log_of(tx, who.centre(), loaded.session.id, loaded.marker.number, &loaded.task).await?;
            Ok((loaded.task, log))
        }
        _ => Err(WebError::Missing("example")),
    }
}

/// The findings under their stages. Findings come in the order of the checklist.
fn stages(content: &ChecklistFile, marking: &crate::marking::Marking) -> Vec<(String, Vec<Row>)> {
    let mut findings = marking.findings.iter();
    let stage = |stage: &crate::marking::Stage| {
        let rows = stage.criteria.iter().zip(findings.by_ref()).map(|(criterion, finding)| Row {
            says: criterion.says.clone(),
            sign: show::outcome(finding.outcome),
            finding: finding.says.clone(),
            minute: finding.at_ms.map(show::clock).unwrap_or_default(),
            by_eye: criterion.decided == Decided::ByEye,
        });
        (stage.title.clone(), rows.collect())
    };
    content.checklist.stages.iter().map(stage).collect()
}
