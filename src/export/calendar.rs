//! Plans as an iCalendar (RFC 5545): one event for each session that is planned.
//!
//! Pure. A [`Zone`] says how a place's clocks run over the span that the events cover; `store::zones` reads it off the
//! database's own tz data. Then [`Calendar::new`], an [`Event`] for each plan, and [`Calendar::finish`]; or, for events
//! that arrive one by one, [`begin`], [`event`] and [`END`], which never need more than one event in memory:
//!
//! ```
//! use baywitness::export::calendar::{Calendar, Event, Zone};
//! use time::macros::datetime;
//!
//! let zone = Zone { name: "UTC".into(), since: datetime!(2027-01-01 0:00 UTC), seconds: 0, changes: vec![] };
//! let mut plans = Calendar::new("Plans of Northgate", &zone);
//! plans.add(&Event {
//!     uid: "0190-7@northgate".into(),
//!     stamp: datetime!(2027-02-01 9:00 UTC),
//!     start: datetime!(2027-02-03 10:00 UTC),
//!     end: datetime!(2027-02-03 10:30 UTC),
//!     summary: "Stairwell, Bay 2".into(),
//!     description: None,
//!     location: None,
//!     sequence: 0,
//!     cancelled: false,
//! });
//! assert!(plans.finish().contains("SUMMARY:Stairwell\\, Bay 2\r\n"));
//! ```
//!
//! No METHOD is written: RFC 5546 would then ask for an organiser, which a plan does not have.

use time::{Duration, OffsetDateTime, PrimitiveDateTime};

/// Longest line in octets, its end apart (RFC 5545, section 3.1).
const LONGEST_LINE: usize = 75;

/// The last line of a calendar.
pub const END: &str = "END:VCALENDAR\r\n";

/// How the clocks of a place run from an instant on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zone {
    /// Its name in the tz database, such as `Europe/London`.
    pub name: String,
    /// From when on this is known; no event may begin earlier.
    pub since: OffsetDateTime,
    /// Seconds east of UTC at `since`.
    pub seconds: i32,
    /// Every change after `since`, in order of time, to the end of the span.
    pub changes: Vec<Change>,
}

/// A change of the clocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// The first instant at which the new offset holds.
    pub at: OffsetDateTime,
    /// Seconds east of UTC from then on.
    pub seconds: i32,
}

/// A planned session. Texts may hold anything; control characters other than line ends are left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// The same for the life of the plan, and nowhere else: the session's identifier, `@`, the centre's code.
    pub uid: String,
    /// When this state of the plan was written; on re-export of an unchanged plan the same, so that nothing looks new.
    pub stamp: OffsetDateTime,
    pub start: OffsetDateTime,
    pub end: OffsetDateTime,
    /// The task and the bay; no candidate.
    pub summary: String,
    /// Who assesses.
    pub description: Option<String>,
    pub location: Option<String>,
    /// Counts up with each change of the plan, its cancelling included, from 0.
    pub sequence: u32,
    /// Whether the plan was given up; readers then strike the event out.
    pub cancelled: bool,
}

/// A calendar in the making.
#[derive(Debug, Clone)]
pub struct Calendar<'z> {
    zone: &'z Zone,
    text: String,
}

impl<'z> Calendar<'z> {
    /// A calendar without events.
    pub fn new(name: &str, zone: &'z Zone) -> Self {
        Self { zone, text: begin(name, zone) }
    }

    /// Adds an event.
    pub fn add(&mut self, one: &Event) {
        self.text.push_str(&event(one, self.zone));
    }

    /// The bytes of the file, media type `text/calendar; charset=utf-8`.
    pub fn finish(mut self) -> String {
        self.text.push_str(END);
        self.text
    }
}

/// How a calendar begins: what it is, and how the clocks run.
pub fn begin(name: &str, zone: &Zone) -> String {
    let mut text = String::new();
    for line in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Baywitness//Plans//EN", "CALSCALE:GREGORIAN"] {
        fold(&mut text, line);
    }
    // RFC 7986, section 5.1.
    fold(&mut text, &format!("NAME:{}", escape(name)));
    fold(&mut text, "BEGIN:VTIMEZONE");
    fold(&mut text, &format!("TZID:{}", parameter(&zone.name)));
    let mut before = zone.seconds;
    observance(&mut text, zone.since, before, before);
    for change in &zone.changes {
        observance(&mut text, change.at, before, change.seconds);
        before = change.seconds;
    }
    fold(&mut text, "END:VTIMEZONE");
    text
}

