//! Reviews that candidates asked for: the list, both markings side by side, and the word of a second person.

pub mod after;

use super::App;
use super::cards::evidence;
use super::error::WebError;
use super::evidence::About;
use super::extract::{Form, Path, Reader, SignedIn};
use super::form::Faults;
use super::page::{Page, Place, html};
use super::proof;
use super::sessions::{Loaded, Marked, rest_of};
use super::show::{self, Sign};
use super::timeline;
use crate::marking::decision::{Standing, decide};
use crate::marking::{CriterionId, Outcome};
use crate::store::reviews::{self, Amendment, Code, Decided, LONGEST_TEXT, Refused};
use crate::store::staff::Role;
use crate::store::{SessionId, deeds, sessions as stored};
use after::{OUTCOMES, Told, code_words};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::{Postgres, Transaction};
use std::collections::HashMap;
use uuid::Uuid;

/// The list.
#[derive(Template)]
#[template(path = "reviews/list.html")]
struct ListPage {
    page: Page,
    rows: Vec<Row>,
}

struct Row {
    href: String,
    candidate: String,
    reference: String,
    task: String,
    assessor: String,
    asked: String,
    /// Who ended it, when, and how it came out.
    ended: Option<(String, String, &'static str)>,
}

/// Shows every review, those that wait first.
pub async fn list(State(app): State<App>, Reader(who): Reader) -> Result<Response, WebError> {
    let centre = who.centre();
    let mut tx = app.store.begin(centre).await?;
    let mut rows = Vec::new();
    for one in reviews::list(&mut tx, centre).await? {
        let asked = show::moment(stored::local_time(&mut tx, centre, one.asked_at).await?);
        let ended = match (one.amended, one.at) {
            (Some(amended), Some(at)) => {
                let at = show::moment(stored::local_time(&mut tx, centre, at).await?);
                Some((one.by.unwrap_or_default(), at, if amended { "Amended" } else { "Upheld" }))
            }
            _ => None,
        };
        rows.push(Row {
            href: format!("/reviews/{}", one.session),
            candidate: one.candidate,
            reference: one.reference,
            task: one.task,
            assessor: one.assessor,
            asked,
            ended,
        });
    }
    tx.commit().await?;
    Ok(html(&ListPage { page: Page::at(&who.staff, Place::Reviews), rows })?.into_response())
}

/// One review.
#[derive(Template)]
#[template(path = "reviews/show.html")]
struct ShowPage {
    page: Page,
    session: String,
    candidate: String,
    task: String,
    assessor: String,
    signed: String,
    verdict: Sign,
    marks: String,
    review: Told,
    about: About,
    timeline: timeline::View,
    findings: Vec<Finding>,
    /// Whether this person can end it; else why not.
    may_end: Result<(), &'static str>,
    codes: Vec<(&'static str, &'static str)>,
    words: String,
    ask_password: bool,
    faults: Faults,
}

/// One criterion with both markings.
struct Finding {
    id: String,
    says: String,
    stands: Sign,
    proposed: Sign,
    because: String,
    evidence: Vec<(String, String)>,
    reason: Option<String>,
    /// What was chosen: empty, or an outcome.
    outcome: String,
    code: String,
    words: String,
    fault: Option<String>,
}

impl Finding {
    fn of(loaded: &Loaded, marked: &Marked, standing: &Standing, sent: &Sent, faults: &Faults) -> Self {
        let id = standing.proposed.criterion.as_str().to_owned();
        let cited = evidence(&loaded.task, &marked.log, standing);
        let typed = |field: &str| sent.of(&format!("{field}-{id}")).to_owned();
        Self {
            says: loaded.task.checklist.criterion(&standing.proposed.criterion).map_or(&id, |one| &one.says).clone(),
            stands: show::outcome(standing.outcome),
            proposed: show::outcome(standing.proposed.outcome),
            because: standing.proposed.says.clone(),
            evidence: cited.into_iter().map(|one| (one.minute, one.says)).collect(),
            reason: standing.decision.as_ref().and_then(|decision| decision.reason.clone()),
            outcome: typed("outcome"),
            code: typed("code"),
            words: typed("words"),
            fault: faults.of(&format!("words-{id}")).map(str::to_owned),
            id,
        }
    }

