//! Values as TOML writes them (TOML 1.0.0, <https://toml.io/en/v1.0.0>), so that [`super::from_toml`] reads the same again.

/// Text as a basic string on one line, with its quotes. What TOML does not take as it is, is escaped.
pub fn text(text: &str) -> String {
    let mut written = String::with_capacity(text.len() + 2);
    written.push('"');
    for c in text.chars() {
        match c {
            '"' => written.push_str("\\\""),
            '\\' => written.push_str("\\\\"),
            '\n' => written.push_str("\\n"),
            '\r' => written.push_str("\\r"),
            '\t' => written.push_str("\\t"),
            c if c.is_control() => written.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => written.push(c),
        }
    }
    written.push('"');
    written
}

/// A key, in quotes only where it needs them.
pub fn key(key: &str) -> String {
    let bare = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || b == b'-';
    if !key.is_empty() && key.bytes().all(bare) { key.to_owned() } else { text(key) }
}

/// A finite number, without a fraction where it has none and with as many digits as tell it from every other.
pub fn number(number: f64) -> String {
    // Beyond 2⁵³ not every whole number can be told from its neighbours; there the float's own form is kept.
    if number.fract() == 0.0 && number.abs() < 9_007_199_254_740_992.0 {
        format!("{number:.0}")
    } else {
        format!("{number:?}")
    }
}

/// Values that are written already, as a list on one line.
pub fn list(values: impl IntoIterator<Item = String>) -> String {
    format!("[{}]", values.into_iter().collect::<Vec<_>>().join(", "))
}

/// Keys with values that are written already, as a table on one line.
pub fn table(entries: impl IntoIterator<Item = (String, String)>) -> String {
    let entries: Vec<String> =
        entries.into_iter().map(|(key, value)| format!("{} = {value}", self::key(&key))).collect();
    format!("{{ {} }}", entries.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_toml_does_not_take_in_quotes_is_escaped() {
        assert_eq!(text("a \"b\" \\ c\r\n\t\u{8}\u{7f}\u{85}é🙂"), r#""a \"b\" \\ c\r\n\t\u0008\u007F\u0085é🙂""#);
        assert_eq!(text(""), "\"\"");
    }

    #[test]
    fn keys_stand_bare_where_they_may() {
        assert_eq!([key("rated_volts"), key("a.b"), key("")], ["rated_volts", "\"a.b\"", "\"\""]);
    }

    #[test]
    fn numbers_are_as_short_as_they_may_be() {
        assert_eq!([number(4.0), number(0.1), number(-0.0), number(1e-7)], ["4", "0.1", "-0", "1e-7"]);
        assert_eq!(number(1e300), "1e300");
    }

    #[test]
    fn lists_and_tables_stand_on_one_line() {
        assert_eq!(list([text("a"), text("b")]), "[\"a\", \"b\"]");
        assert_eq!(list([]), "[]");
        assert_eq!(table([("kind".into(), text("opened"))]), "{ kind = \"opened\" }");
    }
}
