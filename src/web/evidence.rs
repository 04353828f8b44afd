//! What the evidence says of itself, as plain sentences for the decide page and the result sheet: numbers that never
//! arrived, clocks, what came after the signature, and how a second marker saw it.

use super::error::WebError;
use super::extract::SignedIn;
use super::sessions::{Loaded, Marked, has_ended};
use super::show::{self, Sign};
use crate::marking::words::describe;
use crate::marking::{decision, mark};
use crate::seal::clocks::{Flag, Says, flags};
use crate::seal::numbers::Missing;
use crate::store::{devices, entries, staff};
use sqlx::PgConnection;

/// What the evidence of a session says of itself.
#[derive(Debug, Default)]
pub struct About {
    /// Devices of which numbers are missing without a reason.
    pub missing: Vec<Lost>,
    /// Gaps with their reasons, as sentences.
    pub stated: Vec<String>,
    /// What is to be known of the clocks, as sentences.
    pub clocks: Vec<String>,
    /// What the assessor recorded and the service received only after the signature.
    pub late: Vec<LateLine>,
    pub second: Option<SecondMarking>,
}

/// A device and its missing numbers.
#[derive(Debug)]
pub struct Lost {
    pub device: String,
    /// `number 3`, `numbers 3 to 5 and 9`.
    pub numbers: String,
}

/// One observation that came late.
#[derive(Debug)]
pub struct LateLine {
    pub minute: String,
    pub says: String,
}

/// How a second marker saw the attempt.
#[derive(Debug)]
pub struct SecondMarking {
    pub name: String,
    pub verdict: Sign,
    pub marks: String,
    pub differs: Vec<Difference>,
}

/// A criterion that the two logs lead to different outcomes on.
#[derive(Debug)]
pub struct Difference {
    pub says: String,
    pub assessor: Sign,
    pub second: Sign,
}

impl About {
    /// What this person may know: a second marker, as long as they see only their own log, of their own devices only.
    pub async fn of(tx: &mut PgConnection, who: &SignedIn, loaded: &Loaded, marked: &Marked) -> Result<Self, WebError> {
        let (centre, session) = (who.centre(), loaded.session.id);
        let all = entries::of_session(tx, centre, session).await?;
        let contacts = devices::contacts(tx, centre, session).await?;
        let flags =
            flags(&all, &contacts).into_iter().filter(|flag| !loaded.is_second() || flag.by == loaded.marker.number.0);
        let clocks = sentences(&flags.collect::<Vec<_>>(), loaded.session.assessor.0);
        if loaded.is_second() {
            return Ok(Self { clocks, ..Self::default() });
        }
        let late = entries::late_of(tx, centre, session, loaded.session.assessor).await?;
        let line = |seen: &crate::marking::Observation| LateLine {
            minute: show::clock(seen.at_ms),
            says: describe(&seen.act, &loaded.task),
        };
        Ok(Self {
            missing: lost(devices::missing(tx, centre, session).await?),
            stated: devices::stated(tx, centre, session).await?.iter().map(stated).collect(),
            clocks,
            late: late.iter().map(line).collect(),
            second: second(tx, who, loaded, marked).await?,
        })
    }

    /// Whether there is nothing to say.
    pub fn is_empty(&self) -> bool {
        self.stated.is_empty() && self.clocks.is_empty() && self.late.is_empty() && self.second.is_none()
    }
}

