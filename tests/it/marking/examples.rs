//! The worked examples: a task, ten logs, and the outcome each must have.
//!
//! Source: `tests/reference/examples`, made by hand with the design of the project, before the engine was written.

use crate::support::script::{stairwell, with_outcome};
use baywitness::marking::{self, Log, Outcome};
use serde_json::Value;
use std::path::Path;

#[test]
fn every_example_log_has_its_expected_outcome() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/examples");
    let expected = std::fs::read_to_string(folder.join("stairwell-expected.json")).expect("the expected outcomes");
    let expected: serde_json::Map<String, Value> = serde_json::from_str(&expected).expect("JSON");
    assert_eq!(expected.len(), 10);
    let task = stairwell();
    for (name, want) in &expected {
        let bytes = std::fs::read(folder.join(want["log"].as_str().expect("a file name"))).expect("a log");
        let log = Log::read(&bytes, &task).unwrap_or_else(|faults| panic!("{name}: {faults}"));
        let marking = marking::mark(&task, &log);
        let outcome = serde_json::to_value(marking.verdict.outcome).expect("a word");
        assert_eq!(outcome, want["outcome"], "{name}");
        let not_met: Vec<Value> = with_outcome(&marking, Outcome::NotMet).into_iter().map(Value::from).collect();
        assert_eq!(Value::from(not_met), want["not_met"], "{name}");
        assert_eq!(
            (Value::from(marking.verdict.marks), Value::from(marking.verdict.of)),
            (want["marks"].clone(), want["of"].clone()),
            "{name}"
        );
        assert!(marking.owed.is_empty(), "{name}: {:?}", marking.owed);
    }
}

#[test]
fn every_finding_cites_observations_of_the_log_and_says_a_sentence() {
    let task = stairwell();
    let marking = crate::support::script::Script::flawless().mark(&task);
    for finding in &marking.findings {
        assert!(finding.says.ends_with('.'), "{}", finding.says);
        let may_be_bare = ["live-means-live", "no-touch", "no-help"].contains(&finding.criterion.as_str());
        assert!(may_be_bare || !finding.because.is_empty(), "{} rests on nothing", finding.criterion);
    }
}

#[test]
fn the_printed_contract_has_its_fields() {
    let marking = crate::support::script::Script::flawless().mark(&stairwell());
    let printed = serde_json::to_value(&marking).expect("JSON");
    let keys: Vec<&String> = printed.as_object().expect("an object").keys().collect();
    assert_eq!(keys, ["clock", "coverage", "findings", "owed", "plan", "verdict"]);
    assert_eq!(printed["plan"], serde_json::json!({"pairs": [["E", "N"], ["E", "SL"], ["N", "SL"]], "rounds": 4}));
    assert_eq!(printed["clock"]["allowed_ms"], 25 * 60_000);
    let fields: Vec<&String> = printed["findings"][0].as_object().expect("an object").keys().collect();
    assert_eq!(fields, ["at_ms", "because", "criterion", "fails", "outcome", "says", "weight"]);
}
