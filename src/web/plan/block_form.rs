//! The form of a block: many candidates, tasks, bays and assessors, and the hours in which they come.

use super::form::LONGEST_BAY;
use super::when::{self, Reading};
use super::{Choices, read_staff, read_task_word};
use crate::export::calendar::Zone;
use crate::planning::{Span, same_bay};
use crate::store::candidates::{self, Candidate};
use crate::store::{CentreId, StaffNo, TaskId};
use crate::web::error::WebError;
use crate::web::form::{Faults, whole};
use sqlx::PgConnection;
use std::collections::HashSet;
use time::{Date, Duration, OffsetDateTime, PrimitiveDateTime, Time, Weekday};

/// Most candidates of one block.
pub const MOST_PEOPLE: usize = 200;
/// Most days of one block.
const MOST_DAYS: i64 = 31;

/// What the form sends, as typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Typed {
    /// One reference a line, or with commas or semicolons between.
    pub references: String,
    /// What to look for among the candidates.
    pub q: String,
    /// References ticked in the list of those found.
    pub picked: Vec<String>,
    pub tasks: Vec<String>,
    pub bays: Vec<String>,
    pub more_bays: String,
    pub assessors: Vec<String>,
    pub day: String,
    pub days: String,
    pub weekends: bool,
    pub opens: String,
    pub closes: String,
    pub breaks: String,
    pub slot: String,
    pub turn_round: String,
    pub despite_planted: bool,
    /// What the person saw when they said yes.
    pub seen: String,
    /// Which button was pressed: `find`, `propose` or `plan`.
    pub act: String,
}

impl Typed {
    /// Reads the pairs of a form, of which several may have one name.
    pub fn read(pairs: Vec<(String, String)>) -> Self {
        let mut typed = Self::default();
        for (name, value) in pairs {
            match name.as_str() {
                "references" => typed.references = value,
                "q" => typed.q = value,
                "picked" => typed.picked.push(value),
                "tasks" => typed.tasks.push(value),
                "bays" => typed.bays.push(value),
                "more_bays" => typed.more_bays = value,
                "assessors" => typed.assessors.push(value),
                "day" => typed.day = value,
                "days" => typed.days = value,
                "weekends" => typed.weekends = value == "on",
                "opens" => typed.opens = value,
                "closes" => typed.closes = value,
                "breaks" => typed.breaks = value,
                "slot" => typed.slot = value,
                "turn_round" => typed.turn_round = value,
                "despite_planted" => typed.despite_planted = value == "on",
                "seen" => typed.seen = value,
                "act" => typed.act = value,
                _ => {}
            }
        }
        typed.take_picked();
        typed
    }

    /// Adds what was ticked to the references, each once.
    fn take_picked(&mut self) {
        let mut there: HashSet<String> = references(&self.references).into_iter().collect();
        for reference in std::mem::take(&mut self.picked) {
            if there.insert(reference.clone()) {
                let needs_line = !self.references.is_empty() && !self.references.ends_with('\n');
                self.references.push_str(if needs_line { "\n" } else { "" });
                self.references.push_str(&reference);
                self.references.push('\n');
            }
        }
    }

    /// Whether a box of this name and value was ticked, for the template.
    pub fn has_task(&self, word: &str) -> bool {
        self.tasks.iter().any(|ticked| ticked == word)
    }

    /// The same for a bay.
    pub fn has_bay(&self, word: &str) -> bool {
        self.bays.iter().any(|ticked| ticked == word)
    }

    /// The same for an assessor.
    pub fn has_assessor(&self, word: &str) -> bool {
        self.assessors.iter().any(|ticked| ticked == word)
    }
}

/// References in the order in which they were typed, each once.
pub fn references(text: &str) -> Vec<String> {
    let mut seen = HashSet::new();
    let parts = text.split(['\n', '\r', ',', ';', '\t']).map(str::trim).filter(|part| !part.is_empty());
    parts.filter(|part| seen.insert((*part).to_owned())).map(ToOwned::to_owned).collect()
}

/// What is to be planned, checked.
pub struct Wanted {
    pub people: Vec<Candidate>,
    pub tasks: Vec<(TaskId, i32)>,
    pub bays: Vec<String>,
    pub assessors: Vec<StaffNo>,
    pub open: Vec<Span>,
    /// Where it was not said, slots are as long as the longest session.
    pub slot: Option<Duration>,
    pub turn_round: i32,
}