/// The second marking, for verifiers and managers who do not mark the session themselves, once both have ended.
async fn second(
    tx: &mut PgConnection,
    who: &SignedIn,
    loaded: &Loaded,
    marked: &Marked,
) -> Result<Option<SecondMarking>, WebError> {
    let Some(number) = loaded.session.second_marker else { return Ok(None) };
    let marks_it = [loaded.session.assessor, number].contains(&who.staff.number);
    if marks_it || !who.reads_all() || !has_ended(&marked.log) {
        return Ok(None);
    }
    let log = entries::log_of(tx, who.centre(), loaded.session.id, number, &loaded.task).await?;
    if !has_ended(&log) {
        return Ok(None);
    }
    let person = staff::find(tx, who.centre(), number).await?.ok_or_else(|| WebError::ours("a marker who is gone"))?;
    let marking = mark(&loaded.task, &log);
    let decided = decision::decide(&loaded.task, &marking, &[]);
    let pairs = marked.marking.findings.iter().zip(&marking.findings);
    let differs = pairs.filter(|(one, other)| one.outcome != other.outcome).map(|(one, other)| Difference {
        says: loaded.task.checklist.criterion(&one.criterion).map(|of| of.says.clone()).unwrap_or_default(),
        assessor: show::outcome(one.outcome),
        second: show::outcome(other.outcome),
    });
    Ok(Some(SecondMarking {
        name: person.name,
        verdict: show::verdict(decided.verdict.outcome),
        marks: show::marks(&decided.verdict),
        differs: differs.collect(),
    }))
}

/// One line for each device.
fn lost(missing: Vec<Missing>) -> Vec<Lost> {
    let mut lost: Vec<(String, Vec<(u32, u32)>)> = Vec::new();
    for run in missing {
        match lost.last_mut().filter(|(device, _)| *device == run.device) {
            Some((_, runs)) => runs.push((run.first, run.last)),
            None => lost.push((run.device, vec![(run.first, run.last)])),
        }
    }
    lost.into_iter().map(|(device, runs)| Lost { device, numbers: numbers(&runs) }).collect()
}

/// `number 3`, `numbers 3 to 5 and 9`; after eight runs, how many more there are.
fn numbers(runs: &[(u32, u32)]) -> String {
    let run = |(first, last): &(u32, u32)| if first == last { first.to_string() } else { format!("{first} to {last}") };
    let mut parts: Vec<String> = runs.iter().take(8).map(run).collect();
    if runs.len() > 8 {
        parts.push(format!("{} more runs", runs.len() - 8));
    }
    let one = matches!(runs, [(first, last)] if first == last);
    let noun = if one { "number" } else { "numbers" };
    match parts.split_last() {
        Some((last, [])) => format!("{noun} {last}"),
        Some((last, before)) => format!("{noun} {} and {last}", before.join(", ")),
        None => noun.to_owned(),
    }
}

fn stated(gap: &devices::Stated) -> String {
    let Missing { device, first, last } = &gap.missing;
    let numbers = numbers(&[(*first, *last)]);
    format!("From {device}, {numbers} never arrived. Reason given: {}", gap.reason)
}

/// The flags as sentences. Where a clock was moved between two contacts, that it also ran apart from the steady clock
/// there says nothing more.
fn sentences(flags: &[Flag], assessor: i32) -> Vec<String> {
    let told = |flag: &&Flag| {
        let Says::Apart { before_ms, after_ms, .. } = flag.says else { return true };
        !flags.iter().any(|other| {
            let there = matches!(other.says, Says::Moved { before_ms: before, after_ms: after, .. }
                                 if (before, after) == (before_ms, after_ms));
            there && (&other.device, other.by) == (&flag.device, flag.by)
        })
    };
    flags.iter().filter(told).map(|flag| sentence(flag, assessor)).collect()
}

