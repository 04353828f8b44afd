//! The criteria library: the centre's own criteria and those that are shipped.

pub mod advice;
pub mod form;
pub mod rules;
pub mod typed;
pub mod write;

#[cfg(test)]
mod form_tests;

use super::App;
use super::error::WebError;
use super::extract::{Author, Form, Path, Query, SignedIn};
use super::form::Faults;
use super::page::{Page, Place, html};
use crate::bay::Standards;
use crate::marking::library::{self, Starter};
use crate::marking::{Criterion, CriterionId, Decided, Fails};
use crate::store::CentreId;
use crate::store::centres::{self, Scheme};
use crate::store::criteria::{self, Own};
use crate::store::staff::{Role, Staff};

use askama::Template;
use axum::extract::State;
use axum::response::{Html, Redirect};
use serde::Deserialize;
use sqlx::PgConnection;
use typed::Typed;

/// The schemes, with the word that addresses and files use.
pub const SCHEMES: [(Standards, &str, &str); 5] = [
    (Standards::Gb, "GB", "Great Britain"),
    (Standards::Ie, "IE", "Ireland"),
    (Standards::Eu, "EU", "European Union"),
    (Standards::Us, "US", "United States"),
    (Standards::Au, "AU", "Australia"),
];

/// The scheme of this word.
pub fn scheme_of_word(word: &str) -> Option<Standards> {
    SCHEMES.iter().find(|(_, name, _)| *name == word).map(|(scheme, ..)| *scheme)
}

/// The word of a scheme.
pub fn scheme_word(scheme: Standards) -> &'static str {
    SCHEMES.iter().find(|(one, ..)| *one == scheme).map_or("GB", |(_, word, _)| word)
}

/// The scheme that the centre works by.
pub async fn scheme_of_centre(tx: &mut PgConnection, centre: &CentreId) -> Result<Standards, WebError> {
    let settings = centres::settings(tx, centre).await?.ok_or(WebError::Missing("centre"))?;
    Ok(match settings.scheme {
        Scheme::Gb => Standards::Gb,
        Scheme::Ie => Standards::Ie,
        Scheme::Eu => Standards::Eu,
        Scheme::Us => Standards::Us,
        Scheme::Au => Standards::Au,
    })
}

/// Whether a person writes criteria and checklists.
pub fn may_write(staff: &Staff) -> bool {
    staff.is(Role::Assessor) || staff.is(Role::Manager)
}

/// What a criterion that is not met does, in a word or two.
pub fn fails_word(fails: Fails) -> &'static str {
    match fails {
        Fails::Ordinary => "ordinary",
        Fails::Must => "must",
        Fails::Automatic => "automatic fail",
    }
}

/// A criterion as lists show it.
pub struct Shown {
    pub criterion: Criterion,
    pub how: String,
    pub parameters: Vec<String>,
    /// What it protects from, where the library says so.
    pub why: String,
    /// How far the source was checked, where the library says so.
    pub checked: &'static str,
    /// Whether the centre has a criterion of this name; for starter criteria.
    pub taken: bool,
}

impl Shown {
    pub fn of(criterion: Criterion) -> Self {
        let parameters = match &criterion.decided {
            Decided::ByEye => Vec::new(),
            Decided::Rule(rule) => rules::parameters(rule),
        };
        let how = rules::decided_words(&criterion.decided);
        Self { criterion, how, parameters, why: String::new(), checked: "", taken: false }
    }

    fn of_starter(starter: &Starter, taken: bool) -> Self {
        let why = starter.why.clone();
        Self { why, checked: starter.status.says(), taken, ..Self::of(starter.criterion.clone()) }
    }

    /// In a word or two, what follows if it is not met.
    pub fn fails(&self) -> &'static str {
        fails_word(self.criterion.fails)
    }

    /// Whether what is searched for stands in it.
    fn holds(&self, wanted: &str) -> bool {
        let criterion = &self.criterion;
        let feedback = [&criterion.when_met, &criterion.when_not_met].into_iter().flatten().map(String::as_str);
        let texts = [criterion.id.as_str(), &criterion.says, &criterion.source, &self.how, &self.why];
        let mut texts = texts.into_iter().chain(feedback).map(str::to_lowercase);
        wanted.split_whitespace().all(|word| texts.any(|text| text.contains(&word.to_lowercase())))
    }
}

/// Criteria under the title of a stage.
pub struct Group {
    pub title: String,
    pub rows: Vec<Shown>,
}

/// Criteria by stage, each stage once, in the order of their first criterion.
fn grouped(criteria: impl Iterator<Item = (String, Shown)>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (title, row) in criteria {
        match groups.iter_mut().find(|group| group.title == title) {
            Some(group) => group.rows.push(row),
            None => groups.push(Group { title, rows: vec![row] }),
        }
    }
    groups
}

