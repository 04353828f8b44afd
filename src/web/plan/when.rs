//! Days and times as people type them in the centre's zone, and the instants that they mean.

use crate::export::calendar::{Change, Zone};
use crate::store::{CentreId, zones};
use crate::web::error::WebError;
use crate::web::form::Faults;
use crate::web::show;
use sqlx::PgConnection;
use time::macros::format_description;
use time::{Date, Duration, OffsetDateTime, PrimitiveDateTime, Time};

/// What a reading of the clocks means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    One(OffsetDateTime),
    /// The clocks skipped it; what they showed at the moment they were put forward, and that moment.
    Skipped {
        then: PrimitiveDateTime,
        at: OffsetDateTime,
    },
    /// The clocks showed it twice.
    Twice(OffsetDateTime, OffsetDateTime),
}

/// What the clocks of a zone mean by a reading. The zone must cover a day on each side of it.
pub fn reading(local: PrimitiveDateTime, zone: &Zone) -> Reading {
    let first = Change { at: zone.since, seconds: zone.seconds };
    let periods: Vec<Change> = std::iter::once(first).chain(zone.changes.iter().copied()).collect();
    let mut meant = Vec::new();
    for (number, period) in periods.iter().enumerate() {
        let at = local.assume_utc().saturating_sub(Duration::seconds(period.seconds.into()));
        // Before what is known of the zone, its first offset is all there is to go by.
        let begun = number == 0 || at >= period.at;
        if begun && periods.get(number + 1).is_none_or(|next| at < next.at) {
            meant.push(at);
        }
    }
    match meant[..] {
        [at] => Reading::One(at),
        [first, second, ..] => Reading::Twice(first, second),
        [] => skipped(local, &periods),
    }
}

fn skipped(local: PrimitiveDateTime, periods: &[Change]) -> Reading {
    let shown = |change: &Change| {
        let at = change.at + Duration::seconds(change.seconds.into());
        PrimitiveDateTime::new(at.date(), at.time())
    };
    // The change whose new reading is the first after the one asked for.
    match periods.iter().find(|change| shown(change) > local) {
        Some(change) => Reading::Skipped { then: shown(change), at: change.at },
        None => Reading::One(local.assume_utc()),
    }
}

/// How the clocks of the centre run around some days.
pub async fn zone(tx: &mut PgConnection, centre: &CentreId, from: Date, to: Date) -> Result<Zone, WebError> {
    let from = from.midnight().assume_utc().saturating_sub(Duration::days(2));
    let to = to.midnight().assume_utc().saturating_add(Duration::days(3));
    Ok(zones::of_centre(tx, centre, from, to).await?)
}

/// A day as the fields of forms and the addresses of plans have it: `2027-02-03`.
pub fn parse_day(text: &str) -> Option<Date> {
    let day = Date::parse(text.trim(), format_description!("[year]-[month]-[day]")).ok()?;
    // Far from both ends of the calendar, so that days can be counted on from it.
    (1900..=2999).contains(&day.year()).then_some(day)
}

/// The same the other way.
pub fn day_value(day: Date) -> String {
    format!("{:04}-{:02}-{:02}", day.year(), u8::from(day.month()), day.day())
}

/// A time of day: `09:30`, and with seconds, which some browsers send.
pub fn parse_time(text: &str) -> Option<Time> {
    let text = text.trim();
    let short = text.strip_suffix(":00").filter(|rest| rest.contains(':')).unwrap_or(text);
    Time::parse(short, format_description!("[hour padding:none]:[minute]")).ok()
}

/// A day and a time of a form, and which of two is meant where the clocks show it twice.
#[derive(Debug, Clone, Default)]
pub struct Typed<'f> {
    pub day: &'f str,
    pub time: &'f str,
    /// `first` or `second`; else nothing was said.
    pub which: &'f str,
}

