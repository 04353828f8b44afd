//! Which words of the catalogue go with what was marked.

use super::words::{Key, Topic};
use crate::marking::{Decided, Rule, VerdictOutcome};

/// How it came out, said plainly and first.
pub fn outcome(outcome: VerdictOutcome) -> Key {
    match outcome {
        VerdictOutcome::Pass => Key::Passed,
        VerdictOutcome::Fail | VerdictOutcome::AutomaticFail => Key::NotPassed,
        VerdictOutcome::Unfinished => Key::NotFinished,
    }
}

/// What happens next.
pub fn what_next(outcome: VerdictOutcome) -> Key {
    match outcome {
        VerdictOutcome::Pass => Key::NextPassed,
        VerdictOutcome::Fail | VerdictOutcome::AutomaticFail => Key::NextNotPassed,
        VerdictOutcome::Unfinished => Key::NextNotFinished,
    }
}

/// How it came out, for the result sheet.
pub fn outcome_for_sheet(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "The candidate passed.",
        VerdictOutcome::Fail => "The candidate did not pass.",
        VerdictOutcome::AutomaticFail => "The candidate did not pass: an automatic fail stands.",
        VerdictOutcome::Unfinished => "The attempt was not finished.",
    }
}

/// What the advice on a criterion is about.
pub fn topic(decided: &Decided) -> Topic {
    let Decided::Rule(rule) = decided else { return Topic::ByEye };
    match rule {
        Rule::CircuitIdentified => Topic::Circuit,
        Rule::SourcesListed => Topic::Sources,
        Rule::PermissionBeforeSwitching => Topic::Permission,
        Rule::LoadRemovedFirst => Topic::Load,
        Rule::OnlyNamedDeviceSwitched => Topic::OnlyNamed,
        Rule::LockOffFits => Topic::LockOff,
        Rule::LockedAndTried => Topic::Locked,
        Rule::KeyKept => Topic::KeyKept,
        Rule::NoticePosted { .. } => Topic::Notice,
        Rule::SecuredBeforeTesting => Topic::Secured,
        Rule::NothingRemovedEarly => Topic::NothingRemoved,
        Rule::ControlsTried => Topic::Controls,
        Rule::IndicatorSuitable { .. } => Topic::Suitable,
        Rule::IndicatorInspected { .. } => Topic::Inspected,
        Rule::ProvedBeforeTesting { .. } => Topic::ProvedBefore,
        Rule::ProvedAfterTesting { .. } => Topic::ProvedAfter,
        Rule::AllPairsTested => Topic::Pairs,
        Rule::AllRoundsTested { .. } => Topic::RoundsTested,
        Rule::LessDangerousFirst => Topic::LessDangerous,
        Rule::PointClosedBetweenRounds => Topic::PointClosed,
        Rule::LampOutBeforeTesting => Topic::Lamp,
        Rule::LiveReadingHeeded => Topic::LiveReading,
        Rule::NoTouchBeforeProof => Topic::NoTouch,
        Rule::DeclaredLast => Topic::DeclaredLast,
        Rule::WithinTime => Topic::Time,
        Rule::NeverPrompted => Topic::Prompted,
        Rule::NeverSteppedIn => Topic::SteppedIn,
        #[allow(unreachable_patterns, reason = "a rule that is new has general advice until it has its own")]
        _ => Topic::Other,
    }
}
