//! Writing a criterion, step by step.

use super::form::{self, Next, Step};
use super::rules::{self, FAMILIES, Family};
use super::typed::Typed;
use super::{advice, scheme_of_centre};
use crate::bay::ItemKind;
use crate::marking::act_form::{self, Holds};
use crate::marking::observation::{Part, ProvedOn};
use crate::marking::{Criterion, CriterionId, Task, library};
use crate::store::criteria::{self, Own};
use crate::store::tasks;
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Author, Form, Path, Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;
use std::collections::BTreeSet;
use time::OffsetDateTime;

/// The form of a criterion.
#[derive(Template)]
#[template(path = "criteria/write.html")]
struct WritePage {
    page: Page,
    /// The identifier, where the criterion is there already.
    name: Option<String>,
    retired: bool,
    step: Step,
    typed: Typed,
    faults: Faults,
    /// What the other steps hold, carried along.
    carried: Vec<(String, String)>,
    stages: Vec<String>,
    rule: Option<&'static rules::Words>,
    acts: Vec<ActForm>,
    /// What could be better, once it is saved.
    saved: bool,
    advice: Vec<String>,
}

/// The form of one act.
struct ActForm {
    prefix: &'static str,
    label: &'static str,
    kinds: Vec<(&'static str, &'static str)>,
    kind_says: &'static str,
    fields: Vec<FieldForm>,
}

struct FieldForm {
    /// Its name in the form.
    name: String,
    label: String,
    /// Words to choose from; empty where a name is typed.
    words: Vec<(String, String)>,
    /// Names that occur in the centre's tasks.
    known: Vec<(String, String)>,
}

const FAILS: [(&str, &str, &str); 3] = [
    ("ordinary", "Ordinary", "If it is not met, its marks are lost and nothing else."),
    ("must", "Must", "If it is not met, the attempt fails, whatever the marks."),
    (
        "automatic",
        "Automatic fail",
        "If it is not met, the attempt ends in an automatic fail, which the assessor confirms or overrules.",
    ),
];

impl WritePage {
    fn families(&self) -> &'static [Family] {
        &FAMILIES
    }

    fn all_fails(&self) -> &'static [(&'static str, &'static str, &'static str)] {
        &FAILS
    }

    fn instruments(&self) -> Vec<(&'static str, String)> {
        ItemKind::INSTRUMENTS.iter().map(|one| (one.word(), rules::plain(one.word()))).collect()
    }

    fn parts(&self) -> Vec<(&'static str, String)> {
        Part::ALL.iter().map(|one| (one.word(), rules::plain(one.word()))).collect()
    }

    fn proofs(&self) -> Vec<(&'static str, String)> {
        ProvedOn::ALL.iter().map(|one| (one.word(), rules::plain(one.word()))).collect()
    }

    fn rounds(&self) -> [(&'static str, &'static str); 3] {
        rules::ROUNDS
    }

    fn is_proof(&self) -> bool {
        self.rule.is_some_and(|rule| form::is_proof(rule.word))
    }

    fn is(&self, word: &str) -> bool {
        self.rule.is_some_and(|rule| rule.word == word)
    }

    fn action(&self) -> String {
        self.name.as_ref().map_or_else(|| "/criteria/new".into(), |name| format!("/criteria/own/{name}"))
    }
}

/// The names of the fields of the first step.
const ABOUT: [&str; 9] = ["id", "says", "stage", "source", "weight", "fails", "when_met", "when_not_met", "decided"];

/// What the page of a criterion is asked for.
#[derive(Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    done: String,
}

