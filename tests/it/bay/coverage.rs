//! Coverage of the tests made, on bays of the task format and through the worked example.

use super::bays::{EXTRACTOR, ROSE, bay, stairwell, with_off};
use crate::support::script::{Script, outcome_of, stairwell as stairwell_task};
use Conductor::{E, N, Sl};
use baywitness::bay::coverage::{Found, Replay, Step, WhyNot, coverage, coverage_of_pairs, singles};
use baywitness::bay::{Bay, Conductor, Fault, SwitchId};
use baywitness::marking::{Coverage, Outcome};
use proptest::prelude::*;
use serde_json::json;

fn throw(switch: &str) -> Step {
    Step::Throw(SwitchId::new(switch).expect("well formed"))
}

fn test(pair: [Conductor; 2]) -> Step {
    Step::Test { pair, lamp_in: false }
}

const ROUND: [[Conductor; 2]; 3] = [[Sl, N], [Sl, E], [N, E]];

/// One round of all pairs, then one more after each throw.
fn rounds(throws: &[&str]) -> Vec<Step> {
    let round = || ROUND.map(test).into_iter();
    round().chain(throws.iter().flat_map(|switch| std::iter::once(throw(switch)).chain(round()))).collect()
}

fn replay(bay: &Bay, steps: Vec<Step>) -> Replay {
    Replay { state: with_off(bay, &[bay.isolate.device.as_str()]), steps, proved: true }
}

fn shown(steps: Vec<Step>) -> Vec<String> {
    let bay = stairwell();
    let found = coverage(&bay, &replay(&bay, steps)).expect("a coverage");
    found.causes.iter().filter(|cause| !matches!(cause.found, Found::Missed(_))).map(|cause| cause.id()).collect()
}

/// Source: the worked example of `tests/reference/circuits`, plans A to D; here without the maintained feed, and with
/// the causes that the format lists itself.
#[test]
fn the_plans_of_the_worked_example_show_what_they_showed_there() {
    let always = ["second_supply", "crossed_polarity", "dead_indicator"];
    assert_eq!(shown(rounds(&[])), always, "A: the wrong breaker hides in half of the starts");
    let own = ["wrong_device:Q1", "wrong_device:Q3", "stuck_pole:Q2:L"];
    let with = |more: &[&str]| -> Vec<String> {
        let all = own.iter().chain(&always[..2]).chain(more).chain(&always[2..]);
        all.map(|id| (*id).to_owned()).collect()
    };
    assert_eq!(shown(rounds(&["S1"])), with(&[]), "B");
    let all = ["joined_strapper:S1:1", "joined_strapper:S1:2", "joined_strapper:S2:1", "joined_strapper:S2:2"];
    assert_eq!(shown(rounds(&["S1", "S2", "S3"])), with(&all), "C");
    assert_eq!(shown(rounds(&["S1", "S3", "S1"])), with(&all), "D");
    assert_eq!(shown(Vec::new()), ["dead_indicator"]);
}

#[test]
fn the_counts_of_hidden_causes() {
    let counts: Vec<(usize, usize)> = [stairwell(), bay(EXTRACTOR), bay(ROSE)]
        .iter()
        .map(|bay| {
            let found = coverage(bay, &replay(bay, Vec::new())).expect("a coverage");
            (found.listed, found.causes.len())
        })
        .collect();
    println!("listed and dangerous: stairwell, extractor, rose: {counts:?}");
    assert_eq!(counts[0], (27, 10));
    assert_eq!(counts[1].1, counts[1].0 - 3, "borrowed and broken neutral and lost earth are harmless alone");
    assert!(counts.iter().all(|(listed, dangerous)| dangerous <= listed && *dangerous > 4));
}

