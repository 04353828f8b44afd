//! Why tests are needed: the known results on switches, and a fault for each pair.
//!
//! Source: `tests/reference/circuits` and the search over all walks, starts and faults made with it: healthy switches ask
//! for one throw of any switch, one stuck for two of different switches, one broken contact for S1, S2, S1 at the two end
//! switches, and none where the line is permanent.

use super::bays::{EXTRACTOR, ONE_WAY, ROSE, TWO_WAY, bay, stairwell, with_switches};
use baywitness::bay::plan::{Assumed, Rounds, changing, fewest_throws, pair_reasons, pairs, plan, reasons};
use baywitness::bay::{Bay, Fault};

fn walks(bay: &Bay, assumed: Assumed) -> Vec<String> {
    let found = fewest_throws(bay, assumed).expect("a network");
    found.walks.iter().map(|walk| walk.iter().map(|id| id.as_str()).collect::<Vec<_>>().join(" ")).collect()
}

#[test]
fn with_healthy_switches_one_throw_of_any_switch_is_enough() {
    assert_eq!(walks(&stairwell(), Assumed::Healthy), ["S1", "S2", "S3"]);
    assert_eq!(walks(&with_switches(TWO_WAY), Assumed::Healthy), ["S1", "S2"]);
    assert_eq!(walks(&with_switches(ONE_WAY), Assumed::Healthy), ["S1"]);
}

#[test]
fn with_one_stuck_two_throws_of_different_switches_are_needed() {
    assert_eq!(walks(&stairwell(), Assumed::OneStuck), ["S1 S2", "S1 S3", "S2 S1", "S2 S3", "S3 S1", "S3 S2"]);
}

#[test]
fn with_one_broken_contact_the_end_switches_go_through_their_four_settings() {
    assert_eq!(walks(&stairwell(), Assumed::OneBrokenContact), ["S1 S3 S1", "S3 S1 S3"]);
    assert_eq!(walks(&with_switches(TWO_WAY), Assumed::OneBrokenContact), ["S1 S2 S1", "S2 S1 S2"]);
}

#[test]
fn where_the_line_is_permanent_no_throw_is_needed() {
    for assumed in [Assumed::Healthy, Assumed::OneStuck, Assumed::OneBrokenContact] {
        assert_eq!(walks(&bay(ROSE), assumed), [""]);
        assert_eq!(walks(&bay(EXTRACTOR), assumed), [""]);
    }
}

#[test]
fn every_switch_of_the_circuit_changes_what_is_live() {
    let names = |bay: &Bay| changing(bay).expect("a network").iter().map(ToString::to_string).collect::<Vec<_>>();
    assert_eq!(names(&stairwell()), ["S1", "S2", "S3"]);
    assert_eq!(names(&bay(ROSE)), ["S1"], "the pairs with SL change, those with L do not");
    assert!(names(&bay(EXTRACTOR)).is_empty());
}

#[test]
fn each_pair_has_a_fault_that_it_alone_shows() {
    for bay in [stairwell(), bay(ROSE), bay(EXTRACTOR)] {
        let point = bay.point(&bay.isolate.point).expect("the point");
        let reasons = pair_reasons(&bay).expect("a network");
        let named: Vec<_> = reasons.iter().map(|reason| reason.pair).collect();
        assert_eq!(named, pairs(point));
        for reason in &reasons {
            println!("{}–{}: {}", reason.pair[0], reason.pair[1], reason.says);
            assert!(reason.faults.len() <= 2 && reason.says.ends_with('.'));
        }
    }
    let stairwell = pair_reasons(&stairwell()).expect("a network");
    assert_eq!(stairwell[0].faults, [Fault::CrossedPolarity], "E–N alone shows a live neutral");
    assert!(stairwell.iter().all(|reason| !matches!(reason.faults[..], [Fault::FloatingSupply { .. }])));
}

#[test]
fn the_reasons_print_as_json() {
    let printed = serde_json::to_value(reasons(&stairwell()).expect("a network")).expect("JSON");
    assert_eq!(printed["exposing"][0]["assumed"], "healthy");
    assert_eq!(printed["pairs"][0]["faults"][0]["fault"], "crossed_polarity");
}

#[test]
fn the_minimum_of_rounds_is_what_the_network_asks_for() {
    for bay in [stairwell(), with_switches(ONE_WAY), with_switches(TWO_WAY), bay(ROSE), bay(EXTRACTOR)] {
        let found = fewest_throws(&bay, Assumed::Healthy).expect("a network");
        let rounds = plan(&bay, Rounds::Minimum).rounds as usize;
        assert_eq!(found.walks.first().map(|walk| walk.len() + 1), Some(rounds), "{}", bay.isolate.circuit);
    }
}
