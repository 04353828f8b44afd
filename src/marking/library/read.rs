//! Reads the shipped files: each criterion as every scheme of it has it.

use super::{Scheme, SchemeStage, Starter, StarterStage};
use crate::bay::Standards;
use crate::bay::read::{LABEL, MANY, all};
use crate::marking::Criterion;
use crate::marking::read::criterion_alone;
use crate::reading::{At, Collected, Entry, Faults, Node, Value, from_toml};
use std::collections::HashSet;

const SCHEMES: &str = include_str!("schemes.toml");

/// The criteria, in the order in which they are done where a scheme says nothing else.
const CRITERIA: [&str; 7] = [
    include_str!("before.toml"),
    include_str!("locks.toml"),
    include_str!("notices.toml"),
    include_str!("securing.toml"),
    include_str!("equipment.toml"),
    include_str!("proving.toml"),
    include_str!("finishing.toml"),
];

/// The keys of a starter criterion that a task file does not have, those that name its schemes apart.
const OWN: [&str; 6] = ["stage", "ready_made", "why", "rests_on", "edition", "status"];

/// Longest sentence that says why, in characters.
const WHY: usize = 300;

/// Every scheme of the shipped files.
pub(super) fn shipped() -> Result<Vec<Scheme>, Faults> {
    library(SCHEMES, &CRITERIA)
}

/// Reads a library: its schemes, and its criteria into them.
pub(super) fn library(schemes: &str, criteria: &[&str]) -> Result<Vec<Scheme>, Faults> {
    let mut library = document(schemes, |at| all_under(at, "schemes", scheme))?;
    for text in criteria {
        for (standards, starter) in
            document(text, |at| all_under(at, "criteria", in_its_schemes))?.into_iter().flatten()
        {
            if let Some(scheme) = library.iter_mut().find(|scheme| scheme.standards == standards) {
                scheme.criteria.push(starter);
            }
        }
    }
    let found = Collected::default();
    for standards in Standards::ALL {
        if !library.iter().any(|scheme| scheme.standards == standards) {
            found.add(1, "schemes", format!("{} is missing", standards.word()));
        }
    }
    for scheme in &mut library {
        order(scheme, &found);
    }
    found.or_faults(Some(library))
}

/// Puts a scheme's criteria into the order of its stages; a name that stands there twice and a stage it lacks are faults.
fn order(scheme: &mut Scheme, found: &Collected) {
    let mut names = HashSet::new();
    for starter in &scheme.criteria {
        let id = &starter.criterion.id;
        if !names.insert(id.clone()) {
            found.add(1, "criteria", format!("`{id}` stands twice in {}", scheme.standards.word()));
        }
        if !scheme.stages.iter().any(|there| there.stage == starter.stage) {
            found.add(1, "stages", format!("{} has no stage for `{id}`", scheme.standards.word()));
        }
    }
    let place = |stage: StarterStage| scheme.stages.iter().position(|there| there.stage == stage);
    // A stable sort, so that within a stage the order of the files stays.
    scheme.criteria.sort_by_key(|starter| place(starter.stage));
}

