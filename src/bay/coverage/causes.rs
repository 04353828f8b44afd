//! The hidden causes that a task has.

use crate::bay::{Bay, Circuit, CircuitId, Conductor, Fault, Setting, SourceKind, SwitchKind};

/// Every single hidden cause of the circuit to isolate, in a fixed order. Not all of them are dangerous alone.
pub fn singles(bay: &Bay) -> Vec<Fault> {
    let Some(circuit) = bay.circuit(&bay.isolate.circuit) else { return Vec::new() };
    let mut causes = wrong_devices(bay);
    causes.extend(stuck_poles(bay, circuit));
    causes.extend(second_supplies(bay));
    if has_neutral(bay, circuit) {
        causes.push(Fault::CrossedPolarity);
    }
    let other = other_circuit(bay);
    causes.extend(other.iter().flat_map(|from| strappers(circuit, from)));
    if has_neutral(bay, circuit) {
        causes.extend(other.map(|from| Fault::BorrowedNeutral { from }));
        causes.push(Fault::BrokenNeutral);
    }
    causes.push(Fault::LostEarth);
    causes.extend(switches(circuit));
    causes.push(Fault::DeadIndicator);
    causes
}

/// Every two of these faults, by their places; a dead indicator hides everything alone and is left out.
pub fn pairs_of(faults: &[Fault]) -> Vec<[usize; 2]> {
    let places: Vec<usize> = (0..faults.len()).filter(|&at| faults[at] != Fault::DeadIndicator).collect();
    let with_later = |(at, &one): (usize, &usize)| places[at + 1..].iter().map(move |&other| [one, other]);
    places.iter().enumerate().flat_map(with_later).collect()
}

/// Devices of other circuits: a main switch opened instead of the named device isolates too.
fn wrong_devices(bay: &Bay) -> Vec<Fault> {
    let others = bay.board.devices.iter().filter(|device| {
        device.id != bay.isolate.device && device.feeds.as_ref().is_some_and(|fed| *fed != bay.isolate.circuit)
    });
    others.map(|device| Fault::WrongDevice { opened: device.id.clone() }).collect()
}

fn stuck_poles(bay: &Bay, circuit: &Circuit) -> Vec<Fault> {
    let feeding = bay.board.devices.iter().filter(|device| device.feeds.as_ref() == Some(&circuit.id));
    let poles = feeding.flat_map(|device| device.poles.iter().map(move |pole| (device, *pole)));
    poles.map(|(device, pole)| Fault::StuckPole { device: device.id.clone(), pole }).collect()
}

/// The supplies that the task lists besides the mains, or one that it does not.
fn second_supplies(bay: &Bay) -> Vec<Fault> {
    let listed = bay.sources.iter().filter(|source| source.kind != SourceKind::Mains);
    let mut causes: Vec<Fault> = listed.map(|source| Fault::SecondSupply { source: Some(source.id.clone()) }).collect();
    if causes.is_empty() {
        causes.push(Fault::SecondSupply { source: None });
    }
    causes
}

fn strappers(circuit: &Circuit, from: &CircuitId) -> Vec<Fault> {
    let behind = circuit.switches.split_last().map_or(&[][..], |(_, before)| before);
    let both = behind.iter().flat_map(|switch| [1, 2].map(|wire| (switch.id.clone(), wire)));
    both.map(|(behind, wire)| Fault::JoinedStrapper { behind, wire, from: from.clone() }).collect()
}

fn switches(circuit: &Circuit) -> Vec<Fault> {
    let mut causes = Vec::new();
    for switch in &circuit.switches {
        let stuck = |setting| Fault::StuckSwitch { switch: switch.id.clone(), setting };
        causes.extend(Setting::BOTH.map(stuck));
        let contacts = match switch.kind {
            SwitchKind::OneWay => 1,
            SwitchKind::TwoWay => 2,
            SwitchKind::Intermediate => 4,
        };
        causes.extend((1..=contacts).map(|contact| Fault::BrokenContact { switch: switch.id.clone(), contact }));
    }
    causes
}

fn has_neutral(bay: &Bay, circuit: &Circuit) -> bool {
    let feeding = bay.board.devices.iter().filter(|device| device.feeds.as_ref() == Some(&circuit.id));
    feeding.into_iter().any(|device| device.poles.contains(&Conductor::N))
        || circuit.points.iter().any(|point| point.conductors.contains(&Conductor::N))
}

/// The first circuit that is not the one to isolate.
fn other_circuit(bay: &Bay) -> Option<CircuitId> {
    bay.circuits.iter().map(|circuit| &circuit.id).find(|id| **id != bay.isolate.circuit).cloned()
}
