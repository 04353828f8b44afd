//! Things to put on a table: invented, each with the attributes that a real one has. Whether one suits is worked out
//! from them, so the stock holds bad ones as well as good ones.

use super::Sketch;
use serde_json::{Value, json};

/// One thing of the stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stock {
    /// Its word in forms.
    pub word: &'static str,
    /// The kind of the item it makes.
    pub kind: &'static str,
    /// What it is called on the table.
    pub label: &'static str,
    /// What to know of it before it is picked; empty where the name says all.
    pub about: &'static str,
}

const fn stock(word: &'static str, kind: &'static str, label: &'static str, about: &'static str) -> Stock {
    Stock { word, kind, label, about }
}

/// Everything there is.
pub const ALL: [Stock; 22] = [
    stock("indicator", "voltage_indicator", "Two-pole indicator", "2 mm tips, fused leads, in date"),
    stock("indicator-limited", "voltage_indicator", "Two-pole indicator, current-limited", "4 mm tips, no fuse needed"),
    stock("indicator-long", "voltage_indicator", "Two-pole indicator, shrouds left off", "14 mm of bare tip"),
    stock("indicator-nicked", "voltage_indicator", "Two-pole indicator, nicked lead", "damaged leads"),
    stock("indicator-guards", "voltage_indicator", "Two-pole indicator, guards broken off", "no finger guards"),
    stock("indicator-late", "voltage_indicator", "Two-pole indicator, old label", "out of date"),
    stock("indicator-low", "voltage_indicator", "Two-pole indicator for low voltage", "rated for 50 V"),
    stock("multimeter", "multimeter", "Bench multimeter", "12 mm tips, fused leads"),
    stock("multimeter-good", "multimeter", "Hand multimeter with fused leads", "4 mm tips, in date"),
    stock("pen", "non_contact_indicator", "Pen indicator", "never proves dead"),
    stock("proving-unit", "proving_unit", "Proving unit", "240 V, works"),
    stock("proving-unit-flat", "proving_unit", "Proving unit, flat battery", "does not work"),
    stock("lock-breaker", "lock_off", "Clip for a one-pole breaker", "say which devices it fits"),
    stock("lock-wide", "lock_off", "Wide clamp for a main switch", "say which devices it fits"),
    stock("lock-lever", "lock_off", "Lever cover", "say which devices it fits"),
    stock("padlock", "padlock", "Padlock", "comes with a key of its own"),
    stock("notice", "notice", "Notice: do not switch on", ""),
    stock("notice-danger", "notice", "Notice: danger", "warns and forbids nothing"),
    stock("notice-testing", "notice", "Notice: testing", "says only that testing goes on"),
    stock("leads", "lead_set", "Spare lead set", ""),
    stock("adapter", "adapter", "Socket adapter", ""),
    stock("adapter-lamp", "adapter", "Lamp holder adapter", ""),
];

/// The thing of a word.
pub fn named(word: &str) -> Option<&'static Stock> {
    ALL.iter().find(|stock| stock.word == word)
}

impl Stock {
    /// Its attributes, without name and label.
    fn attributes(&self) -> Value {
        let probes = |tip: f64, guards: bool, leads: &str, protection: &str, in_date: bool, volts: u16| {
            json!({ "exposed_tip_mm": tip, "finger_guards": guards, "leads": leads, "protection": protection,
                    "in_date": in_date, "rated_volts": volts })
        };
        match self.word {
            "indicator" => probes(2.0, true, "sound", "fused", true, 690),
            "indicator-limited" => probes(4.0, true, "sound", "current_limited", true, 690),
            "indicator-long" => probes(14.0, true, "sound", "fused", true, 690),
            "indicator-nicked" => probes(4.0, true, "damaged", "fused", true, 690),
            "indicator-guards" => probes(4.0, false, "sound", "fused", true, 690),
            "indicator-late" => probes(2.0, true, "sound", "fused", false, 690),
            "indicator-low" => probes(2.0, true, "sound", "fused", true, 50),
            "multimeter" => probes(12.0, true, "sound", "fused", true, 600),
            "multimeter-good" => probes(4.0, true, "sound", "fused", true, 600),
            "proving-unit" => json!({ "output_volts": 240, "works": true }),
            "proving-unit-flat" => json!({ "output_volts": 240, "works": false }),
            "lock-breaker" | "lock-wide" | "lock-lever" => json!({ "fits": [] }),
            "notice-danger" => json!({ "notice": "danger" }),
            "notice-testing" => json!({ "notice": "testing" }),
            "notice" => json!({ "notice": "do_not_switch_on" }),
            _ => json!({}),
        }
    }
}

impl Sketch {
    /// Puts a thing of the stock on the table; a padlock with its key.
    pub fn put(&mut self, stock: &Stock) -> bool {
        let id = self.free_name("table", prefix(stock.kind));
        let mut item = stock.attributes();
        item["id"] = json!(id);
        item["kind"] = json!(stock.kind);
        item["label"] = json!(self.free_label(stock.label));
        if stock.kind != "padlock" {
            return self.add("table", item);
        }
        let key = self.free_name("table", "key-");
        item["key"] = json!(key);
        let label = item["label"].as_str().unwrap_or_default().to_owned();
        self.add("table", item)
            && self.add("table", json!({ "id": key, "kind": "key", "label": format!("Key of {label}") }))
    }

    /// Puts a second one of a thing on the table; a padlock with a key of its own.
    pub fn copy_item(&mut self, at: usize) -> bool {
        let Some(mut item) = self.list("table").get(at).cloned() else { return false };
        let kind = item.get("kind").and_then(Value::as_str).unwrap_or_default().to_owned();
        if kind == "padlock" {
            return named("padlock").is_some_and(|padlock| self.put(padlock));
        }
        let label = item.get("label").and_then(Value::as_str).unwrap_or_default().to_owned();
        item["id"] = json!(self.free_name("table", prefix(&kind)));
        item["label"] = json!(self.free_label(&label));
        self.add("table", item)
    }

    /// A label that nothing on the table has yet: two alike could not be told apart on a tile.
    fn free_label(&self, label: &str) -> String {
        let taken = |wanted: &str| self.list("table").iter().any(|item| item.get("label") == Some(&json!(wanted)));
        if !taken(label) {
            return label.to_owned();
        }
        (2..).map(|number| format!("{label} {number}")).find(|label| !taken(label)).unwrap_or_default()
    }
}

fn prefix(kind: &str) -> &'static str {
    match kind {
        "voltage_indicator" => "vi-",
        "multimeter" => "mm-",
        "non_contact_indicator" => "nc-",
        "proving_unit" => "pu-",
        "lock_off" => "lo-",
        "padlock" => "pl-",
        "key" => "key-",
        "notice" => "no-",
        "lead_set" => "ls-",
        _ => "ad-",
    }
}