/// One event.
pub fn event(one: &Event, zone: &Zone) -> String {
    let mut text = String::new();
    fold(&mut text, "BEGIN:VEVENT");
    fold(&mut text, &format!("UID:{}", escape(&one.uid)));
    fold(&mut text, &format!("DTSTAMP:{}", utc(one.stamp)));
    fold(&mut text, &format!("DTSTART{}", zone.written(one.start)));
    fold(&mut text, &format!("DTEND{}", zone.written(one.end)));
    fold(&mut text, &format!("SUMMARY:{}", escape(&one.summary)));
    for (name, value) in [("DESCRIPTION", &one.description), ("LOCATION", &one.location)] {
        if let Some(value) = value {
            fold(&mut text, &format!("{name}:{}", escape(value)));
        }
    }
    fold(&mut text, &format!("SEQUENCE:{}", one.sequence));
    fold(&mut text, if one.cancelled { "STATUS:CANCELLED" } else { "STATUS:CONFIRMED" });
    fold(&mut text, "END:VEVENT");
    text
}

impl Zone {
    /// Seconds east of UTC at an instant.
    fn seconds_at(&self, at: OffsetDateTime) -> i32 {
        self.changes.iter().rfind(|change| change.at <= at).map_or(self.seconds, |change| change.seconds)
    }

    /// Whether the clocks showed the same an hour (or however much was put back) before. Of two instants with one
    /// reading, RFC 5545 (section 3.3.5) lets a local time mean the first.
    fn is_second_of_two(&self, at: OffsetDateTime) -> bool {
        let mut before = self.seconds;
        for change in &self.changes {
            let back = Duration::seconds(i64::from(before) - i64::from(change.seconds));
            if back.is_positive() && change.at <= at && at < change.at + back {
                return true;
            }
            before = change.seconds;
        }
        false
    }

    /// What stands after the name of a property that holds this instant: local time, or UTC where no local time says
    /// it.
    fn written(&self, at: OffsetDateTime) -> String {
        if at < self.since || self.is_second_of_two(at) {
            return format!(":{}", utc(at));
        }
        format!(";TZID={}:{}", parameter(&self.name), local(at, self.seconds_at(at)))
    }
}

/// What holds from an instant on. A zone's changes are written out one by one and not as rules, which would promise
/// something about years that nobody has decided about. Whether it is called daylight or standard time changes nothing.
fn observance(text: &mut String, at: OffsetDateTime, from: i32, to: i32) {
    let kind = if to > from { "DAYLIGHT" } else { "STANDARD" };
    fold(text, &format!("BEGIN:{kind}"));
    // By the clocks as they stood before the change.
    fold(text, &format!("DTSTART:{}", local(at, from)));
    fold(text, &format!("TZOFFSETFROM:{}", offset(from)));
    fold(text, &format!("TZOFFSETTO:{}", offset(to)));
    fold(text, &format!("END:{kind}"));
}

fn offset(seconds: i32) -> String {
    let (sign, all) = (if seconds < 0 { '-' } else { '+' }, seconds.unsigned_abs());
    let (hours, minutes, rest) = (all / 3_600, all / 60 % 60, all % 60);
    if rest == 0 { format!("{sign}{hours:02}{minutes:02}") } else { format!("{sign}{hours:02}{minutes:02}{rest:02}") }
}

fn utc(at: OffsetDateTime) -> String {
    local(at, 0) + "Z"
}

/// What clocks that are so many seconds east of UTC show at an instant.
fn local(at: OffsetDateTime, seconds: i32) -> String {
    let at = at.to_offset(time::UtcOffset::UTC);
    let shown = PrimitiveDateTime::new(at.date(), at.time()).saturating_add(Duration::seconds(seconds.into()));
    let (date, time) = (shown.date(), shown.time());
    let (year, month, day) = (date.year(), u8::from(date.month()), date.day());
    format!("{year:04}{month:02}{day:02}T{:02}{:02}{:02}", time.hour(), time.minute(), time.second())
}

/// A value of type TEXT (RFC 5545, section 3.3.11).
fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(one) = characters.next() {
        match one {
            '\\' | ';' | ',' => escaped.extend(['\\', one]),
            '\r' if characters.peek() == Some(&'\n') => {}
            '\r' | '\n' => escaped.push_str("\\n"),
            '\t' => escaped.push('\t'),
            one if one.is_control() => {}
            one => escaped.push(one),
        }
    }
    escaped
}

/// The name of a zone, as a parameter and as a TZID: names of the tz database hold nothing that needs quoting.
fn parameter(name: &str) -> String {
    name.chars().filter(|one| one.is_ascii_alphanumeric() || "/_+-".contains(*one)).collect()
}

