//! The verdict: unfinished, automatic fail, must, pass mark; and the assessor's decisions.

use crate::support::script::{Script, stairwell, stairwell_with};
use baywitness::marking::decision::{Decision, DecisionFault, Open, decide};
use baywitness::marking::{CriterionId, Outcome, VerdictOutcome};
use serde_json::json;

fn id(text: &str) -> CriterionId {
    CriterionId::new(text).expect("well formed")
}

fn decision(criterion: &str, outcome: Outcome, reason: Option<&str>) -> Decision {
    Decision { criterion: id(criterion), outcome, reason: reason.map(str::to_owned) }
}

#[test]
fn a_running_log_is_unfinished_and_so_is_one_not_judged_by_eye() {
    let task = stairwell();
    let running = Script::flawless().without(&json!({"kind": "ended"})).mark(&task);
    assert_eq!(running.verdict.outcome, VerdictOutcome::Unfinished);
    let unjudged = Script::flawless().without(&json!({"kind": "ticked"})).mark(&task);
    assert_eq!(unjudged.verdict.outcome, VerdictOutcome::Unfinished);
    assert_eq!(unjudged.verdict.reasons, [id("tidy")]);
    assert_eq!(unjudged.owed.len(), 1);
}

#[test]
fn an_automatic_fail_outranks_a_must_and_marks() {
    let task = stairwell();
    let both = Script::flawless().without(&json!({"kind": "permission_asked"})).change(
        &json!({"kind": "tested", "second": "SL"}),
        0,
        &json!({"first": "SL", "second": "E"}),
    );
    let verdict = both.mark(&task).verdict;
    assert_eq!(verdict.outcome, VerdictOutcome::AutomaticFail);
    assert_eq!(verdict.reasons, [id("permission")]);
}

#[test]
fn marks_at_the_pass_mark_pass_and_one_under_fails() {
    // Without the notice and the tick the flawless log has 54 of 56: 96.43 %.
    let script = Script::flawless().without(&json!({"kind": "posted"}));
    let passes = script.mark(&stairwell_with("pass_percent = 70", "pass_percent = 96")).verdict;
    assert_eq!((passes.outcome, passes.marks, passes.percent), (VerdictOutcome::Pass, 54, 96.4));
    let fails = script.mark(&stairwell_with("pass_percent = 70", "pass_percent = 97")).verdict;
    assert_eq!((fails.outcome, fails.reasons), (VerdictOutcome::Fail, vec![id("notice")]));
}

#[test]
fn not_applicable_leaves_both_sums() {
    let script = Script::flawless().change(&json!({"kind": "ticked"}), 0, &json!({"outcome": "not_applicable"}));
    let verdict = script.mark(&stairwell()).verdict;
    assert_eq!((verdict.marks, verdict.of, verdict.percent), (55, 55, 100.0));
}

#[test]
fn a_proposed_automatic_fail_must_be_confirmed_or_overruled_before_it_stands() {
    let task = stairwell();
    let marking = Script::flawless().without(&json!({"kind": "permission_given"})).mark(&task);
    let open = decide(&task, &marking, &[]);
    assert_eq!(open.open, [Open::Confirm(id("permission"))]);
    assert!(!open.can_be_signed());

    let confirmed = decide(&task, &marking, &[decision("permission", Outcome::NotMet, None)]);
    assert!(confirmed.can_be_signed());
    assert_eq!(confirmed.verdict.outcome, VerdictOutcome::AutomaticFail);

    let overruled = [
        decision("permission", Outcome::NotMet, None),
        decision("permission", Outcome::Met, Some("Leave was given before the clock was started.")),
    ];
    let overruled = decide(&task, &marking, &overruled);
    assert!(overruled.can_be_signed());
    assert_eq!((overruled.verdict.outcome, overruled.verdict.marks), (VerdictOutcome::Pass, 56));
}

#[test]
fn what_was_not_seen_must_be_judged_and_an_unended_log_cannot_be_signed() {
    let task = stairwell();
    let unjudged = Script::flawless().without(&json!({"kind": "ticked"})).mark(&task);
    assert_eq!(decide(&task, &unjudged, &[]).open, [Open::Judge(id("tidy"))]);
    let judged = decide(&task, &unjudged, &[decision("tidy", Outcome::NotMet, Some("Left the ladder in the way."))]);
    assert!(judged.can_be_signed());
    assert_eq!((judged.verdict.outcome, judged.verdict.marks), (VerdictOutcome::Pass, 55));
    let running = Script::flawless().without(&json!({"kind": "ended"})).mark(&task);
    assert_eq!(decide(&task, &running, &[]).open, [Open::NotEnded]);
}

#[test]
fn a_decision_that_makes_no_sense_is_refused_with_its_reason() {
    let marking = Script::flawless().mark(&stairwell());
    let check = |decision: Decision| decision.check(&marking);
    assert_eq!(check(decision("nope", Outcome::Met, None)), Err(DecisionFault::Unknown(id("nope"))));
    assert_eq!(check(decision("key", Outcome::NotSeen, Some("hm"))), Err(DecisionFault::NotSeen));
    assert_eq!(check(decision("key", Outcome::NotMet, Some("  "))), Err(DecisionFault::NoReason));
    assert_eq!(check(decision("key", Outcome::NotMet, Some(&"é".repeat(2_001)))), Err(DecisionFault::TooLong(2_000)));
    assert_eq!(check(decision("key", Outcome::NotMet, Some("It hung in the lock."))), Ok(()));
    assert_eq!(check(decision("key", Outcome::Met, None)), Ok(()));
}