/// The empty form.
pub async fn new(State(app): State<App>, Author(who): Author) -> Result<Response, WebError> {
    let mut typed = Typed::default();
    for (name, value) in [("weight", "1"), ("fails", "ordinary"), ("source", "common practice"), ("decided", "by_eye")]
    {
        typed.set(name, value);
    }
    let mut tx = app.store.begin(who.centre()).await?;
    let page = page(&mut tx, &who, None, typed, Step::About, Faults::none()).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

/// Takes a step of a new criterion, or adds it.
pub async fn add(
    State(app): State<App>,
    Author(who): Author,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let (step, faults) = match form::read(&typed, None) {
        Next::Ask(step, faults) => (step, faults),
        Next::Done(criterion, stage) => {
            let own = !typed.get("id").trim().is_empty();
            match add_one(&mut tx, &app, &who, *criterion, &stage, own).await? {
                Some(id) => {
                    tx.commit().await?;
                    return Ok(Redirect::to(&format!("/criteria/own/{id}?done=saved")).into_response());
                }
                None => {
                    let mut faults = Faults::none();
                    faults.add("id", "Another criterion has this short name. Choose another, or leave it empty.");
                    (Step::About, faults)
                }
            }
        }
    };
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let page = page(&mut tx, &who, None, typed, step, faults).await?;
    tx.commit().await?;
    Ok((status, html(&page)?).into_response())
}

/// Adds a criterion; one whose name was made up gets a number behind it where the name is taken.
async fn add_one(
    tx: &mut PgConnection,
    app: &App,
    who: &SignedIn,
    criterion: Criterion,
    stage: &str,
    named: bool,
) -> Result<Option<CriterionId>, WebError> {
    let tries = if named { 1 } else { 100 };
    for number in 1..=tries {
        let id = if number == 1 { criterion.id.clone() } else { numbered(&criterion.id, number) };
        let one = Criterion { id: id.clone(), ..criterion.clone() };
        if criteria::add(tx, who.centre(), &one, stage, who.staff.number, app.clock.now()).await? {
            return Ok(Some(id));
        }
    }
    Ok(None)
}

fn numbered(id: &CriterionId, number: u32) -> CriterionId {
    CriterionId::new(&format!("{id}-{number}")).unwrap_or_else(|| id.clone())
}

/// The form of a criterion of the centre.
pub async fn show(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<CriterionId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let own = criteria::find(&mut tx, who.centre(), &id).await?.ok_or(WebError::Missing("criterion"))?;
    let mut typed = form::typed(&own.criterion, &own.stage);
    typed.set("seen", &mark(&own));
    let mut page = page(&mut tx, &who, Some(&own), typed, Step::About, Faults::none()).await?;
    tx.commit().await?;
    if asked.done == "saved" {
        page.saved = true;
        page.advice = advice::of(&own.criterion);
    }
    Ok(html(&page)?.into_response())
}

/// Takes a step of a criterion, or changes it.
pub async fn change(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<CriterionId>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let mut typed = Typed::of(pairs);
    let mut tx = app.store.begin(who.centre()).await?;
    let own = criteria::find(&mut tx, who.centre(), &id).await?.ok_or(WebError::Missing("criterion"))?;
    let (step, mut faults) = match form::read(&typed, Some(&id)) {
        Next::Ask(step, faults) => (step, faults),
        Next::Done(criterion, stage) => {
            let seen = seen(typed.get("seen"));
            let (by, now) = (who.staff.number, app.clock.now());
            let changed = match seen {
                Some(seen) => criteria::change(&mut tx, who.centre(), &criterion, &stage, seen, by, now).await?,
                None => false,
            };
            if changed {
                tx.commit().await?;
                return Ok(Redirect::to(&format!("/criteria/own/{id}?done=saved")).into_response());
            }
            (Step::About, Faults::none())
        }
    };
    let mut status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    if typed.get("seen") != mark(&own) {
        // Nothing is lost: what was typed stays in the form, and the next save is made knowingly.
        let now = form::typed(&own.criterion, &own.stage);
        let differ = ABOUT.iter().filter(|name| typed.get(name) != now.get(name));
        let named: Vec<String> = differ.map(|name| rules::plain(name)).collect();
        let says = format!(
            "Somebody changed this criterion after you opened it. It differs from yours in: {}. Save again to put yours in its place.",
            if named.is_empty() { "its rule".to_owned() } else { named.join(", ") },
        );
        faults.add("says", says);
        typed.set("seen", &mark(&own));
        status = StatusCode::CONFLICT;
    }
    let page = page(&mut tx, &who, Some(&own), typed, step, faults).await?;
    tx.commit().await?;
    Ok((status, html(&page)?).into_response())
}

/// Which state of a criterion a page shows: when it was changed, in microseconds.
fn mark(own: &Own) -> String {
    (own.changed_at.unix_timestamp_nanos() / 1_000).to_string()
}

fn seen(mark: &str) -> Option<OffsetDateTime> {
    OffsetDateTime::from_unix_timestamp_nanos(mark.parse::<i128>().ok()?.checked_mul(1_000)?).ok()
}

async fn page(
    tx: &mut PgConnection,
    who: &SignedIn,
    own: Option<&Own>,
    typed: Typed,
    step: Step,
    faults: Faults,
) -> Result<WritePage, WebError> {
    let typed = if step == Step::Parameters { form::with_defaults(typed) } else { typed };
    let rule = rules::named(typed.get("decided"));
    let tasks = if step == Step::Fields { newest_tasks(tx, who).await? } else { Vec::new() };
    let prefixes = rule.map_or(&[][..], |rule| form::acts(rule.word));
    let acts: Vec<ActForm> = prefixes.iter().map(|(prefix, label)| act_form(prefix, label, &typed, &tasks)).collect();
    let mut shown: Vec<String> = vec!["step".into(), "back".into()];
    match step {
        Step::About => shown.extend(ABOUT.map(str::to_owned)),
        Step::Parameters => {
            let own = ["filled", "accepts", "max_tip_mm", "parts", "rounds"];
            shown.extend(own.map(str::to_owned));
            shown.extend(acts.iter().map(|act| format!("{}.kind", act.prefix)));
        }
        Step::Fields => shown.extend(acts.iter().flat_map(|act| &act.fields).map(|field| field.name.clone())),
    }
    let carried = typed.but(&shown.iter().map(String::as_str).collect::<Vec<_>>());
    let stages = if step == Step::About { known_stages(tx, who).await? } else { Vec::new() };
    Ok(WritePage {
        page: Page::at(&who.staff, Place::Checklists),
        name: own.map(|own| own.criterion.id.to_string()),
        retired: own.is_some_and(|own| own.retired_at.is_some()),
        step,
        typed,
        faults,
        carried,
        stages,
        rule,
        acts,
        saved: false,
        advice: Vec::new(),
    })
}

/// Stages to choose from: those of the centre's criteria and of its scheme.
async fn known_stages(tx: &mut PgConnection, who: &SignedIn) -> Result<Vec<String>, WebError> {
    let scheme = scheme_of_centre(tx, who.centre()).await?;
    let mut stages: Vec<String> = library::stages(scheme).iter().map(|stage| stage.title.clone()).collect();
    for own in criteria::list(tx, who.centre()).await? {
        if !stages.contains(&own.stage) {
            stages.push(own.stage);
        }
    }
    Ok(stages)
}

/// The newest version of each task, at most twenty: where names are taken from.
async fn newest_tasks(tx: &mut PgConnection, who: &SignedIn) -> Result<Vec<Task>, WebError> {
    let mut found = Vec::new();
    for listed in tasks::list(tx, who.centre()).await?.into_iter().take(20) {
        found.extend(tasks::find(tx, who.centre(), listed.id, listed.version).await?.map(|published| published.task));
    }
    Ok(found)
}

fn act_form(prefix: &'static str, label: &'static str, typed: &Typed, tasks: &[Task]) -> ActForm {
    let kind = typed.get(&format!("{prefix}.kind"));
    let offered = act_form::KINDS.into_iter().filter(|(one, _)| act_form::can_be_seen(one) || *one == kind);
    let field = |field: act_form::Field| {
        let words = match &field.holds {
            Holds::Word(words) => words.iter().map(|word| ((*word).to_owned(), rules::plain(word))).collect(),
            Holds::YesNo => vec![("yes".to_owned(), "yes".to_owned()), ("no".to_owned(), "no".to_owned())],
            Holds::Name(_) => Vec::new(),
        };
        let known = match &field.holds {
            Holds::Name(of) => known_names(of, tasks),
            _ => Vec::new(),
        };
        FieldForm { name: format!("{prefix}.{}", field.name), label: field_label(field.name), words, known }
    };
    ActForm {
        prefix,
        label,
        kinds: offered.collect(),
        kind_says: act_form::KINDS.iter().find(|(one, _)| *one == kind).map_or("", |(_, says)| says),
        fields: act_form::fields(kind).into_iter().map(field).collect(),
    }
}

/// What a field of an act is called.
fn field_label(field: &str) -> String {
    let says = match field {
        "to" => "Position",
        "on" => "Tried on",
        "shows" => "What it showed",
        "holds" => "It holds",
        "filled" => "It is filled in",
        "first" => "First conductor",
        "second" => "Second conductor",
        "order_off" => "Which comes off first",
        other => {
            let plain = rules::plain(other);
            let mut letters = plain.chars();
            return letters.next().map_or_else(String::new, |one| one.to_uppercase().chain(letters).collect());
        }
    };
    says.to_owned()
}

/// Names of this sort in the tasks, with what they are called there.
fn known_names(of: &str, tasks: &[Task]) -> Vec<(String, String)> {
    let mut names = BTreeSet::new();
    let mut add = |id: &str, label: &str| names.insert((id.to_owned(), label.to_owned()));
    for task in tasks {
        let bay = &task.bay;
        match of {
            "circuit" => bay.circuits.iter().for_each(|one| _ = add(one.id.as_str(), &one.label)),
            "device" => bay.board.devices.iter().for_each(|one| _ = add(one.id.as_str(), &one.label)),
            "switch" => bay.switches().for_each(|one| _ = add(one.id.as_str(), &one.label)),
            "point" => bay.points().for_each(|one| _ = add(one.id.as_str(), &one.label)),
            "item" => bay.table.iter().for_each(|one| _ = add(one.id.as_str(), &one.label)),
            "source" => bay.sources.iter().for_each(|one| _ = add(one.id.as_str(), &one.label)),
            "criterion" => task.checklist.criteria().for_each(|one| _ = add(one.id.as_str(), &one.says)),
            _ => {}
        }
    }
    names.into_iter().collect()
}
