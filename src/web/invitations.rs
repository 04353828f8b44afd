//! Links that a manager passes on: an invitation, and a link to a new password. Looking at one changes nothing and tells
//! nothing: used, withdrawn, expired and unknown links look alike, also to mail scanners, which open links too.

use super::error::WebError;
use super::extract::{Form, Path};
use super::form::{self, Faults};
use super::page::{Page, html};
use super::sign_in::{self, Place};
use super::tokens::Token;
use super::{App, cookies, password_rules};
use crate::store::invitations::{self, Invitation};
use crate::store::sign_ins::{Factor, Start};
use crate::store::staff::{self, NewStaff, Staff};
use crate::store::{CentreId, StaffNo, centres, deeds, staffing};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;
use sqlx::PgConnection;

/// The form behind an invitation.
#[derive(Template)]
#[template(path = "invitations/show.html")]
struct InvitedPage {
    page: Page,
    action: String,
    centre: String,
    sent: Invited,
    refused: bool,
    faults: Faults,
}

/// What it sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Invited {
    name: String,
    sign_in_name: String,
    password: String,
}

/// The form behind a link to a new password.
#[derive(Template)]
#[template(path = "invitations/reset.html")]
struct ResetPage {
    page: Page,
    action: String,
    refused: bool,
    faults: Faults,
}

/// What it sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct NewPassword {
    password: String,
}

fn part(text: &str) -> String {
    super::show::percent(text).replace('/', "%2F")
}

impl InvitedPage {
    fn of(centre: &str, token: &str, mut sent: Invited) -> Self {
        sent.password.clear();
        let action = format!("/invitations/{}/{}", part(centre), part(token));
        let centre = CentreId::new(centre).map(|centre| centre.as_str().to_owned()).unwrap_or_default();
        Self { page: Page::of_nobody(), action, centre, sent, refused: false, faults: Faults::none() }
    }
}

impl ResetPage {
    fn of(centre: &str, token: &str) -> Self {
        let action = format!("/resets/{}/{}", part(centre), part(token));
        Self { page: Page::of_nobody(), action, refused: false, faults: Faults::none() }
    }
}

/// Shows the form of an invitation, the same for every link.
pub async fn show(Path((centre, token)): Path<(String, String)>) -> Result<Response, WebError> {
    Ok(html(&InvitedPage::of(&centre, &token, Invited::default()))?.into_response())
}

/// Shows the form of a link to a new password, the same for every link.
pub async fn show_reset(Path((centre, token)): Path<(String, String)>) -> Result<Response, WebError> {
    Ok(html(&ResetPage::of(&centre, &token))?.into_response())
}

/// Uses an invitation: makes the person and signs them in; where the centre asks for a second factor they set it up next.
pub async fn accept(
    State(app): State<App>,
    Path((centre, token)): Path<(String, String)>,
    place: Place,
    jar: CookieJar,
    Form(sent): Form<Invited>,
) -> Result<Response, WebError> {
    let (code, link) = (centre, token);
    let refused = |page: InvitedPage| -> Result<Response, WebError> {
        Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response())
    };
    let known = CentreId::new(&code).zip(Token::from_hex(&link));
    let Some((centre, token)) = known else {
        return refused(InvitedPage { refused: true, ..InvitedPage::of(&code, &link, sent) });
    };
    let mut tx = app.store.begin(&centre).await?;
    let Some(invitation) = invitations::take(&mut tx, &centre, &token.hash(), false, app.clock.now()).await? else {
        return refused(InvitedPage { refused: true, ..InvitedPage::of(&code, &link, sent) });
    };
    let mut faults = Faults::none();
    let person = add(&app, &mut tx, &centre, &invitation, &sent, &mut faults).await?;
    let Some(person) = person else {
        // The transaction is dropped here, and the link can be used again.
        return refused(InvitedPage { faults, ..InvitedPage::of(&code, &link, sent) });
    };
    let asks = centres::settings(&mut tx, &centre).await?.is_some_and(|settings| settings.second_factor_asked);
    let factor = if asks { Factor::SetUpOwed } else { Factor::Link };
    let now = app.clock.now();
    deeds::note(&mut tx, &centre, Some(person.number), "invitation_used", &format!("u-{}", person.number.0), now)
        .await?;
    let token = Token::new();
    sign_in::start_in(&app, &mut tx, &person, &token, &Start { factor, tablet: None, device: place.device }).await?;
    tx.commit().await?;
    let jar = jar.add(cookies::carry(cookies::Purpose::SignIn, &place.here, &centre, &token));
    Ok((jar, Redirect::to(if asks { "/sign-in/second-factor" } else { "/" })).into_response())
}

