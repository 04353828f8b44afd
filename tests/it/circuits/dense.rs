//! A second method: the same admittances in a dense matrix, solved by the complex LU of nalgebra with the indicator in it.

use super::format::{Bench, file, files};
use baywitness::bay::solve::{LEAKAGE_OHM, Made, Network, Part, Solver};
use nalgebra::{Complex, DMatrix, DVector};

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
