//! The equipment table: what lies on it, and the stock to take from.

use super::fields::{Add, Field, Group, options};
use super::steps::{SHORT, devices, things};
use crate::bay::Bay;
use crate::marking::fitness;
use crate::marking::sketch::{Sketch, stock};
use serde_json::Value;

/// What lies on the table, then the stock.
pub fn groups(sketch: &Sketch, bay: Option<&Bay>) -> Vec<Group> {
    let mut groups: Vec<Group> = (0..sketch.list("table").len()).map(|at| item(sketch, bay, at)).collect();
    let mut more = Group::new("", "Take from the stock");
    more.hint =
        "Invented things with the attributes of real ones, good and bad. Change them once they are on the table."
            .to_owned();
    let offered = |one: &stock::Stock| Add {
        value: format!("stock:{}", one.word),
        label: one.label.to_owned(),
        about: one.about,
    };
    more.adds = stock::ALL.iter().map(offered).collect();
    groups.push(more);
    groups
}

fn item(sketch: &Sketch, bay: Option<&Bay>, at: usize) -> Group {
    let place = format!("table[{at}]");
    let field = |key: &str| format!("{place}.{key}");
    let kind = sketch.text(&field("kind"));
    let title = format!("{}: {}", kind_words(&kind), sketch.text(&field("label")));
    let mut group = Group::of_list(sketch, "table", at, title);
    let id = sketch.text(&field("id"));
    let there = bay.and_then(|bay| Some((bay, bay.table.iter().find(|item| item.id.as_str() == id)?)));
    group.suits = there.and_then(|(bay, item)| fitness::suits(bay, sketch.checklist().as_ref(), item));
    group.fields = vec![Field::text(sketch, field("label"), "What it is called")];
    group.fields.extend(match kind.as_str() {
        "voltage_indicator" | "multimeter" => vec![
            Field::number(sketch, field("exposed_tip_mm"), "Longest bare tip in mm"),
            Field::number(sketch, field("rated_volts"), "Rated voltage in volts"),
            Field::choice(sketch, field("leads"), "Leads", options(&[("sound", "Sound"), ("damaged", "Damaged")])),
            Field::choice(
                sketch,
                field("protection"),
                "Protection of the leads",
                options(&[("fused", "Fused"), ("current_limited", "Current-limited"), ("none", "None")]),
            ),
            Field::check(sketch, field("finger_guards"), "Finger guards"),
            Field::check(sketch, field("in_date"), "In date"),
        ],
        "proving_unit" => vec![
            Field::number(sketch, field("output_volts"), "Output in volts"),
            Field::check(sketch, field("works"), "Works"),
        ],
        "lock_off" => vec![Field::checks(sketch, field("fits"), "Devices it fits", devices(sketch))],
        "padlock" => vec![Field::choice(sketch, field("key"), "Key that opens it", keys(sketch))],
        "notice" => vec![Field::choice(
            sketch,
            field("notice"),
            "What it says",
            options(&[("do_not_switch_on", "Do not switch on"), ("danger", "Danger"), ("testing", "Testing")]),
        )],
        _ => Vec::new(),
    });
    group.fields.push(Field::text(sketch, field("short"), "Short form for small tiles").hint(SHORT));
    group.folded = true;
    group
}

fn keys(sketch: &Sketch) -> Vec<(String, String)> {
    let is_key = |item: &&Value| item.get("kind").and_then(Value::as_str) == Some("key");
    let keys: Vec<Value> = sketch.list("table").iter().filter(is_key).cloned().collect();
    things(&keys)
}

/// The kind of a thing, as a person calls it.
fn kind_words(kind: &str) -> &'static str {
    match kind {
        "voltage_indicator" => "Voltage indicator",
        "multimeter" => "Multimeter",
        "non_contact_indicator" => "Non-contact indicator",
        "proving_unit" => "Proving unit",
        "lock_off" => "Lock-off device",
        "padlock" => "Padlock",
        "key" => "Key",
        "notice" => "Notice",
        "lead_set" => "Lead set",
        _ => "Adapter",
    }
}
