//! Laws of linear networks, on the 200 random networks of the reference cases.

use super::format::{Bench, Case, Element, ElementKind, State, file};
use baywitness::bay::solve::{Port, Solver};

/// The first configuration of each network, and the ports between its first nodes.
fn ports(case: &Case) -> Vec<Port> {
    let bench = Bench::new(case);
    let mut solver = Solver::new(&bench.compiled);
    let configuration = &case.configurations[0];
    let made = bench.made(&configuration.state, &configuration.hazards).expect("no contradiction");
    let mut solved = solver.solve(&made).expect("a solution");
    let pairs = configuration.readings.iter();
    pairs.map(|reading| solved.between(bench.node(&reading.a), bench.node(&reading.b))).collect()
}

fn readings(case: &Case) -> Vec<f64> {
    ports(case).iter().flat_map(|port| [port.reading(200_000.0), port.reading(7_000.0)]).collect()
}

/// Compares the readings of every network with those of a changed one.
fn each(change: impl Fn(&mut Case), scale: f64, tolerance: f64) {
    let networks = file("08-random.json");
    assert_eq!(networks.len(), 200);
    for case in networks {
        let mut changed = case.clone();
        change(&mut changed);
        let (before, after) = (readings(&case), readings(&changed));
        assert!(!before.is_empty());
        for (before, after) in before.iter().zip(&after) {
            assert!(before.is_finite() && *before >= 0.0, "{}: {before}", case.id);
            assert!((before * scale - after).abs() <= tolerance, "{}: {before} became {after}", case.id);
        }
    }
}

fn sources(case: &mut Case) -> impl Iterator<Item = (&mut f64, &mut f64)> {
    case.elements.iter_mut().filter_map(|element| match &mut element.kind {
        ElementKind::Source { volts, deg, .. } => Some((volts, deg)),
        _ => None,
    })
}

fn link(id: &str, [a, b]: [&str; 2], ohm: f64, closed: bool) -> Element {
    Element { id: id.into(), a: a.into(), b: b.into(), kind: ElementKind::Link { ohm, closed } }
}

#[test]
fn swapping_the_probes_changes_nothing() {
    let swap = |case: &mut Case| {
        for reading in &mut case.configurations[0].readings {
            std::mem::swap(&mut reading.a, &mut reading.b);
        }
    };
    each(swap, 1.0, 1e-9);
}

#[test]
fn scaling_every_source_scales_every_reading() {
    each(|case| sources(case).for_each(|(volts, _)| *volts *= -2.5), 2.5, 1e-4);
}

#[test]
fn turning_every_source_by_the_same_angle_changes_nothing() {
    each(|case| sources(case).for_each(|(_, deg)| *deg += 77.0), 1.0, 1e-4);
}

#[test]
fn the_order_and_the_names_of_nodes_and_elements_change_nothing() {
    let turn = |case: &mut Case| {
        case.nodes.reverse();
        case.elements.reverse();
        case.devices.reverse();
        for element in &mut case.elements {
            std::mem::swap(&mut element.a, &mut element.b);
            element.id.push_str("-renamed");
            if let ElementKind::Source { volts, .. } = &mut element.kind {
                *volts = -*volts;
            }
        }
    };
    each(turn, 1.0, 1e-4);
}

#[test]
fn an_open_link_changes_nothing() {
    let add = |case: &mut Case| {
        let (a, b) = (case.nodes[1].clone(), case.nodes[case.nodes.len() - 1].clone());
        case.elements.push(link("spare", [&a, &b], 0.1, false));
    };
    each(add, 1.0, 1e-4);
}

#[test]
fn a_link_split_in_two_changes_no_more_than_the_leakage_of_its_middle() {
    let split = |case: &mut Case| {
        let at = case.elements.iter().position(|it| matches!(it.kind, ElementKind::Link { closed: true, .. }));
        let Some(at) = at else { return };
        let old = case.elements.remove(at);
        let ElementKind::Link { ohm, .. } = old.kind else { return };
        case.nodes.push("middle".into());
        case.elements.push(link("first half", [&old.a, "middle"], ohm / 2.0, true));
        case.elements.push(link("second half", ["middle", &old.b], ohm / 2.0, true));
    };
    // Up to 400 V behind 1e9 ohm into 200,000 ohm, and a floating node may stand at the middle's side.
    each(split, 1.0, 0.2);
}

#[test]
fn superposition_each_source_alone_adds_up_to_all_together() {
    for case in file("08-random.json").iter().take(100) {
        let whole = ports(case);
        let mut sum = vec![(0.0, 0.0); whole.len()];
        let count = sources(&mut case.clone()).count();
        for kept in 0..count {
            let mut alone = case.clone();
            sources(&mut alone).enumerate().filter(|(at, _)| *at != kept).for_each(|(_, (volts, _))| *volts = 0.0);
            for (sum, port) in sum.iter_mut().zip(ports(&alone)) {
                *sum = (sum.0 + port.open.re, sum.1 + port.open.im);
            }
        }
        for (port, (re, im)) in whole.iter().zip(sum) {
            assert!((port.open.re - re).hypot(port.open.im - im) < 1e-3, "{}: {port:?} {re} {im}", case.id);
        }
    }
}

#[test]
fn the_reading_follows_from_open_voltage_and_source_impedance() {
    for case in file("08-random.json") {
        let bench = Bench::new(&case);
        for configuration in case.configurations.iter().take(1) {
            let state: &State = &configuration.state;
            for reading in configuration.readings.iter().take(4) {
                // The indicator as a branch of the network, read by one that draws next to nothing.
                let mut with = case.clone();
                let ohm = case.indicators[&reading.indicator];
                let kind = ElementKind::Load { ohm, reactance_ohm: 0.0 };
                with.elements.push(Element {
                    id: "indicator".into(),
                    a: reading.a.clone(),
                    b: reading.b.clone(),
                    kind,
                });
                let connected = Bench::new(&with);
                let volts = |bench: &Bench, ohm: f64| {
                    let made = bench.made(state, &[]).expect("no contradiction");
                    let (a, b) = (bench.node(&reading.a), bench.node(&reading.b));
                    Solver::new(&bench.compiled).solve(&made).expect("a solution").reading(a, b, ohm)
                };
                let (from_port, direct) = (volts(&bench, ohm), volts(&connected, 1e15));
                assert!((from_port - direct).abs() < 1e-3, "{}: {from_port} {direct}", case.id);
            }
        }
    }
}
