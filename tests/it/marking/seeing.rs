//! What was not seen: absent acts in a running log, behind a blocked view, and observations the marker is unsure of.

use crate::support::script::{Script, finding_of, outcome_of, stairwell, with_outcome};
use baywitness::marking::Outcome;
use serde_json::json;

#[test]
fn a_log_just_started_owes_every_act_and_has_broken_nothing() {
    let marking = Script::started().mark(&stairwell());
    assert!(with_outcome(&marking, Outcome::NotMet).is_empty());
    let owed: Vec<&str> = marking.owed.iter().map(|owed| owed.criterion.as_str()).collect();
    assert_eq!(owed.len(), 19, "{owed:?}");
    for broken_only_by_an_act in ["live-means-live", "no-touch", "no-help", "time"] {
        assert!(!owed.contains(&broken_only_by_an_act), "{owed:?}");
    }
}

#[test]
fn owed_shrinks_to_the_judgement_by_eye_as_the_session_goes_on() {
    let task = stairwell();
    let whole = Script::flawless().without(&json!({"kind": "ended"})).without(&json!({"kind": "ticked"}));
    let mut last = usize::MAX;
    for length in [1, 4, 16, 24, 44, whole.0.len()] {
        let owed = Script(whole.0[..length].to_vec()).mark(&task).owed.len();
        assert!(owed < last, "{owed} owed after {length} acts, {last} before");
        last = owed;
    }
    assert_eq!(last, 1);
}

#[test]
fn an_act_that_can_no_longer_come_is_not_met_even_while_the_log_runs() {
    let marking =
        Script::started().then(9_000, json!({"kind": "switched", "device": "Q2", "to": "off"})).mark(&stairwell());
    let late = with_outcome(&marking, Outcome::NotMet);
    assert_eq!(late, ["identify", "permission"]);
    assert!(finding_of(&marking, "permission").says.contains("not recorded"));
}

#[test]
fn absent_behind_a_blocked_view_is_not_seen_but_a_view_blocked_later_excuses_nothing() {
    let task = stairwell();
    let no_proof = Script::flawless().drop_nth(&json!({"kind": "proved"}), 0);
    let first_test = no_proof.time_of(&json!({"kind": "tested"}), 0);
    let early =
        no_proof.clone().then(90_000, json!({"kind": "view_blocked"})).then(95_000, json!({"kind": "view_clear"}));
    assert_eq!(outcome_of(&early.mark(&task), "proved-before"), Outcome::NotSeen);
    let late = no_proof
        .clone()
        .then(first_test + 1_000, json!({"kind": "view_blocked"}))
        .then(first_test + 2_000, json!({"kind": "view_clear"}));
    assert_eq!(outcome_of(&late.mark(&task), "proved-before"), Outcome::NotMet);
    assert_eq!(outcome_of(&no_proof.mark(&task), "proved-before"), Outcome::NotMet);
}

#[test]
fn a_blocked_view_hides_no_fault_that_was_seen() {
    let task = stairwell();
    let knocked = Script::flawless()
        .then(50_000, json!({"kind": "view_blocked"}))
        .then(51_000, json!({"kind": "switched", "device": "Q1", "to": "off"}))
        .then(55_000, json!({"kind": "view_clear"}));
    assert_eq!(outcome_of(&knocked.mark(&task), "only-that-device"), Outcome::NotMet);
}

#[test]
fn findings_that_rest_on_an_unsure_observation_are_not_seen_and_say_so() {
    let task = stairwell();
    let script = Script::flawless();
    let proof = script.place(&json!({"kind": "proved"}), 1);
    let marking = script.then(300_000, json!({"kind": "unsure", "observation": Script::id(proof)})).mark(&task);
    assert_eq!(with_outcome(&marking, Outcome::NotSeen), ["proved-after"]);
    let finding = finding_of(&marking, "proved-after");
    assert!(finding.because.iter().any(|id| id.0 == Script::id(proof)));
    assert!(finding.says.starts_with("Not seen well enough"), "{}", finding.says);
}

#[test]
fn an_unsure_observation_that_another_bears_out_changes_nothing() {
    let task = stairwell();
    // The pair E–N is tested in every round, so that doubt about one test of it leaves the pair rule standing.
    let script = Script::flawless();
    let test = script.place(&json!({"kind": "tested", "first": "E", "second": "N"}), 0);
    let marking = script.then(300_000, json!({"kind": "unsure", "observation": Script::id(test)})).mark(&task);
    assert_eq!(outcome_of(&marking, "pairs"), Outcome::Met);
    assert_eq!(outcome_of(&marking, "rounds"), Outcome::NotSeen);
    let doubted = baywitness::marking::ObservationId(Script::id(test));
    for finding in marking.findings.iter().filter(|finding| finding.outcome != Outcome::NotSeen) {
        assert!(!finding.because.contains(&doubted), "{} rests on what was not seen", finding.criterion);
    }
}

#[test]
fn doubt_about_a_knock_keeps_it_from_failing_anyone() {
    let task = stairwell();
    let script = Script::flawless().then(50_000, json!({"kind": "switched", "device": "Q1", "to": "off"}));
    let knock = script.0.len() - 1;
    let marking = script.then(300_000, json!({"kind": "unsure", "observation": Script::id(knock)})).mark(&task);
    assert_eq!(outcome_of(&marking, "only-that-device"), Outcome::NotSeen);
}