/// Source: the pair of causes that the worked example calls masked: the switch that was thrown is the stuck one.
#[test]
fn a_stuck_switch_masks_the_wrong_breaker_from_its_own_throw() {
    let bay = stairwell();
    let missed = |throws: &[&str]| -> Vec<String> {
        let found = coverage_of_pairs(&bay, &replay(&bay, rounds(throws))).expect("a coverage");
        found.causes.iter().filter(|cause| matches!(cause.found, Found::Missed(_))).map(|cause| cause.id()).collect()
    };
    let masked = "wrong_device:Q1+stuck_switch:S1:1".to_owned();
    assert!(missed(&["S1"]).contains(&masked));
    assert!(!missed(&["S1", "S2"]).contains(&masked), "two different switches suffice with one stuck");
    let joint = "borrowed_neutral:yard+broken_neutral".to_owned();
    assert!(!missed(&["S1"]).contains(&joint), "together dangerous, and N–E shows it");
}

/// Source: the worked example: each switch in turn, without an independent earth, misses these and no more of their kind.
#[test]
fn each_switch_in_turn_misses_what_the_worked_example_says() {
    let bay = stairwell();
    let found = coverage_of_pairs(&bay, &replay(&bay, rounds(&["S1", "S2", "S3"]))).expect("a coverage");
    let missed = |id: &str| {
        let cause =
            found.causes.iter().find(|cause| cause.id() == id).unwrap_or_else(|| panic!("{id} is not dangerous"));
        if let Found::Missed(missed) = &cause.found { Some(missed.addition.is_some()) } else { None }
    };
    assert_eq!(missed("crossed_polarity+lost_earth"), Some(false), "only an independent earth shows it");
    assert_eq!(missed("stuck_pole:Q2:L+broken_contact:S1:1"), Some(true), "S1, S3, S1 would have shown it");
    assert_eq!(missed("stuck_pole:Q2:L+stuck_switch:S2:1"), None);
    assert_eq!(missed("borrowed_neutral:yard+broken_neutral"), None);
}

#[test]
fn a_missed_cause_says_from_where_and_what_would_have_shown_it() {
    let bay = stairwell();
    let found = coverage(&bay, &replay(&bay, rounds(&[]))).expect("a coverage");
    let cause = found.causes.iter().find(|cause| cause.id() == "stuck_pole:Q2:L").expect("listed");
    let Found::Missed(missed) = &cause.found else { panic!("shown") };
    assert_eq!(missed.start.len(), 3);
    assert!(missed.volts < 1.0, "{}", missed.volts);
    let addition = missed.addition.as_ref().expect("an addition");
    assert_eq!((addition.throws.len(), addition.pair), (1, [E, Sl]));
}

#[test]
fn causes_that_no_voltage_test_tells_apart_are_known_as_such() {
    let bay = stairwell();
    let found = coverage(&bay, &replay(&bay, Vec::new())).expect("a coverage");
    let like: Vec<(String, Option<usize>)> = found.causes.iter().map(|cause| (cause.id(), cause.like)).collect();
    let alike: Vec<&str> = like.iter().filter(|(_, like)| *like == Some(0)).map(|(id, _)| id.as_str()).collect();
    assert_eq!(alike, ["wrong_device:Q3", "stuck_pole:Q2:L"], "all read like wrong_device:Q1");
    assert!(like.iter().any(|(id, like)| id == "crossed_polarity" && like.is_none()));
}

#[test]
fn a_point_that_is_still_live_has_no_coverage() {
    let bay = stairwell();
    let replay = Replay { state: with_off(&bay, &["Q1"]), steps: rounds(&["S1"]), proved: true };
    assert!(matches!(coverage(&bay, &replay), Err(WhyNot::StillLive { volts }) if volts > 220.0));
}

#[test]
fn only_proving_catches_a_dead_indicator() {
    let bay = stairwell();
    let mut unproved = replay(&bay, rounds(&["S1", "S2", "S3"]));
    unproved.proved = false;
    let found = coverage(&bay, &unproved).expect("a coverage");
    let dead = found.causes.iter().find(|cause| cause.faults == [Fault::DeadIndicator]).expect("listed");
    assert!(matches!(dead.found, Found::Missed(_)));
}

fn coverage_of(script: &Script) -> Coverage {
    script.mark(&stairwell_task()).coverage
}