/// The instant that a form means; a fault beside `day`, `time` or `which` where there is none or two.
pub async fn instant(
    tx: &mut PgConnection,
    centre: &CentreId,
    typed: &Typed<'_>,
    faults: &mut Faults,
) -> Result<Option<OffsetDateTime>, WebError> {
    let (day, time) = (parse_day(typed.day), parse_time(typed.time));
    if day.is_none() {
        faults.add("day", "Please give a day, such as 2027-02-03.");
    }
    if time.is_none() {
        faults.add("time", "Please give a time of day, such as 09:30.");
    }
    let (Some(day), Some(time)) = (day, time) else { return Ok(None) };
    let zone = zone(tx, centre, day, day).await?;
    let local = PrimitiveDateTime::new(day, time);
    Ok(match reading(local, &zone) {
        Reading::One(at) => Some(at),
        Reading::Skipped { then, .. } => {
            let (asked, then) = (show::time_of_day(local), show::time_of_day(then));
            faults.add("time", format!("The clocks go forward on that day: there is no {asked}. The next is {then}."));
            None
        }
        Reading::Twice(first, _) if typed.which == "first" => Some(first),
        Reading::Twice(_, second) if typed.which == "second" => Some(second),
        Reading::Twice(..) => {
            let asked = show::time_of_day(local);
            faults
                .add("which", format!("The clocks go back on that day: they show {asked} twice. Say which you mean."));
            None
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::{date, datetime, time};

    /// London: BST ends on 25 October 2026 and begins on 28 March 2027, both at 01:00 UTC (tz database, file `europe`,
    /// rule EU); the whole is checked against Python's zoneinfo in tests/it/web/calendar.rs.
    fn london() -> Zone {
        Zone {
            name: "Europe/London".into(),
            since: datetime!(2026-10-20 0:00 UTC),
            seconds: 3_600,
            changes: vec![
                Change { at: datetime!(2026-10-25 1:00 UTC), seconds: 0 },
                Change { at: datetime!(2027-03-28 1:00 UTC), seconds: 3_600 },
            ],
        }
    }

    #[test]
    fn a_reading_is_one_instant_two_or_none() {
        let zone = london();
        assert_eq!(reading(datetime!(2026-10-25 0:59), &zone), Reading::One(datetime!(2026-10-24 23:59 UTC)));
        let twice = Reading::Twice(datetime!(2026-10-25 0:00 UTC), datetime!(2026-10-25 1:00 UTC));
        assert_eq!(reading(datetime!(2026-10-25 1:00), &zone), twice);
        assert_eq!(reading(datetime!(2026-10-25 2:00), &zone), Reading::One(datetime!(2026-10-25 2:00 UTC)));
        let skipped = Reading::Skipped { then: datetime!(2027-03-28 2:00), at: datetime!(2027-03-28 1:00 UTC) };
        assert_eq!(reading(datetime!(2027-03-28 1:00), &zone), skipped);
        assert_eq!(reading(datetime!(2027-03-28 1:59), &zone), skipped);
        assert_eq!(reading(datetime!(2027-03-28 2:00), &zone), Reading::One(datetime!(2027-03-28 1:00 UTC)));
    }

    #[test]
    fn days_and_times_are_read_as_browsers_send_them() {
        assert_eq!(parse_day(" 2027-02-03 "), Some(date!(2027 - 02 - 03)));
        assert_eq!(parse_day(&day_value(date!(2027 - 11 - 30))), Some(date!(2027 - 11 - 30)));
        for bad in ["", "2027-02-30", "03/02/2027", "9999-12-31"] {
            assert_eq!(parse_day(bad), None, "{bad}");
        }
        assert_eq!(parse_time("09:30"), Some(time!(9:30)));
        assert_eq!(parse_time("9:30"), Some(time!(9:30)));
        assert_eq!(parse_time("09:30:00"), Some(time!(9:30)));
        assert_eq!(parse_time("10:00"), Some(time!(10:00)));
        for bad in ["", "24:00", "9", "half past"] {
            assert_eq!(parse_time(bad), None, "{bad}");
        }
    }
}
