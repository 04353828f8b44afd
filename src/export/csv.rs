//! Comma-separated values (RFC 4180): CRLF, UTF-8, every row as wide as the head.
//!
//! Two kinds. *Data* is for programs: no byte order mark, each text as it is. *Sheet* is for spreadsheet programs: with a
//! byte order mark, without which some take the bytes for another alphabet; and with an apostrophe before any text that
//! such a program could take for a formula (OWASP, "CSV Injection"), numbers apart, which are ours.

use super::columns::{Column, Line, Value};
use super::row::moment;
use csv::{QuoteStyle, Terminator, Writer, WriterBuilder};
use std::borrow::Cow;
use std::fmt::Write as _;
use std::io::{self, Write};

/// For whom a table is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum For {
    /// Programs.
    Data,
    /// Spreadsheet programs.
    Sheet,
}

/// A table in the making.
pub struct Table<W: Write> {
    writer: Writer<W>,
    columns: Vec<Column>,
    whom: For,
    /// Used again and again, so that a number costs no allocation.
    cell: String,
}

impl<W: Write> Table<W> {
    /// Begins a table: the byte order mark where it is for a sheet, and the head.
    pub fn begin(mut out: W, columns: Vec<Column>, whom: For) -> io::Result<Self> {
        if whom == For::Sheet {
            out.write_all("\u{feff}".as_bytes())?;
        }
        let quotes = if whom == For::Sheet { QuoteStyle::NonNumeric } else { QuoteStyle::Necessary };
        let mut builder = WriterBuilder::new();
        builder.terminator(Terminator::CRLF).quote_style(quotes).buffer_capacity(1 << 16);
        let mut writer = builder.from_writer(out);
        writer.write_record(columns.iter().map(|column| column.name))?;
        Ok(Self { writer, columns, whom, cell: String::new() })
    }

    /// Adds a line.
    pub fn line(&mut self, line: &Line) -> io::Result<()> {
        for column in &self.columns {
            self.cell.clear();
            match (column.value)(line) {
                Value::Text(text) if self.whom == For::Sheet => self.cell.push_str(&escape(&text)),
                Value::Text(text) => self.cell.push_str(&text),
                Value::Whole(number) => _ = write!(self.cell, "{number}"),
                Value::Number(number) => _ = write!(self.cell, "{number}"),
                Value::Moment(at) => self.cell.push_str(&moment(at)),
                Value::Flag(flag) => self.cell.push_str(if flag { "true" } else { "false" }),
                Value::Nothing => {}
            }
            self.writer.write_field(&self.cell)?;
        }
        Ok(self.writer.write_record(None::<&[u8]>)?)
    }

    /// Writes out what is left, and answers where it went.
    pub fn finish(self) -> io::Result<W> {
        self.writer.into_inner().map_err(|why| io::Error::other(why.to_string()))
    }
}

/// What a spreadsheet program could take for the beginning of a formula: the signs, their full-width forms, what it skips
/// before them, and the apostrophe itself, so that each text comes back.
const SIGNS: [char; 12] = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\t', '\r', '\n', '\''];

/// A text that no spreadsheet program takes for a formula.
pub fn escape(text: &str) -> Cow<'_, str> {
    if text.starts_with(SIGNS) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The way back, as a reader of the file goes it.
    fn unescape(text: &str) -> &str {
        text.strip_prefix('\'').unwrap_or(text)
    }

    proptest! {
        #[test]
        fn every_text_comes_back_and_none_begins_like_a_formula(text in "[=+@＝＠'\t\r\n-]?[^\\x00]{0,20}") {
            let escaped = escape(&text);
            prop_assert_eq!(unescape(&escaped), text.as_str());
            prop_assert!(!escaped.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠', '\t', '\r', '\n']));
        }
    }

    #[test]
    fn a_candidate_called_like_a_formula_stays_a_text() {
        assert_eq!(escape("=1+1"), "'=1+1");
        assert_eq!(escape("'tis"), "''tis");
        assert_eq!(escape("O’Brien-Ní Dhomhnaill"), "O’Brien-Ní Dhomhnaill");
    }
}
