//! Laws that hold for every session: property tests over changed flawless sessions and over sessions made at random.

use crate::support::script::{Script, outcome_of, stairwell};
use baywitness::marking::{self, Outcome, VerdictOutcome};
use proptest::prelude::*;
use serde_json::{Value, json};

/// Any one act that the stairwell allows, the clock's own apart.
fn act() -> impl Strategy<Value = Value> {
    let device = prop::sample::select(vec!["Q0", "Q1", "Q2", "Q3"]);
    let conductor = prop::sample::select(vec!["E", "N", "SL"]);
    let instrument = prop::sample::select(vec!["vi-a", "vi-b", "mm-a", "nc-a"]);
    let place = prop::sample::select(vec!["kept", "in_lock", "on_board", "on_table", "handed_over"]);
    prop_oneof![
        (device.clone(), prop::bool::ANY).prop_map(|(device, on)| json!({"kind": "switched", "device": device, "to": if on { "on" } else { "off" }})),
        (conductor.clone(), conductor, prop::sample::select(vec!["none", "live", "tripped"]))
            .prop_filter("two conductors", |(first, second, _)| first != second)
            .prop_map(|(first, second, reading)| json!({"kind": "tested", "point": "lamp", "first": first, "second": second, "reading": reading})),
        instrument.clone().prop_map(|item| json!({"kind": "picked", "item": item})),
        (instrument, prop::sample::select(vec!["all", "some", "nothing"]))
            .prop_map(|(item, shows)| json!({"kind": "proved", "item": item, "on": "proving_unit", "shows": shows})),
        prop::sample::select(vec!["S1", "S2", "S3"]).prop_map(|switch| json!({"kind": "operated", "switch": switch})),
        place.prop_map(|place| json!({"kind": "key", "item": "key-a", "place": place})),
        (device.clone(), prop::bool::ANY).prop_map(|(device, holds)| json!({"kind": "locked", "item": "pl-a", "device": device, "holds": holds})),
        device.prop_map(|device| json!({"kind": "removed", "item": "lo-a", "device": device})),
        prop::sample::select(vec!["opened", "closed", "lamp_out", "lamp_in", "touched"]).prop_map(|kind| json!({"kind": kind, "point": "lamp"})),
        Just(json!({"kind": "declared", "circuit": "stairs"})),
        Just(json!({"kind": "permission_asked", "circuit": "stairs"})),
        Just(json!({"kind": "view_blocked"})),
        Just(json!({"kind": "view_clear"})),
        Just(json!({"kind": "prompted"})),
    ]
}

/// A session at random: some acts at random times, ended or not.
fn session() -> impl Strategy<Value = Script> {
    (prop::collection::vec((1u64..400_000, act()), 0..60), prop::bool::ANY).prop_map(|(acts, ended)| {
        let mut script = Script::started();
        script.0.extend(acts);
        if ended { script.then(400_000, json!({"kind": "ended"})) } else { script }
    })
}

fn rank(outcome: VerdictOutcome) -> u8 {
    match outcome {
        VerdictOutcome::Pass => 0,
        VerdictOutcome::Fail => 1,
        VerdictOutcome::AutomaticFail => 2,
        VerdictOutcome::Unfinished => 3,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn marking_twice_is_identical_to_the_byte(script in session()) {
        let task = stairwell();
        let once = serde_json::to_string(&script.mark(&task)).expect("JSON");
        let twice = serde_json::to_string(&script.mark(&task)).expect("JSON");
        prop_assert_eq!(once, twice);
    }

    #[test]
    fn an_observation_that_is_struck_changes_nothing_but_the_record(
        script in session(), at_ms in 1u64..500_000, act in act(), late in 0u64..100_000,
    ) {
        let task = stairwell();
        let target = Script::id(script.0.len());
        let struck = script.clone().then(at_ms, act).then(at_ms + late, json!({"kind": "struck", "observation": target, "reason": "mis_tap"}));
        prop_assert_eq!(script.mark(&task), struck.mark(&task));
    }

    #[test]
    fn struck_observations_may_stand_in_any_order(script in session(), acts in prop::collection::vec((1u64..400_000, act()), 2..6)) {
        let task = stairwell();
        let with = |acts: &[(u64, Value)]| {
            let mut script = script.clone();
            for (at, act) in acts {
                let target = Script::id(script.0.len());
                script = script.then(*at, act.clone()).then(*at, json!({"kind": "struck", "observation": target, "reason": "twice"}));
            }
            script.mark(&task)
        };
        let reversed: Vec<_> = acts.iter().rev().cloned().collect();
        prop_assert_eq!(with(&acts), with(&reversed));
    }

    #[test]
    fn a_knock_can_only_worsen_an_ended_session(script in session(), at_ms in 1u64..399_999) {
        let task = stairwell();
        let script = script.then(400_000, json!({"kind": "ended"})).then(400_000, json!({"kind": "ticked", "criterion": "tidy", "outcome": "met"}));
        let before = script.mark(&task);
        let after = script.then(at_ms, json!({"kind": "switched", "device": "Q1", "to": "off"})).mark(&task);
        prop_assert!(after.verdict.marks <= before.verdict.marks);
        prop_assert!(rank(after.verdict.outcome) >= rank(before.verdict.outcome));
        prop_assert_eq!(outcome_of(&after, "only-that-device"), Outcome::NotMet);
    }

    #[test]
    fn the_order_of_recording_matters_only_within_one_millisecond(script in session(), seed in any::<u64>()) {
        let task = stairwell();
        let mut spread = script.clone();
        // Distinct times, so that the order of time is the whole order.
        for (at, entry) in spread.0.iter_mut().enumerate().skip(1) {
            entry.0 = entry.0 * 64 + at as u64;
        }
        let marking = spread.mark(&task);
        let mut shuffled = spread.clone();
        let length = shuffled.0.len();
        for at in 1..length {
            let other = 1 + (seed.wrapping_mul(at as u64 + 7) as usize) % (length - 1).max(1);
            shuffled.0.swap(at, other.min(length - 1));
        }
        let again = shuffled.mark(&task);
        prop_assert_eq!(&marking.verdict, &again.verdict);
        let says = |marking: &marking::Marking| marking.findings.iter().map(|f| (f.outcome, f.at_ms, f.says.clone())).collect::<Vec<_>>();
        prop_assert_eq!(says(&marking), says(&again));
    }

    #[test]
    fn marks_and_percentages_stay_in_their_bounds(script in session()) {
        let verdict = script.mark(&stairwell()).verdict;
        prop_assert!(verdict.marks <= verdict.of && verdict.of <= 56);
        prop_assert!((0.0..=100.0).contains(&verdict.percent));
    }
}
