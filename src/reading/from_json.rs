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
    /// Where a part of the text begins.
    fn offset(&self, part: &str) -> usize {
        (part.as_ptr() as usize).saturating_sub(self.text.as_ptr() as usize)
    }

    /// The line on which a part of the text begins.
    fn line(&self, part: &str) -> usize {
        self.lines.at(self.offset(part))
    }

    fn parsed<T: Deserialize<'a>>(&self, part: &'a str) -> Option<T> {
        let fault = |why: serde_json::Error| {
            let says = why.to_string();
            let says = match says.split(" at line ").next().unwrap_or_default() {
                half if half.contains("surrogate") || half == "unexpected end of hex escape" => {
                    "half of a surrogate pair, which is no character"
                }
                says => says,
            };
            // The parser counts lines and columns from where this part begins.
            let (line, before) = self.lines.place(self.offset(part));
            let column = why.column() + if why.line() <= 1 { before } else { 0 };
            let line = line + why.line().saturating_sub(1);
            self.found.add(line, "", format!("not valid JSON: {says}, at column {column}"));
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

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str) -> Vec<String> {
        let found = Collected::default();
        let node = read(text, 1, &found);
        found
            .or_faults(node)
            .err()
            .map(|faults| faults.to_string().lines().map(str::to_owned).collect())
            .unwrap_or_default()
    }

    #[test]
    fn faults_name_line_and_column_however_deep_they_stand() {
        assert_eq!(faults("{\n  \"a\": 1,\n}"), ["line 3: not valid JSON: key must be a string, at column 1"]);
        let half = "{\n  \"a\": [\n    1, \"\\udfff\"]}";
        assert_eq!(
            faults(half),
            ["line 3: not valid JSON: half of a surrogate pair, which is no character, at column 14"]
        );
    }

    #[test]
    fn values_know_the_line_they_begin_on() {
        let found = Collected::default();
        let node =
            read("\n{\"a\": {\n \"b\": [1,\n 2.5]}}", 1, &found).unwrap_or(Node { line: 0, value: Value::Bool(false) });
        let list = node.get("a").and_then(|a| a.get("b"));
        let lines: Vec<usize> = list.map(Node::items).unwrap_or_default().iter().map(|item| item.line).collect();
        assert_eq!((node.line, list.map(|list| list.line), lines), (2, Some(3), vec![3, 4]));
    }

    #[test]
    fn numbers_keep_what_they_are() {
        for (text, value) in [
            ("-0", Value::Int(0)),
            ("9223372036854775807", Value::Int(i64::MAX)),
            ("9223372036854775808", Value::Float(9_223_372_036_854_775_808.0)),
            ("1.0", Value::Float(1.0)),
            ("1e400", Value::Unusable("a number that is too large")),
        ] {
            assert_eq!(read(text, 1, &Collected::default()).map(|node| node.value), Some(value), "{text}");
        }
    }
}
