//! A task that is being written, and need not be valid yet.
//!
//! A sketch has the structure of a task file, in JSON. So the reader of files has the first and last word on it: what it
//! finds wrong names the place in the sketch, which is the field of the form that the place was typed into.

mod change;
mod path;
mod plain;
mod setup;
pub mod stock;

#[cfg(test)]
mod tests;

pub use change::{Difference, Marked, Way, differences, words};
pub use path::Step;
pub use plain::plain;
pub use setup::{planted_id, possible};

use super::{Checklist, ChecklistFile, Task};
use crate::bay::{Bay, Standards};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

/// Longest title that a list shows, in characters.
const TITLE: usize = 200;

/// A task as far as it has come: the tree of its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Sketch(Value);

/// One thing that keeps a sketch from being a task.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The way to the place, such as `board.devices[1].feeds`.
    pub path: String,
    /// What is wrong, as a sentence for somebody who has never seen a task file.
    pub says: String,
}

impl Sketch {
    /// A task with nothing in it but its title and the usual supply of its practice.
    pub fn empty(title: &str, standards: Standards) -> Self {
        // Common practice, no source; the field is there to be changed.
        let volts = if standards == Standards::Us { 120 } else { 230 };
        Self(json!({
            "format": Task::FORMAT,
            "title": title,
            "standards": standards.word(),
            "minutes": 30,
            "pass_percent": 70,
            "supply": { "phases": 1, "volts": volts },
            "board": { "devices": [] },
            "circuits": [],
            "sources": [],
            "isolate": {},
            "table": [],
            "setup": {},
        }))
    }

    /// A finished task to begin from.
    pub fn of_task(task: &Task) -> Self {
        // A task is plain data with text keys, which serde always takes.
        let mut tree = serde_json::to_value(task).unwrap_or_default();
        without_nulls(&mut tree);
        let mut sketch = Self(tree);
        sketch.set("format", Some(Task::FORMAT.into()));
        sketch.set_setup(&task.bay);
        sketch
    }

    /// What stands at a place.
    pub fn at(&self, path: &str) -> Option<&Value> {
        self.0.pointer(&path::pointer(path))
    }

    /// What stands at a place, as it is written in a field; empty where there is nothing.
    pub fn text(&self, path: &str) -> String {
        match self.at(path) {
            Some(Value::String(text)) => text.clone(),
            Some(Value::Number(number)) => number.to_string(),
            Some(Value::Bool(true)) => "on".to_owned(),
            _ => String::new(),
        }
    }

    /// The texts of a list.
    pub fn texts(&self, path: &str) -> Vec<String> {
        let texts = self.list(path).iter().filter_map(Value::as_str);
        texts.map(str::to_owned).collect()
    }

    /// The values of a list; none where there is no list.
    pub fn list(&self, path: &str) -> &[Value] {
        self.at(path).and_then(Value::as_array).map_or(&[], Vec::as_slice)
    }

    /// Puts a value at a place, or takes away what stands there. Tables on the way are made; lists are not.
    pub fn set(&mut self, path: &str, value: Option<Value>) {
        let pointer = path::pointer(path);
        let Some((parent, key)) = pointer.rsplit_once('/') else { return };
        let mut node = &mut self.0;
        for part in parent.split('/').skip(1) {
            let next = match node {
                Value::Object(table) => Some(table.entry(part).or_insert_with(|| Value::Object(Map::new()))),
                Value::Array(list) => part.parse::<usize>().ok().and_then(|at| list.get_mut(at)),
                _ => None,
            };
            let Some(next) = next else { return };
            node = next;
        }
        let Value::Object(table) = node else { return };
        match value {
            Some(value) => _ = table.insert(key.to_owned(), value),
            None => _ = table.remove(key),
        }
    }

    /// The title, shortened, or words that say there is none.
    pub fn shown_title(&self) -> String {
        let title: String = self.text("title").trim().chars().take(TITLE).collect();
        if title.is_empty() { "Task without a title".to_owned() } else { title }
    }