#[test]
fn marking_tells_the_coverage_of_a_flawless_session() {
    let coverage = coverage_of(&Script::flawless());
    assert_eq!((coverage.shown, coverage.of, coverage.why_not.as_deref()), (10, 10, None));
    assert!(coverage.hidden_causes.iter().all(|cause| cause.shown && cause.by.is_some() && cause.missed_at.is_none()));
}

#[test]
fn tests_without_a_second_proof_count_for_nothing_and_the_rules_are_not_touched() {
    let proof = json!({"kind": "proved"});
    let whole = Script::flawless();
    let last = whole.0.iter().filter(|(_, act)| act["kind"] == "proved").count() - 1;
    let script = whole.drop_nth(&proof, last);
    let coverage = coverage_of(&script);
    assert_eq!((coverage.shown, coverage.of), (0, 10));
    assert!(coverage.hidden_causes.iter().all(|cause| cause.missed_at.is_some() && cause.addition.is_some()));
    assert_eq!(outcome_of(&script.mark(&stairwell_task()), "pairs"), Outcome::Met);
}

#[test]
fn the_wrong_breaker_opened_is_said_in_place_of_a_coverage() {
    let mut script = Script::flawless();
    for (_, act) in script.0.iter_mut().filter(|(_, act)| act["kind"] == "switched") {
        act["device"] = json!("Q3");
    }
    let why = coverage_of(&script).why_not.expect("a reason");
    assert!(why.contains("still live"), "{why}");
}

#[test]
fn a_running_session_has_no_coverage_yet() {
    let coverage = coverage_of(&Script::flawless().without(&json!({"kind": "ended"})));
    assert_eq!((coverage.of, coverage.why_not.as_deref()), (0, Some("The session has not ended.")));
}

#[test]
fn no_sentence_names_what_is_planted_or_lies_on_the_table() {
    let with = |setup: &str| {
        let text = crate::support::script::STAIRWELL.to_owned() + setup;
        let task = baywitness::marking::Task::read_toml(&text).expect("a task");
        serde_json::to_string(&Script::flawless().mark(&task).coverage).expect("JSON")
    };
    let planted = with("\n[setup]\nplanted = [{ fault = \"stuck_pole\", device = \"Q2\", pole = \"L\" }]\n");
    assert_eq!(planted, with(""), "coverage does not look at what is planted");
    assert!(!planted.contains("vi-"), "{planted}");
}

#[test]
fn a_bay_that_makes_no_network_is_marked_all_the_same() {
    let source = "\n[[sources]]\nid = \"solar\"\nkind = \"inverter\"\nlabel = \"Roof\"\nreaches = \"L\"\n";
    let task = baywitness::marking::Task::read_toml(&(crate::support::script::STAIRWELL.to_owned() + source));
    let marking = Script::flawless().mark(&task.expect("a task"));
    assert_eq!(marking.verdict.outcome, baywitness::marking::VerdictOutcome::Pass);
    let why = marking.coverage.why_not.expect("a reason");
    assert!(why.contains("`solar`") && why.ends_with('.'), "{why}");
}

#[test]
fn a_bay_beyond_measure_is_refused_at_once() {
    let mut bay = stairwell();
    let circuit = bay.circuits[1].clone();
    for at in 0..400 {
        let id = baywitness::bay::CircuitId::new(&format!("c{at}")).expect("well formed");
        let mut device = bay.board.devices[1].clone();
        device.id = baywitness::bay::DeviceId::new(&format!("D{at}")).expect("well formed");
        device.feeds = Some(id.clone());
        bay.board.devices.push(device);
        let mut more = circuit.clone();
        more.id = id;
        bay.circuits.push(more);
    }
    let replay = replay(&bay, rounds(&["S1"]));
    assert_eq!(coverage_of_pairs(&bay, &replay), Err(WhyNot::TooLarge));
}

