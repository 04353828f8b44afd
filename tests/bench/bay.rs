//! How long the bay's network takes: `cargo bench --bench bay`.
//!
//! The bar: all pairs × all settings × 40 hidden causes, for 12 devices and 3 switches, in 10 ms on one core.

use baywitness::bay::coverage::{self, Replay, Step, of, singles};
use baywitness::bay::network::{State, Wired};
use baywitness::bay::plan::pairs;
use baywitness::bay::{Bay, Fault};
use baywitness::marking::Task;
use divan::{Bencher, black_box};
use std::fmt::Write;

const STAIRWELL: &str = include_str!("../reference/examples/stairwell.toml");

fn main() {
    divan::main();
}

/// The stairwell with so many devices, each with its circuit, and so many switches.
fn bay(devices: usize, switches: usize) -> Bay {
    let mut text = STAIRWELL.to_owned();
    let from = text.find("switches = [\n").expect("switches");
    let until = from + text[from..].find("\n]").expect("their end") + 2;
    let kind = |at| {
        if switches == 1 {
            "one_way"
        } else if at == 0 || at + 1 == switches {
            "two_way"
        } else {
            "intermediate"
        }
    };
    let list: Vec<String> =
        (0..switches).map(|at| format!("{{ id = \"S{at}\", kind = \"{}\", label = \"S{at}\" }}", kind(at))).collect();
    text.replace_range(from..until, &format!("switches = [{}]", list.join(", ")));
    let (mut boards, mut circuits) = (String::new(), String::new());
    for at in 4..devices {
        let _ = write!(
            boards,
            "[[board.devices]]\nid = \"Q{at}\"\nkind = \"breaker\"\npoles = [\"L\"]\nlabel = \"Way {at}\"\nfeeds = \"way{at}\"\n\n"
        );
        let _ = write!(
            circuits,
            "[[circuits]]\nid = \"way{at}\"\nlabel = \"Way {at}\"\nwiring = \"radial\"\nswitches = []\npoints = [{{ id = \"p{at}\", kind = \"socket\", label = \"Socket {at}\", conductors = [\"L\", \"N\", \"E\"] }}]\n\n"
        );
    }
    let text = text.replacen("[[circuits]]", &format!("{boards}[[circuits]]"), 1).replacen(
        "[isolate]",
        &format!("{circuits}[isolate]"),
        1,
    );
    Task::read_toml(&text).unwrap_or_else(|faults| panic!("{faults}")).bay
}

/// Every pair once, and again after each switch.
fn replay(bay: &Bay) -> Replay {
    let point = bay.point(&bay.isolate.point).expect("the point");
    let circuit = bay.circuit(&bay.isolate.circuit).expect("the circuit");
    let round = || pairs(point).into_iter().map(|pair| Step::Test { pair, lamp_in: false });
    let thrown =
        circuit.switches.iter().flat_map(|switch| std::iter::once(Step::Throw(switch.id.clone())).chain(round()));
    let mut state = State::set_up(bay);
    state.switch(bay, &bay.isolate.device, false);
    state.lamp_in = false;
    Replay { state, steps: round().chain(thrown).collect(), proved: true }
}

/// So many causes: those of the bay, and more devices that may be the wrong one.
fn causes(bay: &Bay, count: usize) -> Vec<Fault> {
    let all = singles(bay);
    assert!(all.len() >= count, "{} causes, {count} wanted", all.len());
    all.into_iter().take(count).collect()
}

fn cover(bencher: Bencher, bay: &Bay, count: usize) {
    let replay = replay(bay);
    let faults = causes(bay, count);
    let sets: Vec<Vec<usize>> = (0..faults.len()).map(|at| vec![at]).collect();
    bencher.bench(|| of(black_box(bay), &replay, &faults, &sets).expect("a coverage"));
}

/// The bar: 12 devices with 3 switches have 35 causes of their own; 17 devices have 40.
#[divan::bench]
fn coverage_12_devices_3_switches_all_causes(bencher: Bencher) {
    let bay = bay(12, 3);
    let count = singles(&bay).len();
    cover(bencher, &bay, count);
}

#[divan::bench(args = [10, 20, 40])]
fn growth_with_causes(bencher: Bencher, count: usize) {
    cover(bencher, &bay(17, 3), count);
}

#[divan::bench(args = [6, 12, 24, 48])]
fn growth_with_devices_20_causes(bencher: Bencher, devices: usize) {
    cover(bencher, &bay(devices, 3), 20);
}

#[divan::bench(args = [1, 2, 3, 4, 5, 6])]
fn growth_with_switches_12_causes(bencher: Bencher, switches: usize) {
    cover(bencher, &bay(12, switches), 12);
}

#[divan::bench]
fn pairs_of_causes_stairwell(bencher: Bencher) {
    let bay = bay(4, 3);
    let replay = replay(&bay);
    bencher.bench(|| coverage::coverage_of_pairs(black_box(&bay), &replay).expect("a coverage"));
}

#[divan::bench(args = [4, 12, 48])]
fn wire_and_compile(bencher: Bencher, devices: usize) {
    let bay = bay(devices, 3);
    let faults = singles(&bay);
    bencher.bench(|| Wired::new(black_box(&bay), &faults).expect("a network"));
}
