//! The form in which a manager sets and confirms how long each kind of record is kept.

use super::words;
use crate::store::deeds;
use crate::store::keeping::{self, Kind, Periods};
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, SignedIn};
use crate::web::form::{self, Faults};
use crate::web::page::{Page, Place, html};
use crate::web::{App, proof};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

/// The form.
#[derive(Template)]
#[template(path = "records/periods.html")]
struct PeriodsPage {
    page: Page,
    fields: Vec<Field>,
    confirmed: bool,
    ask_password: bool,
    faults: Faults,
}

/// One period.
struct Field {
    name: &'static str,
    label: String,
    hint: String,
    value: String,
}

/// What the form sends: months, by the words of the kinds.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Typed {
    passes: String,
    fails: String,
    words: String,
    candidates: String,
    links: String,
    invitations: String,
    sign_ins: String,
    exports: String,
    deeds: String,
    own_password: String,
}

impl Typed {
    fn of(&self, kind: Kind) -> &str {
        match kind {
            Kind::Passes => &self.passes,
            Kind::Fails => &self.fails,
            Kind::Words => &self.words,
            Kind::Candidates => &self.candidates,
            Kind::Links => &self.links,
            Kind::Invitations => &self.invitations,
            Kind::SignIns => &self.sign_ins,
            Kind::Exports => &self.exports,
            Kind::Deeds => &self.deeds,
        }
    }

    /// The periods that were typed; `None`, with faults noted, where they make no sense.
    fn read(&self, faults: &mut Faults) -> Option<Periods> {
        let mut every = true;
        let mut month = |kind: Kind| {
            let (least, most) = kind.bounds();
            let number = form::whole(faults, kind.word(), self.of(kind), least.into(), most.into());
            every &= number.is_some();
            // A period that makes no sense must not hide the faults of the others.
            Some(number.and_then(|number| i16::try_from(number).ok()).unwrap_or(least))
        };
        let periods = Periods::told(&mut month).filter(|_| every)?;
        let passes = periods.of(Kind::Passes);
        for (kind, what) in [(Kind::Words, "words"), (Kind::Links, "links")] {
            if periods.of(kind) > passes {
                let says = format!("The {what} belong to a session: at most {passes} months, as long as it is kept.");
                faults.add(kind.word(), says);
            }
        }
        faults.is_empty().then_some(periods)
    }
}

/// Shows the periods as they are.
pub async fn show(State(app): State<App>, Manager(who): Manager) -> Result<Response, WebError> {
    let (periods, confirmed) = now(&app, &who).await?;
    let value = |kind| periods.of(kind).to_string();
    page(&app, &who, value, confirmed, Faults::none(), StatusCode::OK)
}

/// Sets and confirms them, and notes each one that changed.
pub async fn set(State(app): State<App>, Manager(who): Manager, Form(sent): Form<Typed>) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    let (before, confirmed) = now(&app, &who).await?;
    let value = |kind| sent.of(kind).to_owned();
    let Some(periods) = sent.read(&mut faults) else {
        return page(&app, &who, value, confirmed, faults, StatusCode::UNPROCESSABLE_ENTITY);
    };
    if !proof::given(&app, &who, &sent.own_password, &mut faults).await? {
        return page(&app, &who, value, confirmed, faults, StatusCode::FORBIDDEN);
    }
    let (centre, by, at) = (who.centre(), who.staff.number, app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    keeping::set_periods(&mut tx, centre, &periods, by, at).await?;
    for kind in Kind::ALL.into_iter().filter(|kind| before.of(*kind) != periods.of(*kind)) {
        let about = format!("months of {}: {} → {}", kind.word(), before.of(kind), periods.of(kind));
        deeds::note(&mut tx, centre, Some(by), "setting_changed", &about, at).await?;
    }
    deeds::note(&mut tx, centre, Some(by), "periods_confirmed", "", at).await?;
    tx.commit().await?;
    Ok(Redirect::to("/centre/records?saved=yes").into_response())
}

async fn now(app: &App, who: &SignedIn) -> Result<(Periods, bool), WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let (periods, confirmed) = keeping::periods(&mut tx, who.centre()).await?.ok_or(WebError::Missing("centre"))?;
    tx.commit().await?;
    Ok((periods, confirmed.is_some()))
}

fn page(
    app: &App,
    who: &SignedIn,
    value: impl Fn(Kind) -> String,
    confirmed: bool,
    faults: Faults,
    status: StatusCode,
) -> Result<Response, WebError> {
    let fields = Kind::ALL.into_iter().map(|kind| {
        let (least, most) = kind.bounds();
        Field {
            name: kind.word(),
            label: format!("{}, months {}", words::label(kind), words::from(kind)),
            hint: format!("{least} to {most}. {} {}", words::goes(kind), words::advice(kind)),
            value: value(kind),
        }
    });
    let page = PeriodsPage {
        page: Page::at(&who.staff, Place::Centre),
        fields: fields.collect(),
        confirmed,
        ask_password: !proof::is_fresh(who, app.clock.now()),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}
