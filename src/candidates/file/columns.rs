//! Cells to fields: what each column of a file means.

use crate::candidates::details::Field;
use crate::candidates::fold;
use std::fmt;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    Field(Field),
    /// Where a file keeps a name in two columns: what is written first of it, and what is written after that. The two are
    /// joined; a name is never taken apart.
    NameFirst,
    NameThen,
    /// Nothing that is kept.
    Left,
}

impl Column {
    /// Every meaning, in the order in which a page offers them.
    pub fn all() -> Vec<Self> {
        let mut all = vec![Self::Left];
        all.extend(Field::ALL.map(Self::Field));
        all.insert(2, Self::NameFirst);
        all.insert(3, Self::NameThen);
        all
    }

    /// As forms send it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Field(field) => field.word(),
            Self::NameFirst => "name_first",
            Self::NameThen => "name_then",
            Self::Left => "left",
        }
    }

    /// The meaning of this name.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::all().into_iter().find(|one| one.word() == word)
    }

    /// As pages call it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Field(field) => field.label(),
            Self::NameFirst => "Name: the part written first",
            Self::NameThen => "Name: the part written after it",
            Self::Left => "Leave this column out",
        }
    }

    /// What the head of a column says it holds, in the words that such heads use (common practice, no source).
    fn guess(head: &str) -> Self {
        let key = fold::sort_key(head);
        let field = |field| Self::Field(field);
        match key.as_str() {
            "name" | "full name" | "candidate" | "candidate name" | "learner" | "learner name" | "student"
            | "student name" | "nom" | "nombre" | "nazwisko i imie" | "imie i nazwisko" => field(Field::Name),
            "first name" | "given name" | "given names" | "forename" | "forenames" | "first names" => Self::NameFirst,
            "last name" | "family name" | "surname" => Self::NameThen,
            "called" | "call me" | "known as" | "preferred name" | "what to call them" => field(Field::Called),
            "sort name" | "sorted as" | "sort as" => field(Field::SortName),
            "reference"
            | "ref"
            | "id"
            | "number"
            | "no"
            | "candidate number"
            | "candidate no"
            | "candidate id"
            | "candidate ref"
            | "candidate reference"
            | "registration"
            | "registration number"
            | "learner number"
            | "learner id"
            | "student number"
            | "student id" => field(Field::Reference),
            "extra percent"
            | "extra"
            | "extra time"
            | "extra time percent"
            | "extra time in per cent"
            | "extra per cent" => field(Field::ExtraPercent),
            "extra minutes" | "extra time minutes" | "extra time in minutes" => field(Field::ExtraMinutes),
            "reader" | "a reader" | "needs a reader" => field(Field::Reader),
            "other" | "other adjustment" | "other adjustments" | "adjustment" | "adjustments" => field(Field::Other),
            _ => Self::Left,
        }
    }
}

/// What all columns of a file mean, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Columns {
    /// Whether the first row is a head.
    pub head: bool,
    pub mean: Vec<Column>,
}

/// Why columns cannot be taken as they are said to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnFault {
    NoName,
    NoReference,
    /// Two columns hold the same.
    Twice(Column),
    /// A name as a whole and in parts.
    NameAndParts,
}

impl fmt::Display for ColumnFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoName => f.write_str("Please say which column holds the name."),
            Self::NoReference => {
                f.write_str("Please say which column holds the reference: people are told apart by it.")
            }
            Self::Twice(column) => write!(f, "Two columns cannot both be “{}”.", column.label()),
            Self::NameAndParts => f.write_str("Choose either one column for the name, or one for each part of it."),
        }
    }
}

impl Columns {
    /// What the first row says. Where it says neither a name nor a reference it is taken for the first candidate, and a
    /// person has to say what the columns are.
    pub fn guess(first: &[String], width: usize) -> Self {
        let mut mean: Vec<Column> = first.iter().map(|cell| Column::guess(cell)).collect();
        for at in 1..mean.len() {
            if mean[..at].contains(&mean[at]) {
                mean[at] = Column::Left;
            }
        }
        let whole = mean.contains(&Column::Field(Field::Name));
        let is_part = |column: &Column| matches!(column, Column::NameFirst | Column::NameThen);
        if whole {
            mean.iter_mut().filter(|column| is_part(column)).for_each(|column| *column = Column::Left);
        }
        let head = mean.iter().any(|column| *column != Column::Left);
        mean.resize(width, Column::Left);
        Self { head, mean }
    }