/// The centre's own criteria that hold what is searched for; those that are offered, or those that are retired.
pub fn own_groups(own: &[Own], wanted: &str, retired: bool) -> Vec<Group> {
    let of = own.iter().filter(|one| one.retired_at.is_some() == retired);
    grouped(of.map(|one| (one.stage.clone(), Shown::of(one.criterion.clone()))).filter(|(_, row)| row.holds(wanted)))
}

/// The starter criteria of a scheme that hold what is searched for.
pub fn starter_groups(scheme: Standards, own: &[Own], wanted: &str) -> Vec<Group> {
    let taken = |id: &CriterionId| own.iter().any(|one| one.criterion.id == *id);
    let row = |starter: &Starter| {
        let title = stage_title(scheme, starter);
        (title, Shown::of_starter(starter, taken(&starter.criterion.id)))
    };
    grouped(library::criteria(scheme).iter().map(row).filter(|(_, row)| row.holds(wanted)))
}

/// The title of a starter criterion's stage in its scheme.
pub fn stage_title(scheme: Standards, starter: &Starter) -> String {
    let stage = library::stages(scheme).iter().find(|stage| stage.stage == starter.stage);
    stage.map_or_else(String::new, |stage| stage.title.clone())
}

/// The list of criteria.
#[derive(Template)]
#[template(path = "criteria/list.html")]
struct ListPage {
    page: Page,
    may_write: bool,
    q: String,
    scheme: &'static str,
    schemes: Vec<(&'static str, String)>,
    /// Whether the centre has any criterion of its own, retired or not.
    has_own: bool,
    own: Vec<Group>,
    starter: Vec<Group>,
    retired: Vec<Group>,
    done: &'static str,
    /// A search has none; the fields ask for them.
    faults: Faults,
}

/// What the list is asked for.
#[derive(Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    q: String,
    #[serde(default)]
    scheme: String,
    #[serde(default)]
    done: String,
}

/// Shows the centre's criteria and the starter library.
pub async fn list(State(app): State<App>, who: SignedIn, Query(asked): Query<Asked>) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let own = criteria::list(&mut tx, who.centre()).await?;
    let scheme = match scheme_of_word(&asked.scheme) {
        Some(scheme) => scheme,
        None => scheme_of_centre(&mut tx, who.centre()).await?,
    };
    tx.commit().await?;
    let q: String = asked.q.trim().chars().take(200).collect();
    html(&ListPage {
        page: Page::at(&who.staff, Place::Checklists),
        may_write: may_write(&who.staff),
        scheme: scheme_word(scheme),
        schemes: scheme_options(),
        has_own: !own.is_empty(),
        own: own_groups(&own, &q, false),
        starter: starter_groups(scheme, &own, &q),
        retired: own_groups(&own, &q, true),
        done: done_words(&asked.done),
        faults: Faults::none(),
        q,
    })
}

/// The schemes to choose from.
pub fn scheme_options() -> Vec<(&'static str, String)> {
    SCHEMES.iter().map(|(_, word, name)| (*word, format!("{name} ({word})"))).collect()
}

fn done_words(done: &str) -> &'static str {
    match done {
        "taken" => "It is in the centre’s criteria now.",
        "retired" => "It is retired: nobody is offered it any more. Checklists that hold it keep it.",
        "back" => "It is offered again.",
        _ => "",
    }
}

/// Takes a starter criterion into the centre's own.
pub async fn take(
    State(app): State<App>,
    Author(who): Author,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Redirect, WebError> {
    let typed = Typed::of(pairs);
    let scheme = scheme_of_word(typed.get("scheme")).ok_or(WebError::Missing("criterion"))?;
    let id = CriterionId::new(typed.get("criterion")).ok_or(WebError::Missing("criterion"))?;
    let starter = library::criterion(scheme, &id).ok_or(WebError::Missing("criterion"))?;
    let mut tx = app.store.begin(who.centre()).await?;
    let (stage, by, now) = (stage_title(scheme, starter), who.staff.number, app.clock.now());
    // Where it is there already, it is what was asked for.
    criteria::add(&mut tx, who.centre(), &starter.criterion, &stage, by, now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&format!("/criteria?scheme={}&done=taken", scheme_word(scheme))))
}

/// Retires a criterion of the centre.
pub async fn retire(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<CriterionId>,
) -> Result<Redirect, WebError> {
    set_retired(&app, &who, &id, true).await?;
    Ok(Redirect::to("/criteria?done=retired"))
}

/// Offers a retired criterion again.
pub async fn bring_back(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<CriterionId>,
) -> Result<Redirect, WebError> {
    set_retired(&app, &who, &id, false).await?;
    Ok(Redirect::to("/criteria?done=back"))
}

async fn set_retired(app: &App, who: &SignedIn, id: &CriterionId, retired: bool) -> Result<(), WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let from = retired.then(|| app.clock.now());
    if !criteria::retire(&mut tx, who.centre(), id, from).await? {
        return Err(WebError::Missing("criterion"));
    }
    tx.commit().await?;
    Ok(())
}
