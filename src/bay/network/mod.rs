//! The bay as an electrical network in a given state.
//!
//! [`Wired::new`] lays out the supply, the board, every circuit and the branches of the faults that may be asked for;
//! [`Wired::made`] says which of them are made in one [`State`]. What an indicator shows then follows from
//! [`super::solve`].
//!
//! The impedances are plausible sizes, the same as those of the reference cases (`tests/reference/circuits/README.md`):
//! 0.15 Ω in the supply and its neutral, 0.01 to 0.2 Ω in conductors, 2 mΩ in a pole, 10 mΩ in a switch. No reading of
//! interest hinges on them.
//!
//! Not modelled: the operation of protective devices, residual currents, lamps that are not linear, motors still
//! turning.

mod board;
mod faults;
mod state;
mod wiring;

pub use state::State;

use super::solve::{BranchId, Compiled, Made, Network, NodeId, Part, Report, Solver, Unsolvable};
use super::{Bay, CircuitId, Conductor, DeviceId, Fault, PointId, Setting, SourceId, SwitchId};
use faults::Effect;

/// Mains frequency of a set of national practice, in hertz.
fn frequency(bay: &Bay) -> f64 {
    match bay.standards {
        super::Standards::Us => 60.0,
        _ => 50.0,
    }
}

/// Why no network can be made of a bay: the element and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, serde::Serialize)]
#[error("`{element}`: {says}")]
pub struct Unbuildable {
    pub element: String,
    pub says: String,
}

impl Unbuildable {
    fn new(element: impl ToString, says: impl Into<String>) -> Self {
        Self { element: element.to_string(), says: says.into() }
    }
}

impl From<Unsolvable> for Unbuildable {
    fn from(why: Unsolvable) -> Self {
        match why {
            Unsolvable::Part { branch, says } => Self::new(branch, says),
            Unsolvable::IdealSourceLoop(source) => Self::new(source, "nothing limits the current of this source"),
            Unsolvable::Conflict(thing) => Self::new(thing, "two faults contradict each other here"),
        }
    }
}

/// Nodes by the conductor that leads to them.
pub type Ends = Vec<(Conductor, NodeId)>;

fn end(ends: &Ends, conductor: Conductor) -> Option<NodeId> {
    ends.iter().find(|(there, _)| *there == conductor).map(|(_, node)| *node)
}

fn first_line(ends: &Ends) -> Option<(Conductor, NodeId)> {
    ends.iter().find(|(conductor, _)| conductor.is_line()).copied()
}

/// A device with the contact of each pole.
#[derive(Debug, Clone)]
struct Poles {
    device: DeviceId,
    contacts: Vec<(Conductor, BranchId)>,
}

/// A switch with its contacts and the setting in which each is made.
#[derive(Debug, Clone)]
struct Contacts {
    switch: SwitchId,
    contacts: Vec<(BranchId, Setting)>,
}

/// A bay as a network, ready for every state and for the faults it was made with.
#[derive(Debug, Clone)]
pub struct Wired {
    compiled: Compiled,
    /// Conductors that are whole unless a fault opens them.
    always: Made,
    /// In the order of the board.
    devices: Vec<Poles>,
    /// In the order of the circuits and their switches.
    switches: Vec<Contacts>,
    /// The lamp at the point of work.
    lamp: Option<BranchId>,
    /// Appliances and motors.
    loads: Vec<BranchId>,
    points: Vec<(PointId, Ends)>,
    faults: Vec<Vec<Effect>>,
}

/// A network while it is laid out.
struct Build<'b> {
    bay: &'b Bay,
    network: Network,
    always: Vec<BranchId>,
    earth_bar: NodeId,
    bus: Ends,
    devices: Vec<Poles>,
    switches: Vec<Contacts>,
    lamp: Option<BranchId>,
    loads: Vec<BranchId>,
    points: Vec<(PointId, Ends)>,
    /// Where each circuit leaves the board, behind its devices.
    starts: Vec<(CircuitId, Ends)>,
    /// Where the line and the neutral of the isolated circuit reach its device: the link from the bar and its far end.
    feeds: Vec<(Conductor, BranchId, NodeId)>,
    /// The last length of earth at the point of work.
    earth_lead: Option<BranchId>,
    /// The switch, the wire (1 or 2) and its node.
    strappers: Vec<(SwitchId, u8, NodeId)>,
    /// Second supplies that no device on the board switches: their last link.
    sources: Vec<(SourceId, BranchId)>,
}

