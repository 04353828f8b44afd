//! The tests a complete proof needs: pairs of conductors, and rounds at different settings of the switches.

mod reasons;

pub use reasons::{Assumed, Exposing, PairReason, Reasons, changing, fewest_throws, pair_reasons, reasons};

use super::{Bay, Circuit, Conductor, Point};
use serde::{Deserialize, Serialize};

/// How many rounds of pair tests a checklist asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rounds {
    /// As found, and again after each switch is thrown once.
    #[default]
    EachSwitch,
    /// The fewest that expose a healthy switching arrangement.
    Minimum,
    /// Every setting of the switches.
    EverySetting,
}

/// The tests a complete proof needs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Plan {
    /// Every pair of the conductors at the point, the less dangerous conductor first.
    pub pairs: Vec<[Conductor; 2]>,
    /// How many times every pair is tested.
    pub rounds: u32,
}

/// The plan for the point of work of a bay.
pub fn plan(bay: &Bay, rounds: Rounds) -> Plan {
    let point = bay.point(&bay.isolate.point);
    let circuit = bay.circuit(&bay.isolate.circuit);
    Plan {
        pairs: point.map(pairs).unwrap_or_default(),
        rounds: circuit.zip(point).map_or(1, |(circuit, point)| round_count(circuit, point, rounds)),
    }
}

/// Every pair of the conductors at a point: n(n−1)/2 of them, the less dangerous conductor first (counting; trade fact
/// C01). The first conductor keeps its place while the second runs on, so that the hand learns one order.
pub fn pairs(point: &Point) -> Vec<[Conductor; 2]> {
    let mut conductors = point.conductors.clone();
    conductors.sort();
    let mut pairs = Vec::with_capacity(conductors.len() * conductors.len().saturating_sub(1) / 2);
    for (at, &first) in conductors.iter().enumerate() {
        pairs.extend(conductors[at + 1..].iter().map(|&second| [first, second]));
    }
    pairs
}

/// How many rounds the switches of a circuit ask for at a point.
///
/// With healthy switches one operation of any of them changes whether the switched line is live (the two-way and
/// intermediate truth tables), so two rounds are the fewest; where the permanent line reaches the point it shows in
/// every setting, and one round is enough.
pub fn round_count(circuit: &Circuit, point: &Point, rounds: Rounds) -> u32 {
    let switches = u32::try_from(circuit.switches.len()).unwrap_or(u32::MAX);
    match rounds {
        Rounds::EachSwitch => switches.saturating_add(1),
        Rounds::EverySetting => 1u32.checked_shl(switches).unwrap_or(u32::MAX),
        Rounds::Minimum if switches == 0 || has_permanent_line(point) => 1,
        Rounds::Minimum => 2,
    }
}

fn has_permanent_line(point: &Point) -> bool {
    point.conductors.iter().any(|&conductor| conductor.is_line() && conductor != Conductor::Sl)
}