#[test]
fn other_identifiers_change_nothing() {
    let names = [
        ("Q1", "Z9"),
        ("Q2", "A0"),
        ("Q3", "Q1"),
        ("S1", "T3"),
        ("S2", "T1"),
        ("S3", "S1"),
        ("stairs", "b"),
        ("yard", "a"),
    ];
    let renamed = |text: &str| {
        // Through a form that no name has, so that a new name is not taken for an old one.
        let text = names
            .iter()
            .fold(text.to_owned(), |text, (old, _)| text.replace(&format!("\"{old}\""), &format!("\"<{old}>\"")));
        names.iter().fold(text, |text, (old, new)| text.replace(&format!("\"<{old}>\""), &format!("\"{new}\"")))
    };
    let other = bay(&renamed(crate::support::script::STAIRWELL));
    let found = |bay: &Bay, throws: &[&str]| -> Vec<Option<f64>> {
        let found = coverage(bay, &replay(bay, rounds(throws))).expect("a coverage");
        let missed = |found: &Found| if let Found::Missed(missed) = found { Some(missed.volts) } else { None };
        found.causes.iter().map(|cause| missed(&cause.found)).collect()
    };
    for throws in [vec![], vec![0], vec![1, 2], vec![0, 2, 0]] {
        let named = |names: [&'static str; 3]| throws.iter().map(|&at| names[at]).collect::<Vec<_>>();
        assert_eq!(found(&stairwell(), &named(["S1", "S2", "S3"])), found(&other, &named(["T3", "T1", "S1"])));
    }
}

fn any_steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        (0..3usize).prop_map(|at| throw(["S1", "S2", "S3"][at])),
        (0..3usize, any::<bool>()).prop_map(|(at, lamp_in)| Step::Test { pair: ROUND[at], lamp_in }),
    ];
    proptest::collection::vec(step, 0..14)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn adding_a_test_never_lowers_coverage(steps in any_steps(), pair in 0..3usize, at in 0..15usize) {
        let bay = stairwell();
        let count = |steps| coverage(&bay, &replay(&bay, steps)).expect("a coverage").shown();
        let mut more = steps.clone();
        more.insert(at.min(steps.len()), test(ROUND[pair]));
        prop_assert!(count(more) >= count(steps));
    }

    #[test]
    fn the_smallest_addition_shows_what_was_missed(steps in any_steps()) {
        let bay = stairwell();
        let found = coverage(&bay, &replay(&bay, steps.clone())).expect("a coverage");
        for cause in &found.causes {
            let Found::Missed(missed) = &cause.found else { continue };
            let Some(addition) = &missed.addition else { panic!("{} cannot be shown", cause.id()) };
            let mut more = steps.clone();
            // An addition without a throw is the pair at once; otherwise the pair follows each throw.
            more.push(test(addition.pair));
            for switch in &addition.throws {
                more.push(Step::Throw(switch.clone()));
                more.push(test(addition.pair));
            }
            let again = coverage(&bay, &replay(&bay, more)).expect("a coverage");
            let now = again.causes.iter().find(|it| it.faults == cause.faults).expect("listed");
            prop_assert!(!matches!(now.found, Found::Missed(_)), "{}", cause.id());
        }
    }

    #[test]
    fn the_order_of_circuits_and_devices_changes_nothing(steps in any_steps()) {
        let bay = stairwell();
        let mut turned = bay.clone();
        turned.board.devices.reverse();
        let moved: Vec<_> = turned.circuits.drain(1..).collect();
        turned.circuits.splice(0..0, moved);
        let ids = |bay: &Bay| {
            let found = coverage(bay, &replay(bay, steps.clone())).expect("a coverage");
            let mut ids: Vec<(String, bool)> =
                found.causes.iter().map(|cause| (cause.id(), matches!(cause.found, Found::Missed(_)))).collect();
            ids.sort();
            ids
        };
        prop_assert_eq!(ids(&bay), ids(&turned));
    }
}

#[test]
fn every_cause_has_its_own_identifier_and_says_a_sentence() {
    for bay in [stairwell(), bay(EXTRACTOR), bay(ROSE)] {
        let causes = singles(&bay);
        let ids: std::collections::BTreeSet<String> = causes.iter().map(Fault::id).collect();
        assert_eq!(ids.len(), causes.len());
        assert!(causes.iter().all(|cause| cause.says(&bay).ends_with('.')));
    }
}