    /// Whether the form was touched here.
    fn touched(&self) -> bool {
        !self.outcome.is_empty() || self.fault.is_some()
    }
}

/// What the form sent: `words` for the candidate, and for each criterion `outcome-…`, `code-…`, `words-…`.
#[derive(Default)]
struct Sent(HashMap<String, String>);

impl Sent {
    fn of(&self, field: &str) -> &str {
        self.0.get(field).map_or("", |typed| typed.trim())
    }
}

/// Shows a review with its evidence and both markings.
pub async fn show(State(app): State<App>, Reader(who): Reader, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let session = stored::find(&mut tx, who.centre(), SessionId(id)).await?;
    let loaded = load(&mut tx, &who, session).await?;
    page(&app, tx, &who, &loaded, StatusCode::OK, &Sent::default(), Faults::none()).await
}

/// A session of which a review was asked for, held until the transaction ends.
async fn hold(tx: &mut Transaction<'static, Postgres>, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let session = stored::hold(tx, who.centre(), SessionId(id)).await?;
    load(tx, who, session).await
}

async fn load(
    tx: &mut Transaction<'static, Postgres>,
    who: &SignedIn,
    session: Option<stored::Session>,
) -> Result<Loaded, WebError> {
    let session = session.ok_or(WebError::Missing("review"))?;
    let loaded = rest_of(tx, who.centre(), session).await?;
    if reviews::find(tx, who.centre(), loaded.session.id).await?.is_none() {
        return Err(WebError::Missing("review"));
    }
    Ok(loaded)
}

/// Whether this person may end the review of this session.
fn may_end(who: &SignedIn, loaded: &Loaded, told: &Told) -> Result<(), &'static str> {
    let signed_by = loaded.result.as_ref().map(|result| result.by);
    if told.end.is_some() {
        return Err("This review is ended.");
    }
    if !who.staff.is(Role::Verifier) {
        return Err("Only a verifier can end a review.");
    }
    if signed_by == Some(who.staff.number) || loaded.session.assessor == who.staff.number {
        return Err("You signed this result yourself. Another verifier has to look at it.");
    }
    Ok(())
}

