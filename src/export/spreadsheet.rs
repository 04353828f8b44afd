//! A workbook (Office Open XML): texts as texts, numbers as numbers, times as real date cells in UTC; no formula, no
//! macro, no link. Rows go to disk as they come, so that a large workbook needs no more memory than a small one.

use super::columns::{Column, Kind, Line, Value};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, XlsxError};
use std::io::{self, Write};
use std::path::Path;
use time::OffsetDateTime;

/// Rows below the head that one sheet holds: a sheet has 1,048,576.
const MOST_ROWS: u32 = 1_048_575;

/// Characters that a cell holds at most; a longer text is cut.
const LONGEST_TEXT: usize = 32_767;

/// A workbook in the making.
pub struct Spreadsheet {
    workbook: Workbook,
    columns: Vec<Column>,
    title: &'static str,
    sheets: usize,
    /// Rows in the last sheet, its head apart.
    rows: u32,
    most_rows: u32,
    moment: Format,
    head: Format,
}

impl Spreadsheet {
    /// Begins a workbook. Rows wait in a file without a name in `folder`, which must be ours to write in.
    pub fn begin(columns: Vec<Column>, title: &'static str, folder: &Path) -> io::Result<Self> {
        let mut workbook = Workbook::new();
        workbook.set_tempdir(folder).map_err(other)?;
        let moment = Format::new().set_num_format("yyyy-mm-dd hh:mm:ss.000");
        let head = Format::new().set_bold();
        let mut made = Self { workbook, columns, title, sheets: 0, rows: 0, most_rows: MOST_ROWS, moment, head };
        made.begin_sheet().map_err(other)?;
        Ok(made)
    }

    fn begin_sheet(&mut self) -> Result<(), XlsxError> {
        self.sheets += 1;
        self.rows = 0;
        let name = if self.sheets == 1 { self.title.to_owned() } else { format!("{} {}", self.title, self.sheets) };
        let sheet = self.workbook.add_worksheet_with_constant_memory()?;
        sheet.set_name(name)?;
        sheet.set_freeze_panes(1, 0)?;
        for (at, column) in (0u16..).zip(&self.columns) {
            let width = match column.kind {
                Kind::Moment => 24.0,
                Kind::Text => 28.0,
                Kind::Whole | Kind::Number | Kind::Flag => 12.0,
            };
            sheet.set_column_width(at, width)?;
            sheet.write_string_with_format(0, at, column.name, &self.head)?;
        }
        Ok(())
    }

    /// Adds a line, on a new sheet where the last one is full.
    pub fn line(&mut self, line: &Line) -> io::Result<()> {
        self.write(line).map_err(other)
    }

    fn write(&mut self, line: &Line) -> Result<(), XlsxError> {
        if self.rows == self.most_rows {
            self.begin_sheet()?;
        }
        self.rows += 1;
        let sheet = self.workbook.worksheet_from_index(self.sheets - 1)?;
        for (at, column) in (0u16..).zip(&self.columns) {
            match (column.value)(line) {
                Value::Text(text) => _ = sheet.write_string(self.rows, at, cut(&text))?,
                Value::Whole(number) => _ = sheet.write_number(self.rows, at, number as f64)?,
                Value::Number(number) => _ = sheet.write_number(self.rows, at, number)?,
                Value::Moment(moment) => {
                    _ = sheet.write_datetime_with_format(self.rows, at, of_excel(moment)?, &self.moment)?;
                }
                Value::Flag(flag) => _ = sheet.write_boolean(self.rows, at, flag)?,
                Value::Nothing => {}
            }
        }
        Ok(())
    }

    /// Puts the workbook together.
    pub fn finish(mut self, out: impl Write + Send) -> io::Result<()> {
        self.workbook.save_to_writer(out).map_err(other)
    }
}

fn cut(text: &str) -> &str {
    // The format counts units of UTF-16.
    let mut units = 0;
    let end = text.char_indices().find(|(_, one)| {
        units += one.len_utf16();
        units > LONGEST_TEXT
    });
    end.map_or(text, |(at, _)| &text[..at])
}

fn of_excel(at: OffsetDateTime) -> Result<ExcelDateTime, XlsxError> {
    let at = at.to_offset(time::UtcOffset::UTC);
    let (date, (hour, minute, second, milli)) = (at.date(), at.time().as_hms_milli());
    let year = u16::try_from(date.year()).unwrap_or_default();
    ExcelDateTime::from_ymd(year, date.month().into(), date.day())?.and_hms_milli(hour.into(), minute, second, milli)
}

fn other(why: XlsxError) -> io::Error {
    io::Error::other(why.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::columns::RESULTS;
    use crate::export::samples;

    #[test]
    fn rows_beyond_a_full_sheet_go_on_the_next() {
        let folder = std::env::temp_dir();
        let mut book = Spreadsheet::begin(RESULTS.to_vec(), "Results", &folder).unwrap();
        book.most_rows = 2;
        let row = samples::row("Ng");
        for _ in 0..5 {
            book.line(&Line { row: &row, found: None, seen: None }).unwrap();
        }
        assert_eq!((book.sheets, book.rows), (3, 1));
        let mut bytes = Vec::new();
        book.finish(&mut bytes).unwrap();
        assert!(bytes.starts_with(b"PK"));
    }

    #[test]
    fn a_text_is_cut_where_a_cell_ends_and_never_within_a_character() {
        assert_eq!(cut("李小龍"), "李小龍");
        let long = "🙂".repeat(LONGEST_TEXT);
        assert_eq!(cut(&long).chars().count(), LONGEST_TEXT / 2);
    }
}
