//! The result sheet, and the candidate's link and code, which are shown once.

use super::App;
use super::cards::{Evidence, evidence, fails_words};
use super::causes::Causes;
use super::error::WebError;
use super::evidence::About;
use super::extract::{Here, Path, SignedIn};
use super::origin::Origin;
use super::page::{Page, Place, html};
use super::reviews::after::After;
use super::sessions::{Loaded, Marked, hold_to_sign, load, may_sign};
use super::show::{self, Sign};
use super::spoken::{Spoken, spoken};
use super::timeline;
use super::tokens::FeedbackLink;
use crate::marking::{Fails, Outcome, Task};
use crate::store::results::SignedResult;
use crate::store::{CentreId, SessionId, feedback, samples, sessions as stored};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// What stands on each sheet: it is no permit, and it says nothing of the circuit.
pub const CAUTIONS: [&str; 3] = [
    "Training material, not a permit to work. Local rules and a competent licensed person decide.",
    "This sheet is about one attempt on a training bay. It does not say that any circuit is safe to work on.",
    "Each automatic outcome on it was confirmed or overruled by the person who signed.",
];

/// The result sheet of a signed session.
#[derive(Template)]
#[template(path = "sheet/show.html")]
pub struct SheetPage {
    pub page: Page,
    pub session: String,
    /// The centre's name as it stands on result sheets.
    pub centre: String,
    pub candidate: String,
    pub reference: String,
    pub task: String,
    pub task_version: i32,
    pub bay: String,
    pub assessor: String,
    pub signed: String,
    pub sentence: String,
    pub verdict: Sign,
    pub marks: String,
    pub pass_percent: u8,
    pub used: String,
    pub allowed: String,
    pub automatic: Vec<Line>,
    /// What else is not met.
    pub unmet: Vec<Line>,
    /// What the assessor decided otherwise than was worked out.
    pub changed: Vec<Line>,
    pub causes: Causes,
    pub stages: Vec<StageBlock>,
    pub code: String,
    pub count: i64,
    pub may_link: bool,
    /// Whether a verifier is to look at it, which those who sample are told.
    pub sampled: bool,
    pub timeline: timeline::View,
    /// What the assessor put into words.
    pub spoken: Vec<Spoken>,
    /// What the evidence says of itself.
    pub about: About,
    /// What followed the signature.
    pub after: After,
}

/// The findings of one stage.
pub struct StageBlock {
    pub title: String,
    pub lines: Vec<Line>,
}

/// One finding on a sheet.
#[derive(Clone)]
pub struct Line {
    pub says: String,
    pub fails: &'static str,
    /// Whether it is an automatic fail that stands.
    pub ends: bool,
    pub weight: u16,
    pub sign: Sign,
    pub because: String,
    pub minutes: String,
    /// Where the assessor decided otherwise than was worked out: what was worked out.
    pub instead_of: Option<&'static str>,
    pub reason: Option<String>,
    /// Whether that overrules a finding, rather than judge what was not seen.
    pub overruled: bool,
}

/// Shows the sheet of a signed session.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, &who, id).await?;
    let Some(result) = loaded.result.clone() else {
        return Ok(Redirect::to(&format!("/sessions/{id}")).into_response());
    };
    let sheet = of_session(&mut tx, &who, &loaded, &result, app.clock.now()).await?;
    tx.commit().await?;
    Ok(html(&sheet)?.into_response())
}

/// The sheet of a signed session as this person may see it.
pub async fn of_session(
    tx: &mut PgConnection,
    who: &SignedIn,
    loaded: &Loaded,
    result: &SignedResult,
    now: OffsetDateTime,
) -> Result<SheetPage, WebError> {
    let marked = loaded.marked(tx, who.centre()).await?;
    let signed = stored::local_time(tx, who.centre(), result.at).await?;
    let about = About::of(tx, who, loaded, &marked).await?;
    let after = After::of(tx, who.centre(), loaded.session.id, &loaded.task, now).await?;
    let page = Page::at(&who.staff, Place::Sessions);
    let mut sheet = SheetPage::of(page, loaded, &marked, result, show::moment(signed), about, after);
    sheet.may_link = may_sign(who, &loaded.session);
    sheet.sampled = who.reads_all() && samples::holds(tx, who.centre(), loaded.session.id).await?;
    Ok(sheet)
}

