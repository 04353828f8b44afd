//! The rules that decide criteria: one file for each family, each rule with its meaning, parameters and source.
//!
//! A rule reads what is [`Known`] and answers. It fails on its own fault and on no other: proof that is missing does not
//! also fail the pair rules.

mod authority;
pub(in crate::marking) mod equipment;
mod finishing;
mod pattern;
mod securing;
mod testing;
mod words;

use super::answer::Answer;
use super::known::Known;
use super::{Criterion, Decided, Rule};

/// Decides one criterion from what is known.
pub fn decide(criterion: &Criterion, known: &Known) -> Answer {
    match &criterion.decided {
        Decided::ByEye => finishing::by_eye(criterion, known),
        Decided::Rule(rule) => apply(rule, known),
    }
}

fn apply(rule: &Rule, known: &Known) -> Answer {
    match rule {
        Rule::CircuitIdentified => authority::circuit_identified(known),
        Rule::SourcesListed => authority::sources_listed(known),
        Rule::PermissionBeforeSwitching => authority::permission_before_switching(known),
        Rule::LoadRemovedFirst => authority::load_removed_first(known),
        Rule::OnlyNamedDeviceSwitched => authority::only_named_device_switched(known),
        Rule::LockOffFits => securing::lock_off_fits(known),
        Rule::LockedAndTried => securing::locked_and_tried(known),
        Rule::KeyKept => securing::key_kept(known),
        Rule::NoticePosted { filled } => securing::notice_posted(known, *filled),
        Rule::SecuredBeforeTesting => securing::secured_before_testing(known),
        Rule::NothingRemovedEarly => securing::nothing_removed_early(known),
        Rule::ControlsTried => securing::controls_tried(known),
        Rule::IndicatorSuitable { accepts, max_tip_mm } => equipment::indicator_suitable(known, accepts, *max_tip_mm),
        Rule::IndicatorInspected { parts } => equipment::indicator_inspected(known, parts),
        Rule::ProvedBeforeTesting { accepts } => equipment::proved_before_testing(known, accepts),
        Rule::ProvedAfterTesting { accepts } => equipment::proved_after_testing(known, accepts),
        Rule::AllPairsTested => testing::all_pairs_tested(known),
        Rule::AllRoundsTested { rounds } => testing::rounds::all_rounds_tested(known, *rounds),
        Rule::LessDangerousFirst => testing::less_dangerous_first(known),
        Rule::PointClosedBetweenRounds => testing::point_closed_between_rounds(known),
        Rule::LampOutBeforeTesting => testing::lamp_out_before_testing(known),
        Rule::LiveReadingHeeded => testing::live_reading_heeded(known),
        Rule::NoTouchBeforeProof => testing::no_touch_before_proof(known),
        Rule::DeclaredLast => finishing::declared_last(known),
        Rule::WithinTime => finishing::within_time(known),
        Rule::NeverPrompted => finishing::never_prompted(known),
        Rule::NeverSteppedIn => finishing::never_stepped_in(known),
        Rule::Happened { act } => pattern::happened(known, act),
        Rule::Never { act } => pattern::never(known, act),
        Rule::Before { first, then } => pattern::before(known, first, then),
    }
}
