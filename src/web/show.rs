//! How times, outcomes and standings are written on pages: word and shape, never colour alone.

use crate::bay::network::State;
use crate::bay::{Bay, Fault, drawing};
use crate::marking::{Outcome, Verdict, VerdictOutcome};
use crate::store::sessions::Standing;
use std::fmt;
use time::PrimitiveDateTime;

/// A word with its shape and the name of its look in the style sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sign {
    pub shape: &'static str,
    pub word: &'static str,
    pub look: &'static str,
}

const fn sign(shape: &'static str, word: &'static str, look: &'static str) -> Sign {
    Sign { shape, word, look }
}

/// A drawing, which goes into a page as it is.
///
/// The only markup that is not escaped by a template: `bay::drawing` and
/// `marking::timeline` write it and escape every text in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing(String);

impl Drawing {
    /// The circuit of a bay in a state; `id` tells several pictures on one page apart.
    pub fn circuit(bay: &Bay, state: &State, faults: &[Fault], id: &str) -> Self {
        Self(drawing::circuit(bay, state, faults, id))
    }

    /// A timeline as [`crate::marking::timeline::picture::draw`] writes it.
    pub fn timeline(svg: String) -> Self {
        Self(svg)
    }

    /// The circuit as the assessor sets it up, with nothing planted shown.
    pub fn of_task(bay: &Bay) -> Self {
        Self::circuit(bay, &State::set_up(bay), &[], "circuit")
    }
}

impl fmt::Display for Drawing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl askama::filters::HtmlSafe for Drawing {}

/// What became of a criterion.
pub fn outcome(outcome: Outcome) -> Sign {
    match outcome {
        Outcome::Met => sign("✓", "met", "good"),
        Outcome::NotMet => sign("✕", "not met", "bad"),
        Outcome::NotSeen => sign("?", "not seen", "open"),
        Outcome::NotApplicable => sign("–", "not applicable", "quiet"),
    }
}

/// How an attempt came out, as the official word.
pub fn verdict(outcome: VerdictOutcome) -> Sign {
    match outcome {
        VerdictOutcome::Pass => sign("✓", "pass", "good"),
        VerdictOutcome::Fail => sign("✕", "fail", "bad"),
        VerdictOutcome::AutomaticFail => sign("◆", "automatic fail", "bad"),
        VerdictOutcome::Unfinished => sign("○", "unfinished", "open"),
    }
}

/// How far a session has come.
pub fn standing(standing: Standing) -> Sign {
    match standing {
        Standing::Planned => sign("○", "planned", "quiet"),
        Standing::Open => sign("◐", "open", "open"),
        Standing::Signed(outcome) => verdict(outcome),
        Standing::Cancelled => sign("⊘", "cancelled", "quiet"),
        Standing::NoShow => sign("□", "did not come", "open"),
    }
}

/// A signed session that a person must look at again: something arrived after the signature.
pub const TO_REVIEW: Sign = sign("▲", "to be reviewed", "open");

/// A signed session that a verifier is to look at: a finding was overruled.
pub const SAMPLED: Sign = sign("◇", "to be sampled", "open");

/// Two sessions that need the same at the same time.
pub const CLASH: Sign = sign("▲", "clash", "bad");

/// Marks as a sentence part: `53 of 56 marks (94.6 %)`.
pub fn marks(verdict: &Verdict) -> String {
    format!("{} of {} marks ({:.1} %)", verdict.marks, verdict.of, verdict.percent)
}

/// Session time as minutes and seconds: `07:42`, and `1:02:03` from an hour on.
pub fn clock(ms: u64) -> String {
    let seconds = ms / 1_000;
    let (hours, minutes, seconds) = (seconds / 3_600, seconds / 60 % 60, seconds % 60);
    if hours > 0 { format!("{hours}:{minutes:02}:{seconds:02}") } else { format!("{minutes:02}:{seconds:02}") }
}

/// A day: `4 March 2026`.
pub fn day(at: PrimitiveDateTime) -> String {
    format!("{} {} {}", at.day(), at.month(), at.year())
}

/// A time of day: `09:12`.
pub fn time_of_day(at: PrimitiveDateTime) -> String {
    format!("{:02}:{:02}", at.hour(), at.minute())
}

/// Day and time: `4 March 2026, 09:12`.
pub fn moment(at: PrimitiveDateTime) -> String {
    format!("{}, {}", day(at), time_of_day(at))
}

/// A hash in groups of eight, as a person compares it.
pub fn grouped(hash: &str) -> String {
    hash.as_bytes().chunks(8).map(String::from_utf8_lossy).collect::<Vec<_>>().join(" ")
}

/// A path as it may stand after `?next=`.
pub fn percent(path: &str) -> String {
    path.bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' => char::from(b).to_string(),
            b => format!("%{b:02X}"),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::datetime;

    #[test]
    fn times_are_written_as_people_read_them() {
        assert_eq!(clock(462_900), "07:42");
        assert_eq!(clock(3_723_000), "1:02:03");
        assert_eq!(moment(datetime!(2026-03-04 09:12)), "4 March 2026, 09:12");
    }

    #[test]
    fn every_state_has_a_word_and_a_shape_of_its_own() {
        let all = [Outcome::Met, Outcome::NotMet, Outcome::NotSeen, Outcome::NotApplicable].map(outcome);
        for (at, one) in all.iter().enumerate() {
            assert!(!one.word.is_empty());
            assert!(all[..at].iter().all(|other| other.shape != one.shape));
        }
    }

    #[test]
    fn nothing_but_a_path_gets_into_next() {
        assert_eq!(percent("/a b?c&d=é"), "/a%20b%3Fc%26d%3D%C3%A9");
        assert_eq!(grouped("0123456789abcdef"), "01234567 89abcdef");
    }
}
