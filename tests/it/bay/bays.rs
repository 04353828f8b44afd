//! Bays for tests, written as task files and read through the program's own reading.

use crate::support::script::STAIRWELL;
use baywitness::bay::network::{self, Shown, State};
use baywitness::bay::{Bay, Conductor, PointId, Setting, SwitchId};
use baywitness::marking::Task;

pub const EXTRACTOR: &str = include_str!("../../../src/demo/tasks/extractor.toml");
pub const ROSE: &str = include_str!("../../../src/demo/tasks/rose.toml");

/// The bay of a task file.
pub fn bay(text: &str) -> Bay {
    Task::read_toml(text).unwrap_or_else(|faults| panic!("{faults}")).bay
}

/// The stairwell: two-way, intermediate, two-way, feed at the switch.
pub fn stairwell() -> Bay {
    bay(STAIRWELL)
}

/// The stairwell with some of its text changed.
pub fn stairwell_with(changes: &[(&str, &str)]) -> Bay {
    bay(&changed(STAIRWELL, changes))
}

pub fn changed(text: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "the task no longer holds {from}");
        text.replacen(from, to, 1)
    })
}

const SWITCHES: &str = r#"switches = [
  { id = "S1", kind = "two_way", label = "Foot of the stairs" },
  { id = "S2", kind = "intermediate", label = "Half landing" },
  { id = "S3", kind = "two_way", label = "Top landing" },
]"#;

/// The stairwell with other switches: a list in TOML.
pub fn with_switches(switches: &str) -> Bay {
    stairwell_with(&[(SWITCHES, &format!("switches = {switches}"))])
}

pub const ONE_WAY: &str = r#"[{ id = "S1", kind = "one_way", label = "Door" }]"#;
pub const TWO_WAY: &str =
    r#"[{ id = "S1", kind = "two_way", label = "Foot" }, { id = "S2", kind = "two_way", label = "Top" }]"#;

/// As set up, with some devices off and the lamp out.
pub fn with_off(bay: &Bay, devices: &[&str]) -> State {
    let mut state = State::set_up(bay);
    state.lamp_in = false;
    for id in devices {
        let id = baywitness::bay::DeviceId::new(id).expect("well formed");
        assert!(bay.device(&id).is_some(), "no {id}");
        state.switch(bay, &id, false);
    }
    state
}

/// Sets the switches of the isolated circuit from the bits of a number.
pub fn set(bay: &Bay, state: &mut State, bits: usize) {
    let switches: Vec<SwitchId> =
        bay.circuit(&bay.isolate.circuit).expect("the circuit").switches.iter().map(|it| it.id.clone()).collect();
    for (at, switch) in switches.iter().enumerate() {
        state.set(bay, switch, if bits >> at & 1 == 0 { Setting::First } else { Setting::Second });
    }
}

/// What shows between two conductors of the point of work.
pub fn volts(bay: &Bay, state: &State, one: Conductor, other: Conductor) -> f64 {
    volts_at(bay, &bay.isolate.point, state, one, other)
}

pub fn volts_at(bay: &Bay, point: &PointId, state: &State, one: Conductor, other: Conductor) -> f64 {
    let shown: Vec<Shown> = network::readings(bay, point, state).expect("a solution");
    let of = |it: &&Shown| it.pair == [one, other] || it.pair == [other, one];
    shown.iter().find(of).unwrap_or_else(|| panic!("no {one}–{other}")).volts
}
