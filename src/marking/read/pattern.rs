//! Act patterns of the rules that a centre adds itself: a kind of act with some of its fields.

use super::act;
use super::checklist::Named;
use crate::bay::read::Names;
use crate::marking::checklist::Pattern;
use crate::reading::{At, Node, Value};
use serde_json::Value as Json;
use std::collections::BTreeMap;

/// Reads a pattern: the kind exists, it has these fields, and what they name is there.
pub(super) fn read(at: &At<'_>, named: &Named<'_>) -> Option<Pattern> {
    let kind = at.fields()?.required("kind")?.word_of(&act::KINDS)?;
    let before = at.found.count();
    // The reader of acts says what is wrong with the fields; the act itself is not whole and not wanted.
    let mut fields = at.fields()?.partial();
    let _ = act::read(&mut fields);
    fields.finish();
    let Value::Table(entries) = &at.node.value else { return None };
    let mut wanted = BTreeMap::new();
    for entry in entries.iter().filter(|entry| entry.key != "kind") {
        if let Some(value) = field(&at.entry(entry), &entry.key, named) {
            wanted.insert(entry.key.clone(), value);
        }
    }
    (at.found.count() == before).then(|| Pattern { kind: kind.to_owned(), fields: wanted })
}

fn field(at: &At<'_>, key: &str, named: &Named<'_>) -> Option<Json> {
    // Outside of a task nothing is there to be named; the form of the name was checked with the act.
    let names: Option<&Names> = match key {
        "circuit" => named.bay.map(|bay| &bay.circuits),
        "device" => named.bay.map(|bay| &bay.devices),
        "switch" => named.bay.map(|bay| &bay.switches),
        "point" => named.bay.map(|bay| &bay.points),
        "item" => named.bay.map(|bay| &bay.items),
        "source" => named.bay.map(|bay| &bay.sources),
        "criterion" => named.criteria,
        "text" | "observation" => {
            at.fault(format!("a pattern cannot ask for `{key}`, which differs in every session"));
            return None;
        }
        _ => None,
    };
    if let Some(names) = names.filter(|_| at.node.as_text().is_some_and(crate::bay::ids::well_formed)) {
        names.named::<String>(at)?;
    }
    value(at.node)
}

/// A field of an act is a word, a name, or true or false.
fn value(node: &Node) -> Option<Json> {
    match &node.value {
        Value::Text(text) => Some(Json::String(text.clone())),
        Value::Bool(value) => Some(Json::Bool(*value)),
        _ => None,
    }
}
