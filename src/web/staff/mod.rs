//! The staff of the centre: the list, inviting, and one person's page.

pub mod person;

use super::App;
use super::error::WebError;
use super::extract::{Form, Here, Manager};
use super::form::{self, Faults};
use super::page::{Page, Place, html};
use super::{invitations as links, proof, show};
use crate::store::invitations::{self, Invitation};
use crate::store::staff::Role;
use crate::store::{deeds, sessions, staffing};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

/// A role as a box to tick.
pub struct RoleBox {
    pub word: &'static str,
    pub label: &'static str,
    pub may: &'static str,
    pub ticked: bool,
}

/// The boxes of all roles, those held ticked.
pub fn boxes(held: &[Role]) -> Vec<RoleBox> {
    let role = |role: Role| RoleBox {
        word: role.word(),
        label: label(role),
        may: match role {
            Role::Assessor => "marks sessions, writes checklists and tasks",
            Role::Verifier => "reads every session and result of the centre",
            Role::Manager => "looks after the centre: staff, settings, candidates, plans",
        },
        ticked: held.contains(&role),
    };
    Role::ALL.into_iter().map(role).collect()
}

fn label(role: Role) -> &'static str {
    match role {
        Role::Assessor => "Assessor",
        Role::Verifier => "Verifier",
        Role::Manager => "Manager",
    }
}

/// The roles in words, such as `Assessor, Verifier`.
pub fn in_words(roles: &[Role]) -> String {
    let words: Vec<&str> = Role::ALL.into_iter().filter(|role| roles.contains(role)).map(label).collect();
    if words.is_empty() { "No role".to_owned() } else { words.join(", ") }
}

/// The list.
#[derive(Template)]
#[template(path = "staff/list.html")]
struct ListPage {
    page: Page,
    rows: Vec<Row>,
    waiting: Vec<WaitingRow>,
    sent: Invite,
    roles: Vec<RoleBox>,
    ask_password: bool,
    faults: Faults,
}

struct Row {
    href: String,
    name: String,
    sign_in_name: String,
    roles: String,
    disabled: bool,
    second_factor: &'static str,
}

struct WaitingRow {
    id: String,
    whom: String,
    roles: String,
    resets: bool,
    until: String,
}

/// What the form of an invitation sends.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Invite {
    whom: String,
    assessor: Option<String>,
    verifier: Option<String>,
    manager: Option<String>,
    own_password: String,
}

impl Invite {
    fn roles(&self) -> Vec<Role> {
        ticked(&[(&self.assessor, Role::Assessor), (&self.verifier, Role::Verifier), (&self.manager, Role::Manager)])
    }
}

/// The roles whose boxes are ticked.
fn ticked(boxes: &[(&Option<String>, Role)]) -> Vec<Role> {
    boxes.iter().filter(|(ticked, _)| ticked.is_some()).map(|(_, role)| *role).collect()
}

/// The page that shows a link, once.
#[derive(Template)]
#[template(path = "staff/link.html")]
pub struct LinkPage {
    pub page: Page,
    pub whom: String,
    pub resets: bool,
    pub address: String,
    pub lasts: &'static str,
}

/// Shows everybody, and the links that wait to be used.
pub async fn list(State(app): State<App>, Manager(who): Manager) -> Result<Response, WebError> {
    list_page(&app, &who, Invite::default(), Faults::none(), StatusCode::OK).await
}

async fn list_page(
    app: &App,
    who: &super::extract::SignedIn,
    sent: Invite,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let (centre, now) = (who.centre(), app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    let rows = staffing::list(&mut tx, centre).await?.into_iter().map(row).collect();
    let mut waiting = Vec::new();
    for link in invitations::waiting(&mut tx, centre, now).await? {
        let until = sessions::local_time(&mut tx, centre, link.expires_at).await?;
        waiting.push(WaitingRow {
            id: link.token_hash.iter().map(|byte| format!("{byte:02x}")).collect(),
            whom: link.invitation.whom,
            roles: in_words(&link.invitation.roles),
            resets: link.invitation.resets.is_some(),
            until: show::moment(until),
        });
    }
    tx.commit().await?;
    let roles = boxes(&sent.roles());
    let ask_password = !proof::is_fresh(who, now);
    let page = Page::at(&who.staff, Place::Centre);
    Ok((status, html(&ListPage { page, rows, waiting, sent, roles, ask_password, faults })?).into_response())
}

fn row(listed: staffing::Listed) -> Row {
    Row {
        href: format!("/staff/{}", listed.staff.number.0),
        roles: in_words(&listed.staff.roles),
        disabled: listed.disabled_at.is_some(),
        second_factor: if listed.has_codes { "One-time codes" } else { "Not set up" },
        sign_in_name: format!("{}@{}", listed.staff.sign_in_name, listed.staff.centre.as_str()),
        name: listed.staff.name,
    }
}

/// Makes an invitation and shows its link, this once.
pub async fn invite(
    State(app): State<App>,
    Here(here): Here,
    Manager(who): Manager,
    Form(sent): Form<Invite>,
) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    let whom = form::line(&mut faults, "whom", &sent.whom, 200);
    let roles = sent.roles();
    if roles.is_empty() {
        faults.add("assessor", "Please tick at least one role.");
    }
    if !faults.is_empty() {
        return list_page(&app, &who, sent, faults, StatusCode::UNPROCESSABLE_ENTITY).await;
    }
    if !proof::given(&app, &who, &sent.own_password, &mut faults).await? {
        return list_page(&app, &who, sent, faults, StatusCode::FORBIDDEN).await;
    }
    let invitation = Invitation { whom: whom.clone(), roles, resets: None, made_by: who.staff.number };
    let mut tx = app.store.begin(who.centre()).await?;
    let address = links::new_link(&app, &mut tx, &here, &who.staff, &invitation).await?;
    tx.commit().await?;
    let page = Page::at(&who.staff, Place::Centre);
    Ok(html(&LinkPage { page, whom, resets: false, address, lasts: "24 hours" })?.into_response())
}

/// Which link to withdraw.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Withdrawal {
    id: String,
}

/// Withdraws a link that was not used yet.
pub async fn withdraw(
    State(app): State<App>,
    Manager(who): Manager,
    Form(sent): Form<Withdrawal>,
) -> Result<Response, WebError> {
    let hash = super::tokens::from_hex(&sent.id).ok_or(WebError::Missing("link"))?;
    let now = app.clock.now();
    let mut tx = app.store.begin(who.centre()).await?;
    if invitations::withdraw(&mut tx, who.centre(), &hash, now).await? {
        deeds::note(&mut tx, who.centre(), Some(who.staff.number), "link_withdrawn", "", now).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to("/staff").into_response())
}
