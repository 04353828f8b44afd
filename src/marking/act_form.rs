//! The kinds of act with their fields, for forms that describe an act: what files may hold, as data.

use super::observation::{
    ControlResult, EndReason, OnOff, OrderOff, Part, PauseReason, Place, ProvedOn, Reading, Shows, StepReason,
    StrikeReason,
};
use crate::bay::Conductor;

/// What a field of an act holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Holds {
    /// One word of a closed set.
    Word(Vec<&'static str>),
    /// True or false.
    YesNo,
    /// An identifier from the task: of a `circuit`, `device`, `item` and the like.
    Name(&'static str),
}

/// A field of an act that a pattern may ask for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    pub name: &'static str,
    pub holds: Holds,
}

/// Every kind of act, in the order of the contract, with what it is as a person says it.
pub const KINDS: [(&str, &str); 36] = [
    ("started", "The session was started"),
    ("resumed", "The clock was started again"),
    ("paused", "The clock was stopped"),
    ("ended", "The session was ended"),
    ("identified", "Found a circuit and its device on the board"),
    ("source_listed", "Named a supply that could feed the point"),
    ("permission_asked", "Asked for leave to switch off"),
    ("permission_given", "Was given leave to switch off"),
    ("picked", "Took an item from the table"),
    ("returned", "Put an item back on the table"),
    ("inspected", "Looked an item over"),
    ("load_off", "Took the load off first"),
    ("switched", "Switched a device on the board"),
    ("fitted", "Fitted a lock-off device"),
    ("locked", "Closed a padlock"),
    ("posted", "Hung a notice"),
    ("key", "Put a key somewhere"),
    ("removed", "Took a lock, lock-off device or notice off again"),
    ("control_tried", "Tried to start what was isolated"),
    ("proved", "Tried the indicator"),
    ("opened", "Opened a point"),
    ("closed", "Closed a point"),
    ("lamp_out", "Took a lamp out"),
    ("lamp_in", "Put a lamp in"),
    ("operated", "Threw a wall switch"),
    ("tested", "Tested between two conductors"),
    ("touched", "Touched a bare conductor"),
    ("declared", "Declared the circuit isolated and proved dead"),
    ("ticked", "The assessor judged a criterion by eye"),
    ("remark", "The assessor noted a remark"),
    ("prompted", "The assessor gave help"),
    ("stepped_in", "The assessor stepped in"),
    ("unsure", "The assessor did not see something well"),
    ("view_blocked", "The assessor's view was blocked"),
    ("view_clear", "The assessor's view was clear again"),
    ("struck", "The assessor took an observation back"),
];

/// Whether a rule can ever see an act of this kind: what is taken back or doubted never reaches a rule as an act.
pub fn can_be_seen(kind: &str) -> bool {
    kind != "struck"
}

/// The fields of a kind that a pattern may ask for; none for a kind that is not known. Free text and the names of
/// observations, which differ in every session, cannot be asked for.
pub fn fields(kind: &str) -> Vec<Field> {
    let names: &[&'static str] = match kind {
        "identified" => &["circuit", "device"],
        "source_listed" => &["source"],
        "permission_asked" | "permission_given" | "load_off" | "declared" => &["circuit"],
        "picked" | "returned" => &["item"],
        "inspected" => &["item", "part"],
        "switched" => &["device", "to"],
        "fitted" | "removed" => &["item", "device"],
        "locked" => &["item", "device", "holds"],
        "posted" => &["item", "device", "filled"],
        "key" => &["item", "place"],
        "control_tried" => &["device", "switch", "result"],
        "proved" => &["item", "on", "shows"],
        "opened" | "closed" | "lamp_out" | "lamp_in" | "touched" => &["point"],
        "operated" => &["switch"],
        "tested" => &["point", "first", "second", "reading", "order_off", "item"],
        "ticked" => &["criterion", "outcome"],
        "remark" => &["criterion"],
        "paused" | "ended" | "stepped_in" | "struck" => &["reason"],
        _ => &[],
    };
    names.iter().map(|name| Field { name, holds: holds(kind, name) }).collect()
}

fn holds(kind: &str, field: &'static str) -> Holds {
    macro_rules! words {
        ($of:ty) => {
            Holds::Word(<$of>::ALL.iter().map(|one| one.word()).collect())
        };
    }
    match (kind, field) {
        ("paused", "reason") => words!(PauseReason),
        ("ended", "reason") => words!(EndReason),
        ("stepped_in", "reason") => words!(StepReason),
        ("struck", "reason") => words!(StrikeReason),
        (_, "part") => words!(Part),
        (_, "to") => words!(OnOff),
        (_, "place") => words!(Place),
        (_, "result") => words!(ControlResult),
        (_, "on") => words!(ProvedOn),
        (_, "shows") => words!(Shows),
        (_, "reading") => words!(Reading),
        (_, "order_off") => words!(OrderOff),
        (_, "outcome") => Holds::Word(vec!["met", "not_met", "not_applicable"]),
        (_, "first" | "second") => Holds::Word(Conductor::ALL.iter().map(|one| one.letters()).collect()),
        (_, "holds" | "filled") => Holds::YesNo,
        _ => Holds::Name(field),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::{Criterion, read};

    fn reads(act: &str) -> bool {
        let decided = format!("{{ rule = \"happened\", act = {act} }}");
        let rest = "id = \"a\"\nsays = \"b\"\nweight = 1\nfails = \"must\"\nsource = \"c\"\n";
        Criterion::read_toml(&format!("{rest}decided = {decided}\n")).is_ok()
    }

    const FIELDS: [&str; 24] = [
        "circuit",
        "device",
        "item",
        "source",
        "switch",
        "point",
        "criterion",
        "part",
        "to",
        "place",
        "result",
        "on",
        "shows",
        "reading",
        "order_off",
        "outcome",
        "first",
        "second",
        "holds",
        "filled",
        "reason",
        "text",
        "observation",
        "nonsense",
    ];

    /// The reader of files is the judge, for every kind, every field and every word.
    #[test]
    fn what_forms_offer_is_what_files_may_hold() {
        assert_eq!(KINDS.map(|(kind, _)| kind), read::act_kinds());
        for (kind, says) in KINDS {
            assert!(reads(&format!("{{ kind = \"{kind}\" }}")), "{kind}");
            assert!(!says.is_empty());
            let offered = fields(kind);
            for name in FIELDS {
                let value = match offered.iter().find(|field| field.name == name).map(|field| &field.holds) {
                    None => {
                        for value in ["\"Q1\"", "true", "\"finished\""] {
                            assert!(!reads(&format!("{{ kind = \"{kind}\", {name} = {value} }}")), "{kind} {name}");
                        }
                        continue;
                    }
                    Some(Holds::Name(_)) => vec!["\"Q1\"".to_owned()],
                    Some(Holds::YesNo) => vec!["true".into(), "false".into()],
                    Some(Holds::Word(words)) => {
                        let other = format!("{{ kind = \"{kind}\", {name} = \"nonsense\" }}");
                        assert!(!reads(&other), "{other}");
                        words.iter().map(|word| format!("\"{word}\"")).collect()
                    }
                };
                for value in value {
                    let act = format!("{{ kind = \"{kind}\", {name} = {value} }}");
                    assert!(reads(&act), "{act}");
                }
            }
        }
    }
}
