//! What would change: past sessions marked anew under a checklist that is not published yet. Nothing is written.

use super::load;
use crate::marking::retrial::{Because, Counts, Retrial, Unjudged, retry, with_checklist};
use crate::marking::{ChecklistFile, Fails, Outcome, Task, VerdictOutcome};
use crate::store::past::{self, Past};
use crate::store::{CentreId, SessionId, Store, TaskId, tasks};
use crate::web::App;
use crate::web::criteria::fails_word;
use crate::web::error::WebError;
use crate::web::extract::{Path, Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::show::{self, Sign};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use std::collections::HashMap;
use std::sync::Arc;
use tokio::sync::Semaphore;
use uuid::Uuid;

/// Most sessions of one task that are marked anew, the newest of them.
pub const MOST: usize = 2_000;

/// Most sessions that are listed one by one.
const LISTED: usize = 100;

/// Sessions that are read at once, and so all that is held in memory.
const BATCH: i64 = 50;

/// One such question at a time: it keeps a core busy, and those who mark must not wait for it.
static ONE: Semaphore = Semaphore::const_new(1);

/// What would change.
#[derive(Template)]
#[template(path = "checklists/change.html")]
struct ChangePage {
    page: Page,
    id: Uuid,
    title: String,
    draft: bool,
    task: String,
    eye: &'static str,
    options: Vec<(String, String)>,
    /// The answer, once a task is chosen.
    answer: Option<Answer>,
    most: usize,
    faults: Faults,
}

/// What came out.
#[derive(Default)]
struct Answer {
    counts: Counts,
    rows: Vec<Row>,
    /// Sessions that would differ and are not listed: there are too many, or they are other assessors'.
    unlisted: u32,
    /// Whether a task has more sessions than are marked anew.
    cut: bool,
}

/// A session whose outcome would differ.
struct Row {
    href: String,
    candidate: String,
    was: Sign,
    is: Sign,
    because: Vec<String>,
}

impl ChangePage {
    fn eyes(&self) -> [(&'static str, &'static str); 2] {
        [("open", "not judged: the session is unfinished"), ("met", "met: to see what the rules alone change")]
    }
}

impl Answer {
    fn outcomes(&self) -> [(VerdictOutcome, Sign); 4] {
        Counts::OUTCOMES.map(|outcome| (outcome, show::verdict(outcome)))
    }

    /// Outcomes that a signed session can have.
    fn signed(&self) -> [(VerdictOutcome, Sign); 3] {
        [VerdictOutcome::Pass, VerdictOutcome::Fail, VerdictOutcome::AutomaticFail]
            .map(|outcome| (outcome, show::verdict(outcome)))
    }

    fn count(&self, was: &VerdictOutcome, is: &VerdictOutcome) -> u32 {
        self.counts.of(*was, *is)
    }
}

/// The task that is asked about: its identifier, or `all` for those made with this checklist.
#[derive(Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    task: String,
    /// What is by eye and nobody judged counts as `met`, or leaves the session unfinished.
    #[serde(default)]
    eye: String,
}

/// Asks for a task, or answers.
pub async fn show(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, who.centre(), id).await?;
    let listed = tasks::list(&mut tx, who.centre()).await?;
    tx.commit().await?;
    let mut users: Vec<Uuid> = loaded.users.iter().map(|user| user.task.0).collect();
    users.sort_unstable();
    users.dedup();
    let mut options = Vec::new();
    if !users.is_empty() {
        options.push(("all".to_owned(), format!("Every task made with this checklist ({})", users.len())));
    }
    options.extend(listed.iter().map(|task| (task.id.0.to_string(), task.title.clone())));
    let chosen: Vec<TaskId> = match asked.task.as_str() {
        "" => Vec::new(),
        "all" => users.into_iter().map(TaskId).collect(),
        one => {
            let id = one.parse().map_err(|_| WebError::Missing("task"))?;
            let there = listed.iter().any(|task| task.id.0 == id);
            if !there {
                return Err(WebError::Missing("task"));
            }
            vec![TaskId(id)]
        }
    };
    let content = loaded.content()?;
    let unjudged = if asked.eye == "met" { Unjudged::Met } else { Unjudged::Open };
    let answer = match asked.task.as_str() {
        "" => None,
        _ => Some(answer(&app.store, &who, &content, &chosen, unjudged).await?),
    };
    html(&ChangePage {
        page: Page::at(&who.staff, Place::Checklists),
        id,
        title: content.title,
        draft: loaded.draft.is_some(),
        task: asked.task,
        eye: if unjudged == Unjudged::Met { "met" } else { "open" },
        options,
        answer,
        most: MOST,
        faults: Faults::none(),
    })
}

