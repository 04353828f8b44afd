//! The copy of everything that is held about one person (UK GDPR, article 15), to read and to hand over.

use super::load;
use crate::export::person::{self, Person};
use crate::marking::words::describe;
use crate::marking::{CriterionId, Task};
use crate::store::candidates::Candidate;
use crate::store::session_list::{self, Search};
use crate::store::{
    CentreId, SessionId, StaffNo, centres, decisions, deeds, devices, entries, feedback, identity, sessions as stored,
    staff,
};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Manager, Path};
use crate::web::page::{Page, Place, html};
use crate::web::{sessions, show};
use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// Sessions that are read at once.
const STRIDE: i64 = 100;

/// The copy as a page.
#[derive(Template)]
#[template(path = "candidates/data.html")]
struct DataPage {
    page: Page,
    id: String,
    person: Person,
    adjustments: String,
    sessions: Vec<Shown>,
}

/// A session with its times in the centre's zone and its acts in words.
struct Shown {
    data: person::Session,
    when: String,
    signed: Option<String>,
    marks: Option<String>,
    logs: Vec<(String, Vec<(String, String)>)>,
    links: Vec<String>,
}

/// Shows everything that is held.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Path(id): Path<Uuid>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load(&mut tx, who.centre(), id).await?;
    let adjustments = candidate.adjustments.words().join(", ");
    let (mut person, tasks) = gather(&mut tx, who.centre(), candidate, app.clock.now()).await?;
    let mut shown = Vec::new();
    for (data, task) in std::mem::take(&mut person.sessions).into_iter().zip(&tasks) {
        shown.push(Shown::of(&mut tx, who.centre(), data, task).await?);
    }
    tx.commit().await?;
    let page = Page::at(&who.staff, Place::Candidates);
    html(&DataPage { page, id: id.to_string(), person, adjustments, sessions: shown })
}

/// Hands everything over as a file, and notes that it was.
pub async fn file(State(app): State<App>, Manager(who): Manager, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let now = app.clock.now();
    let mut tx = app.store.begin(who.centre()).await?;
    let candidate = load(&mut tx, who.centre(), id).await?;
    let (person, _) = gather(&mut tx, who.centre(), candidate, now).await?;
    deeds::note(&mut tx, who.centre(), Some(who.staff.number), "candidate_data_given", &id.to_string(), now).await?;
    tx.commit().await?;
    let file = person::json(&person).map_err(|why| WebError::Ours(Box::new(why)))?;
    let headers = [
        (header::CONTENT_TYPE, "application/json"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"held-data.json\""),
    ];
    Ok((headers, file).into_response())
}

/// Everything that is held, and the task of each session.
async fn gather(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: Candidate,
    now: OffsetDateTime,
) -> Result<(Person, Vec<Task>), WebError> {
    let settings = centres::settings(tx, centre).await?.ok_or_else(|| WebError::ours("a centre without a row"))?;
    let (mut told, mut tasks) = (Vec::new(), Vec::new());
    for id in all_sessions(tx, &candidate, centre).await? {
        let (session, task) = session(tx, centre, id).await?;
        told.push(session);
        tasks.push(task);
    }
    let adjustments = candidate.adjustments;
    let person = Person {
        version: person::VERSION,
        made_at: now,
        about: person::About {
            centre: settings.name,
            purposes: person::PURPOSES,
            recipients: person::RECIPIENTS,
            kept_months: person::KeptMonths {
                details_after_last_session: settings.keep.candidates,
                evidence_after_signature: settings.keep.evidence,
                texts_after_signature: settings.keep.texts,
                links: settings.keep.links,
            },
            source: person::SOURCE,
            rights: person::RIGHTS,
            automated_decisions: person::AUTOMATED,
        },
        candidate: person::Candidate {
            id: candidate.id.0,
            name: candidate.name,
            called: candidate.called,
            sort_name: candidate.sort_name,
            reference: candidate.reference,
            extra_percent: adjustments.extra.percent,
            extra_minutes: adjustments.extra.minutes,
            reader: adjustments.reader,
            other_adjustment: adjustments.other,
            added_at: candidate.added_at,
            erased_at: candidate.erased_at,
        },
        sessions: told,
    };
    Ok((person, tasks))
}

/// Every session of a candidate, the oldest first.
async fn all_sessions(
    tx: &mut PgConnection,
    candidate: &Candidate,
    centre: &CentreId,
) -> Result<Vec<SessionId>, WebError> {
    let search = Search { candidates: Some(vec![candidate.id]), ..Search::default() };
    let (mut all, mut after) = (Vec::new(), None);
    loop {
        let page = session_list::page(tx, centre, &search, after, STRIDE).await?;
        let Some(last) = page.last() else { break };
        after = Some(session_list::After { planned_at: last.planned_at, id: last.id });
        all.extend(page.iter().map(|row| row.id));
    }
    all.reverse();
    Ok(all)
}

