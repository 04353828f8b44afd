//! The candidate's way in and the candidate's page.

pub mod catalogue;
pub mod picture;
pub mod review;
pub mod story;
pub mod words;

use super::App;
use super::cookies::{self, Purpose};
use super::error::WebError;
use super::extract::{Form, Here, Path, Query, Visit};
use super::page::{Page, html};
use super::sessions::rest_of;
use super::tokens::Token;
use crate::marking::decision::decide;
use crate::store::centres::{self, Language, Settings};
use crate::store::releases::{self, State as Released};
use crate::store::reviews::{self, Amendment};
use crate::store::{CentreId, SessionId, deeds, feedback, sessions as stored, sign_ins};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use review::{Asking, ReviewPart};
use serde::Deserialize;
use sqlx::PgConnection;
use story::{CandidatePage, Told};
use words::{Arg, Key, Piece, Words};

/// A language that the candidate chose on the page.
#[derive(Deserialize, Default)]
#[serde(default)]
pub struct Chosen {
    lang: Option<String>,
}

impl Chosen {
    fn language(&self) -> Option<Language> {
        self.lang.as_deref().and_then(Language::of_word)
    }

    /// The candidate's language, else the centre's.
    fn words(&self, settings: Option<&Settings>) -> Words {
        Words::of(self.language().or(settings.map(|settings| settings.language)).unwrap_or(Language::English))
    }
}

/// The form that asks for the code.
#[derive(Template)]
#[template(path = "feedback/ask.html")]
struct AskPage {
    page: Page,
    w: Words,
    /// Where the form goes: the address it was asked for at.
    here: String,
    /// The language that was chosen, to go on in.
    lang: Option<&'static str>,
    refused: bool,
}

impl AskPage {
    fn of((centre, token): (&str, &str), w: Words, chosen: &Chosen, refused: bool) -> Self {
        let part = |text: &str| super::show::percent(text).replace('/', "%2F");
        let here = format!("/feedback/{}/{}", part(centre), part(token));
        Self { page: Page::of_nobody(), w, here, lang: chosen.language().map(Language::word), refused }
    }
}

/// The words that a link of this centre is read in. They depend on the centre alone, never on the token.
async fn words_at(app: &App, centre: &str, chosen: &Chosen) -> Result<Words, WebError> {
    let Some(centre) = CentreId::new(centre) else { return Ok(chosen.words(None)) };
    let mut tx = app.store.begin(&centre).await?;
    let settings = centres::settings(&mut tx, &centre).await?;
    tx.commit().await?;
    Ok(chosen.words(settings.as_ref()))
}

/// Shows the form, the same for every link, real or not. It looks no link up: mail scanners open links too.
pub async fn ask(
    State(app): State<App>,
    Path((centre, token)): Path<(String, String)>,
    Query(chosen): Query<Chosen>,
) -> Result<Response, WebError> {
    let words = words_at(&app, &centre, &chosen).await?;
    Ok(html(&AskPage::of((&centre, &token), words, &chosen, false))?.into_response())
}

/// What the form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Code {
    code: String,
    #[serde(default)]
    lang: Option<String>,
}

/// Tries the code. With the right one, starts a visit and goes on to an address that holds no secret.
pub async fn visit(
    State(app): State<App>,
    Here(here): Here,
    Path((centre, token)): Path<(String, String)>,
    jar: CookieJar,
    Form(sent): Form<Code>,
) -> Result<Response, WebError> {
    let chosen = Chosen { lang: sent.lang.clone() };
    let words = words_at(&app, &centre, &chosen).await?;
    let refused = AskPage::of((&centre, &token), words, &chosen, true);
    if let (Some(centre), Some(token)) = (CentreId::new(&centre), Token::from_hex(&token)) {
        let visit = Token::new();
        let code_hash = token.hash_with(&sent.code);
        let mut tx = app.store.begin(&centre).await?;
        let now = app.clock.now();
        let found = feedback::visit(&mut tx, &centre, &token.hash(), &code_hash, &visit.hash(), now).await?;
        // Also where the code was wrong: the count of wrong ones must stay.
        tx.commit().await?;
        if found.is_some() {
            let jar = jar.add(cookies::carry(Purpose::Feedback, &here, &centre, &visit));
            return Ok((jar, Redirect::to(&address(&chosen))).into_response());
        }
    }
    Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&refused)?).into_response())
}

