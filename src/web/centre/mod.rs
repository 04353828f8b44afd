//! What a centre decides for itself.

pub mod next_steps;
pub mod record;
pub mod tablets;

use super::App;
use super::error::WebError;
use super::extract::{Form, Manager, Query, SignedIn};
use super::form::{self, Faults};
use super::page::{Page, Place, html};
use super::proof;
use crate::store::centres::{self, Language, Release, ReleasedHow, Scheme, Settings};
use crate::store::deeds;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use time::macros::format_description;

/// Value and label of each thing to choose from.
type Choices = Vec<(&'static str, &'static str)>;

#[derive(Template)]
#[template(path = "centre/settings.html")]
struct SettingsPage {
    page: Page,
    code: String,
    sent: Typed,
    zones: Vec<String>,
    schemes: Choices,
    languages: Choices,
    releases: Choices,
    saved: bool,
    ask_password: bool,
    faults: Faults,
}

/// What the form sends.
#[derive(Debug, Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct Typed {
    name: String,
    sheet_name: String,
    time_zone: String,
    scheme: String,
    language: String,
    release: String,
    release_days: String,
    release_time: String,
    review_days: String,
    second_factor: Option<String>,
    own_password: String,
}

/// Whether something was just saved.
#[derive(Deserialize, Default)]
#[serde(default)]
pub struct After {
    saved: Option<String>,
}

impl Typed {
    /// The settings as they stand in the form.
    fn of(settings: &Settings) -> Self {
        let time = settings.release.at.format(format_description!("[hour]:[minute]")).unwrap_or_default();
        Self {
            name: settings.name.clone(),
            sheet_name: settings.sheet_name.clone().unwrap_or_default(),
            time_zone: settings.time_zone.clone(),
            scheme: settings.scheme.word().into(),
            language: settings.language.word().into(),
            release: settings.release.how.word().into(),
            release_days: settings.release.days.to_string(),
            release_time: time,
            review_days: settings.review_days.to_string(),
            second_factor: settings.second_factor_asked.then(|| "on".into()),
            own_password: String::new(),
        }
    }

    /// The settings that were typed; `None`, with faults noted, where they make no sense.
    fn read(&self, zones: &[String], faults: &mut Faults) -> Option<Settings> {
        let name = form::line(faults, "name", &self.name, 200);
        let sheet_name = (!self.sheet_name.trim().is_empty())
            .then(|| form::line(faults, "sheet_name", &self.sheet_name, 200))
            .filter(|sheet| *sheet != name);
        let time_zone = time_zone(faults, &self.time_zone, zones);
        let scheme = chosen(faults, "scheme", Scheme::of_word(&self.scheme));
        let language = chosen(faults, "language", Language::of_word(&self.language));
        let how = chosen(faults, "release", ReleasedHow::of_word(&self.release));
        let days = small(faults, "release_days", &self.release_days, 0, 60);
        let at = time::Time::parse(self.release_time.trim(), format_description!("[hour]:[minute]")).ok();
        if at.is_none() {
            faults.add("release_time", "Please give a time of day such as 09:00.");
        }
        let review_days = small(faults, "review_days", &self.review_days, 1, 365);
        let (scheme, language, how, days, at) = (scheme?, language?, how?, days?, at?);
        let release = Release { how, days, at };
        let second_factor_asked = self.second_factor.is_some();
        let review_days = review_days?;
        faults.is_empty().then_some(Settings {
            name,
            sheet_name,
            time_zone,
            scheme,
            language,
            release,
            review_days,
            second_factor_asked,
        })
    }
}

fn chosen<T>(faults: &mut Faults, field: &str, one: Option<T>) -> Option<T> {
    if one.is_none() {
        faults.add(field, "Please choose one.");
    }
    one
}

fn small(faults: &mut Faults, field: &str, typed: &str, least: i64, most: i64) -> Option<i16> {
    form::whole(faults, field, typed, least, most).and_then(|number| i16::try_from(number).ok())
}

