//! Changing a sketch, and what differs between two.

use super::{Sketch, Step};
use serde_json::{Value, json};

/// Where something is moved in its list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    Up,
    Down,
}

/// Most of anything in one list of a sketch, as the reader of files allows.
const MANY: usize = 200;

impl Sketch {
    /// A list that things can be added to and taken from; no other place can be.
    fn entries(&mut self, path: &str) -> Option<&mut Vec<Value>> {
        let known = matches!(path, "board.devices" | "circuits" | "sources" | "table")
            || (path.starts_with("circuits[") && (path.ends_with(".switches") || path.ends_with(".points")));
        if !known {
            return None;
        }
        self.0.pointer_mut(&super::path::pointer(path)).and_then(Value::as_array_mut)
    }

    /// Adds to a list; `false` where there is no such list, or it is full.
    pub fn add(&mut self, path: &str, value: Value) -> bool {
        let Some(list) = self.entries(path).filter(|list| list.len() < MANY) else { return false };
        list.push(value);
        true
    }

    /// Takes something out of a list.
    pub fn remove(&mut self, path: &str, at: usize) -> Option<Value> {
        let list = self.entries(path)?;
        (at < list.len()).then(|| list.remove(at))
    }

    /// Moves something by one place; `false` where it cannot go there.
    pub fn shift(&mut self, path: &str, at: usize, way: Way) -> bool {
        let Some(list) = self.entries(path) else { return false };
        let to = match way {
            Way::Up => at.checked_sub(1),
            Way::Down => Some(at + 1),
        };
        let Some(to) = to.filter(|to| *to < list.len() && at < list.len()) else { return false };
        list.swap(at, to);
        true
    }

    /// Every name of things of a sort: devices, circuits, switches, points, sources or items.
    fn names(&self, list: &str) -> Vec<String> {
        let id = |value: &Value| value.get("id").and_then(Value::as_str).map(str::to_owned);
        match list {
            "switches" | "points" => {
                let of = |circuit: &Value| circuit.get(list).and_then(Value::as_array).cloned().unwrap_or_default();
                self.list("circuits").iter().flat_map(of).filter_map(|value| id(&value)).collect()
            }
            list => self.list(list).iter().filter_map(id).collect(),
        }
    }

    /// A name that nothing of this sort has: the prefix with the first number that is free.
    pub fn free_name(&self, list: &str, prefix: &str) -> String {
        let taken = self.names(list);
        (1..).map(|number| format!("{prefix}{number}")).find(|name| !taken.contains(name)).unwrap_or_default()
    }

    /// Carries every mention of devices or switches along when their marks are changed, all at once, so that two may be
    /// swapped. A mark that was or is now used twice carries nothing along, since nobody could say which was meant.
    pub fn carry_along(&mut self, before: &Self, of: Marked, changed: &[(String, String)]) {
        let once = |sketch: &Self, mark: &str| sketch.names(of.list()).iter().filter(|one| *one == mark).count() == 1;
        let certain = |(old, new): &&(String, String)| once(before, old) && once(self, new);
        let changed: Vec<(String, String)> = changed.iter().filter(certain).cloned().collect();
        for place in ["isolate", "table", "setup", "sources"] {
            if let Some(value) = self.0.get_mut(place) {
                carried(value, of.keys(), &changed);
            }
        }
    }
}

/// What bears a mark that people see, and may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marked {
    Device,
    Switch,
}

impl Marked {
    fn list(self) -> &'static str {
        match self {
            Self::Device => "board.devices",
            Self::Switch => "switches",
        }
    }

    /// Under which keys its mark is mentioned.
    fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Device => &["device", "fits", "off"],
            Self::Switch => &["switch", "behind"],
        }
    }
}