/// The page's own address, in the language that was chosen.
fn address(chosen: &Chosen) -> String {
    match chosen.language() {
        Some(language) => format!("/feedback?lang={}", language.word()),
        None => "/feedback".to_owned(),
    }
}

/// A page with little on it: the visit has ended, or there is nothing to see yet.
#[derive(Template)]
#[template(path = "feedback/plain.html")]
struct PlainPage {
    page: Page,
    w: Words,
    here: String,
    title: Key,
    /// What comes before what it says, and after.
    first: Vec<Piece>,
    says: Key,
    more: Vec<Piece>,
}

impl PlainPage {
    fn of(w: Words, title: Key, says: Key) -> Self {
        Self { page: Page::of_nobody(), w, here: "/feedback".into(), title, first: Vec::new(), says, more: Vec::new() }
    }
}

/// Where a visit has ended or never was.
fn ended(chosen: &Chosen) -> Result<Response, WebError> {
    let page = PlainPage::of(chosen.words(None), Key::EndedTitle, Key::Ended);
    Ok((StatusCode::UNAUTHORIZED, html(&page)?).into_response())
}

/// The candidate's page, during a visit.
pub async fn show(
    State(app): State<App>,
    Visit(visit): Visit,
    Query(chosen): Query<Chosen>,
) -> Result<Response, WebError> {
    let Some((centre, token)) = visit else { return ended(&chosen) };
    let mut tx = app.store.begin(&centre).await?;
    let now = app.clock.now();
    let Some(way) = feedback::visited_until(&mut tx, &centre, &token.hash(), now).await? else {
        return ended(&chosen);
    };
    let page = page(&app, &mut tx, &centre, way, &chosen, None).await?;
    tx.commit().await?;
    Ok(page)
}

/// The page of a session, or that it is not there yet. `fault` is what was wrong with a request for a review, and what
/// was typed.
async fn page(
    app: &App,
    tx: &mut PgConnection,
    centre: &CentreId,
    (id, link_ends): (SessionId, time::OffsetDateTime),
    chosen: &Chosen,
    fault: Option<(Key, String)>,
) -> Result<Response, WebError> {
    let now = app.clock.now();
    let settings = centres::settings(tx, centre).await?.ok_or(WebError::ours("a link without its centre"))?;
    let w = chosen.words(Some(&settings));
    let release = releases::standing(tx, centre, id).await?;
    let Some(opened) = release.as_ref().and_then(|release| release.opens_at).filter(|opens| *opens <= now) else {
        return not_yet(tx, centre, release, w).await;
    };
    let session = stored::find(tx, centre, id).await?.ok_or(WebError::Missing("session"))?;
    let loaded = rest_of(tx, centre, session).await?;
    let Some(first) = loaded.result.clone() else { return ended(chosen) };
    let mut marked = loaded.marked(tx, centre).await?;
    let review = reviews::find(tx, centre, id).await?;
    let amended = review.as_ref().and_then(|review| review.end.as_ref()).and_then(|end| end.amended.as_ref());
    if let Some(amended) = amended {
        marked.decisions.extend(amended.changes.iter().map(Amendment::decision));
        marked.decided = decide(&loaded.task, &marked.marking, &marked.decisions);
    }
    let result = amended.map_or(&first, |amended| &amended.result);
    let until = releases::review_until(tx, centre, opened).await?;
    let (task, assessor) = (&loaded.task, loaded.assessor.name.as_str());
    let asking = Asking { task, first: &first, assessor, review: review.as_ref(), until, now };
    let mut part = ReviewPart::of(tx, centre, w, &asking).await?;
    let status = if fault.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    if let Some((key, typed)) = fault {
        (part.fault, part.typed) = (Some(w.t(key)), typed);
    }
    let next = match stored::next_of_candidate(tx, centre, loaded.session.candidate, now).await? {
        Some(next) => {
            let at = stored::local_time(tx, centre, next.at).await?;
            Some((next, at))
        }
        None => None,
    };
    let told = Told {
        loaded: &loaded,
        marked: &marked,
        result,
        signed: stored::local_time(tx, centre, first.at).await?,
        open_until: stored::local_time(tx, centre, link_ends).await?,
        next,
        own: settings.language,
        words: w,
        review: part,
    };
    Ok((status, html(&CandidatePage::of(told))?).into_response())
}