/// A name of the tz database, as the database spells it, however it was typed. Where there is none a fault of `time_zone`
/// is noted.
pub fn time_zone(faults: &mut Faults, typed: &str, zones: &[String]) -> String {
    let typed = typed.trim();
    let spelled = typed.replace(' ', "_");
    match zones.iter().find(|zone| zone.eq_ignore_ascii_case(&spelled)) {
        Some(zone) => zone.clone(),
        None => {
            faults
                .add("time_zone", "Please choose a place of the list, such as Europe/London. Type a city to find it.");
            typed.to_owned()
        }
    }
}

/// Shows the settings.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Query(after): Query<After>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let settings = centres::settings(&mut tx, who.centre()).await?.ok_or(WebError::Missing("centre"))?;
    tx.commit().await?;
    settings_page(&app, &who, Typed::of(&settings), Faults::none(), StatusCode::OK, after.saved.is_some()).await
}

async fn settings_page(
    app: &App,
    who: &SignedIn,
    sent: Typed,
    faults: Faults,
    status: StatusCode,
    saved: bool,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let zones = centres::time_zones(&mut tx).await?;
    tx.commit().await?;
    let page = SettingsPage {
        page: Page::at(&who.staff, Place::Centre),
        code: who.centre().as_str().to_owned(),
        sent,
        zones,
        schemes: Scheme::ALL.iter().map(|one| (one.word(), one.label())).collect(),
        languages: Language::ALL.iter().map(|one| (one.word(), one.label())).collect(),
        releases: ReleasedHow::ALL.iter().map(|one| (one.word(), one.label())).collect(),
        saved,
        ask_password: !proof::is_fresh(who, app.clock.now()),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// Changes the settings and notes each one that changed, from what to what.
pub async fn change(
    State(app): State<App>,
    Manager(who): Manager,
    Form(sent): Form<Typed>,
) -> Result<Response, WebError> {
    let mut faults = Faults::none();
    let mut tx = app.store.begin(who.centre()).await?;
    let zones = centres::time_zones(&mut tx).await?;
    tx.commit().await?;
    let Some(settings) = sent.read(&zones, &mut faults) else {
        return settings_page(&app, &who, sent, faults, StatusCode::UNPROCESSABLE_ENTITY, false).await;
    };
    if !proof::given(&app, &who, &sent.own_password, &mut faults).await? {
        return settings_page(&app, &who, sent, faults, StatusCode::FORBIDDEN, false).await;
    }
    let mut tx = app.store.begin(who.centre()).await?;
    let before = centres::settings(&mut tx, who.centre()).await?.ok_or(WebError::Missing("centre"))?;
    centres::change(&mut tx, who.centre(), &settings).await?;
    for about in changes(&Typed::of(&before), &Typed::of(&settings)) {
        deeds::note(&mut tx, who.centre(), Some(who.staff.number), "setting_changed", &about, app.clock.now()).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to("/centre?saved=yes").into_response())
}

/// Each setting that changed, as `time zone: Europe/London → Europe/Dublin`.
fn changes(before: &Typed, after: &Typed) -> Vec<String> {
    let asked = |typed: &Typed| if typed.second_factor.is_some() { "asked" } else { "not asked" }.to_owned();
    type Value = dyn Fn(&Typed) -> String;
    let each: [(&str, &Value); 10] = [
        ("name", &|t| t.name.clone()),
        ("name on the result sheet", &|t| t.sheet_name.clone()),
        ("time zone", &|t| t.time_zone.clone()),
        ("scheme", &|t| t.scheme.clone()),
        ("language of candidates", &|t| t.language.clone()),
        ("release", &|t| t.release.clone()),
        ("days to release", &|t| t.release_days.clone()),
        ("time of release", &|t| t.release_time.clone()),
        ("days for a review", &|t| t.review_days.clone()),
        ("second factor", &asked),
    ];
    let changed = each.iter().map(|(what, value)| (what, value(before), value(after)));
    // Two names of 200 characters would not fit the record.
    let short = |value: String| value.chars().take(100).collect::<String>();
    changed
        .filter(|(_, before, after)| before != after)
        .map(|(what, before, after)| format!("{what}: {} → {}", short(before), short(after)))
        .collect()
}