    /// Gives it a checklist.
    pub fn set_checklist(&mut self, checklist: &Checklist) {
        self.set("checklist", Some(serde_json::to_value(checklist).unwrap_or_default()));
    }

    /// Its checklist, where it has one.
    pub fn checklist(&self) -> Option<Checklist> {
        let checklist = self.at("checklist")?;
        let file = json!({
            "format": ChecklistFile::FORMAT, "title": "-", "pass_percent": 0, "checklist": checklist,
        });
        ChecklistFile::read_json(&file.to_string()).ok().map(|file| file.checklist)
    }

    /// The task, or everything that keeps it from being one.
    pub fn task(&self) -> Result<Task, Vec<Fault>> {
        Task::read_json(&self.0.to_string()).map_err(|faults| {
            let fault = |fault: &crate::reading::Fault| {
                let path = path::field_of(&fault.path);
                Fault { says: plain(&path, &fault.says), path }
            };
            faults.as_slice().iter().map(fault).collect()
        })
    }

    /// What keeps it from being a task.
    pub fn faults(&self) -> Vec<Fault> {
        self.task().err().unwrap_or_default()
    }

    /// The bay, as soon as board and circuits are good enough to be drawn: what else is missing or wrong is put aside.
    /// Where nothing to isolate was named yet, the first circuit that a device feeds is shown.
    pub fn bay(&self) -> Option<Bay> {
        let mut trial = self.clone();
        for (key, value) in [("title", json!("-")), ("briefing", json!("-")), ("minutes", json!(1))] {
            trial.set(key, Some(value));
        }
        trial.set("pass_percent", Some(json!(0)));
        trial.set("checklist", Some(stand_in_checklist()));
        let table = json!([{ "id": "-", "kind": "adapter", "label": "-" }]);
        let asides: [&[(&str, Value)]; 4] = [
            &[],
            &[("table", table.clone())],
            &[("table", table.clone()), ("setup", json!({}))],
            &[("table", table), ("setup", json!({})), ("sources", json!([]))],
        ];
        let isolates = std::iter::once(self.at("isolate").cloned().unwrap_or_default()).chain(self.could_isolate());
        let isolates: Vec<Value> = isolates.collect();
        for aside in asides {
            for isolate in &isolates {
                let mut trial = trial.clone();
                aside.iter().for_each(|(key, value)| trial.set(key, Some(value.clone())));
                trial.set("isolate", Some(isolate.clone()));
                if let Ok(task) = Task::read_json(&trial.0.to_string()) {
                    return Some(task.bay);
                }
            }
        }
        None
    }

    /// What could be isolated: the first circuit that has a device and a point.
    fn could_isolate(&self) -> Option<Value> {
        self.list("circuits").iter().find_map(|circuit| {
            let id = circuit.get("id")?;
            let device = self.list("board.devices").iter().find(|device| device.get("feeds") == Some(id))?;
            let point = circuit.get("points")?.get(0)?;
            Some(json!({ "circuit": id, "device": device.get("id")?, "point": point.get("id")? }))
        })
    }

    /// Puts the bay of another task in place of this one's: everything but title, briefing, minutes, marks and checklist.
    pub fn take_bay(&mut self, from: &Self) {
        for key in ["standards", "supply", "board", "circuits", "sources", "isolate", "table", "setup"] {
            self.set(key, from.at(key).cloned());
        }
    }
}

fn stand_in_checklist() -> Value {
    json!({ "stages": [{ "title": "-", "criteria": [
        { "id": "-", "says": "-", "weight": 1, "fails": "ordinary", "decided": "by_eye", "source": "-" }
    ] }] })
}

/// Takes out what was not stated, since a file leaves it out.
fn without_nulls(value: &mut Value) {
    match value {
        Value::Object(table) => {
            table.retain(|_, value| !value.is_null());
            table.values_mut().for_each(without_nulls);
        }
        Value::Array(list) => list.iter_mut().for_each(without_nulls),
        _ => {}
    }
}