/// Adds a line, folded between characters so that no line has more than 75 octets.
fn fold(text: &mut String, line: &str) {
    let mut length = 0;
    for one in line.chars() {
        if length + one.len_utf8() > LONGEST_LINE {
            text.push_str("\r\n ");
            length = 1;
        }
        text.push(one);
        length += one.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use time::macros::datetime;

    /// London over the winter of 2026: GMT from 25 October 2026, 01:00 UTC, BST from 28 March 2027, 01:00 UTC
    /// (tz database 2024a, file `europe`, rule EU: last Sundays of October and March).
    fn london() -> Zone {
        Zone {
            name: "Europe/London".into(),
            since: datetime!(2026-07-01 0:00 UTC),
            seconds: 3_600,
            changes: vec![
                Change { at: datetime!(2026-10-25 1:00 UTC), seconds: 0 },
                Change { at: datetime!(2027-03-28 1:00 UTC), seconds: 3_600 },
            ],
        }
    }

    fn plan(start: OffsetDateTime, minutes: i64) -> Event {
        Event {
            uid: "0190-7@northgate".into(),
            stamp: datetime!(2026-06-01 9:00 UTC),
            start,
            end: start + Duration::minutes(minutes),
            summary: "Stairwell, Bay 2".into(),
            description: None,
            location: None,
            sequence: 0,
            cancelled: false,
        }
    }

    #[test]
    fn an_event_is_written_in_local_time() {
        let text = event(&plan(datetime!(2026-07-03 9:00 UTC), 30), &london());
        assert!(text.contains("DTSTART;TZID=Europe/London:20260703T100000\r\n"), "{text}");
        assert!(text.contains("DTEND;TZID=Europe/London:20260703T103000\r\n"), "{text}");
        let text = event(&plan(datetime!(2026-12-31 23:30 UTC), 60), &london());
        assert!(text.contains("DTEND;TZID=Europe/London:20270101T003000\r\n"), "{text}");
    }

    #[test]
    fn the_second_of_two_hours_with_one_name_is_written_in_utc() {
        let text = event(&plan(datetime!(2026-10-25 0:59 UTC), 1), &london());
        assert!(text.contains("DTSTART;TZID=Europe/London:20261025T015900\r\nDTEND:20261025T010000Z\r\n"), "{text}");
        let text = event(&plan(datetime!(2026-10-25 2:00 UTC), 5), &london());
        assert!(text.contains("DTSTART;TZID=Europe/London:20261025T020000\r\n"), "{text}");
    }

    #[test]
    fn each_change_of_the_clocks_stands_at_the_time_the_old_clocks_showed() {
        let text = begin("Plans", &london());
        let back =
            "BEGIN:STANDARD\r\nDTSTART:20261025T020000\r\nTZOFFSETFROM:+0100\r\nTZOFFSETTO:+0000\r\nEND:STANDARD\r\n";
        let forth =
            "BEGIN:DAYLIGHT\r\nDTSTART:20270328T010000\r\nTZOFFSETFROM:+0000\r\nTZOFFSETTO:+0100\r\nEND:DAYLIGHT\r\n";
        assert!(text.contains(back) && text.contains(forth), "{text}");
        assert_eq!((offset(-12_600), offset(20_700), offset(-75)), ("-0330".into(), "+0545".into(), "-000115".into()));
    }

    #[test]
    fn a_plan_given_up_says_so_with_the_next_number() {
        let text =
            event(&Event { sequence: 3, cancelled: true, ..plan(datetime!(2026-07-03 9:00 UTC), 30) }, &london());
        assert!(text.contains("SEQUENCE:3\r\nSTATUS:CANCELLED\r\n"), "{text}");
    }

    /// A reader of folded lines and escaped texts that shares nothing with the writer.
    fn summary(text: &str) -> String {
        let unfolded = text.replace("\r\n ", "");
        let line = unfolded.split("\r\n").find_map(|line| line.strip_prefix("SUMMARY:")).unwrap();
        let mut back = String::new();
        let mut characters = line.chars();
        while let Some(one) = characters.next() {
            match one {
                '\\' => back.extend(characters.next().map(|one| if one == 'n' { '\n' } else { one })),
                one => back.push(one),
            }
        }
        back
    }

    proptest! {
        #[test]
        fn any_text_comes_back_and_no_line_is_too_long(summary_in in "[^\\p{Cc}]{0,300}(\n[^\\p{Cc}]{0,80}){0,3}") {
            let text = event(&Event { summary: summary_in.clone(), ..plan(datetime!(2026-07-03 9:00 UTC), 30) }, &london());
            prop_assert_eq!(summary(&text), summary_in);
            for line in text.split_terminator("\r\n") {
                prop_assert!(line.len() <= 75);
                prop_assert!(!line.contains(['\r', '\n']));
            }
        }
    }
}
