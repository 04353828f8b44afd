//! Files of candidates, against what Python's csv module and codecs make of the same bytes.

use crate::support::outside::python;
use baywitness::candidates::file::{Encoding, Separator, cells, rows};
use serde::Deserialize;
use std::collections::{BTreeMap, HashMap};

/// 500 rows as such lists are; where it comes from stands beside it.
pub const MESSY: &[u8] = include_bytes!("../reference/candidates/messy.csv");

/// What was written down while the list was made.
#[derive(Deserialize)]
pub struct Expected {
    pub faults: Vec<ExpectedFault>,
    pub people: BTreeMap<String, String>,
}

#[derive(Deserialize)]
pub struct ExpectedFault {
    pub row: usize,
    pub column: String,
    pub says: String,
}

pub fn expected() -> Expected {
    serde_json::from_str(include_str!("../reference/candidates/messy.json")).unwrap()
}

/// Rows of cells as our own reading has them.
fn ours(bytes: &[u8]) -> (Encoding, Separator, Vec<Vec<String>>) {
    let encoding = Encoding::detect(bytes);
    let text = encoding.decode(bytes).unwrap();
    let separator = Separator::detect(&text);
    let rows = cells::read(&text, separator).unwrap().rows;
    (encoding, separator, rows.into_iter().map(|row| row.cells).collect())
}

/// The same bytes as Python reads them.
fn pythons(bytes: &[u8], codec: &str, separator: char) -> Vec<Vec<String>> {
    let file = std::env::temp_dir().join(format!("bw-candidates-{:016x}.csv", rand::random::<u64>()));
    std::fs::write(&file, bytes).unwrap();
    let said = python("candidates.py", &[file.to_str().unwrap(), codec, &separator.to_string()]);
    std::fs::remove_file(&file).unwrap();
    serde_json::from_str(&said).unwrap()
}

/// Python's name for an encoding, byte order mark or not.
fn codec(encoding: Encoding, mark: bool) -> &'static str {
    match (encoding, mark) {
        (Encoding::Utf8, true) => "utf-8-sig",
        (Encoding::Utf8, false) => "utf-8",
        (Encoding::Utf16Le | Encoding::Utf16Be, true) => "utf-16",
        (Encoding::Utf16Le, false) => "utf-16-le",
        (Encoding::Utf16Be, false) => "utf-16-be",
        (Encoding::Windows1252, _) => "cp1252",
    }
}

#[test]
fn the_messy_list_has_the_cells_that_python_sees_in_every_encoding_and_with_every_separator() {
    let text = std::str::from_utf8(MESSY).unwrap().trim_start_matches('\u{FEFF}');
    let mut tried = 0;
    for mark in [true, false] {
        let marked = if mark { format!("\u{FEFF}{text}") } else { text.to_owned() };
        let units: Vec<u16> = marked.encode_utf16().collect();
        let written = [
            (Encoding::Utf8, marked.clone().into_bytes()),
            (Encoding::Utf16Le, units.iter().flat_map(|unit| unit.to_le_bytes()).collect()),
            (Encoding::Utf16Be, units.iter().flat_map(|unit| unit.to_be_bytes()).collect()),
        ];
        for (encoding, bytes) in written {
            let (seen, separator, rows) = ours(&bytes);
            assert_eq!((seen, separator), (encoding, Separator::Semicolon), "mark {mark}");
            assert_eq!(rows, pythons(&bytes, codec(encoding, mark), ';'), "{encoding:?}, mark {mark}");
            tried += 1;
        }
    }
    assert_eq!(tried, 6);
}

#[test]
fn odd_files_have_the_cells_that_python_sees() {
    let files: [(&[u8], Encoding, Separator); 7] = [
        (
            b"name,reference\r\nZo\xEB O\x92Brien,R-1\r\n\"Garc\xEDa, Ana\",R-2\r\n",
            Encoding::Windows1252,
            Separator::Comma,
        ),
        (b"name\treference\n\"a\"b\tc\n  \"d\te\"\tf\n", Encoding::Utf8, Separator::Tab),
        (b"name;reference\r\r\na\"b;c\"d\r\n;\r\n\"\";x\r\n", Encoding::Utf8, Separator::Semicolon),
        (b"n,r\n\"two\nlines\",1\n\"a \"\"b\"\"\",2", Encoding::Utf8, Separator::Comma),
        (b"n,r\n'a','b'\n\n\n a , b \n,,,\n", Encoding::Utf8, Separator::Comma),
        (b"n,r\n\"\"\"\",\"\"\n\"x\"\"\"y,z\n", Encoding::Utf8, Separator::Comma),
        ("n\tr\n\u{202E}abc\t\u{200D}1\n\u{1F9D1}\u{200D}\u{1F527}\t2\n".as_bytes(), Encoding::Utf8, Separator::Tab),
    ];
    for (bytes, encoding, separator) in files {
        let (seen, cut, rows) = ours(bytes);
        let about = String::from_utf8_lossy(bytes);
        assert_eq!((seen, cut), (encoding, separator), "{about}");
        assert_eq!(rows, pythons(bytes, codec(encoding, false), separator.sign()), "{about}");
    }
}

#[test]
fn every_fault_of_the_messy_list_is_found_and_no_other() {
    let text = Encoding::Utf8.decode(MESSY).unwrap();
    let table = cells::read(&text, Separator::Semicolon).unwrap();
    let outcome = rows::work_out(&table, &rows::guess(&table), &HashMap::new());
    let expected = expected();
    assert!(expected.faults.len() > 80, "the list has become too good");
    assert_eq!(outcome.faults.len(), expected.faults.len());
    for (found, expected) in outcome.faults.iter().zip(&expected.faults) {
        assert_eq!((found.number, &found.column), (expected.row, &expected.column), "{}", found.says);
        assert!(found.says.contains(&expected.says), "{} is not {}", found.says, expected.says);
    }
    let people: BTreeMap<_, _> =
        outcome.add.iter().map(|row| (row.details.reference.clone(), row.details.name.clone())).collect();
    assert_eq!(people, expected.people);
}