/// That the feedback is not there, without a word about the result.
async fn not_yet(
    tx: &mut PgConnection,
    centre: &CentreId,
    release: Option<releases::Release>,
    w: Words,
) -> Result<Response, WebError> {
    let mut page = PlainPage::of(w, Key::NotYetTitle, Key::NotYet);
    let Some(release) = release else { return Ok(html(&page)?.into_response()) };
    match (release.state, release.opens_at) {
        (_, Some(opens)) => {
            let opens = stored::local_time(tx, centre, opens).await?;
            let (day, time) = (w.day(opens), super::show::time_of_day(opens));
            page.more = w.with(Key::NotYetUntil, &[("day", Arg::Plain(&day)), ("time", Arg::Ltr(&time))]);
        }
        (Released::Waiting, None) => page.more = w.with(Key::NotYetTold, &[]),
        (Released::Withdrawn, None) => {
            let day = w.day(stored::local_time(tx, centre, release.at).await?);
            page = PlainPage::of(w, Key::WithdrawnTitle, Key::WithdrawnLater);
            page.first = w.with(Key::Withdrawn, &[("day", Arg::Plain(&day))]);
        }
        _ => {}
    }
    Ok(html(&page)?.into_response())
}

/// What the form for a review sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Request {
    #[serde(default)]
    reason: String,
    #[serde(default)]
    lang: Option<String>,
}

/// Asks for a review, once, until the last day.
pub async fn ask_review(
    State(app): State<App>,
    Visit(visit): Visit,
    Form(sent): Form<Request>,
) -> Result<Response, WebError> {
    let chosen = Chosen { lang: sent.lang };
    let Some((centre, token)) = visit else { return ended(&chosen) };
    let now = app.clock.now();
    let mut tx = app.store.begin(&centre).await?;
    let Some(way) = feedback::visited_until(&mut tx, &centre, &token.hash(), now).await? else {
        return ended(&chosen);
    };
    let id = way.0;
    if let Some(seconds) = sign_ins::take_one(&mut tx, &centre, &format!("review:{}", id.0), now).await? {
        return Err(WebError::TooMany(seconds));
    }
    // The try counts whatever comes of it.
    tx.commit().await?;
    let mut tx = app.store.begin(&centre).await?;
    stored::hold(&mut tx, &centre, id).await?.ok_or(WebError::Missing("session"))?;
    let release = releases::standing(&mut tx, &centre, id).await?;
    let opened = release.and_then(|release| release.opens_at).filter(|opens| *opens <= now);
    let reason = sent.reason.trim();
    let open = match opened {
        Some(opened) => now <= releases::review_until(&mut tx, &centre, opened).await?,
        None => false,
    };
    if let (true, Some(fault)) = (open, review::refuse(reason)) {
        return page(&app, &mut tx, &centre, way, &chosen, Some((fault, reason.to_owned()))).await;
    }
    // Where it is too late, or was asked for already, the page says so.
    if open && reviews::ask(&mut tx, &centre, id, reason, now).await? {
        deeds::note(&mut tx, &centre, None, "review_asked", &id.0.to_string(), now).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to(&format!("{}#review", address(&chosen))).into_response())
}
