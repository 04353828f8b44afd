//! Values as TOML writes them (TOML 1.0.0, <https://toml.io/en/v1.0.0>), so that [`super::from_toml`] reads the same again.

/// Text as a basic string on one line, with its quotes. What TOML does not take as it is, is escaped.
pub fn text(text: &str) -> String {
    let mut written = String::with_capacity(text.len() + 2);
    written.push('"');
    text.chars().for_each(|c| put(&mut written, c));
    written.push('"');
    written
}

fn put(written: &mut String, c: char) {
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

/// A key, in quotes only where it needs them.
pub fn key(key: &str) -> String {
    let bare = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || b == b'-';
    if !key.is_empty() && key.bytes().all(bare) { key.to_owned() } else { text(key) }
}

/// A finite number that is measured: always with a fraction or an exponent.
pub fn measured(number: f64) -> String {
    format!("{number:?}")
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

/// Values that are written already, as a list: one of them beside its brackets, several on a line each.
pub fn lines(values: impl IntoIterator<Item = String>) -> String {
    let values: Vec<String> = values.into_iter().collect();
    if values.len() < 2 {
        return list(values);
    }
    let lines: String = values.iter().map(|value| format!("  {value},\n")).collect();
    format!("[\n{lines}]")
}

/// Text of several lines as a multi-line basic string that begins on a line of its own; of one line, as [`text`].
pub fn long_text(text: &str) -> String {
    if !text.contains('\n') {
        return self::text(text);
    }
    let mut written = String::from("\"\"\"\n");
    let mut quotes = 0;
    for (at, c) in text.char_indices() {
        // Three quotes in a row would end the string; so would one that stands last.
        quotes = if c == '"' { quotes + 1 } else { 0 };
        let ends = quotes == 3 || c == '"' && at + 1 == text.len();
        if ends {
            quotes = 0;
        }
        match c {
            '"' | '\n' if !ends => written.push(c),
            c => put(&mut written, c),
        }
    }
    written + "\"\"\""
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
    fn several_lines_stay_several_lines() {
        assert_eq!(long_text("a \"b\""), r#""a \"b\"""#);
        let odd = "\nit says \"\"\"\"stop\"\"\r\n\\ \t\"";
        assert_eq!(long_text(odd), "\"\"\"\n\nit says \"\"\\\"\"stop\"\"\\r\n\\\\ \\t\\\"\"\"\"");
        let table: toml::Table = format!("a = {}", long_text(odd)).parse().unwrap();
        assert_eq!(table["a"].as_str(), Some(odd));
    }

    #[test]
    fn a_long_list_has_a_line_for_each() {
        assert_eq!(lines(["1".to_owned()]), "[1]");
        assert_eq!(lines(["1".to_owned(), "2".to_owned()]), "[\n  1,\n  2,\n]");
    }

    #[test]
    fn lists_and_tables_stand_on_one_line() {
        assert_eq!(list([text("a"), text("b")]), "[\"a\", \"b\"]");
        assert_eq!(list([]), "[]");
        assert_eq!(table([("kind".into(), text("opened"))]), "{ kind = \"opened\" }");
    }
}
