//! What is odd about a solved state although it has a solution.

use super::merge::{groups, is_ideal};
use super::{Branch, Complex, Made, Network, NodeId, OVERCURRENT_A, Part, Solved};

/// Something to know before a reading of a solved state is believed.
#[derive(Debug, Clone, PartialEq)]
pub enum Report {
    /// A source feeds a short circuit: a protective device would have opened, so 0 V there proves nothing.
    Overcurrent { source: String, amps: f64 },
    /// Nodes without any conducting way to the reference; capacitors do not count as one.
    Floating { nodes: Vec<NodeId> },
}

impl Solved<'_, '_> {
    /// Sources above [`OVERCURRENT_A`] in the order of adding, then the islands.
    pub fn reports(&self) -> Vec<Report> {
        let network = self.solver.network();
        let volts = self.voltages();
        let mut reports = Vec::new();
        for branch in branches(network, self.made) {
            let Part::Source { volts: emf, deg, series_ohm } = branch.part else { continue };
            let amps = if series_ohm == 0.0 {
                ideal_current(network, self.made, &volts, branch).abs()
            } else {
                let across = volts[branch.a.at()] - volts[branch.b.at()];
                (Complex::polar(emf, deg) - across).abs() / series_ohm
            };
            if amps > OVERCURRENT_A {
                reports.push(Report::Overcurrent { source: branch.name.clone(), amps });
            }
        }
        reports.extend(islands(network, self.made).into_iter().map(|nodes| Report::Floating { nodes }));
        reports
    }
}

fn branches<'n>(network: &'n Network, made: &'n Made) -> impl Iterator<Item = &'n Branch> {
    made.places().filter_map(|at| network.branches().get(at))
}

/// Groups of nodes with no conducting way to the reference, each in the order of adding.
fn islands(network: &Network, made: &Made) -> Vec<Vec<NodeId>> {
    let conducts = |part: Part| !matches!(part, Part::Capacitor { .. } | Part::Load { ohm: 0.0, .. });
    let pairs = branches(network, made).filter(|branch| conducts(branch.part)).map(|branch| (branch.a, branch.b));
    let mut islands = groups(network.node_count(), pairs);
    islands.retain(|island| !island.contains(&NodeId::REFERENCE));
    islands
}

/// What an ideal source delivers: all that leaves the side of its `a`, once the source itself is taken away.
fn ideal_current(network: &Network, made: &Made, volts: &[Complex], source: &Branch) -> Complex {
    let ideal = branches(network, made).filter(|branch| is_ideal(branch.part) && !std::ptr::eq(*branch, source));
    let sides = groups(network.node_count(), ideal.map(|branch| (branch.a, branch.b)));
    let Some(side) = sides.into_iter().find(|side| side.contains(&source.a)) else { return Complex::ZERO };
    let mut current = Complex::ZERO;
    for branch in branches(network, made) {
        let Some(admittance) = network.admittance(branch.part) else { continue };
        let emf = match branch.part {
            Part::Source { volts, deg, .. } => Complex::polar(volts, deg),
            _ => Complex::ZERO,
        };
        let along = admittance * (volts[branch.a.at()] - volts[branch.b.at()] - emf);
        match (side.contains(&branch.a), side.contains(&branch.b)) {
            (true, false) => current += along,
            (false, true) => current -= along,
            _ => {}
        }
    }
    current
}
