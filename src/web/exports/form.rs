//! The form in which an export is asked for: what was typed, and the order that it makes.

use crate::export::columns::{NAME, RESULTS};
use crate::export::format::Format;
use crate::exporter::Order;
use crate::marking::VerdictOutcome;
use crate::store::exports::Filter;
use crate::store::{StaffNo, TaskId};
use crate::web::form::Faults;
use std::collections::HashMap;
use time::{Date, Month};
use uuid::Uuid;

/// What was typed, field by field.
#[derive(Debug, Clone, Default)]
pub struct Typed {
    pub from: String,
    pub to: String,
    pub task: String,
    pub assessor: String,
    pub outcome: String,
    pub format: String,
    pub names: bool,
    /// Names of the columns that are ticked.
    pub columns: Vec<String>,
}

/// A column to choose.
pub struct Choice {
    pub name: &'static str,
    pub about: &'static str,
    pub chosen: bool,
}

impl Typed {
    /// What a form sent.
    pub fn of(sent: &HashMap<String, String>) -> Self {
        let text = |field: &str| sent.get(field).map(|value| value.trim().to_owned()).unwrap_or_default();
        let columns = sent.keys().filter_map(|field| field.strip_prefix("column-"));
        Self {
            from: text("from"),
            to: text("to"),
            task: text("task"),
            assessor: text("assessor"),
            outcome: text("outcome"),
            format: text("format"),
            names: sent.contains_key("names"),
            columns: columns.map(str::to_owned).collect(),
        }
    }

    /// An empty form: this month so far, with the columns chosen last; all of them at first.
    pub fn fresh(today: Date, remembered: Vec<String>) -> Self {
        let all = || RESULTS.iter().map(|column| column.name.to_owned()).collect();
        Self {
            from: today.replace_day(1).unwrap_or(today).to_string(),
            to: today.to_string(),
            format: Format::CsvSheet.word().to_owned(),
            columns: if remembered.is_empty() { all() } else { remembered },
            ..Self::default()
        }
    }

    /// The columns to choose, those ticked that were.
    pub fn choices(&self) -> Vec<Choice> {
        let choice = |column: &crate::export::columns::Column| Choice {
            name: column.name,
            about: column.about,
            chosen: self.columns.iter().any(|one| one == column.name),
        };
        RESULTS.iter().filter(|column| column.name != NAME).map(choice).collect()
    }

    /// The order, or what is wrong field by field.
    pub fn order(&self, id: Uuid, by: StaffNo) -> Result<Order, Faults> {
        let mut faults = Faults::none();
        let mut day = |field: &str, typed: &str| {
            let day = read_day(typed);
            if day.is_none() {
                faults.add(field, "Please give a day.");
            }
            day.unwrap_or(Date::MIN)
        };
        let (from, to) = (day("from", &self.from), day("to", &self.to));
        let format = Format::of_word(&self.format);
        if format.is_none() {
            faults.add("format", "Please choose a format.");
        }
        let task = optional(&mut faults, "task", &self.task, |text| text.parse().ok().map(TaskId));
        let assessor = optional(&mut faults, "assessor", &self.assessor, |text| text.parse().ok().map(StaffNo));
        let outcome = optional(&mut faults, "outcome", &self.outcome, outcome_of);
        if format.is_some_and(Format::has_columns) && self.columns.is_empty() {
            faults.add("columns", "Please choose one column at least.");
        }
        match format {
            Some(format) if faults.is_empty() => Ok(Order {
                id,
                filter: Filter { from, to, task, assessor, outcome },
                format,
                columns: if format.has_columns() { self.columns.clone() } else { Vec::new() },
                names: self.names,
                by: Some(by),
            }),
            _ => Err(faults),
        }
    }
}

/// A condition that may be left open.
fn optional<T>(faults: &mut Faults, field: &str, typed: &str, read: impl Fn(&str) -> Option<T>) -> Option<T> {
    let read = if typed.is_empty() { None } else { read(typed) };
    if read.is_none() && !typed.is_empty() {
        faults.add(field, "Please choose from the list.");
    }
    read
}

/// The verdicts with their words.
pub const OUTCOMES: [(&str, &str); 5] = [
    ("", "Every outcome"),
    ("pass", "Pass"),
    ("fail", "Fail"),
    ("automatic_fail", "Automatic fail"),
    ("unfinished", "Unfinished"),
];

fn outcome_of(word: &str) -> Option<VerdictOutcome> {
    use VerdictOutcome::{AutomaticFail, Fail, Pass, Unfinished};
    [Pass, Fail, AutomaticFail, Unfinished]
        .into_iter()
        .find(|outcome| crate::export::row::verdict_word(*outcome) == word)
}

/// A day as a date field sends it, such as `2027-02-03`.
pub fn read_day(text: &str) -> Option<Date> {
    let (year, rest) = text.split_once('-')?;
    let (month, day) = rest.split_once('-')?;
    let fits = year.len() == 4 && month.len() == 2 && day.len() == 2;
    let month = Month::try_from(month.parse::<u8>().ok()?).ok()?;
    fits.then(|| Date::from_calendar_date(year.parse().ok()?, month, day.parse().ok()?).ok())?
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::date;

    #[test]
    fn a_day_is_read_as_a_date_field_sends_it() {
        assert_eq!(read_day("2028-02-29"), Some(date!(2028 - 02 - 29)));
        for bad in ["", "2027-02-29", "29.02.2028", "2028-2-29", "12028-02-29", "2028-02-29x", "-028-02-29"] {
            assert_eq!(read_day(bad), None, "{bad}");
        }
    }

    #[test]
    fn every_fault_is_named_at_once() {
        let typed = Typed { task: "x".into(), outcome: "merit".into(), ..Typed::default() };
        let faults = typed.order(Uuid::nil(), StaffNo(1)).unwrap_err();
        let fields: Vec<_> = faults.all().iter().map(|(field, _)| field.as_str()).collect();
        assert_eq!(fields, ["from", "to", "format", "task", "outcome"]);
    }

    #[test]
    fn the_form_begins_with_this_month_and_what_was_chosen_last() {
        let typed = Typed::fresh(date!(2027 - 02 - 17), vec!["marks".into()]);
        assert_eq!((typed.from.as_str(), typed.to.as_str()), ("2027-02-01", "2027-02-17"));
        let chosen: Vec<_> = typed.choices().into_iter().filter(|one| one.chosen).map(|one| one.name).collect();
        assert_eq!(chosen, ["marks"]);
        assert!(Typed::fresh(date!(2027 - 02 - 17), Vec::new()).choices().iter().all(|one| one.chosen));
        assert!(!typed.names);
    }
}