async fn page(
    app: &App,
    mut tx: Transaction<'static, Postgres>,
    who: &SignedIn,
    loaded: &Loaded,
    status: StatusCode,
    sent: &Sent,
    faults: Faults,
) -> Result<Response, WebError> {
    let centre = who.centre();
    let Some(result) = &loaded.result else { return Err(WebError::Missing("review")) };
    let Some(review) = reviews::find(&mut tx, centre, loaded.session.id).await? else {
        return Err(WebError::Missing("review"));
    };
    let marked = loaded.marked(&mut tx, centre).await?;
    let about = About::of(&mut tx, who, loaded, &marked).await?;
    let told = after::told(&mut tx, centre, &loaded.task, review).await?;
    let signed = show::moment(stored::local_time(&mut tx, centre, result.at).await?);
    tx.commit().await?;
    let findings = marked.decided.findings.iter().map(|one| Finding::of(loaded, &marked, one, sent, &faults)).collect();
    let timeline = timeline::View::for_staff(&loaded.task, &marked.log, &marked.decided.findings, "timeline");
    let page = ShowPage {
        page: Page::at(&who.staff, Place::Reviews),
        session: loaded.session.id.0.to_string(),
        candidate: loaded.candidate.name.clone(),
        task: loaded.task.title.clone(),
        assessor: loaded.assessor.name.clone(),
        signed,
        verdict: show::verdict(result.verdict.outcome),
        marks: show::marks(&result.verdict),
        may_end: may_end(who, loaded, &told),
        review: told,
        about,
        timeline,
        findings,
        codes: Code::ALL.map(|code| (code.word(), code_words(code))).to_vec(),
        words: sent.of("words").to_owned(),
        ask_password: !proof::is_fresh(who, app.clock.now()),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// Ends a review: upheld where nothing is changed, amended where something is.
pub async fn end(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(sent): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    if !who.staff.is(Role::Verifier) {
        return Err(WebError::Forbidden("Only a verifier can end a review."));
    }
    let sent = Sent(sent);
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold(&mut tx, &who, id).await?;
    let marked = loaded.marked(&mut tx, who.centre()).await?;
    let Some(review) = reviews::find(&mut tx, who.centre(), loaded.session.id).await? else {
        return Err(WebError::Missing("review"));
    };
    let told = after::told(&mut tx, who.centre(), &loaded.task, review).await?;
    match may_end(&who, &loaded, &told) {
        Err(_) if told.end.is_some() => return Err(WebError::Stale("This review is ended. Nothing was changed.")),
        Err(why) => return Err(WebError::Forbidden(why)),
        Ok(()) => {}
    }
    let mut faults = Faults::none();
    let words = long_line(&mut faults, "words", sent.of("words"));
    let changes: Vec<Amendment> =
        marked.decided.findings.iter().filter_map(|one| amendment(one, &sent, &mut faults)).collect();
    drop(tx);
    // Outside the transaction that holds the session: a password takes its time.
    proof::given(&app, &who, sent.of(proof::FIELD), &mut faults).await?;
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold(&mut tx, &who, id).await?;
    if !faults.is_empty() {
        let status =
            if faults.of(proof::FIELD).is_some() { StatusCode::FORBIDDEN } else { StatusCode::UNPROCESSABLE_ENTITY };
        return page(&app, tx, &who, &loaded, status, &sent, faults).await;
    }
    let marked = loaded.marked(&mut tx, who.centre()).await?;
    let mut decisions = marked.decisions.clone();
    decisions.extend(changes.iter().map(Amendment::decision));
    let verdict = decide(&loaded.task, &marked.marking, &decisions).verdict;
    let decided = Decided { by: who.staff.number, words: &words, changes: &changes, verdict: &verdict };
    let now = app.clock.now();
    match reviews::end(&mut tx, who.centre(), loaded.session.id, &decided, now).await? {
        Err(Refused::NotOpen) => return Err(WebError::Stale("This review is ended. Nothing was changed.")),
        Err(Refused::SamePerson) => return Err(WebError::Forbidden("You signed this result yourself.")),
        Ok(()) => {}
    }
    let what = if changes.is_empty() { "result_upheld" } else { "result_amended" };
    deeds::note(&mut tx, who.centre(), Some(who.staff.number), what, &id.to_string(), now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/reviews/{id}")).into_response())
}

/// A text of 1 to 2,000 characters, line feeds allowed.
fn long_line(faults: &mut Faults, field: &str, typed: &str) -> String {
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if typed.is_empty() {
        faults.add(field, "Please write what the candidate is to read.");
    } else if typed.chars().count() > LONGEST_TEXT || typed.chars().any(odd) {
        faults.add(field, "Please write 1 to 2,000 characters, without control characters.");
    }
    typed.to_owned()
}

/// What the form changes about one finding, if anything.
fn amendment(standing: &Standing, sent: &Sent, faults: &mut Faults) -> Option<Amendment> {
    let criterion: CriterionId = standing.proposed.criterion.clone();
    let field = |name: &str| format!("{name}-{criterion}");
    let chosen = sent.of(&field("outcome"));
    if chosen.is_empty() {
        return None;
    }
    let at = field("words");
    let outcome: Option<Outcome> = OUTCOMES.iter().find(|(word, ..)| *word == chosen).map(|(.., outcome)| *outcome);
    let (Some(outcome), Some(code)) = (outcome, Code::of_word(sent.of(&field("code")))) else {
        faults.add(at, "Choose an outcome and why.");
        return None;
    };
    if outcome == standing.outcome {
        faults.add(at, "That is what stands already. Choose “It stands”, or another outcome.");
        return None;
    }
    let words = long_line(faults, &at, sent.of(&field("words")));
    Some(Amendment { criterion, outcome, code, words })
}
