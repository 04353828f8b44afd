//! What belongs to the person signed in: their password, their sign-ins, their second factor.

use super::App;
use super::error::WebError;
use super::extract::{Form, SignedIn, TabletToken};
use super::form::Faults;
use super::page::{Page, Place, html};
use super::second_factor::{RecoveryPage, new_recovery};
use super::sign_in;
use super::{invitations as links, proof, show, tokens};
use crate::store::sign_ins::{self, Factor};
use crate::store::{centres, deeds, second_factors, sessions, staffing, tablets};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

#[derive(Template)]
#[template(path = "account/show.html")]
struct AccountPage {
    page: Page,
    name: String,
    sign_in_name: String,
    roles: String,
    sign_ins: Vec<SignInRow>,
    has_codes: bool,
    recovery_left: i64,
    factor_asked: bool,
    /// The name of this browser, where it is an enrolled tablet.
    tablet: Option<String>,
    ask_password: bool,
    faults: Faults,
}

struct SignInRow {
    id: String,
    device: String,
    started: String,
    seen: String,
    rests_on: String,
    here: bool,
}

/// What the form of a new password sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Change {
    old_password: String,
    password: String,
}

/// Which sign-in to end; none named means all but this one.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Ending {
    id: String,
}

/// What the form of new recovery codes sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Sure {
    own_password: String,
}

/// Shows a person what is theirs.
pub async fn show(State(app): State<App>, who: SignedIn, tablet: TabletToken) -> Result<Response, WebError> {
    account_page(&app, &who, tablet, Faults::none(), StatusCode::OK).await
}

async fn account_page(
    app: &App,
    who: &SignedIn,
    TabletToken(tablet): TabletToken,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let (centre, number, now) = (who.centre(), who.staff.number, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    let mut sign_ins = Vec::new();
    for standing in sign_ins::of_person(&mut tx, centre, number, now).await? {
        sign_ins.push(SignInRow {
            here: standing.token_hash == who.token_hash,
            id: standing.token_hash.iter().map(|byte| format!("{byte:02x}")).collect(),
            started: show::moment(sessions::local_time(&mut tx, centre, standing.started_at).await?),
            seen: show::moment(sessions::local_time(&mut tx, centre, standing.seen_at).await?),
            rests_on: rests_on(standing.factor, standing.tablet),
            device: if standing.device.is_empty() { "Not known".into() } else { standing.device },
        });
    }
    let tablet = match tablet.filter(|(of, _)| of == centre) {
        Some((_, token)) => tablets::of_token(&mut tx, centre, &token.hash()).await?.map(|(_, name)| name),
        None => None,
    };
    let settings = centres::settings(&mut tx, centre).await?;
    let page = AccountPage {
        page: Page::at(&who.staff, Place::Account),
        name: who.staff.name.clone(),
        sign_in_name: format!("{}@{}", who.staff.sign_in_name, centre.as_str()),
        roles: super::staff::in_words(&who.staff.roles),
        sign_ins,
        has_codes: second_factors::is_set_up(&mut tx, centre, number).await?,
        recovery_left: second_factors::recovery_left(&mut tx, centre, number).await?,
        factor_asked: settings.is_some_and(|settings| settings.second_factor_asked),
        tablet,
        ask_password: !proof::is_fresh(who, now),
        faults,
    };
    tx.commit().await?;
    Ok((status, html(&page)?).into_response())
}

fn rests_on(factor: Factor, tablet: Option<String>) -> String {
    match (factor, tablet) {
        (_, Some(name)) => format!("password on the enrolled tablet “{name}”"),
        (Factor::Code, _) => "password and one-time code".into(),
        (Factor::Recovery, _) => "password and recovery code".into(),
        (Factor::Link, _) => "the link or code that made the account".into(),
        _ => "password".into(),
    }
}

/// Changes the password and ends the person's other sign-ins. This one goes on under a new token.
pub async fn change_password(
    State(app): State<App>,
    who: SignedIn,
    tablet: TabletToken,
    place: sign_in::Place,
    jar: axum_extra::extract::CookieJar,
    Form(sent): Form<Change>,
) -> Result<Response, WebError> {
    let (centre, number, now) = (who.centre(), who.staff.number, app.clock.now());
    let mut faults = Faults::none();
    let mut tx = app.store.begin(centre).await?;
    let persons = [who.staff.name.as_str(), who.staff.sign_in_name.as_str()];
    links::check_password(&mut tx, centre, &sent.password, &persons, &mut faults).await?;
    tx.commit().await?;
    if !faults.is_empty() {
        return account_page(&app, &who, tablet, faults, StatusCode::UNPROCESSABLE_ENTITY).await;
    }
    if !sign_in::prove_again(&app, &who, sent.old_password).await? {
        faults.add("old_password", "That is not your password. Nothing was changed.");
        return account_page(&app, &who, tablet, faults, StatusCode::FORBIDDEN).await;
    }
    let password_hash = app.passwords.keep(sent.password).await?;
    let token = tokens::Token::new();
    let mut tx = app.store.begin(centre).await?;
    sign_ins::renew(&mut tx, centre, &who.token_hash, &token.hash(), now).await?;
    staffing::set_password(&mut tx, centre, number, &password_hash, Some(&token.hash())).await?;
    deeds::note(&mut tx, centre, Some(number), "password_changed", &format!("u-{}", number.0), now).await?;
    tx.commit().await?;
    let jar = jar.add(super::cookies::carry(super::cookies::Purpose::SignIn, &place.here, centre, &token));
    Ok((jar, Redirect::to("/account")).into_response())
}

/// Ends one of the person's own sign-ins, or all but this one.
pub async fn end_sign_ins(
    State(app): State<App>,
    who: SignedIn,
    Form(sent): Form<Ending>,
) -> Result<Response, WebError> {
    let (centre, number, now) = (who.centre(), who.staff.number, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    if sent.id.is_empty() {
        sign_ins::end_all(&mut tx, centre, number, Some(&who.token_hash)).await?;
    } else {
        let hash = tokens::from_hex(&sent.id).ok_or(WebError::Missing("sign-in"))?;
        if !sign_ins::end_own(&mut tx, centre, number, &hash).await? {
            return Err(WebError::Missing("sign-in"));
        }
    }
    deeds::note(&mut tx, centre, Some(number), "sign_in_ended", &format!("u-{}", number.0), now).await?;
    tx.commit().await?;
    Ok(Redirect::to("/account").into_response())
}

/// Makes new recovery codes in the place of those before, and shows them, this once.
pub async fn recovery(
    State(app): State<App>,
    who: SignedIn,
    tablet: TabletToken,
    Form(sent): Form<Sure>,
) -> Result<Response, WebError> {
    let (centre, number) = (who.centre(), who.staff.number);
    let mut faults = Faults::none();
    if !proof::given(&app, &who, &sent.own_password, &mut faults).await? {
        return account_page(&app, &who, tablet, faults, StatusCode::FORBIDDEN).await;
    }
    let mut tx = app.store.begin(centre).await?;
    if !second_factors::is_set_up(&mut tx, centre, number).await? {
        return Err(WebError::Stale("Set up one-time codes first; recovery codes stand in for them."));
    }
    let codes = new_recovery(&mut tx, &who.staff).await?;
    let about = format!("u-{}", number.0);
    deeds::note(&mut tx, centre, Some(number), "recovery_codes_made", &about, app.clock.now()).await?;
    tx.commit().await?;
    let page = Page::at(&who.staff, Place::Account);
    Ok(html(&RecoveryPage { page, codes, next: "/account".into() })?.into_response())
}
