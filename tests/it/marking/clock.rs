//! The session's own time.

use crate::support::script::{Script, outcome_of, stairwell};
use baywitness::marking::{ExtraTime, Outcome};
use serde_json::json;

#[test]
fn pauses_are_left_out_and_an_open_pause_runs_to_the_end() {
    let task = stairwell();
    let script = Script::started()
        .then(60_000, json!({"kind": "paused", "reason": "alarm"}))
        .then(90_000, json!({"kind": "resumed"}))
        .then(120_000, json!({"kind": "paused", "reason": "unwell", "text": "Felt faint."}))
        .then(200_000, json!({"kind": "ended", "reason": "unwell"}));
    assert_eq!(script.mark(&task).clock.elapsed_ms, 200_000 - 30_000 - 80_000);
}

#[test]
fn time_allowed_is_kept_to_the_millisecond_and_adjustments_count() {
    let task = stairwell();
    let ended = |at| Script::started().then(at, json!({"kind": "ended"}));
    let limit = 25 * 60_000;
    assert_eq!(outcome_of(&ended(limit).mark(&task), "time"), Outcome::Met);
    assert_eq!(outcome_of(&ended(limit + 1).mark(&task), "time"), Outcome::NotMet);
    // A quarter more, the usual adjustment in GB (trade fact E15, read), and two minutes on top.
    let adjusted = task.with_extra(ExtraTime { percent: 25, minutes: 2 });
    assert_eq!(adjusted.allowed_ms(), 1_995_000);
    assert_eq!(outcome_of(&ended(1_995_000).mark(&adjusted), "time"), Outcome::Met);
    assert_eq!(outcome_of(&ended(1_995_001).mark(&adjusted), "time"), Outcome::NotMet);
}

#[test]
fn what_the_candidate_does_after_the_end_is_not_counted_but_ticks_and_stepping_in_are() {
    let task = stairwell();
    let marked = Script::flawless()
        .then(300_000, json!({"kind": "switched", "device": "Q1", "to": "off"}))
        .then(301_000, json!({"kind": "ticked", "criterion": "tidy", "outcome": "not_met"}))
        .then(302_000, json!({"kind": "stepped_in", "reason": "live_part"}))
        .mark(&task);
    assert_eq!(outcome_of(&marked, "only-that-device"), Outcome::Met);
    assert_eq!(outcome_of(&marked, "tidy"), Outcome::NotMet);
    assert_eq!(outcome_of(&marked, "no-help"), Outcome::NotMet);
    assert_eq!(marked.clock.elapsed_ms, Script::flawless().mark(&task).clock.elapsed_ms);
}

#[test]
fn an_end_that_is_struck_leaves_the_log_running() {
    let task = stairwell();
    let script = Script::flawless();
    let end = script.place(&json!({"kind": "ended"}), 0);
    let undone = script.then(300_000, json!({"kind": "struck", "observation": Script::id(end), "reason": "mis_tap"}));
    assert!(undone.mark(&task).running);
    let strike = undone.0.len() - 1;
    let back = undone.then(301_000, json!({"kind": "struck", "observation": Script::id(strike), "reason": "mis_tap"}));
    assert!(!back.mark(&task).running, "a strike that is struck takes nothing back");
}