/// Reads and checks the form.
pub async fn check(
    tx: &mut PgConnection,
    centre: &CentreId,
    typed: &Typed,
    choices: &Choices,
    faults: &mut Faults,
) -> Result<Wanted, WebError> {
    let people = people(tx, centre, &typed.references, faults).await?;
    let known = |all: &[(String, String)], word: &str| all.iter().any(|(value, _)| value == word);
    let tasks: Vec<_> =
        typed.tasks.iter().filter(|word| known(&choices.tasks, word)).filter_map(|word| read_task_word(word)).collect();
    if tasks.is_empty() {
        faults.add("tasks", "Please tick at least one task.");
    }
    let bays = bays(typed, faults);
    let assessors: Vec<_> = typed
        .assessors
        .iter()
        .filter(|word| known(&choices.assessors, word))
        .filter_map(|word| read_staff(word))
        .collect();
    if assessors.is_empty() {
        faults.add("assessors", "Please tick at least one assessor.");
    }
    let hours = hours(typed, faults);
    let slot = match typed.slot.trim() {
        "" => None,
        text => whole(faults, "slot", text, 5, 720).map(Duration::minutes),
    };
    let turn_round = match typed.turn_round.trim() {
        "" => Some(0),
        text => whole(faults, "turn_round", text, 0, 240),
    };
    let open = match hours {
        Some(hours) => {
            let last = hours.days.last().copied().unwrap_or(hours.first);
            hours.open(&when::zone(tx, centre, hours.first, last).await?)
        }
        None => Vec::new(),
    };
    let turn_round = turn_round.and_then(|minutes| i32::try_from(minutes).ok()).unwrap_or(0);
    Ok(Wanted { people, tasks, bays, assessors, open, slot, turn_round })
}

async fn people(
    tx: &mut PgConnection,
    centre: &CentreId,
    text: &str,
    faults: &mut Faults,
) -> Result<Vec<Candidate>, WebError> {
    let asked = references(text);
    if asked.is_empty() {
        faults.add("references", "Please give at least one candidate.");
    }
    if asked.len() > MOST_PEOPLE {
        faults.add("references", format!("These are more than {MOST_PEOPLE} candidates. Plan them in several blocks."));
        return Ok(Vec::new());
    }
    let found = candidates::by_references(tx, centre, &asked).await?;
    let one =
        |reference: &String| found.iter().find(|one| one.reference == *reference && one.erased_at.is_none()).cloned();
    let unknown: Vec<&str> = asked.iter().filter(|reference| one(reference).is_none()).map(String::as_str).collect();
    if !unknown.is_empty() {
        faults.add("references", format!("No candidate has the reference {}.", unknown.join(", ")));
    }
    Ok(asked.iter().filter_map(one).collect())
}

fn bays(typed: &Typed, faults: &mut Faults) -> Vec<String> {
    let more = typed.more_bays.split([',', ';', '\n']).map(str::trim).filter(|bay| !bay.is_empty());
    let mut bays: Vec<String> = Vec::new();
    for bay in typed.bays.iter().map(|bay| bay.trim()).chain(more) {
        if bay.chars().count() > LONGEST_BAY || bay.chars().any(char::is_control) {
            faults.add("more_bays", format!("A bay's name has at most {LONGEST_BAY} characters."));
        } else if !bays.iter().any(|there| same_bay(there, bay)) {
            bays.push(bay.to_owned());
        }
    }
    if bays.is_empty() {
        faults.add("more_bays", "Please tick or type at least one bay.");
    }
    bays
}

/// Days and hours by the clocks of the centre.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hours {
    pub first: Date,
    pub days: Vec<Date>,
    /// From opening to closing, with the breaks taken out; in order.
    pub spans: Vec<(Time, Time)>,
}

fn hours(typed: &Typed, faults: &mut Faults) -> Option<Hours> {
    let first = when::parse_day(&typed.day);
    if first.is_none() {
        faults.add("day", "Please give a day, such as 2027-02-03.");
    }
    let days = whole(faults, "days", &typed.days, 1, MOST_DAYS);
    let (start, close) = (when::parse_time(&typed.opens), when::parse_time(&typed.closes));
    if start.is_none() {
        faults.add("opens", "Please give a time of day, such as 09:00.");
    }
    match (start, close) {
        (_, None) => faults.add("closes", "Please give a time of day, such as 17:00."),
        (Some(start), Some(close)) if close <= start => {
            faults.add("closes", "The day must end after it begins.");
        }
        _ => {}
    }
    let breaks = breaks(&typed.breaks);
    if breaks.is_none() {
        faults.add("breaks", "Please write each break as 10:30-10:45, with commas between.");
    }
    let (first, days, start, close, breaks) = (first?, days?, start?, close?, breaks?);
    let spans = without(start, close, &breaks);
    if spans.is_empty() && close > start {
        faults.add("breaks", "The breaks leave no time between.");
    }
    let all = (0..).map(|number| first + Duration::days(number));
    let works = |day: &Date| typed.weekends || !matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday);
    let days = all.filter(works).take(usize::try_from(days).unwrap_or(1)).collect();
    Some(Hours { first, days, spans })
}

