//! Rules a centre makes for itself: an act happened, never happened, or came before another.
//!
//! Source: whatever the centre names in the criterion.

use crate::marking::answer::Answer;
use crate::marking::checklist::Pattern;
use crate::marking::known::{Known, Pos};
use crate::marking::observation::Act;

impl Pattern {
    /// Whether an act is of the pattern's kind and has its fields. A field that the act leaves to its default matches the
    /// default's spelling.
    fn matches(&self, act: &Act) -> bool {
        let Ok(serde_json::Value::Object(seen)) = serde_json::to_value(act) else { return false };
        let default = |field: &str| match (self.kind.as_str(), field) {
            ("ended", "reason") => Some("finished"),
            ("tested", "order_off") => Some("second_first"),
            _ => None,
        };
        seen.get("kind").and_then(|kind| kind.as_str()) == Some(self.kind.as_str())
            && self.fields.iter().all(|(field, wanted)| match seen.get(field) {
                Some(value) => value == wanted,
                None => default(field).is_some_and(|word| wanted == word),
            })
    }

    fn words(&self) -> String {
        let kind = self.kind.replace('_', " ");
        let fields: Vec<String> =
            self.fields.iter().map(|(field, value)| format!("{field} {}", plain(value))).collect();
        if fields.is_empty() { format!("“{kind}”") } else { format!("“{kind}” with {}", fields.join(", ")) }
    }
}

fn plain(value: &serde_json::Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn first(known: &Known, pattern: &Pattern) -> Option<Pos> {
    (0..known.acts.len()).find(|&pos| pattern.matches(&known.acts[pos].act))
}

/// At least one act matches.
pub(super) fn happened(known: &Known, act: &Pattern) -> Answer {
    match first(known, act) {
        Some(pos) => Answer::met([pos], format!("Seen at {}: {}.", known.minute(pos), act.words())),
        None => Answer::owed(format!("Not recorded: {}.", act.words())),
    }
}

/// No act matches.
pub(super) fn never(known: &Known, act: &Pattern) -> Answer {
    let seen = known.all(|there| act.matches(there));
    match seen.first() {
        None => Answer::met([], format!("Never seen: {}.", act.words())),
        Some(&pos) => Answer::not_met(seen, format!("Seen at {}: {}.", known.minute(pos), act.words())),
    }
}

/// An act matches `first_act`, before any that matches `then`.
pub(super) fn before(known: &Known, first_act: &Pattern, then: &Pattern) -> Answer {
    let (one, other) = (first(known, first_act), first(known, then));
    match (one, other) {
        (Some(pos), None) => Answer::met([pos], format!("Seen at {}: {}.", known.minute(pos), first_act.words())),
        (Some(pos), Some(next)) if pos < next => Answer::met(
            [pos, next],
            format!("{} at {}, before {}.", first_act.words(), known.minute(pos), then.words()),
        ),
        (_, next) => Answer::Absent {
            because: next.into_iter().collect(),
            from: known.span.0,
            until: next.map(|pos| known.at(pos)),
            says: format!("Not recorded before {}: {}.", then.words(), first_act.words()),
        },
    }
}
