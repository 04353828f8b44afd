//! The second step of a sign-in: a one-time code, or setting one up where the centre asks for it and there is none yet.

use super::App;
use super::error::WebError;
use super::extract::{Form, Query, SignInToken, SignedIn};
use super::form::Faults;
use super::one_time::{self, Picture};
use super::page::{Page, Place as Part, html};
use super::sign_in::{self, Next, Place, own_path};
use super::{proof, tokens};
use crate::store::second_factors::{self, Shared};
use crate::store::sign_ins::{self, Factor, Start};
use crate::store::staff::Staff;
use crate::store::{CentreId, StaffNo, deeds};
use askama::Template;
use axum::extract::{FromRequestParts, State};
use axum::http::StatusCode;
use axum::http::request::Parts;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;
use sqlx::PgConnection;

/// The person whose password was given and who owes the second step; nobody where none is owed.
pub struct Owing(Option<(Staff, Factor)>);

impl FromRequestParts<App> for Owing {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        let SignInToken(token) = SignInToken::from_request_parts(parts, app).await?;
        let Some((centre, token)) = token else { return Ok(Self(None)) };
        let mut tx = app.store.begin(&centre).await?;
        let owing = sign_ins::owing(&mut tx, &centre, &token.hash(), app.clock.now()).await?;
        tx.commit().await?;
        Ok(Self(owing))
    }
}

impl Owing {
    fn what(self, owed: Factor) -> Option<Staff> {
        self.0.filter(|(_, factor)| *factor == owed).map(|(staff, _)| staff)
    }
}

/// The page that asks for the code.
#[derive(Template)]
#[template(path = "sign_in/code.html")]
struct CodePage {
    page: Page,
    next: String,
    refused: bool,
}

/// What it sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Code {
    code: String,
    #[serde(default)]
    next: String,
}

/// Asks for the code.
pub async fn ask(owing: Owing, Query(next): Query<Next>) -> Result<Response, WebError> {
    let Some(_) = owing.what(Factor::CodeOwed) else { return Ok(Redirect::to("/sign-in").into_response()) };
    Ok(html(&CodePage { page: Page::of_nobody(), next: own_path(&next.next), refused: false })?.into_response())
}

/// Checks the code and completes the sign-in under a new token.
pub async fn enter(
    State(app): State<App>,
    owing: Owing,
    place: Place,
    jar: CookieJar,
    Form(sent): Form<Code>,
) -> Result<Response, WebError> {
    let Some(person) = owing.what(Factor::CodeOwed) else { return Err(WebError::SignIn) };
    let next = own_path(&sent.next);
    let Some(factor) = try_code(&app, &person, &sent.code).await? else {
        let page = CodePage { page: Page::of_nobody(), next, refused: true };
        return Ok((StatusCode::UNAUTHORIZED, html(&page)?).into_response());
    };
    let start = Start { factor, tablet: None, device: place.device.clone() };
    let jar = sign_in::begin(&app, &person, &place, start, jar).await?;
    Ok((jar, Redirect::to(&next)).into_response())
}

/// Checks a one-time code of somebody who is signed in, before something that needs a proof afresh. `false` where it is
/// wrong, or where there are no codes.
pub async fn prove_again(app: &App, who: &SignedIn, code: &str) -> Result<bool, WebError> {
    Ok(try_code(app, &who.staff, code).await?.is_some())
}

/// Uses up a code, as one of the tries that a person has. `None` where it is wrong.
async fn try_code(app: &App, person: &Staff, code: &str) -> Result<Option<Factor>, WebError> {
    let (centre, who) = (&person.centre, person.number);
    let counted = format!("code:{}", person.sign_in_name);
    let mut tx = app.store.begin(centre).await?;
    let wait = sign_ins::may_try(&mut tx, centre, &counted, &counted, app.clock.now()).await?;
    // Before the code is looked at: a try counts however it ends.
    tx.commit().await?;
    if let Some(seconds) = wait {
        return Err(WebError::TooMany(seconds));
    }
    let mut tx = app.store.begin(centre).await?;
    let rests_on = check(app, &mut tx, centre, who, code).await?;
    if rests_on.is_some() {
        sign_ins::give_back(&mut tx, centre, &counted, &counted).await?;
    } else {
        deeds::note(&mut tx, centre, None, "code_refused", &format!("u-{}", who.0), app.clock.now()).await?;
    }
    tx.commit().await?;
    Ok(rests_on)
}

