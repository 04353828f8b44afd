//! The identifiers that a task file gives, gathered before anything is read that may name them.

use crate::bay::ids::well_formed;
use crate::reading::words::{not_one_of, shown};
use crate::reading::{At, Node};
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The identifiers of one kind of thing.
#[derive(Debug)]
pub struct Names {
    /// What they name, with its article: `a device`.
    what: &'static str,
    lines: BTreeMap<String, usize>,
}

impl Names {
    /// Gathers the `id` of each of these tables; an identifier that stands there twice is a fault. One that is not
    /// well formed is left for the reader of its table to report.
    pub fn gather<'a>(what: &'static str, tables: impl Iterator<Item = At<'a>>) -> Self {
        let mut lines = BTreeMap::new();
        for table in tables {
            let Some(node) = table.node.get("id") else { continue };
            let Some(id) = node.as_text().filter(|id| well_formed(id)) else { continue };
            match lines.entry(id.to_owned()) {
                Entry::Vacant(free) => _ = free.insert(node.line),
                Entry::Occupied(taken) => table.found.add(
                    node.line,
                    table.path_of("id"),
                    format!("`{id}` is already the name of {what} on line {}", taken.get()),
                ),
            }
        }
        Self { what, lines }
    }

    /// Those of these identifiers that are wanted.
    pub fn only(&self, what: &'static str, wanted: impl Fn(&str) -> bool) -> Self {
        let lines = self.lines.iter().filter(|(id, _)| wanted(id)).map(|(id, line)| (id.clone(), *line)).collect();
        Self { what, lines }
    }

    /// Whether something has this identifier.
    pub fn has(&self, id: &str) -> bool {
        self.lines.contains_key(id)
    }

    /// Reads an identifier that must be one of these.
    pub fn named<T: DeserializeOwned>(&self, at: &At<'_>) -> Option<T> {
        let id = at.id()?;
        let text = at.node.as_text().unwrap_or_default();
        if !self.has(text) {
            let words = not_one_of(text, self.lines.keys().map(String::as_str));
            let of = words.split_once(", ").map_or("", |(_, expected)| expected);
            at.fault(format!("no {} is called `{}`, {of}", self.noun(), shown(text)));
            return None;
        }
        Some(id)
    }

    fn noun(&self) -> &str {
        self.what.trim_start_matches("an ").trim_start_matches("a ")
    }
}

/// Every identifier of a bay.
#[derive(Debug)]
pub struct Known {
    pub devices: Names,
    pub circuits: Names,
    pub switches: Names,
    pub points: Names,
    pub items: Names,
    pub sources: Names,
}

impl Known {
    /// Gathers the identifiers of a task file.
    pub fn gather(task: &At<'_>) -> Self {
        let circuits = listed(task, "circuits");
        let of_circuits = |key| circuits.iter().flat_map(move |circuit| listed(circuit, key));
        let board = task.node.get("board").map(|node| At { node, path: task.path_of("board"), found: task.found });
        Self {
            devices: Names::gather("a device", board.iter().flat_map(|board| listed(board, "devices"))),
            switches: Names::gather("a switch", of_circuits("switches")),
            points: Names::gather("a point", of_circuits("points")),
            items: Names::gather("an item on the table", listed(task, "table").into_iter()),
            sources: Names::gather("a source", listed(task, "sources").into_iter()),
            circuits: Names::gather("a circuit", circuits.into_iter()),
        }
    }
}

/// The values of a list under a key, none where it is not there or is no list.
pub(crate) fn listed<'a>(table: &At<'a>, key: &str) -> Vec<At<'a>> {
    let path = table.path_of(key);
    let items = table.node.get(key).map(Node::items).unwrap_or_default();
    let item = |(at, node)| At { node, path: format!("{path}[{at}]"), found: table.found };
    items.iter().enumerate().map(item).collect()
}
