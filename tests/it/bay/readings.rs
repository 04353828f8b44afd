//! The table of expected readings, against readings of an independent circuit simulator.

use super::bays::{ONE_WAY, ROSE, TWO_WAY, bay, changed, stairwell, stairwell_with, with_switches};
use baywitness::bay::readings::{Case, Means, expected};
use baywitness::bay::{Bay, Conductor, Setting};
use serde_json::Value;

/// Impedances of bay and case are alike, not the same: a lamp holder two metres further is no other reading.
const ALIKE_V: f64 = 1.0;

const ROSE_WITH_LAMP: (&str, &str) = ("02-one-way-loop-in", "ROSE");

fn reference(name: &str) -> Value {
    let path = format!("{}/tests/reference/circuits/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).expect("a case")).expect("JSON")
}

/// The settings of the case's switches, in the order of the bay's circuit: the case names the switches between last.
fn settings(state: &Value, count: usize) -> Vec<Setting> {
    let order: &[&str] = match count {
        1 => &["S1"],
        2 => &["S1", "S2"],
        _ => &["S1", "S3", "S2"],
    };
    let of = |id: &&str| match state[*id].as_str().expect("a state") {
        "open" | "1" | "straight" => Setting::First,
        _ => Setting::Second,
    };
    order.iter().map(of).collect()
}

fn read(case: &Case, pairs: &[[Conductor; 2]], settings: &[Setting], pair: [&str; 2]) -> (f64, f64) {
    let stands =
        |way: &Vec<baywitness::bay::setup::SwitchSetting>| way.iter().map(|it| it.setting).eq(settings.iter().copied());
    let row = case.rows.iter().find(|row| row.settings.iter().any(stands)).expect("a row for this setting");
    let is = |it: &[Conductor; 2]| it.iter().all(|one| pair.contains(&one.letters()));
    let reading = row.readings[pairs.iter().position(is).expect("the pair")];
    (reading.volts, reading.unloaded_volts)
}

/// Compares every reading with the lamp out; answers how many there were.
fn compare(bay: &Bay, (name, point): (&str, &str)) -> usize {
    let (case, ours) = (reference(name), expected(bay));
    let count = bay.circuit(&bay.isolate.circuit).expect("the circuit").switches.len();
    let mut compared = 0;
    for configuration in case["configurations"].as_array().expect("configurations") {
        let state = &configuration["state"];
        if state["LP"] != "removed" {
            continue;
        }
        let isolated = state["Q1"] == "open";
        let table = ours.cases.iter().find(|it| it.isolated == isolated && !it.planted).expect("a table");
        for reading in configuration["readings"].as_array().expect("readings") {
            if reading["point"] != point {
                continue;
            }
            let text = |key: &str| reading[key].as_str().expect("text");
            let (loaded, unloaded) = read(table, &ours.pairs, &settings(state, count), [text("a"), text("b")]);
            let volts = if text("indicator") == "lo" { loaded } else { unloaded };
            let of_case = reading["volts"].as_f64().expect("volts");
            assert!((volts - of_case).abs() <= ALIKE_V, "{name} {}: {volts} V, {reading}", configuration["id"]);
            compared += 1;
        }
    }
    compared
}

/// Source: `tests/reference/circuits`, made with ngspice and numpy.
#[test]
fn what_is_expected_is_what_an_independent_simulator_reads() {
    let feed = |switches: &str| format!("02-{switches}-feed-at-switch");
    assert_eq!(compare(&with_switches(ONE_WAY), (&feed("one-way"), "ROSE")), 24);
    assert_eq!(compare(&with_switches(TWO_WAY), (&feed("two-way"), "ROSE")), 48);
    assert_eq!(compare(&stairwell(), (&feed("two-way-intermediate"), "ROSE")), 96);
    assert_eq!(compare(&bay(ROSE), ROSE_WITH_LAMP), 48);
}

/// Every setting stands in one row, and the start in the first.
#[test]
fn settings_that_read_the_same_share_a_row() {
    let ours = expected(&stairwell());
    let [before, after] = &ours.cases[..] else { panic!("two tables") };
    assert_eq!(before.rows.iter().map(|row| row.settings.len()).collect::<Vec<_>>(), [4, 4]);
    assert_eq!(before.rows.iter().map(|row| row.at_start).collect::<Vec<_>>(), [true, false]);
    assert_eq!(after.rows.len(), 1);
    assert!(after.rows[0].every && after.rows[0].settings.len() == 8);
    assert!(after.rows[0].readings.iter().all(|reading| reading.means() == Means::None && reading.whole() == 0));
}

/// Common practice: a pole that stays closed leaves the circuit as it was.
#[test]
fn what_is_planted_has_tables_of_its_own() {
    let planted = "[setup]\nplanted = [{ fault = \"stuck_pole\", device = \"Q2\", pole = \"L\" }]\n\n[isolate]";
    let ours = expected(&stairwell_with(&[("[isolate]", planted)]));
    let seen: Vec<(bool, bool)> = ours.cases.iter().map(|case| (case.planted, case.isolated)).collect();
    assert_eq!(seen, [(false, false), (false, true), (true, false), (true, true)]);
    assert_eq!(ours.cases[3].rows, ours.cases[0].rows);
    assert_ne!(ours.cases[1].rows, ours.cases[0].rows);
}

#[test]
fn a_short_circuit_is_told_and_nothing_is_read() {
    let joined = "[setup]\nplanted = [{ fault = \"crossed_polarity\" }, { fault = \"stuck_pole\", device = \"Q2\", pole = \"L\" }]\n\n[isolate]";
    let shorted = bay(&changed(crate::support::script::STAIRWELL, &[("[isolate]", joined)]));
    for case in expected(&shorted).cases {
        assert_ne!(case.rows.is_empty(), case.why_not.is_none());
    }
}