/// Uses up a one-time code, or a recovery code, of this person. `None` where it is neither.
async fn check(
    app: &App,
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    code: &str,
) -> Result<Option<Factor>, WebError> {
    let Some(shared) = second_factors::hold(tx, centre, who).await? else { return Ok(None) };
    if let Some(step) = one_time::step_of(&shared, code, seconds(app)) {
        second_factors::use_step(tx, centre, who, step).await?;
        return Ok(Some(Factor::Code));
    }
    let hash = tokens::recovery_hash(centre, who, code);
    let used = second_factors::use_recovery(tx, centre, who, &hash, app.clock.now()).await?;
    Ok(used.then_some(Factor::Recovery))
}

fn seconds(app: &App) -> u64 {
    u64::try_from(app.clock.now().unix_timestamp()).unwrap_or(0)
}

/// The page where one-time codes are set up.
#[derive(Template)]
#[template(path = "second_factor/set_up.html")]
struct SetUpPage {
    page: Page,
    /// Where the form goes: the step of a sign-in, or the person's own pages.
    action: &'static str,
    next: String,
    /// Whether the person cannot go on without.
    must: bool,
    secret: String,
    picture: Option<Picture>,
    sign_in_name: String,
    ask_password: bool,
    faults: Faults,
}

/// The page that shows the recovery codes, once.
#[derive(Template)]
#[template(path = "second_factor/recovery.html")]
pub struct RecoveryPage {
    pub page: Page,
    pub codes: Vec<String>,
    pub next: String,
}

/// What the set-up form sends. The secret stands in the form, so that looking at the page changes nothing.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct SetUp {
    secret: String,
    code: String,
    next: String,
    own_password: String,
}

const IN_SIGN_IN: &str = "/sign-in/second-factor";
const IN_ACCOUNT: &str = "/account/second-factor";

impl SetUpPage {
    fn of(person: &Staff, page: Page, action: &'static str, secret: [u8; 20]) -> Self {
        let sign_in_name = format!("{}@{}", person.sign_in_name, person.centre.as_str());
        Self {
            page,
            action,
            next: "/".into(),
            must: action == IN_SIGN_IN,
            secret: one_time::spelled(&secret),
            picture: Picture::of(&one_time::address(&secret, &sign_in_name)),
            sign_in_name,
            ask_password: false,
            faults: Faults::none(),
        }
    }
}

/// Shows the set-up in the middle of a sign-in.
pub async fn show_owed(owing: Owing, Query(next): Query<Next>) -> Result<Response, WebError> {
    let Some(person) = owing.what(Factor::SetUpOwed) else { return Ok(Redirect::to("/sign-in").into_response()) };
    let page = SetUpPage::of(&person, Page::of_nobody(), IN_SIGN_IN, one_time::new_secret());
    Ok(html(&SetUpPage { next: own_path(&next.next), ..page })?.into_response())
}

/// Sets up the codes in the middle of a sign-in, completes it, and shows the recovery codes.
pub async fn set_up_owed(
    State(app): State<App>,
    owing: Owing,
    place: Place,
    jar: CookieJar,
    Form(sent): Form<SetUp>,
) -> Result<Response, WebError> {
    let Some(person) = owing.what(Factor::SetUpOwed) else { return Err(WebError::SignIn) };
    let mut faults = Faults::none();
    let Some(shared) = proven(&app, &sent, &mut faults) else {
        let page = SetUpPage::of(&person, Page::of_nobody(), IN_SIGN_IN, kept(&sent));
        let page = SetUpPage { next: own_path(&sent.next), faults, ..page };
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    };
    // Whoever has set up codes meanwhile owes a code and not another set-up: the password alone must not replace them.
    let Some(codes) = set_up(&app, &person, &shared, true).await? else { return Err(WebError::SignIn) };
    let start = Start { factor: Factor::Code, tablet: None, device: place.device.clone() };
    let jar = sign_in::begin(&app, &person, &place, start, jar).await?;
    let page = RecoveryPage { page: Page::of(&person), codes, next: own_path(&sent.next) };
    Ok((jar, html(&page)?).into_response())
}

