//! The bay as text: its parts of a task file, in TOML, in the order and look of one written by hand.
//!
//! Whatever was read can be written, and reads as exactly the same again. What has its default is left out, as a person
//! would leave it out. Each part ends with one newline, and parts are told apart by an empty line.

mod circuit;
mod setup;
mod table;

pub use circuit::circuit;
pub use setup::{fault, setup};
pub use table::item;

use super::{Bay, Board, Conductor, Device, Isolate, Source, Supply};
use crate::reading::to_toml;
use serde::Serialize;
use std::fmt::Display;

/// Every part of a task file that describes the bay, from `[supply]` to the last item of the table.
pub fn bay(bay: &Bay) -> String {
    let mut parts = vec![supply(bay.supply), board(&bay.board)];
    parts.extend(bay.circuits.iter().map(circuit));
    parts.extend(bay.sources.iter().map(source));
    parts.push(isolate(&bay.isolate));
    parts.extend(setup(bay));
    parts.extend(bay.table.iter().map(item));
    parts.join("\n")
}

/// `[supply]`.
pub fn supply(supply: Supply) -> String {
    let mut keys = Keys::under("[supply]");
    keys.put("phases", u8::from(supply.phases));
    keys.put("volts", supply.volts);
    keys.0
}

/// `[board]` with its `[[board.devices]]`.
pub fn board(board: &Board) -> String {
    let mut head = Keys::under("[board]");
    head.put("label", to_toml::text(&board.label));
    let parts: Vec<String> = std::iter::once(head.0).chain(board.devices.iter().map(device)).collect();
    parts.join("\n")
}

/// One `[[board.devices]]`.
pub fn device(device: &Device) -> String {
    let mut keys = Keys::under("[[board.devices]]");
    keys.put("id", to_toml::text(device.id.as_str()));
    keys.put("kind", word(&device.kind));
    keys.put("poles", conductors(&device.poles));
    keys.maybe("rating_a", device.rating_a);
    keys.put("label", to_toml::text(&device.label));
    keys.maybe("short", device.short.as_deref().map(to_toml::text));
    keys.maybe("feeds", device.feeds.as_ref().map(|id| to_toml::text(id.as_str())));
    keys.0
}

/// One `[[sources]]`.
pub fn source(source: &Source) -> String {
    let mut keys = Keys::under("[[sources]]");
    keys.put("id", to_toml::text(source.id.as_str()));
    keys.put("kind", word(&source.kind));
    keys.put("label", to_toml::text(&source.label));
    keys.maybe("device", source.device.as_ref().map(|id| to_toml::text(id.as_str())));
    keys.maybe("reaches", source.reaches.map(|line| to_toml::text(line.letters())));
    keys.0
}

/// `[isolate]`.
pub fn isolate(isolate: &Isolate) -> String {
    let mut keys = Keys::under("[isolate]");
    keys.put("circuit", to_toml::text(isolate.circuit.as_str()));
    keys.put("device", to_toml::text(isolate.device.as_str()));
    keys.put("point", to_toml::text(isolate.point.as_str()));
    keys.0
}

/// The lines of a table, each with one key.
struct Keys(String);

impl Keys {
    fn under(head: &str) -> Self {
        Self(format!("{head}\n"))
    }

    /// A key and a value that is written already, or is a number, true or false.
    fn put(&mut self, key: &str, value: impl Display) {
        self.0.push_str(&format!("{key} = {value}\n"));
    }

    fn maybe(&mut self, key: &str, value: Option<impl Display>) {
        if let Some(value) = value {
            self.put(key, value);
        }
    }
}

/// A key with its written value, for a table on one line.
fn entry(key: &str, value: impl Display) -> (String, String) {
    (key.to_owned(), value.to_string())
}

/// A word of a closed set, in quotes, as serde spells it: the reader takes its words from there too.
fn word(word: &impl Serialize) -> String {
    let word = serde_json::to_value(word).unwrap_or_default();
    to_toml::text(word.as_str().unwrap_or_default())
}

fn conductors(conductors: &[Conductor]) -> String {
    to_toml::list(conductors.iter().map(|conductor| to_toml::text(conductor.letters())))
}
