//! Fields to candidates: what taking a file would add and change, and every fault of it.

use super::cells::Row;
use super::{Column, Columns, Table};
use crate::candidates::Details;
use crate::candidates::details::{self, Field};
use std::collections::HashMap;

/// A row that can be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// As a spreadsheet counts.
    pub number: usize,
    pub details: Details,
}

/// A candidate who is there already and whom the file says other things of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    pub number: usize,
    pub before: Details,
    pub after: Details,
}

impl Change {
    /// The fields that differ, each with what stands there and what would.
    pub fn fields(&self) -> Vec<(Field, String, String)> {
        let differ = |field: Field| {
            let (before, after) = (text(&self.before, field), text(&self.after, field));
            (before != after).then_some((field, before, after))
        };
        Field::ALL.into_iter().filter_map(differ).collect()
    }
}

/// What is wrong with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    pub number: usize,
    /// The head of the column, or its number where there is no head.
    pub column: String,
    /// A sentence that says what is expected.
    pub says: String,
}

/// What taking a file would do.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Outcome {
    pub add: Vec<Taken>,
    pub change: Vec<Change>,
    /// Rows of people who are there already, just as the file says.
    pub same: Vec<usize>,
    /// Every fault, in the order of the rows and of the fields.
    pub faults: Vec<RowFault>,
}

impl Outcome {
    /// The numbers of the rows that have a fault.
    pub fn faulty(&self) -> Vec<usize> {
        let mut numbers: Vec<usize> = self.faults.iter().map(|fault| fault.number).collect();
        numbers.dedup();
        numbers
    }
}

/// The rows of candidates: all but the head.
pub fn of_people<'t>(table: &'t Table, columns: &Columns) -> &'t [Row] {
    table.rows.get(usize::from(columns.head)..).unwrap_or_default()
}

/// Every reference that the file names, as it would be kept.
pub fn references(table: &Table, columns: &Columns) -> Vec<String> {
    let mut references: Vec<String> = of_people(table, columns)
        .iter()
        .filter_map(|row| columns.of(Field::Reference, &row.cells))
        .map(|cell| details::tidy(&cell))
        .collect();
    references.sort_unstable();
    references.dedup();
    references
}

/// Works out what taking the file would do. `there` holds those of the centre's candidates whose references it names.
///
/// What no column holds stays as it is with those who are there; an empty cell empties its field.
pub fn work_out(table: &Table, columns: &Columns, there: &HashMap<String, Details>) -> Outcome {
    let mut outcome = Outcome::default();
    let mut first_with: HashMap<String, usize> = HashMap::new();
    for row in of_people(table, columns) {
        let mut faults = too_wide(table, columns, row);
        let known = columns.of(Field::Reference, &row.cells).and_then(|cell| there.get(&details::tidy(&cell)));
        let typed = |field: Field| match (columns.of(field, &row.cells), known) {
            (Some(cell), _) => cell,
            (None, Some(known)) => text(known, field),
            (None, None) => String::new(),
        };
        match details::read(typed) {
            Err(refused) => {
                let fault = |(field, why): (Field, details::Refusal)| RowFault {
                    number: row.number,
                    column: column_name(table, columns, field),
                    says: why.to_string(),
                };
                faults.extend(refused.into_iter().map(fault));
            }
            Ok(details) => match first_with.get(&details.reference) {
                Some(first) => faults.push(RowFault {
                    number: row.number,
                    column: column_name(table, columns, Field::Reference),
                    says: format!("Row {first} has this reference already."),
                }),
                None => {
                    first_with.insert(details.reference.clone(), row.number);
                    if faults.is_empty() {
                        sort(&mut outcome, row.number, details, known);
                    }
                }
            },
        }
        outcome.faults.extend(faults);
    }
    outcome
}

fn sort(outcome: &mut Outcome, number: usize, details: Details, known: Option<&Details>) {
    match known {
        None => outcome.add.push(Taken { number, details }),
        Some(known) if *known == details => outcome.same.push(number),
        Some(known) => outcome.change.push(Change { number, before: known.clone(), after: details }),
    }
}

/// A cell past the last column that has a meaning of any kind: the row was cut in another way than the others.
fn too_wide(table: &Table, columns: &Columns, row: &Row) -> Vec<RowFault> {
    let width = match table.rows.first() {
        Some(head) if columns.head => head.cells.len(),
        _ => columns.mean.len(),
    };
    let past = row.cells.iter().enumerate().skip(width).find(|(_, cell)| !cell.trim().is_empty());
    let fault = |(at, _): (usize, &String)| RowFault {
        number: row.number,
        column: format!("column {}", at + 1),
        says: "There are more cells here than columns. Is a quotation mark missing?".to_owned(),
    };
    past.map(fault).into_iter().collect()
}

/// How a fault names the column of a field.
fn column_name(table: &Table, columns: &Columns, field: Field) -> String {
    let Some(at) = columns.place(field) else { return field.label().to_owned() };
    head_of(table, columns, at)
}

/// The head of a column, or its number.
pub fn head_of(table: &Table, columns: &Columns, at: usize) -> String {
    let head = table.rows.first().filter(|_| columns.head).and_then(|row| row.cells.get(at));
    let head = head.map(|cell| cell.trim()).filter(|head| !head.is_empty());
    head.map_or_else(|| format!("column {}", at + 1), str::to_owned)
}