/// Adds the person that was invited. `None`, with faults noted, where what they typed does not fit.
async fn add(
    app: &App,
    tx: &mut PgConnection,
    centre: &CentreId,
    invitation: &Invitation,
    sent: &Invited,
    faults: &mut Faults,
) -> Result<Option<Staff>, WebError> {
    let name = form::line(faults, "name", &sent.name, 200);
    let sign_in_name = sign_in_name(faults, &sent.sign_in_name);
    check_password(tx, centre, &sent.password, &[&name, &sign_in_name], faults).await?;
    if !faults.is_empty() {
        return Ok(None);
    }
    let password_hash = app.passwords.keep(sent.password.clone()).await?;
    let roles = invitation.roles.clone();
    let person =
        NewStaff { sign_in_name: sign_in_name.clone(), name: name.clone(), roles: roles.clone(), password_hash };
    let Some(number) = staff::add(tx, centre, &person).await? else {
        faults.add("sign_in_name", "Somebody at this centre has this sign-in name already. Choose another.");
        return Ok(None);
    };
    Ok(Some(Staff { centre: centre.clone(), number, sign_in_name, name, roles }))
}

/// Uses a link to a new password: sets it and ends every sign-in of its owner. The second factor stays.
pub async fn reset(
    State(app): State<App>,
    Path((centre, token)): Path<(String, String)>,
    Form(sent): Form<NewPassword>,
) -> Result<Response, WebError> {
    let (code, link) = (centre, token);
    let refused = |page: ResetPage| -> Result<Response, WebError> {
        Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response())
    };
    let unusable = || ResetPage { refused: true, ..ResetPage::of(&code, &link) };
    let Some((centre, token)) = CentreId::new(&code).zip(Token::from_hex(&link)) else { return refused(unusable()) };
    let now = app.clock.now();
    let mut tx = app.store.begin(&centre).await?;
    let taken = invitations::take(&mut tx, &centre, &token.hash(), true, now).await?;
    let Some(who) = taken.and_then(|invitation| invitation.resets) else { return refused(unusable()) };
    let mut faults = Faults::none();
    let Some(person) = staff::find(&mut tx, &centre, who).await? else { return refused(unusable()) };
    check_password(&mut tx, &centre, &sent.password, &[&person.name, &person.sign_in_name], &mut faults).await?;
    if !faults.is_empty() {
        return refused(ResetPage { faults, ..ResetPage::of(&code, &link) });
    }
    let password_hash = app.passwords.keep(sent.password).await?;
    staffing::set_password(&mut tx, &centre, who, &password_hash, None).await?;
    deeds::note(&mut tx, &centre, Some(who), "password_reset", &format!("u-{}", who.0), now).await?;
    tx.commit().await?;
    Ok(Redirect::to("/sign-in").into_response())
}

/// Notes what is wrong with a new password of somebody at this centre.
pub async fn check_password(
    tx: &mut PgConnection,
    centre: &CentreId,
    password: &str,
    persons: &[&str],
    faults: &mut Faults,
) -> Result<(), WebError> {
    let named = centres::find(tx, centre).await?.map(|centre| centre.name).unwrap_or_default();
    let names: Vec<&str> = persons.iter().copied().chain([centre.as_str(), named.as_str()]).collect();
    if let Some(says) = password_rules::fault(password, &names) {
        faults.add("password", says);
    }
    Ok(())
}

/// A sign-in name before its `@`: 2 to 64 of `a-z`, digits, dot, dash and underscore; capitals do not matter. Where it does
/// not fit a fault is noted.
pub fn sign_in_name(faults: &mut Faults, typed: &str) -> String {
    let name = typed.trim().to_ascii_lowercase();
    let fits = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b".-_".contains(&b);
    if !(2..=64).contains(&name.len()) || !name.bytes().all(fits) {
        faults.add(
            "sign_in_name",
            "Please give 2 to 64 letters from a to z, digits, dots, dashes or underscores, such as kim.o; nothing after an @.",
        );
    }
    name
}

/// The address of a new link, of which only the hash is stored.
pub async fn new_link(
    app: &App,
    tx: &mut PgConnection,
    place: &super::origin::Origin,
    by: &Staff,
    invitation: &Invitation,
) -> Result<String, WebError> {
    let (token, now) = (Token::new(), app.clock.now());
    invitations::make(tx, &by.centre, &token.hash(), invitation, now).await?;
    let (kind, what, about) = match invitation.resets {
        Some(StaffNo(who)) => ("resets", "reset_link_made", format!("u-{who}")),
        // Not whom: nothing can be erased from the record, and the person has no number yet.
        None => ("invitations", "invited", format!("as {}", super::staff::in_words(&invitation.roles))),
    };
    deeds::note(tx, &by.centre, Some(by.number), what, &about, now).await?;
    Ok(format!("{place}/{kind}/{}/{}", by.centre.as_str(), token.hex()))
}
