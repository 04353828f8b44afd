//! TOML into [`Node`]s.

use super::node::{DEEPEST, Lines};
use super::{Collected, Entry, Node, Value};
use toml::de::{DeTable, DeValue};

/// Reads a document of at most 1 MiB; `None` once faults of its form were added, all of those that the parser can
/// step over.
pub fn read(text: &str, found: &Collected) -> Option<Node> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if !super::from_json::fits(text, 1, found) {
        return None;
    }
    let lines = Lines::of(text, 1);
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let line = lines.at(error.span().map_or(0, |span| span.start));
        // The parser has a limit of its own, above ours, which keeps the stack.
        let says = match error.message() {
            deep if deep.contains("recurs") => format!("nested deeper than {DEEPEST} lists and tables"),
            other => format!("not valid TOML: {}", other.replace('\n', ", ")),
        };
        found.add(line, "", says);
    }
    if !errors.is_empty() {
        return None;
    }
    let before = found.count();
    let value = Value::Table(entries(document.into_inner(), &lines, found, 1));
    (found.count() == before).then_some(Node { line: 1, value })
}

fn entries(table: DeTable<'_>, lines: &Lines, found: &Collected, depth: usize) -> Vec<Entry> {
    let entry = |(key, value): (toml::Spanned<_>, toml::Spanned<DeValue<'_>>)| {
        let line = lines.at(key.span().start);
        let begins = lines.at(value.span().start);
        let node = Node { line: begins, value: self::value(value.into_inner(), begins, lines, found, depth) };
        let key: std::borrow::Cow<'_, str> = key.into_inner();
        Entry { key: key.into_owned(), line, node }
    };
    table.into_iter().map(entry).collect()
}

fn value(value: DeValue<'_>, line: usize, lines: &Lines, found: &Collected, depth: usize) -> Value {
    match value {
        DeValue::Boolean(value) => Value::Bool(value),
        DeValue::String(text) => Value::Text(text.into_owned()),
        DeValue::Integer(number) => match i64::from_str_radix(number.as_str(), number.radix()) {
            Ok(number) => Value::Int(number),
            Err(_) => Value::Unusable("a whole number that is too large"),
        },
        DeValue::Float(number) => match number.as_str().parse::<f64>() {
            Ok(number) if number.is_finite() => Value::Float(number),
            _ => Value::Unusable("a number that is not finite"),
        },
        DeValue::Datetime(_) => Value::Unusable("a date or time"),
        DeValue::Array(_) | DeValue::Table(_) if depth >= DEEPEST => {
            found.add(line, "", format!("nested deeper than {DEEPEST} lists and tables"));
            Value::Unusable("a value nested too deep")
        }
        DeValue::Array(items) => {
            let item = |item: toml::Spanned<DeValue<'_>>| {
                let line = lines.at(item.span().start);
                Node { line, value: self::value(item.into_inner(), line, lines, found, depth + 1) }
            };
            Value::List(items.into_iter().map(item).collect())
        }
        DeValue::Table(table) => Value::Table(entries(table, lines, found, depth + 1)),
    }
}