fn carried(value: &mut Value, keys: &[&str], changed: &[(String, String)]) {
    let new_of = |value: &Value| {
        let mark = value.as_str()?;
        changed.iter().find(|(old, _)| old == mark).map(|(_, new)| json!(new))
    };
    let put = |value: &mut Value| {
        if let Some(new) = new_of(value) {
            *value = new;
        }
    };
    match value {
        Value::Object(table) => {
            for (key, value) in table {
                match value {
                    Value::Array(list) if keys.contains(&key.as_str()) => list.iter_mut().for_each(put),
                    Value::String(_) if keys.contains(&key.as_str()) => put(value),
                    value => carried(value, keys, changed),
                }
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|value| carried(value, keys, changed)),
        _ => {}
    }
}

/// One place at which two sketches differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    pub step: Step,
    /// Added, removed or changed.
    pub word: &'static str,
    /// What, with both values where it was changed.
    pub says: String,
}

/// Where two sketches differ, step by step. Their checklists are not looked into.
pub fn differences(older: &Sketch, newer: &Sketch) -> Vec<Difference> {
    let mut found = Vec::new();
    compare(&mut found, "", &older.0, &newer.0);
    found.sort_by_key(|one| one.step);
    found
}

fn compare(found: &mut Vec<Difference>, path: &str, older: &Value, newer: &Value) {
    if older == newer || path == "checklist" {
        return;
    }
    let mut tell = |word, says| found.push(Difference { step: Step::of(path), word, says });
    match (older, newer) {
        (Value::Object(before), Value::Object(after)) => {
            let keys = before.keys().chain(after.keys().filter(|key| !before.contains_key(*key)));
            for key in keys {
                let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                let of = |table: &serde_json::Map<String, Value>| table.get(key).cloned().unwrap_or_default();
                compare(found, &path, &of(before), &of(after));
            }
        }
        (Value::Array(before), Value::Array(after)) if before.iter().chain(after).all(Value::is_object) => {
            for at in 0..before.len().max(after.len()) {
                let of = |list: &[Value]| list.get(at).cloned().unwrap_or_default();
                compare(found, &format!("{path}[{at}]"), &of(before), &of(after));
            }
        }
        (older, newer) if is_nothing(older) && is_nothing(newer) => {}
        (older, newer) if is_nothing(older) => tell("added", format!("{}: {}", words(path), shown(newer))),
        (older, newer) if is_nothing(newer) => tell("removed", format!("{}: {}", words(path), shown(older))),
        (older, newer) => tell("changed", format!("{}: {} became {}", words(path), shown(older), shown(newer))),
    }
}

fn is_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(list) => list.is_empty(),
        Value::Object(table) => table.values().all(is_nothing),
        _ => false,
    }
}

/// A value in a sentence.
fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => format!("“{text}”"),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Array(list) => list.iter().map(shown).collect::<Vec<_>>().join(", "),
        Value::Object(table) => {
            let name = table.get("label").or_else(|| table.get("fault")).or_else(|| table.get("id"));
            name.map_or_else(|| table.values().map(shown).collect::<Vec<_>>().join(", "), shown)
        }
        other => other.to_string(),
    }
}

/// A place in words: `board.devices[1].rating_a` is “device 2, rated current”.
pub fn words(path: &str) -> String {
    let part = |part: &str| {
        let (key, at) = part.split_once('[').unwrap_or((part, ""));
        let number = at.trim_end_matches(']').parse::<usize>().ok().map(|at| at + 1);
        let word = match key {
            "devices" => "device",
            "circuits" => "circuit",
            "switches" => "switch",
            "points" => "point",
            "sources" => "source",
            "planted" => "planted fault",
            "table" => "on the table",
            "rating_a" => "rated current",
            "length_m" => "length",
            "ohm" => "resistance",
            "reactance_ohm" => "reactance",
            "exposed_tip_mm" => "bare tips",
            "rated_volts" => "rated voltage",
            "output_volts" => "output",
            "pass_percent" => "pass mark",
            "id" => "mark",
            other => return number.map_or(other.replace('_', " "), |n| format!("{} {n}", other.replace('_', " "))),
        };
        number.map_or(word.to_owned(), |number| format!("{word} {number}"))
    };
    let parts: Vec<String> = path.split('.').filter(|one| *one != "setup").map(part).collect();
    let mut words = parts.join(", ");
    if let Some(first) = words.get(..1).map(str::to_uppercase) {
        words.replace_range(..1, &first);
    }
    words
}