/// Marks every signed session of the tasks anew, batch by batch, each read in a transaction of its own, so that nothing is
/// held while it is marked.
async fn answer(
    store: &Store,
    who: &SignedIn,
    content: &ChecklistFile,
    chosen: &[TaskId],
    unjudged: Unjudged,
) -> Result<Answer, WebError> {
    let _alone = ONE.acquire().await.map_err(|_| WebError::ours("the gate is closed"))?;
    let mut answer = Answer::default();
    for task in chosen {
        let mut versions: HashMap<i32, Arc<(Task, Task)>> = HashMap::new();
        let (mut before, mut seen) = (None, 0);
        loop {
            let batch = read(store, who, *task, before, content, &mut versions).await?;
            let Some(last) = batch.last() else { break };
            before = Some(last.0.id);
            seen += batch.len();
            let marked = tokio::task::spawn_blocking(move || -> Vec<_> {
                batch.into_iter().map(|case| mark(case, unjudged)).collect()
            });
            for (past, retrial) in marked.await.map_err(|_| WebError::ours("marking anew broke off"))? {
                answer.add(who, past, retrial);
            }
            if seen >= MOST {
                answer.cut = true;
                break;
            }
        }
    }
    Ok(answer)
}

/// A session with its task as it is and as it would be.
type Case = (Past, Arc<(Task, Task)>);

async fn read(
    store: &Store,
    who: &SignedIn,
    task: TaskId,
    before: Option<SessionId>,
    content: &ChecklistFile,
    versions: &mut HashMap<i32, Arc<(Task, Task)>>,
) -> Result<Vec<Case>, WebError> {
    let centre: &CentreId = who.centre();
    let mut tx = store.begin(centre).await?;
    let batch = past::of_task(&mut tx, centre, task, before, BATCH, who.staff.number).await?;
    let mut cases = Vec::with_capacity(batch.len());
    for past in batch {
        let tasks = match versions.get(&past.task_version) {
            Some(tasks) => Arc::clone(tasks),
            None => {
                let published = tasks::find(&mut tx, centre, task, past.task_version).await?;
                let is = published.ok_or_else(|| WebError::ours("a session without its task"))?.task;
                let would = with_checklist(&is, content);
                let tasks = Arc::new((is, would));
                versions.insert(past.task_version, Arc::clone(&tasks));
                tasks
            }
        };
        cases.push((past, tasks));
    }
    tx.commit().await?;
    Ok(cases)
}

fn mark((past, tasks): Case, unjudged: Unjudged) -> (Past, Retrial) {
    let retrial = if past.extra == Default::default() {
        retry(&tasks.0, &tasks.1, &past.log, &past.decisions, past.signed, unjudged)
    } else {
        let (is, would) = (tasks.0.clone().with_extra(past.extra), tasks.1.clone().with_extra(past.extra));
        retry(&is, &would, &past.log, &past.decisions, past.signed, unjudged)
    };
    (past, retrial)
}

impl Answer {
    fn add(&mut self, who: &SignedIn, past: Past, retrial: Retrial) {
        let is = retrial.verdict.outcome;
        self.counts.add(past.signed, is);
        if is == past.signed {
            return;
        }
        let may_read = who.reads_all() || past.assessor == who.staff.number;
        if !may_read || self.rows.len() >= LISTED {
            self.unlisted += 1;
            return;
        }
        self.rows.push(Row {
            href: format!("/sessions/{}/sheet", past.id.0),
            candidate: past.candidate_name,
            was: show::verdict(past.signed),
            is: show::verdict(is),
            because: retrial.because.iter().map(because_words).collect(),
        });
    }
}

/// One criterion that makes the difference, as a sentence.
fn because_words(because: &Because) -> String {
    let side = |(outcome, fails): (Outcome, Fails)| format!("{} ({})", show::outcome(outcome).word, fails_word(fails));
    let says = &because.says;
    match (because.was, because.is) {
        (Some(was), Some(is)) => format!("“{says}”: was {}, would be {}.", side(was), side(is)),
        (None, Some(is)) => format!("“{says}”: new, would be {}.", side(is)),
        (Some(was), None) => format!("“{says}”: was {}, would be gone.", side(was)),
        (None, None) => format!("“{says}”."),
    }
}