/// Shows the set-up to somebody who is signed in.
pub async fn show(State(app): State<App>, who: SignedIn) -> Result<Response, WebError> {
    let page = Page::at(&who.staff, Part::Account);
    let page = SetUpPage::of(&who.staff, page, IN_ACCOUNT, one_time::new_secret());
    let ask_password = !proof::is_fresh(&who, app.clock.now());
    Ok(html(&SetUpPage { ask_password, next: "/account".into(), ..page })?.into_response())
}

/// Sets up the codes of somebody who is signed in, in the place of those before, and shows new recovery codes.
pub async fn set_up_own(State(app): State<App>, who: SignedIn, Form(sent): Form<SetUp>) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    let shared = proven(&app, &sent, &mut faults);
    let proved = proof::given(&app, &who, &sent.own_password, &mut faults).await?;
    let (Some(shared), true) = (shared, proved) else {
        let page = SetUpPage::of(&who.staff, Page::at(&who.staff, Part::Account), IN_ACCOUNT, kept(&sent));
        let page = SetUpPage { ask_password: !proved, next: "/account".into(), faults, ..page };
        let status = if proved { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::FORBIDDEN };
        return Ok((status, html(&page)?).into_response());
    };
    let codes = set_up(&app, &who.staff, &shared, false).await?.unwrap_or_default();
    let page = RecoveryPage { page: Page::at(&who.staff, Part::Account), codes, next: "/account".into() };
    Ok(html(&page)?.into_response())
}

/// The secret of the form, where the code beside it was made from it; else a fault.
fn proven(app: &App, sent: &SetUp, faults: &mut Faults) -> Option<Shared> {
    let shared = Shared { secret: one_time::unspelled(&sent.secret)?, last_step: 0 };
    let step = one_time::step_of(&shared, &sent.code, seconds(app));
    if step.is_none() {
        faults.add("code", "That is not the code that the app shows now. Check that the clock of the phone is right.");
    }
    step.map(|last_step| Shared { last_step, ..shared })
}

/// The secret that was shown, to be shown again.
fn kept(sent: &SetUp) -> [u8; 20] {
    one_time::unspelled(&sent.secret).unwrap_or_else(one_time::new_secret)
}

/// Stores secret and recovery codes, and answers the latter, this once. `None` where it is to be the first and is not.
async fn set_up(app: &App, person: &Staff, shared: &Shared, first: bool) -> Result<Option<Vec<String>>, WebError> {
    let (centre, who, now) = (&person.centre, person.number, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    if first && second_factors::hold(&mut tx, centre, who).await?.is_some() {
        return Ok(None);
    }
    second_factors::set_up(&mut tx, centre, who, shared, now).await?;
    let codes = new_recovery(&mut tx, person).await?;
    deeds::note(&mut tx, centre, Some(who), "second_factor_set_up", &format!("u-{}", who.0), now).await?;
    tx.commit().await?;
    Ok(Some(codes))
}

/// New recovery codes in the place of those before.
pub async fn new_recovery(tx: &mut PgConnection, person: &Staff) -> Result<Vec<String>, WebError> {
    let (codes, hashes): (Vec<_>, Vec<_>) = tokens::recovery_codes(&person.centre, person.number).into_iter().unzip();
    second_factors::set_recovery(tx, &person.centre, person.number, &hashes).await?;
    Ok(codes)
}