fn document<T>(text: &str, read: impl Fn(&At<'_>) -> Option<T>) -> Result<T, Faults> {
    let found = Collected::default();
    let node = from_toml::read(text, &found);
    let value = node.as_ref().and_then(|node| read(&At::root(node, &found)));
    found.or_faults(value)
}

/// Reads every table of the one list that a document holds.
fn all_under<T>(at: &At<'_>, key: &'static str, read: impl Fn(&At<'_>) -> Option<T>) -> Option<Vec<T>> {
    let mut fields = at.fields()?;
    let tables = fields.some(key, MANY).and_then(|tables| all(&tables, read));
    fields.finish();
    tables
}

fn scheme(at: &At<'_>) -> Option<Scheme> {
    let mut fields = at.fields()?;
    let standards = fields.word("scheme");
    let title = fields.text("title", LABEL);
    let pass_percent = fields.whole("pass_percent", 0..=100);
    let stages = fields.some("stages", MANY).and_then(|stages| all(&stages, stage));
    fields.finish();
    Some(Scheme {
        standards: standards?,
        title: title?,
        pass_percent: pass_percent?,
        stages: stages?,
        criteria: Vec::new(),
    })
}

fn stage(at: &At<'_>) -> Option<SchemeStage> {
    let mut fields = at.fields()?;
    let (stage, title) = (fields.word("stage"), fields.text("title", LABEL));
    fields.finish();
    Some(SchemeStage { stage: stage?, title: title? })
}

/// A criterion as each of its schemes has it.
fn in_its_schemes(at: &At<'_>) -> Option<Vec<(Standards, Starter)>> {
    let mut fields = at.fields()?;
    let schemes = fields.required("schemes").and_then(|at| schemes(&at))?;
    let differs = fields.maybe("differs", |at| at.list(MANY))?.unwrap_or_default();
    let mut others: Vec<(Vec<Standards>, &Node)> = Vec::new();
    for other in &differs {
        let named = other.fields()?.required("schemes").and_then(|at| self::schemes(&at))?;
        if named.iter().any(|one| !schemes.contains(one) || others.iter().any(|(before, _)| before.contains(one))) {
            other.fault("a scheme that the criterion does not have, or that differs already");
        }
        others.push((named, other.node));
    }
    let own = |standards: &Standards| {
        let other = others.iter().find(|(named, _)| named.contains(standards)).map(|(_, node)| *node);
        let node = merged(at.node, other);
        Some((*standards, starter(&At { node: &node, path: at.path.clone(), found: at.found })?))
    };
    let starters: Vec<_> = schemes.iter().map(own).collect();
    starters.into_iter().collect()
}

fn schemes(at: &At<'_>) -> Option<Vec<Standards>> {
    at.distinct(MANY, At::word)
}

/// A criterion's table with what is otherwise in a scheme put in the place of what it says in general.
fn merged(general: &Node, other: Option<&Node>) -> Node {
    let of = |node: &Node| match &node.value {
        Value::Table(entries) => entries.clone(),
        _ => Vec::new(),
    };
    let mut entries = of(general);
    for entry in other.map(of).unwrap_or_default() {
        entries.retain(|there| there.key != entry.key);
        entries.push(entry);
    }
    entries.retain(|entry| entry.key != "schemes" && entry.key != "differs");
    Node { line: general.line, value: Value::Table(entries) }
}

/// Reads one merged table: what a task file has of it with the reader of task files, and the rest here.
fn starter(at: &At<'_>) -> Option<Starter> {
    let Value::Table(entries) = &at.node.value else { return None };
    let (own, rest): (Vec<Entry>, Vec<Entry>) =
        entries.iter().cloned().partition(|entry| OWN.contains(&entry.key.as_str()));
    let part = |entries| Node { line: at.node.line, value: Value::Table(entries) };
    let (own, rest) = (part(own), part(rest));
    let criterion = criterion_alone(&At { node: &rest, path: at.path.clone(), found: at.found });
    let own = At { node: &own, path: at.path.clone(), found: at.found };
    let mut fields = own.fields()?;
    let stage = fields.word("stage");
    let ready_made = fields.maybe("ready_made", |at| at.bool());
    let why = fields.text("why", WHY);
    let rests_on = fields.required("rests_on").and_then(|at| at.distinct(MANY, |at| at.text(8)));
    // Empty where a scheme has only common practice in place of the general source with its edition.
    let edition = fields.maybe("edition", |at| match at.node.as_text() {
        Some("") => Some(None),
        _ => at.text(LABEL).map(Some),
    });
    let status = fields.word("status");
    let edition = edition?.flatten();
    Some(Starter {
        criterion: with_edition(criterion?, edition.as_deref()),
        stage: stage?,
        why: why?,
        edition,
        status: status?,
        ready_made: ready_made?.unwrap_or(true),
        rests_on: rests_on?,
    })
}

/// The criterion whose source names its edition.
fn with_edition(mut criterion: Criterion, edition: Option<&str>) -> Criterion {
    if let Some(edition) = edition {
        criterion.source = format!("{} ({edition})", criterion.source);
    }
    criterion
}
