//! A second method: the same admittances in a dense matrix, solved by the complex LU of nalgebra with the indicator in it.

use super::format::{Bench, file, files};
use baywitness::bay::solve::{Compiled, LEAKAGE_OHM, Made, Network, NodeId, Part, Solver};
use nalgebra::{Complex, DMatrix, DVector};
use proptest::prelude::*;

/// Volts between two nodes with an indicator of so many ohms connected.
pub fn dense(network: &Network, made: &[bool], places: [usize; 2], ohm: f64) -> f64 {
    let unknowns = network.node_count() - 1;
    let mut matrix = DMatrix::from_diagonal_element(unknowns, unknowns, Complex::new(1.0 / LEAKAGE_OHM, 0.0));
    let mut currents = DVector::from_element(unknowns, Complex::new(0.0, 0.0));
    let mut stamp = |[a, b]: [usize; 2], admittance: Complex<f64>, emf: Complex<f64>| {
        for (one, other, sign) in [(a, b, 1.0), (b, a, -1.0)] {
            if one > 0 {
                matrix[(one - 1, one - 1)] += admittance;
                currents[one - 1] += admittance * emf * sign;
                if other > 0 {
                    matrix[(one - 1, other - 1)] -= admittance;
                }
            }
        }
    };
    for (branch, _) in network.branches().iter().zip(made).filter(|(_, made)| **made) {
        let (impedance, emf) = match branch.part {
            Part::Link { ohm } => (Complex::new(ohm, 0.0), Complex::new(0.0, 0.0)),
            Part::Load { ohm, reactance_ohm } => (Complex::new(ohm, reactance_ohm), Complex::new(0.0, 0.0)),
            Part::Capacitor { nf } => {
                (Complex::new(0.0, -1.0 / (std::f64::consts::TAU * 50.0 * nf * 1e-9)), Complex::new(0.0, 0.0))
            }
            Part::Source { volts, deg, series_ohm } => {
                (Complex::new(series_ohm, 0.0), Complex::from_polar(volts, deg.to_radians()))
            }
        };
        stamp([branch.a.at(), branch.b.at()], impedance.inv(), emf);
    }
    stamp(places, Complex::new(1.0 / ohm, 0.0), Complex::new(0.0, 0.0));
    let solved = matrix.lu().solve(&currents).expect("a regular matrix");
    let volts = |at: usize| if at == 0 { Complex::new(0.0, 0.0) } else { solved[at - 1] };
    (volts(places[0]) - volts(places[1])).norm()
}

/// Which branches of a network are made.
pub fn bits(network: &Network, made: &Made) -> Vec<bool> {
    network.branch_ids().map(|branch| made.has(branch)).collect()
}

#[test]
fn the_sparse_solution_agrees_with_a_dense_one() {
    let (mut compared, mut worst) = (0, 0.0_f64);
    for name in files().iter().filter(|name| !name.starts_with("09-")) {
        // The degenerate networks are singular in a dense matrix; of the full bay some states are enough.
        let step = if name.starts_with("11-") { 40 } else { 4 };
        for case in file(name) {
            let bench = Bench::new(&case);
            let network = bench.compiled.network();
            let mut solver = Solver::new(&bench.compiled);
            for configuration in case.configurations.iter().step_by(step) {
                let made = bench.made(&configuration.state, &configuration.hazards).expect("no contradiction");
                let bits = bits(network, &made);
                let mut solved = solver.solve(&made).expect("a solution");
                for reading in configuration.readings.iter().step_by(5) {
                    let node = |end: &String| match &reading.point {
                        Some(point) => bench.node(&case.point(point)[end]),
                        None => bench.node(end),
                    };
                    let (a, b) = (node(&reading.a), node(&reading.b));
                    let ohm = case.indicators[&reading.indicator];
                    let other = dense(network, &bits, [a.at(), b.at()], ohm);
                    worst = worst.max((solved.reading(a, b, ohm) - other).abs());
                    compared += 1;
                }
            }
        }
    }
    println!("{compared} readings, largest deviation {worst:.1e} V");
    assert!(compared > 1_000, "{compared}");
    assert!(worst < 1e-4, "{worst}");
}

/// A random network: parts between random nodes, each made or not.
fn any_network() -> impl Strategy<Value = (Vec<(usize, usize, Part, bool)>, usize)> {
    let ohm = || prop_oneof![0.001..1.0_f64, 1.0..1e4_f64];
    let part = prop_oneof![
        4 => ohm().prop_map(|ohm| Part::Link { ohm }),
        2 => (ohm(), -500.0..500.0_f64).prop_map(|(ohm, reactance_ohm)| Part::Load { ohm, reactance_ohm }),
        1 => (0.1..100.0_f64).prop_map(|nf| Part::Capacitor { nf }),
        2 => (1.0..400.0_f64, -180.0..180.0_f64, 0.05..5.0_f64)
            .prop_map(|(volts, deg, series_ohm)| Part::Source { volts, deg, series_ohm }),
    ];
    (2..14usize).prop_flat_map(move |nodes| {
        let branch = (0..nodes, 0..nodes, part.clone(), any::<bool>());
        (proptest::collection::vec(branch, 0..40), Just(nodes))
    })
}

proptest! {
    #[test]
    fn random_networks_agree_with_a_dense_solution((parts, count) in any_network()) {
        let mut network = Network::new(50.0, "reference");
        let mut nodes = vec![NodeId::REFERENCE];
        nodes.extend((1..count).map(|at| network.node(format!("n{at}"))));
        let mut made = Vec::new();
        for (a, b, part, stands) in parts {
            made.push((network.branch("part", nodes[a], nodes[b], part).expect("a sound part"), stands));
        }
        let bits: Vec<bool> = made.iter().map(|(_, stands)| *stands).collect();
        let mut state = network.nothing_made();
        made.iter().for_each(|(branch, stands)| state.set(*branch, *stands));
        let compiled = Compiled::new(network.clone());
        let mut solver = Solver::new(&compiled);
        let mut solved = solver.solve(&state).expect("a solution");
        for a in 0..count {
            let b = (a + 1) % count;
            if a == b { continue }
            let ours = solved.reading(nodes[a], nodes[b], 7_000.0);
            let other = dense(&network, &bits, [a, b], 7_000.0);
            prop_assert!(ours.is_finite() && ours >= 0.0);
            prop_assert!((ours - other).abs() < 1e-3, "{ours} {other}");
            prop_assert!((ours - solved.reading(nodes[b], nodes[a], 7_000.0)).abs() < 1e-9);
        }
    }
}