/// Breaks as typed, in order of time; `None` where they cannot be read.
fn breaks(text: &str) -> Option<Vec<(Time, Time)>> {
    let parts = text.split([',', ';', '\n']).map(str::trim).filter(|part| !part.is_empty());
    let one = |part: &str| {
        let (from, to) = part.split_once(['-', '–'])?;
        let (from, to) = (when::parse_time(from)?, when::parse_time(to)?);
        (from < to).then_some((from, to))
    };
    let mut breaks = parts.map(one).collect::<Option<Vec<_>>>()?;
    breaks.sort();
    Some(breaks)
}

/// A span of a day without its breaks, which are in order.
fn without(start: Time, close: Time, breaks: &[(Time, Time)]) -> Vec<(Time, Time)> {
    let mut spans = Vec::new();
    let mut from = start;
    for &(pause, end) in breaks {
        if pause > from {
            spans.push((from, pause.min(close)));
        }
        from = from.max(end);
    }
    spans.push((from, close));
    spans.retain(|(from, until)| from < until);
    spans
}

impl Hours {
    /// The same as instants. Where the clocks skip a time, the moment they were put forward stands for it; where they
    /// show it twice, a span begins with the first and ends with the second.
    pub fn open(&self, zone: &Zone) -> Vec<Span> {
        let at = |day: Date, time: Time, last: bool| -> OffsetDateTime {
            match when::reading(PrimitiveDateTime::new(day, time), zone) {
                Reading::One(at) | Reading::Skipped { at, .. } => at,
                Reading::Twice(first, second) => {
                    if last {
                        second
                    } else {
                        first
                    }
                }
            }
        };
        let spans = self.days.iter().flat_map(|day| self.spans.iter().map(|span| (*day, *span)));
        let spans = spans.map(|(day, (from, until))| Span { from: at(day, from, false), until: at(day, until, true) });
        spans.filter(|span| span.from < span.until).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::{date, datetime, time};

    #[test]
    fn references_are_read_however_they_are_pasted_and_each_once() {
        assert_eq!(references(" A-1\r\nB 2;C,3\tA-1\n\n"), ["A-1", "B 2", "C", "3"]);
    }

    #[test]
    fn what_was_ticked_is_added_to_what_was_pasted() {
        let pairs = [("references", "A"), ("picked", "B"), ("picked", "A"), ("tasks", "x"), ("tasks", "y")];
        let typed = Typed::read(pairs.map(|(name, value)| (name.to_owned(), value.to_owned())).into());
        assert_eq!(typed.references, "A\nB\n");
        assert!(typed.has_task("x") && typed.has_task("y") && typed.picked.is_empty());
    }

    #[test]
    fn breaks_are_taken_out_of_the_day() {
        let pauses = breaks("12:30-13:15, 10:30–10:45").unwrap();
        let spans = without(time!(9:00), time!(16:00), &pauses);
        assert_eq!(spans, [(time!(9:00), time!(10:30)), (time!(10:45), time!(12:30)), (time!(13:15), time!(16:00))]);
        assert_eq!(without(time!(9:00), time!(10:00), &breaks("08:00-09:30,09:15-11:00").unwrap()), []);
        for bad in ["10:30", "10:45-10:30", "half past-11:00"] {
            assert_eq!(breaks(bad), None, "{bad}");
        }
    }

    #[test]
    fn weekends_are_left_out_and_the_clocks_are_followed() {
        let typed = Typed {
            day: "2027-03-26".into(),
            days: "2".into(),
            opens: "09:00".into(),
            closes: "10:00".into(),
            ..Typed::default()
        };
        let mut faults = Faults::none();
        let friday_and_monday = hours(&typed, &mut faults).unwrap();
        assert!(faults.is_empty(), "{faults:?}");
        assert_eq!(friday_and_monday.days, [date!(2027 - 03 - 26), date!(2027 - 03 - 29)]);
        // The clocks of London go forward between them: tz database, file `europe`, rule EU.
        let zone = Zone {
            name: "Europe/London".into(),
            since: datetime!(2027-03-20 0:00 UTC),
            seconds: 0,
            changes: vec![crate::export::calendar::Change { at: datetime!(2027-03-28 1:00 UTC), seconds: 3_600 }],
        };
        let starts: Vec<_> = friday_and_monday.open(&zone).iter().map(|span| span.from).collect();
        assert_eq!(starts, [datetime!(2027-03-26 9:00 UTC), datetime!(2027-03-29 8:00 UTC)]);
    }
}
