//! Text to rows of cells: RFC 4180 with any of three separators, read leniently, as files are.

use super::{LONGEST_CELL, MOST_COLUMNS, MOST_ROWS};
use csv::{ReaderBuilder, StringRecord};
use std::fmt;

/// What stands between two cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Separator {
    Comma,
    Semicolon,
    Tab,
}

impl Separator {
    pub const ALL: [Self; 3] = [Self::Comma, Self::Semicolon, Self::Tab];

    /// As forms send it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
        }
    }

    /// The separator of this name.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|one| one.word() == word)
    }

    /// As pages call it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Comma => "Comma ,",
            Self::Semicolon => "Semicolon ;",
            Self::Tab => "Tab",
        }
    }

    /// The character itself.
    pub fn sign(self) -> char {
        match self {
            Self::Comma => ',',
            Self::Semicolon => ';',
            Self::Tab => '\t',
        }
    }

    /// The one that cuts most of the first rows into the same number of cells, more than one; where a first line says
    /// `sep=;`, as spreadsheets write it (common practice, no source), that one.
    pub fn detect(text: &str) -> Self {
        if let Some(said) = said(text) {
            return said;
        }
        let beginning: String = text.lines().take(40).collect::<Vec<_>>().join("\n");
        let agreeing = |separator: Self| {
            let widths: Vec<usize> = records(&beginning, separator).map(|(_, record)| record.len()).collect();
            let most = widths.iter().copied().filter(|width| *width > 1).max_by_key(|width| {
                let so_wide = widths.iter().filter(|other| *other == width).count();
                (so_wide, *width)
            });
            most.map_or((0, 0), |most| (widths.iter().filter(|width| **width == most).count(), most))
        };
        // Of two that agree as well the earlier counts: a comma is the usual one.
        Self::ALL.into_iter().rev().max_by_key(|separator| agreeing(*separator)).unwrap_or(Self::Comma)
    }
}

/// The separator that the first line says is used.
fn said(text: &str) -> Option<Separator> {
    let sign = text.lines().next()?.trim_end().trim_matches('"').strip_prefix("sep=")?.to_owned();
    Separator::ALL.into_iter().find(|separator| sign == separator.sign().to_string())
}

/// A row of cells that is not blank.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Its number as a spreadsheet counts: from 1, blank rows and the header included.
    pub number: usize,
    pub cells: Vec<String>,
}

/// Every row that holds anything.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    pub rows: Vec<Row>,
}

/// Why a text cannot be read as a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFault {
    Empty,
    TooManyRows,
    /// The number of the row.
    TooManyColumns(usize),
    TooLongCell(usize),
    /// The row in which a quotation mark opens that nothing closes.
    OpenQuote(usize),
}

impl fmt::Display for TableFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => f.write_str("There is nothing in it."),
            Self::TooManyRows => write!(f, "It has more than {MOST_ROWS} rows. Please split it."),
            Self::TooManyColumns(row) => write!(f, "Row {row} has more than {MOST_COLUMNS} columns."),
            Self::TooLongCell(row) => write!(f, "Row {row} has a cell of more than {LONGEST_CELL} characters."),
            Self::OpenQuote(row) => {
                write!(f, "In row {row}, or in the last one, a quotation mark opens that is never closed.")
            }
        }
    }
}

/// A cell that no file of people holds; it stands alone in a row of its own unless a quotation mark is still open.
const END: &str = "\u{10FFFD}end\u{10FFFD}";

/// Reads a text as a table.
pub fn read(text: &str, separator: Separator) -> Result<Table, TableFault> {
    let mut rows = Vec::new();
    let skip = usize::from(said(text).is_some());
    let ended = format!("{}\n{END}", one_line_end(text));
    let mut closed = false;
    let mut last = 0;
    for (number, record) in records(&ended, separator).skip(skip) {
        if record.len() == 1 && &record[0] == END {
            closed = true;
            break;
        }
        last = number;
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        if cells.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if cells.len() > MOST_COLUMNS && cells[MOST_COLUMNS..].iter().any(|cell| !cell.trim().is_empty()) {
            return Err(TableFault::TooManyColumns(number));
        }
        if cells.iter().any(|cell| cell.chars().count() > LONGEST_CELL) {
            // What is never closed swallows everything after it, and is mostly too long as well.
            let open = cells.last().is_some_and(|cell| cell.ends_with(END));
            return Err(if open { TableFault::OpenQuote(number) } else { TableFault::TooLongCell(number) });
        }
        if rows.len() == MOST_ROWS {
            return Err(TableFault::TooManyRows);
        }
        rows.push(Row { number, cells });
    }
    match () {
        () if !closed => Err(TableFault::OpenQuote(last)),
        () if rows.is_empty() => Err(TableFault::Empty),
        () => Ok(Table { rows }),
    }
}

/// A text whose lines end in carriage returns alone, as very old files do, with line feeds in their place.
fn one_line_end(text: &str) -> std::borrow::Cow<'_, str> {
    if text.contains('\r') && !text.contains('\n') { text.replace('\r', "\n").into() } else { text.into() }
}