impl SheetPage {
    /// The sheet of a signed session.
    pub fn of(
        page: Page,
        loaded: &Loaded,
        marked: &Marked,
        result: &SignedResult,
        signed: String,
        about: About,
        after: After,
    ) -> Self {
        let stages = stages(&loaded.task, marked);
        let those = |wanted: fn(&&Line) -> bool| -> Vec<Line> {
            stages.iter().flat_map(|stage| &stage.lines).filter(wanted).cloned().collect()
        };
        let automatic = those(|line| line.ends);
        let unmet = those(|line| !line.ends && line.sign.word == show::outcome(Outcome::NotMet).word);
        let changed = those(|line| line.overruled);
        Self {
            page,
            session: loaded.session.id.0.to_string(),
            centre: loaded.centre_name.clone(),
            candidate: loaded.candidate.name.clone(),
            reference: loaded.candidate.reference.clone(),
            task: loaded.task.title.clone(),
            task_version: loaded.session.task_version,
            bay: loaded.session.bay.clone(),
            assessor: loaded.assessor.name.clone(),
            signed,
            sentence: super::feedback::catalogue::outcome_for_sheet(result.verdict.outcome).to_owned(),
            verdict: show::verdict(result.verdict.outcome),
            marks: show::marks(&result.verdict),
            pass_percent: loaded.task.pass_percent,
            used: show::clock(marked.marking.clock.elapsed_ms),
            allowed: show::clock(marked.marking.clock.allowed_ms),
            automatic,
            unmet,
            changed,
            causes: Causes::of(&loaded.task, &marked.log, &marked.marking),
            stages,
            code: show::grouped(&result.head),
            count: result.count,
            may_link: false,
            sampled: false,
            timeline: timeline::View::for_staff(&loaded.task, &marked.log, &marked.decided.findings, "timeline"),
            spoken: spoken(&loaded.task, &marked.log),
            about,
            after,
        }
    }
}

/// Every finding as it stands, by stage.
pub fn stages(task: &Task, marked: &Marked) -> Vec<StageBlock> {
    let line = |criterion: &crate::marking::Criterion| {
        let standing = marked.decided.findings.iter().find(|one| one.proposed.criterion == criterion.id)?;
        let differs = standing.outcome != standing.proposed.outcome;
        Some(Line {
            says: criterion.says.clone(),
            fails: fails_words(criterion.fails),
            ends: criterion.fails == Fails::Automatic && standing.outcome == Outcome::NotMet,
            weight: criterion.weight,
            sign: show::outcome(standing.outcome),
            because: standing.proposed.says.clone(),
            minutes: minutes(&evidence(task, &marked.log, standing)),
            overruled: standing.is_overruled(),
            instead_of: differs.then(|| show::outcome(standing.proposed.outcome).word),
            reason: standing.decision.as_ref().and_then(|decision| decision.reason.clone()),
        })
    };
    let block = |stage: &crate::marking::Stage| StageBlock {
        title: stage.title.clone(),
        lines: stage.criteria.iter().filter_map(line).collect(),
    };
    task.checklist.stages.iter().map(block).collect()
}

/// The minutes of the evidence: the first four, and how many more there are.
fn minutes(evidence: &[Evidence]) -> String {
    let mut times: Vec<&str> = evidence.iter().map(|one| one.minute.as_str()).collect();
    times.dedup();
    if times.len() <= 4 {
        return times.join(", ");
    }
    format!("{} and {} more", times[..4].join(", "), times.len() - 4)
}

/// A new private way to the feedback: the address and the code, neither of which is stored.
pub struct NewLink {
    pub address: String,
    pub code: String,
}

/// The page that shows a link once.
#[derive(Template)]
#[template(path = "sheet/link.html")]
pub struct LinkPage {
    pub page: Page,
    pub heading: &'static str,
    pub session: String,
    pub candidate: String,
    pub link: NewLink,
    pub days: i64,
}

/// Makes a new link, for the session's own assessor.
pub async fn make_link(
    State(app): State<App>,
    Here(here): Here,
    who: SignedIn,
    Path(id): Path<Uuid>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold_to_sign(&mut tx, &who, id).await?;
    if loaded.result.is_none() {
        return Err(WebError::Stale("Feedback can be shared once the session is signed."));
    }
    let link = new_link(&app, &mut tx, &here, who.centre(), loaded.session.id).await?;
    tx.commit().await?;
    link_page(&who, &loaded, "A new link for the candidate", link)
}

/// Stores the hashes of a new token and code, and answers what the candidate is given.
pub async fn new_link(
    app: &App,
    tx: &mut PgConnection,
    here: &Origin,
    centre: &CentreId,
    session: SessionId,
) -> Result<NewLink, WebError> {
    let made = FeedbackLink::new(centre);
    feedback::make_link(tx, centre, session, &made.token_hash, &made.code_hash, app.clock.now()).await?;
    Ok(NewLink { address: format!("{here}{}", made.path), code: made.code })
}

/// Shows a link, this once.
pub fn link_page(who: &SignedIn, loaded: &Loaded, heading: &'static str, link: NewLink) -> Result<Response, WebError> {
    let page = LinkPage {
        page: Page::at(&who.staff, Place::Sessions),
        heading,
        session: loaded.session.id.0.to_string(),
        candidate: loaded.candidate.name.clone(),
        link,
        days: feedback::LINK_DAYS,
    };
    Ok(html(&page)?.into_response())
}