    /// Everything that is wrong with what the columns are said to be.
    pub fn faults(&self) -> Vec<ColumnFault> {
        let has = |column: Column| self.mean.contains(&column);
        let name = has(Column::Field(Field::Name));
        let parts = has(Column::NameFirst) || has(Column::NameThen);
        let mut faults = Vec::new();
        if !name && !parts {
            faults.push(ColumnFault::NoName);
        }
        if name && parts {
            faults.push(ColumnFault::NameAndParts);
        }
        if !has(Column::Field(Field::Reference)) {
            faults.push(ColumnFault::NoReference);
        }
        let twice = |column: &Column| self.mean.iter().filter(|other| *other == column).count() > 1;
        faults.extend(
            Column::all().into_iter().filter(|column| *column != Column::Left && twice(column)).map(ColumnFault::Twice),
        );
        faults
    }

    /// What a row says of a field; `None` where no column holds it.
    pub fn of(&self, field: Field, cells: &[String]) -> Option<String> {
        let cell = |column: Column| {
            let at = self.mean.iter().position(|one| *one == column)?;
            Some(cells.get(at).map(|cell| unescaped(cell.trim()).to_owned()).unwrap_or_default())
        };
        let whole = cell(Column::Field(field));
        if field != Field::Name || whole.is_some() {
            return whole;
        }
        let parts = [cell(Column::NameFirst), cell(Column::NameThen)];
        parts.iter().any(Option::is_some).then(|| {
            let parts: Vec<String> = parts.into_iter().flatten().filter(|part| !part.is_empty()).collect();
            parts.join(" ")
        })
    }

    /// The column that holds a field, from 0.
    pub fn place(&self, field: Field) -> Option<usize> {
        let holds = |column: &Column| match column {
            Column::Field(one) => *one == field,
            Column::NameFirst | Column::NameThen => field == Field::Name,
            Column::Left => false,
        };
        self.mean.iter().position(holds)
    }
}

/// A cell as it was before it was written so that no spreadsheet takes it for a formula ([`super::written`]).
pub(super) fn unescaped(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if super::written::may_be_taken_for_a_formula(rest) => rest,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|cell| (*cell).to_owned()).collect()
    }

    #[test]
    fn heads_are_read_in_the_words_that_files_use() {
        let columns = Columns::guess(&row(&["Candidate No.", "FULL NAME", "Extra time", "notes", "Réf"]), 6);
        let expected = [
            Column::Field(Field::Reference),
            Column::Field(Field::Name),
            Column::Field(Field::ExtraPercent),
            Column::Left,
            Column::Left,
            Column::Left,
        ];
        assert!(columns.head);
        assert_eq!(columns.mean, expected, "a second reference is left out");
        assert_eq!(columns.faults(), []);
    }

    #[test]
    fn a_file_without_a_head_needs_a_person_to_say_what_it_holds() {
        let columns = Columns::guess(&row(&["Zoë Invented", "R-1"]), 2);
        assert!(!columns.head);
        assert_eq!(columns.faults(), [ColumnFault::NoName, ColumnFault::NoReference]);
    }

    #[test]
    fn a_name_in_two_columns_is_joined_in_the_order_in_which_it_is_written() {
        let columns = Columns::guess(&row(&["Surname", "First name", "ID"]), 3);
        assert_eq!(columns.faults(), []);
        let of = |cells: &[&str]| columns.of(Field::Name, &row(cells)).unwrap();
        assert_eq!(of(&[" Dhomhnaill ", "Máire", "1"]), "Máire Dhomhnaill");
        assert_eq!(of(&["", "Sukarno", "1"]), "Sukarno");
        assert_eq!(of(&["Ng"]), "Ng");
        assert_eq!(columns.of(Field::Other, &row(&["a", "b", "c"])), None);
    }

    #[test]
    fn the_same_cannot_stand_in_two_columns() {
        let name = Column::Field(Field::Name);
        let columns = Columns { head: true, mean: vec![name, name, Column::NameThen] };
        let expected = [ColumnFault::NameAndParts, ColumnFault::NoReference, ColumnFault::Twice(name)];
        assert_eq!(columns.faults(), expected);
        assert!(expected.iter().all(|fault| fault.to_string().ends_with('.')));
    }

    #[test]
    fn what_was_kept_from_being_a_formula_is_a_name_again() {
        for (cell, name) in
            [("'=1+1", "=1+1"), ("'@x", "@x"), ("'Abd", "'Abd"), ("''=1", "'=1"), ("O'Neill", "O'Neill")]
        {
            assert_eq!(unescaped(cell), name);
        }
    }

    #[test]
    fn every_meaning_has_a_word_of_its_own() {
        for column in Column::all() {
            assert_eq!(Column::of_word(column.word()), Some(column));
        }
    }
}