async fn session(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<(person::Session, Task), WebError> {
    let gone = || WebError::ours("a session that is listed and not there");
    let row = stored::find(tx, centre, id).await?.ok_or_else(gone)?;
    let second = row.second_marker;
    let loaded = sessions::rest_of(tx, centre, row).await?;
    let (logs, findings) = match loaded.session.opened_at {
        Some(_) => {
            let marked = loaded.marked(tx, centre).await?;
            let mut markers = vec![loaded.assessor.number];
            markers.extend(second);
            let mut logs = Vec::new();
            for marker in markers {
                logs.push(log(tx, centre, id, marker, &loaded.task).await?);
            }
            (logs, findings(&loaded.task, &marked))
        }
        None => (Vec::new(), Vec::new()),
    };
    let made = decisions::of_session(tx, centre, id).await?.into_iter();
    let result = match loaded.result {
        Some(result) => Some(person::Result {
            signed_by: name_of(tx, centre, result.by).await?,
            verdict: result.verdict,
            signed_at: result.at,
        }),
        None => None,
    };
    let standing = match (&result, &loaded.session.given_up, loaded.session.opened_at) {
        (Some(result), ..) => show::verdict(result.verdict.outcome).word,
        (None, Some(given_up), _) => given_up.how.word(),
        (None, None, Some(_)) => "open",
        (None, None, None) => "planned",
    };
    let given_up =
        loaded.session.given_up.map(|one| person::GivenUp { how: one.how.word(), at: one.at, reason: one.reason });
    let links = feedback::made(tx, centre, id).await?.into_iter().map(|link| person::Link {
        made_at: link.made_at,
        expires_at: link.expires_at,
        revoked_at: link.revoked_at,
        visits: link.visits,
    });
    let told = person::Session {
        id: id.0,
        task: loaded.task.title.clone(),
        task_version: loaded.session.task_version,
        bay: loaded.session.bay,
        assessor: loaded.assessor.name,
        planned_at: loaded.session.planned_at,
        extra_percent: loaded.session.extra.percent,
        extra_minutes: loaded.session.extra.minutes,
        standing,
        given_up,
        resit_of: loaded.session.resit_of.map(|earlier| earlier.0),
        identity: identity::find(tx, centre, id).await?.map(|(how, _)| how.word()),
        opened_at: loaded.session.opened_at,
        details_with_evidence: entries::details(tx, centre, id).await?,
        logs,
        gaps: devices::stated(tx, centre, id).await?.into_iter().map(|gap| gap.reason).collect(),
        findings,
        decisions: made
            .map(|one| person::Decision { criterion: one.criterion, outcome: one.outcome, reason: one.reason })
            .collect(),
        result,
        feedback_links: links.collect(),
    };
    Ok((told, loaded.task))
}

async fn log(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    marker: StaffNo,
    task: &Task,
) -> Result<person::Log, WebError> {
    let observations = entries::log_of(tx, centre, session, marker, task).await?.observations().to_vec();
    let late = entries::late_of(tx, centre, session, marker).await?;
    Ok(person::Log { marker: name_of(tx, centre, marker).await?, observations, late })
}

async fn name_of(tx: &mut PgConnection, centre: &CentreId, number: StaffNo) -> Result<String, WebError> {
    Ok(staff::find(tx, centre, number).await?.map_or_else(|| format!("u-{}", number.0), |person| person.name))
}

fn findings(task: &Task, marked: &sessions::Marked) -> Vec<person::Finding> {
    let asks = |id: &CriterionId| task.checklist.criterion(id).map_or_else(String::new, |one| one.says.clone());
    let finding = |standing: &crate::marking::decision::Standing| person::Finding {
        criterion: standing.proposed.criterion.clone(),
        asks: asks(&standing.proposed.criterion),
        proposed: standing.proposed.outcome,
        outcome: standing.outcome,
        because: standing.proposed.says.clone(),
    };
    marked.decided.findings.iter().map(finding).collect()
}

impl Shown {
    async fn of(
        tx: &mut PgConnection,
        centre: &CentreId,
        data: person::Session,
        task: &Task,
    ) -> Result<Self, WebError> {
        let when = show::moment(stored::local_time(tx, centre, data.planned_at).await?);
        let (mut signed, mut marks) = (None, None);
        if let Some(result) = &data.result {
            signed = Some(show::moment(stored::local_time(tx, centre, result.signed_at).await?));
            marks = Some(show::marks(&result.verdict));
        }
        let mut links = Vec::new();
        for link in &data.feedback_links {
            let made = show::moment(stored::local_time(tx, centre, link.made_at).await?);
            links.push(format!("made {made}, opened {} times", link.visits));
        }
        let act = |seen: &crate::marking::Observation| (show::clock(seen.at_ms), describe(&seen.act, task));
        let logs = data
            .logs
            .iter()
            .map(|log| (log.marker.clone(), log.observations.iter().chain(&log.late).map(act).collect()))
            .collect();
        Ok(Self { data, when, signed, marks, logs, links })
    }
}
