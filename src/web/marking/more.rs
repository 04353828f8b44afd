//! Acts that are rare: one tap further away, so that the page stays still.

use super::state::State;
use super::tiles::Tile;
use crate::bay::DeviceId;
use crate::marking::observation::{Control, ControlResult, PauseReason};
use crate::marking::{Act, Task};

/// Rare acts that belong together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    pub title: &'static str,
    pub tiles: Vec<Tile>,
}

/// Every group that the task has something for.
pub fn groups(task: &Task, state: &State) -> Vec<Group> {
    let groups = [
        Group { title: "Clock and view", tiles: clock_and_view(state) },
        Group { title: "Before switching", tiles: before_switching(task) },
        Group { title: "Tries what was isolated", tiles: controls(task, state) },
        Group { title: "Other points", tiles: other_points(task, state) },
        Group { title: "Other switches", tiles: other_switches(task) },
    ];
    groups.into_iter().filter(|group| !group.tiles.is_empty()).collect()
}

fn clock_and_view(state: &State) -> Vec<Tile> {
    let pause = |label, reason| Tile::new(label, &[Act::Paused { reason, text: None }]);
    let mut tiles = if state.paused_since.is_some() {
        vec![Tile::new("Start the clock again", &[Act::Resumed])]
    } else {
        vec![
            pause("Stop the clock: alarm", PauseReason::Alarm),
            pause("Stop the clock: equipment", PauseReason::Equipment),
            pause("Stop the clock: unwell", PauseReason::Unwell),
            pause("Stop the clock: other", PauseReason::Other),
        ]
    };
    tiles.push(if state.view_blocked {
        Tile::new("View clear again", &[Act::ViewClear])
    } else {
        Tile::new("View blocked", &[Act::ViewBlocked])
    });
    tiles.push(Tile::new("I gave help", &[Act::Prompted { text: None }]));
    tiles
}

fn before_switching(task: &Task) -> Vec<Tile> {
    let circuit = &task.bay.isolate.circuit;
    let mut tiles = vec![Tile::new("Takes the load off", &[Act::LoadOff { circuit: circuit.clone() }])];
    let names = |source: &crate::bay::Source| {
        Tile::new(format!("Names {}", source.label), &[Act::SourceListed { source: source.id.clone() }])
    };
    tiles.extend(task.bay.sources.iter().map(names));
    tiles
}

fn controls(task: &Task, state: &State) -> Vec<Tile> {
    let device: &DeviceId = state.device(task);
    let tried = |label: String, control: Control, result| Tile::new(label, &[Act::ControlTried { control, result }]);
    let mut tiles = vec![
        tried(format!("Tries {device}: nothing"), Control::Device(device.clone()), ControlResult::Nothing),
        tried(format!("Tries {device}: it starts"), Control::Device(device.clone()), ControlResult::Started),
    ];
    if let Some(switch) = task.bay.circuit(&task.bay.isolate.circuit).and_then(|circuit| circuit.switches.first()) {
        let control = || Control::Switch(switch.id.clone());
        tiles.push(tried(format!("Tries {}: nothing", switch.id), control(), ControlResult::Nothing));
        tiles.push(tried(format!("Tries {}: it lights", switch.id), control(), ControlResult::Started));
    }
    tiles
}

fn other_points(task: &Task, state: &State) -> Vec<Tile> {
    let others = task.bay.points().filter(|point| point.id != *state.point(task));
    let opens = |point: &crate::bay::Point| {
        Tile::new(format!("Opens {}", point.label), &[Act::Opened { point: point.id.clone() }])
    };
    others.map(opens).collect()
}

fn other_switches(task: &Task) -> Vec<Tile> {
    let others = task.bay.circuits.iter().filter(|circuit| circuit.id != task.bay.isolate.circuit);
    let throws = |switch: &crate::bay::Switch| {
        Tile::new(format!("{} {}", switch.id, switch.label), &[Act::Operated { switch: switch.id.clone() }])
    };
    others.flat_map(|circuit| &circuit.switches).map(throws).collect()
}