/// The faulty rows as a table of their own: the head, where there is one, and each row with what is wrong with it in a
/// last column.
pub fn left_out(table: &Table, columns: &Columns, outcome: &Outcome) -> Vec<Vec<String>> {
    let width = table.rows.iter().map(|row| row.cells.len()).max().unwrap_or_default();
    let widened = |row: &Row, last: String| {
        let mut cells = row.cells.clone();
        cells.resize(width, String::new());
        cells.push(last);
        cells
    };
    let head = table.rows.first().filter(|_| columns.head).map(|row| widened(row, "what is wrong".to_owned()));
    let faulty = of_people(table, columns).iter().filter_map(|row| {
        let of_row = |fault: &&RowFault| fault.number == row.number;
        let says: Vec<String> =
            outcome.faults.iter().filter(of_row).map(|fault| format!("{}: {}", fault.column, fault.says)).collect();
        (!says.is_empty()).then(|| widened(row, says.join(" ")))
    });
    head.into_iter().chain(faulty).collect()
}

/// What stands in a field, as a file or a form would say it.
pub fn text(details: &Details, field: Field) -> String {
    let adjustments = &details.adjustments;
    let number = |number: u16| if number == 0 { String::new() } else { number.to_string() };
    match field {
        Field::Name => details.name.clone(),
        Field::Called => details.called.clone().unwrap_or_default(),
        Field::SortName => details.sort_name.clone().unwrap_or_default(),
        Field::Reference => details.reference.clone(),
        Field::ExtraPercent => number(adjustments.extra.percent),
        Field::ExtraMinutes => number(adjustments.extra.minutes),
        Field::Reader => if adjustments.reader { "yes" } else { "" }.to_owned(),
        Field::Other => adjustments.other.clone().unwrap_or_default(),
    }
}

/// Columns as a page that shows the table offers them: what the file says they are, and as many as its widest row has
/// with anything in it.
pub fn guess(table: &Table) -> Columns {
    let filled = |row: &Row| row.cells.iter().rposition(|cell| !cell.trim().is_empty()).map_or(0, |at| at + 1);
    let first = table.rows.first();
    let as_wide = first.map(filled).unwrap_or_default();
    let widest = table.rows.iter().map(filled).max().unwrap_or_default();
    let head = first.map(|row| &row.cells[..as_wide]).unwrap_or_default();
    let columns = Columns::guess(head, as_wide);
    // Under a head, a row that is wider is at fault; without one nobody can say which row is right.
    if columns.head { columns } else { Columns { mean: vec![Column::Left; widest], ..columns } }
}

#[cfg(test)]
mod tests {
    use super::super::{Separator, cells};
    use super::*;

    fn table(text: &str) -> (Table, Columns) {
        let table = cells::read(text, Separator::Comma).unwrap();
        let columns = guess(&table);
        (table, columns)
    }

    fn worked_out(text: &str, there: &[Details]) -> Outcome {
        let (table, columns) = table(text);
        let there = there.iter().map(|one| (one.reference.clone(), one.clone())).collect();
        work_out(&table, &columns, &there)
    }

    #[test]
    fn what_is_new_the_same_and_other_is_told_apart() {
        let known = Details { called: Some("Bo".into()), ..Details::named("B", "R-2") };
        let there = [Details::named("A", "R-1"), known.clone()];
        let outcome = worked_out("name,reference,extra time,\nA,R-1,,\nB,R-2,25,\nC,R-3,10 %,\n", &there);
        assert_eq!(outcome.same, [2]);
        assert_eq!(outcome.add.len(), 1);
        assert_eq!((outcome.add[0].number, outcome.add[0].details.adjustments.extra.percent), (4, 10));
        let change = &outcome.change[0];
        assert_eq!(change.after.called, known.called, "no column holds it, so it stays");
        assert_eq!(change.fields(), [(Field::ExtraPercent, String::new(), "25".to_owned())]);
        assert_eq!(outcome.faults, []);
    }

    #[test]
    fn an_empty_cell_empties_its_field() {
        let known = Details { called: Some("Bo".into()), ..Details::named("B", "R-2") };
        let outcome = worked_out("name,reference,known as\nB,R-2,\n", &[known]);
        assert_eq!(outcome.change[0].fields(), [(Field::Called, "Bo".to_owned(), String::new())]);
    }

    #[test]
    fn every_fault_is_told_with_row_and_column() {
        let text = "Full name,Ref,Extra time\n,R-1,x\nB,R-2,\nC,R-2,\nD,,400\nE,R-5,,more\n";
        let outcome = worked_out(text, &[]);
        let told: Vec<_> = outcome.faults.iter().map(|fault| (fault.number, fault.column.as_str())).collect();
        let expected =
            [(2, "Full name"), (2, "Extra time"), (4, "Ref"), (5, "Ref"), (5, "Extra time"), (6, "column 4")];
        assert_eq!(told, expected);
        assert_eq!(outcome.faulty(), [2, 4, 5, 6]);
        assert_eq!(outcome.add.iter().map(|row| row.number).collect::<Vec<_>>(), [3]);
        let (table, columns) = table(text);
        let back = left_out(&table, &columns, &outcome);
        assert_eq!(back.len(), 5, "the head and four rows");
        assert_eq!(
            back[1].last().unwrap(),
            "Full name: Please fill this in. Extra time: Please give a whole number from 0 to 300."
        );
        assert!(back.iter().all(|row| row.len() == 5));
    }

    #[test]
    fn a_faulty_row_does_not_take_a_reference_from_a_good_one() {
        let outcome = worked_out("name,reference,extra time\nA,R-1,x\nA,R-1,5\n", &[]);
        assert_eq!(outcome.faulty(), [2]);
        assert_eq!(outcome.add.len(), 1);
    }
}