fn sentence(flag: &Flag, assessor: i32) -> String {
    let whose = if flag.by == assessor { "" } else { " (second marker)" };
    let device = format!("{}{whose}", flag.device);
    let between = |before: u64, after: u64| format!("Between {} and {}", show::clock(before), show::clock(after));
    match flag.says {
        Says::Off { ahead_ms, entries } => {
            let way = if ahead_ms > 0 { "ahead of" } else { "behind" };
            let far = span(ahead_ms);
            format!("The clock of {device} was {far} {way} the service's clock for {}.", observations(entries))
        }
        Says::Moved { before_ms, after_ms, ahead_ms } => {
            let way = if ahead_ms > 0 { "forward" } else { "back" };
            let between = between(before_ms, after_ms);
            format!("{between} the clock of {device} was put {way} by {}.", span(ahead_ms))
        }
        Says::Apart { before_ms, after_ms, ahead_ms } if ahead_ms > 0 => format!(
            "{} the clock of {device} ran {} further than its steady clock: it was put forward, or the device slept.",
            between(before_ms, after_ms),
            span(ahead_ms),
        ),
        Says::Apart { before_ms, after_ms, ahead_ms } => format!(
            "{} the clock of {device} ran {} less than its steady clock: it was put back.",
            between(before_ms, after_ms),
            span(ahead_ms),
        ),
        Says::Late { entries, first_ms, longest_ms } => format!(
            "From {device}, {} (the first at {}) came up to {} after the time they name, although the device had been in \
             contact meanwhile. They may have been added from memory.",
            observations(entries),
            show::clock(first_ms),
            span(longest_ms),
        ),
    }
}

fn observations(many: usize) -> String {
    if many == 1 { "1 observation".into() } else { format!("{many} observations") }
}

/// A length of time in the largest unit that tells it well.
fn span(ms: i64) -> String {
    let seconds = (ms.saturating_abs().saturating_add(500)) / 1_000;
    let (number, unit) = match seconds {
        0..120 => (seconds, "second"),
        120..7_200 => ((seconds + 30) / 60, "minute"),
        7_200..86_400 => ((seconds + 1_800) / 3_600, "hour"),
        _ => ((seconds + 43_200) / 86_400, "day"),
    };
    if number == 1 { format!("1 {unit}") } else { format!("{number} {unit}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_said_as_a_person_would() {
        assert_eq!(numbers(&[(3, 3)]), "number 3");
        assert_eq!(numbers(&[(3, 5)]), "numbers 3 to 5");
        assert_eq!(numbers(&[(3, 5), (9, 9)]), "numbers 3 to 5 and 9");
        assert_eq!(numbers(&[(1, 1), (3, 5), (9, 9)]), "numbers 1, 3 to 5 and 9");
        let many: Vec<_> = (1..=10).map(|n| (n * 2, n * 2)).collect();
        assert!(numbers(&many).ends_with("16 and 2 more runs"), "{}", numbers(&many));
    }

    #[test]
    fn each_device_has_one_line() {
        let run = |device: &str, first, last| Missing { device: device.into(), first, last };
        let lost = lost(vec![run("a", 1, 2), run("a", 4, 4), run("b", 7, 7)]);
        let says: Vec<_> = lost.iter().map(|one| format!("{}: {}", one.device, one.numbers)).collect();
        assert_eq!(says, ["a: numbers 1 to 2 and 4", "b: number 7"]);
    }

    #[test]
    fn clocks_are_told_in_plain_sentences() {
        let flag = |says| Flag { device: "tablet-1".into(), by: 1, says };
        let moved = Says::Moved { before_ms: 30_000, after_ms: 65_000, ahead_ms: -600_000 };
        let apart = Says::Apart { before_ms: 30_000, after_ms: 65_000, ahead_ms: -600_000 };
        let off = Says::Off { ahead_ms: 86_400_000, entries: 1 };
        let says = sentences(&[flag(off), flag(moved), flag(apart.clone())], 1);
        let expected = [
            "The clock of tablet-1 was 1 day ahead of the service's clock for 1 observation.",
            "Between 00:30 and 01:05 the clock of tablet-1 was put back by 10 minutes.",
        ];
        assert_eq!(says, expected);
        let says = sentences(&[flag(apart)], 2);
        assert!(says[0].contains("tablet-1 (second marker) ran 10 minutes less"), "{says:?}");
    }

    #[test]
    fn lengths_of_time_stay_readable() {
        let said = [61_000, 119_400, 600_000, 86_400_000 / 2, 86_400_000, -172_800_000].map(span);
        assert_eq!(said, ["61 seconds", "119 seconds", "10 minutes", "12 hours", "1 day", "2 days"]);
        assert!(span(i64::MIN).ends_with("days"));
    }
}
