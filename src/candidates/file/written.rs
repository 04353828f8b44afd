//! Rows that were not taken, given back as a file with what is wrong with each.

use super::Separator;

/// Whether a spreadsheet may take a cell for a formula, or for one that was kept from being one (OWASP, CSV injection; the
/// same signs in full width are taken for them in some settings).
pub(super) fn may_be_taken_for_a_formula(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\'', '＝', '＋', '－', '＠'])
}

/// A file of rows: every cell quoted, lines that end in CR LF (RFC 4180), a byte order mark by which spreadsheets know
/// UTF-8, and an apostrophe before whatever could be taken for a formula; reading a file of candidates takes it off again.
pub fn file<'r>(rows: impl IntoIterator<Item = &'r [String]>, separator: Separator) -> String {
    let mut file = String::from("\u{FEFF}");
    for row in rows {
        for (at, cell) in row.iter().enumerate() {
            if at > 0 {
                file.push(separator.sign());
            }
            file.push('"');
            if may_be_taken_for_a_formula(cell) {
                file.push('\'');
            }
            file.push_str(&cell.replace('"', "\"\""));
            file.push('"');
        }
        file.push_str("\r\n");
    }
    file
}

#[cfg(test)]
mod tests {
    use super::super::{cells, columns};
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_quotation_mark_before_a_formula_is_read_as_it_was() {
        let row = ["\"=".to_owned()];
        let read = cells::read(file([&row[..]], Separator::Comma).trim_start_matches('\u{FEFF}'), Separator::Comma);
        assert_eq!(columns::unescaped(&read.unwrap().rows[0].cells[0]), row[0]);
    }

    proptest! {
        #[test]
        fn what_is_given_back_is_read_as_it_was(
            rows in proptest::collection::vec(proptest::collection::vec("[a-zé\",;='+@-]{1,6}", 1..5), 1..6),
            at in 0usize..3,
        ) {
            let separator = Separator::ALL[at];
            let text = file(rows.iter().map(Vec::as_slice), separator);
            let read = cells::read(text.trim_start_matches('\u{FEFF}'), separator).unwrap();
            let bare = |cell: &String| cell.starts_with(['=', '+', '-', '@']);
            prop_assert!(!read.rows.iter().flat_map(|row| &row.cells).any(bare));
            let read: Vec<Vec<String>> = read.rows.into_iter()
                .map(|row| row.cells.iter().map(|cell| columns::unescaped(cell).to_owned()).collect())
                .collect();
            prop_assert_eq!(read, rows);
        }
    }
}