/// Every record that is not an empty line, with the number of its row: line ends within quotation marks begin no row.
fn records(text: &str, separator: Separator) -> impl Iterator<Item = (usize, StringRecord)> {
    let delimiter = u8::try_from(separator.sign()).unwrap_or(b',');
    let mut builder = ReaderBuilder::new();
    builder.delimiter(delimiter).has_headers(false).flexible(true);
    // Up to where line ends were counted, how many there were, and how many of them stand within cells.
    let (mut counted, mut lines, mut within) = (0, 0, 0);
    // A reader of a text fails on nothing: there is no I/O, the widths may differ and the text is valid.
    builder.from_reader(text.as_bytes()).into_records().map_while(Result::ok).map(move |record| {
        // The reader's own place of a record is the end of the one before, blank lines between them not passed yet.
        let begins = record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or_default());
        let blank = text.as_bytes()[begins..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        lines += text.as_bytes()[counted..begins + blank].iter().filter(|byte| **byte == b'\n').count();
        counted = begins + blank;
        let number = lines - within + 1;
        within += record.iter().map(|cell| cell.matches('\n').count()).sum::<usize>();
        (number, record)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cells(text: &str, separator: Separator) -> Vec<(usize, Vec<String>)> {
        read(text, separator).unwrap().rows.into_iter().map(|row| (row.number, row.cells)).collect()
    }

    #[test]
    fn rows_are_numbered_as_a_spreadsheet_counts_them() {
        let text = "a,b\r\n\r\n\"x\ny\",1\r\n , \r\n\"q \"\"r\"\"\",2\r\n";
        let found = cells(text, Separator::Comma);
        let expected = [(1, ["a", "b"]), (3, ["x\ny", "1"]), (5, ["q \"r\"", "2"])];
        assert_eq!(found, expected.map(|(number, row)| (number, row.map(str::to_owned).to_vec())));
    }

    #[test]
    fn the_separator_is_seen_in_the_first_rows() {
        for (text, separator) in [
            ("name,reference\n\"Ng; Li\",1\n", Separator::Comma),
            ("name;reference\nÓ Briain, Seán;1\nB, A;2\n", Separator::Semicolon),
            ("name\treference\nB, A\t1\n", Separator::Tab),
            ("sep=;\r\na,b;c\r\n", Separator::Semicolon),
            ("just one column\nand, once\n", Separator::Comma),
            ("", Separator::Comma),
        ] {
            assert_eq!(Separator::detect(text), separator, "{text}");
        }
        assert_eq!(cells("sep=;\r\na;b\r\n", Separator::Semicolon), [(2, vec!["a".to_owned(), "b".to_owned()])]);
    }

    #[test]
    fn what_is_no_table_is_refused_with_its_row() {
        assert_eq!(read(" \n,,\n", Separator::Comma), Err(TableFault::Empty));
        assert_eq!(read("a,b\nc,\"d\ne,f\n", Separator::Comma), Err(TableFault::OpenQuote(2)));
        let long = format!("a\n{}\n", "x".repeat(LONGEST_CELL + 1));
        assert_eq!(read(&long, Separator::Comma), Err(TableFault::TooLongCell(2)));
        let open = format!("a\n\"{}\n", "x\n".repeat(LONGEST_CELL));
        assert_eq!(read(&open, Separator::Comma), Err(TableFault::OpenQuote(2)));
        let wide = format!("a\n{}b\n", ",".repeat(MOST_COLUMNS));
        assert_eq!(read(&wide, Separator::Comma), Err(TableFault::TooManyColumns(2)));
        assert_eq!(read(&"a\n".repeat(MOST_ROWS + 1), Separator::Comma), Err(TableFault::TooManyRows));
        assert_eq!(read(&"a\n".repeat(MOST_ROWS), Separator::Comma).unwrap().rows.len(), MOST_ROWS);
        let faults = [TableFault::Empty, TableFault::TooManyRows, TableFault::OpenQuote(3)];
        assert!(faults.iter().all(|fault| fault.to_string().ends_with('.')));
    }

    #[test]
    fn lines_that_end_as_in_very_old_files_are_lines() {
        assert_eq!(cells("a,b\rc,d\r", Separator::Comma).len(), 2);
    }

    proptest! {
        #[test]
        fn whatever_stands_in_a_cell_survives(
            rows in proptest::collection::vec(proptest::collection::vec("[a-zé\" ,;\t\n\r'=]{0,8}", 1..6), 1..8),
            at in 0usize..3,
            crlf: bool,
        ) {
            let separator = Separator::ALL[at];
            let quoted = |cell: &String| format!("\"{}\"", cell.replace('"', "\"\""));
            let end = if crlf { "\r\n" } else { "\n" };
            let line = |row: &Vec<String>| {
                row.iter().map(quoted).collect::<Vec<_>>().join(&separator.sign().to_string()) + end
            };
            // The rule for files without any line feed is tried above.
            let text: String = rows.iter().map(line).collect();
            let expected: Vec<_> =
                rows.into_iter().filter(|row| row.iter().any(|cell| !cell.trim().is_empty())).collect();
            match read(&text, separator) {
                Ok(table) => {
                    let found: Vec<_> = table.rows.into_iter().map(|row| row.cells).collect();
                    prop_assert_eq!(found, expected);
                }
                Err(fault) => {
                    prop_assert_eq!(fault, TableFault::Empty);
                    prop_assert!(expected.is_empty());
                }
            }
        }

        #[test]
        fn any_text_at_all_is_looked_at_without_harm(text in "\\PC{0,80}|[\",;\t\n\r a]{0,40}", at in 0usize..3) {
            let _ = read(&text, Separator::ALL[at]);
            let _ = Separator::detect(&text);
        }
    }
}
