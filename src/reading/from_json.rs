//! JSON (RFC 8259) into [`Node`]s.

use super::node::{DEEPEST, Lines};
use super::words::shown;
use super::{Collected, Entry, Node, Value};
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use serde_json::value::RawValue;
use std::collections::HashSet;
use std::fmt;

/// Longest document, and longest line of a log, in bytes: 1 MiB.
pub const LONGEST: usize = 1_048_576;

/// Reads a document of at most [`LONGEST`] bytes whose lines count from `first_line`; `None` once faults of its form
/// were added. Keys that stand twice in a table are refused: RFC 8259, section 4, leaves open which of them counts.
pub fn read(text: &str, first_line: usize, found: &Collected) -> Option<Node> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if !fits(text, first_line, found) {
        return None;
    }
    let source = Source { text, lines: Lines::of(text, first_line), found };
    let before = found.count();
    // The whole is checked first, without recursion, so that no depth can exhaust the stack.
    let whole = source.parsed::<&RawValue>(text)?;
    let node = source.node(whole, 1);
    (found.count() == before).then_some(node)
}

/// Adds a fault where the text is longer than what is read.
pub(super) fn fits(text: &str, line: usize, found: &Collected) -> bool {
    let fits = text.len() <= LONGEST;
    if !fits {
        found.add(line, "", format!("expected at most {LONGEST} bytes, found {}", text.len()));
    }
    fits
}

struct Source<'a> {
    text: &'a str,
    lines: Lines,
    found: &'a Collected,
}

impl<'a> Source<'a> {
    /// The line on which a part of the text begins.
    fn line(&self, part: &str) -> usize {
        self.lines.at((part.as_ptr() as usize).saturating_sub(self.text.as_ptr() as usize))
    }

    fn parsed<T: Deserialize<'a>>(&self, part: &'a str) -> Option<T> {
        let fault = |why: serde_json::Error| {
            let says = why.to_string();
            let says = says.split(" at line ").next().unwrap_or_default();
            let line = self.line(part) + why.line().saturating_sub(1);
            self.found.add(line, "", format!("not valid JSON: {says}, at column {}", why.column()));
        };
        serde_json::from_str(part).map_err(fault).ok()
    }

    fn node(&self, raw: &'a RawValue, depth: usize) -> Node {
        let text = raw.get();
        Node { line: self.line(text), value: self.value(text, depth) }
    }

    fn value(&self, text: &'a str, depth: usize) -> Value {
        const FAULTY: Value = Value::Unusable("a faulty value");
        match text.as_bytes().first() {
            Some(b'{' | b'[') if depth > DEEPEST => {
                self.found.add(self.line(text), "", format!("nested deeper than {DEEPEST} lists and tables"));
                FAULTY
            }
            Some(b'{') => self.parsed(text).map_or(FAULTY, |members| self.table(members, depth)),
            Some(b'[') => self.parsed(text).map_or(FAULTY, |items: Vec<&RawValue>| {
                Value::List(items.into_iter().map(|item| self.node(item, depth + 1)).collect())
            }),
            Some(b'"') => self.parsed(text).map_or(FAULTY, Value::Text),
            Some(b't') => Value::Bool(true),
            Some(b'f') => Value::Bool(false),
            Some(b'n') => Value::Unusable("null"),
            _ => number(text),
        }
    }

    fn table(&self, members: Members<'a>, depth: usize) -> Value {
        let mut seen = HashSet::new();
        for (key, value) in &members.0 {
            if !seen.insert(key) {
                self.found.add(self.line(value.get()), "", format!("the key `{}` stands here twice", shown(key)));
            }
        }
        let entry = |(key, value)| {
            let node = self.node(value, depth + 1);
            Entry { key, line: node.line, node }
        };
        Value::Table(members.0.into_iter().map(entry).collect())
    }
}

fn number(text: &str) -> Value {
    match (text.parse::<i64>(), text.parse::<f64>()) {
        (Ok(number), _) => Value::Int(number),
        (_, Ok(number)) if number.is_finite() => Value::Float(number),
        _ => Value::Unusable("a number that is too large"),
    }
}

/// The members of an object as they stand, twice where a key is there twice.
struct Members<'a>(Vec<(String, &'a RawValue)>);

impl<'de> Deserialize<'de> for Members<'de> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Members<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut members = Vec::new();
                while let Some(member) = map.next_entry()? {
                    members.push(member);
                }
                Ok(Members(members))
            }
        }
        from.deserialize_map(Collect)
    }
}