impl Wired {
    /// Lays out the bay with the branches of these faults in it, which [`Wired::made`] may then ask for by their place.
    pub fn new(bay: &Bay, faults: &[Fault]) -> Result<Self, Unbuildable> {
        let mut build = Build::new(bay)?;
        for circuit in &bay.circuits {
            build.circuit(circuit)?;
        }
        build.sources()?;
        let effects = faults.iter().map(|fault| build.effects(fault)).collect::<Result<Vec<_>, _>>()?;
        let mut always = build.network.nothing_made();
        build.always.iter().for_each(|&branch| always.set(branch, true));
        Ok(Self {
            compiled: Compiled::new(build.network),
            always,
            devices: build.devices,
            switches: build.switches,
            lamp: build.lamp,
            loads: build.loads,
            points: build.points,
            faults: effects,
        })
    }

    /// The network itself, with its order of elimination.
    pub fn compiled(&self) -> &Compiled {
        &self.compiled
    }

    /// The nodes of a point by conductor.
    pub fn point(&self, id: &PointId) -> Option<&Ends> {
        self.points.iter().find(|(point, _)| point == id).map(|(_, ends)| ends)
    }
}

/// One reading of a bay.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Shown {
    pub pair: [Conductor; 2],
    /// Volts with the indicator's load switched in.
    pub volts: f64,
    /// Volts without it: more than a little above `volts`, the voltage is only induced or stands behind a high
    /// resistance.
    pub unloaded_volts: f64,
}

/// What an indicator shows between every pair of conductors of a point, in a state, with the faults planted. A short circuit
/// is an error that names the source which feeds it.
pub fn readings(bay: &Bay, point: &PointId, state: &State) -> Result<Vec<Shown>, Unbuildable> {
    let planted = &bay.setup.planted;
    let wired = Wired::new(bay, planted)?;
    let (Some(there), Some(ends)) = (bay.point(point), wired.point(point)) else {
        return Err(Unbuildable::new(point, "no such point"));
    };
    let places: Vec<usize> = (0..planted.len()).collect();
    let made = wired.made(state, &places)?;
    let mut solver = Solver::new(wired.compiled());
    let mut solved = solver.solve(&made)?;
    for report in solved.reports() {
        if let Report::Overcurrent { source, amps } = report {
            // A protective device would have opened: what is read beside a short circuit proves nothing.
            return Err(Unbuildable::new(source, format!("this source feeds a short circuit of {amps:.0} A")));
        }
    }
    let pairs = super::plan::pairs(there);
    let shown = pairs.into_iter().filter_map(|pair| {
        let port = solved.between(end(ends, pair[0])?, end(ends, pair[1])?);
        let (volts, unloaded_volts) = (port.reading(super::solve::LOW_OHM), port.reading(super::solve::HIGH_OHM));
        Some(Shown { pair, volts, unloaded_volts })
    });
    Ok(shown.collect())
}

impl Build<'_> {
    fn part(&mut self, name: String, a: NodeId, b: NodeId, part: Part) -> Result<BranchId, Unbuildable> {
        Ok(self.network.branch(name, a, b, part)?)
    }

    fn link(&mut self, name: String, a: NodeId, b: NodeId, ohm: f64) -> Result<BranchId, Unbuildable> {
        self.part(name, a, b, Part::Link { ohm })
    }

    /// A conductor that is whole unless a fault opens it.
    fn wire(&mut self, name: String, a: NodeId, b: NodeId, ohm: f64) -> Result<BranchId, Unbuildable> {
        let link = self.link(name, a, b, ohm)?;
        self.always.push(link);
        Ok(link)
    }

    /// A source from true earth with its impedance, and its terminal.
    fn source(&mut self, name: String, deg: f64) -> Result<NodeId, Unbuildable> {
        let node = self.network.node(name.clone());
        let volts = f64::from(self.bay.supply.volts);
        let source = Part::Source { volts, deg, series_ohm: SUPPLY_OHM };
        let source = self.part(name, node, NodeId::REFERENCE, source)?;
        self.always.push(source);
        Ok(node)
    }

    /// The conductors of the point of work.
    fn work(&self) -> Result<Ends, Unbuildable> {
        let id = &self.bay.isolate.point;
        let found = self.points.iter().find(|(point, _)| point == id).map(|(_, ends)| ends.clone());
        found.ok_or_else(|| Unbuildable::new(id, "no such point"))
    }
}

const SUPPLY_OHM: f64 = 0.15;
const EARTHING_OHM: f64 = 0.05;
const POLE_OHM: f64 = 0.002;
const BAR_OHM: f64 = 0.01;
const SWITCH_OHM: f64 = 0.01;
const RUN_OHM: f64 = 0.1;
/// Ohms a metre of a conductor of 1.5 mm².
const METRE_OHM: f64 = 0.012;
/// Nanofarads a metre between conductors of one cable.
const METRE_NF: f64 = 0.1;
/// Ohms of a lamp of 100 W at 230 V.
const LAMP_OHM: f64 = 529.0;
