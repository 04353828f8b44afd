//! What each fault changes in the network.

use super::{BAR_OHM, Build, RUN_OHM, Unbuildable, end, first_line};
use crate::bay::solve::{BranchId, NodeId, Part};
use crate::bay::{CircuitId, Conductor, Fault, Setting, SwitchId};

/// Ohms of another circuit's lamp that returns through this neutral: 60 W at 230 V.
const BORROWED_OHM: f64 = 882.0;

/// One change that a fault makes. Devices and switches by their place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Effect {
    Device(usize, bool),
    Switch(usize, Setting),
    /// A branch is made or open whatever its device or switch says.
    Branch(BranchId, bool),
}

impl Build<'_> {
    /// Adds the branches of a fault and says what it changes.
    pub(super) fn effects(&mut self, fault: &Fault) -> Result<Vec<Effect>, Unbuildable> {
        Ok(match fault {
            Fault::WrongDevice { opened } => {
                vec![
                    Effect::Device(self.device(&self.bay.isolate.device)?, true),
                    Effect::Device(self.device(opened)?, false),
                ]
            }
            Fault::SecondSupply { source } => self.second_supply(fault, source.as_ref())?,
            Fault::BorrowedNeutral { from } => {
                let Some(neutral) = self.neutral()? else { return Err(absent(fault, "the circuit has no neutral")) };
                let line = self.line_of(fault, from)?;
                let load = Part::Load { ohm: BORROWED_OHM, reactance_ohm: 0.0 };
                vec![Effect::Branch(self.part(fault.id(), line, neutral, load)?, true)]
            }
            Fault::BrokenNeutral => match self.feed_of(Conductor::N) {
                Some((link, _)) => vec![Effect::Branch(link, false)],
                None => return Err(absent(fault, "the circuit has no neutral")),
            },
            Fault::LostEarth => match self.earth_lead {
                Some(lead) => vec![Effect::Branch(lead, false)],
                None => return Err(absent(fault, "the point has no earth")),
            },
            Fault::CrossedPolarity => self.crossed(fault)?,
            Fault::StuckPole { device, pole } => {
                let contacts = &self.devices[self.device(device)?].contacts;
                let Some((_, contact)) = contacts.iter().find(|(there, _)| there == pole) else {
                    return Err(absent(fault, "the device has no such pole in the network"));
                };
                vec![Effect::Branch(*contact, true)]
            }
            Fault::StuckSwitch { switch, setting } => vec![Effect::Switch(self.switch_at(switch)?, *setting)],
            Fault::BrokenContact { switch, contact } => {
                let contacts = &self.switches[self.switch_at(switch)?].contacts;
                let Some((branch, _)) = usize::from(*contact).checked_sub(1).and_then(|at| contacts.get(at)) else {
                    return Err(absent(fault, "the switch has no such contact"));
                };
                vec![Effect::Branch(*branch, false)]
            }
            Fault::JoinedStrapper { behind, wire, from } => {
                let found = self.strappers.iter().find(|(switch, number, _)| switch == behind && number == wire);
                let Some((_, _, strapper)) = found.cloned() else {
                    return Err(absent(fault, "there is no such strapper"));
                };
                let line = self.line_of(fault, from)?;
                vec![Effect::Branch(self.link(fault.id(), line, strapper, RUN_OHM)?, true)]
            }
            Fault::FloatingSupply { between } => {
                let work = self.work()?;
                let (Some(a), Some(b)) = (end(&work, between[0]), end(&work, between[1])) else {
                    return Err(absent(fault, "the point has not both conductors"));
                };
                let volts = f64::from(self.bay.supply.volts);
                let source = Part::Source { volts, deg: 0.0, series_ohm: super::SUPPLY_OHM };
                vec![Effect::Branch(self.part(fault.id(), a, b, source)?, true)]
            }
            Fault::DeadIndicator => Vec::new(),
        })
    }

    fn second_supply(
        &mut self,
        fault: &Fault,
        source: Option<&crate::bay::SourceId>,
    ) -> Result<Vec<Effect>, Unbuildable> {
        let Some(id) = source else {
            let Some((conductor, line)) = first_line(&self.work()?) else {
                return Err(absent(fault, "the point has no line"));
            };
            let supply = self.source("unknown supply".into(), super::board::degrees(conductor))?;
            return Ok(vec![Effect::Branch(self.link(fault.id(), supply, line, BAR_OHM)?, true)]);
        };
        if let Some((_, link)) = self.sources.iter().find(|(there, _)| there == id) {
            return Ok(vec![Effect::Branch(*link, true)]);
        }
        match self.bay.source(id).and_then(|source| source.device.as_ref()) {
            Some(device) => Ok(vec![Effect::Device(self.device(device)?, true)]),
            None => Err(absent(fault, "this source is the supply of the board")),
        }
    }

    /// Line and neutral of the isolated circuit change places where they leave their bars.
    fn crossed(&mut self, fault: &Fault) -> Result<Vec<Effect>, Unbuildable> {
        let line = self.feeds.iter().find(|(conductor, ..)| conductor.is_line()).copied();
        let (Some((line, line_link, to_line)), Some((neutral_link, to_neutral))) = (line, self.feed_of(Conductor::N))
        else {
            return Err(absent(fault, "the circuit has not both line and neutral"));
        };
        let (Some(line_bar), Some(neutral_bar)) = (end(&self.bus, line), end(&self.bus, Conductor::N)) else {
            return Err(absent(fault, "the board has not both line and neutral"));
        };
        let one = self.link(format!("{} to neutral", fault.id()), line_bar, to_neutral, BAR_OHM)?;
        let other = self.link(format!("{} to line", fault.id()), neutral_bar, to_line, BAR_OHM)?;
        Ok(vec![
            Effect::Branch(line_link, false),
            Effect::Branch(neutral_link, false),
            Effect::Branch(one, true),
            Effect::Branch(other, true),
        ])
    }

    fn device(&self, id: &crate::bay::DeviceId) -> Result<usize, Unbuildable> {
        let place = self.devices.iter().position(|there| there.device == *id);
        place.ok_or_else(|| Unbuildable::new(id, "no such device"))
    }

    fn switch_at(&self, id: &SwitchId) -> Result<usize, Unbuildable> {
        let place = self.switches.iter().position(|there| there.switch == *id);
        place.ok_or_else(|| Unbuildable::new(id, "no such switch"))
    }

    fn feed_of(&self, conductor: Conductor) -> Option<(BranchId, NodeId)> {
        self.feeds.iter().find(|(there, ..)| *there == conductor).map(|&(_, link, node)| (link, node))
    }

    /// The neutral of the isolated circuit: at the point of work, else where it leaves the board.
    fn neutral(&self) -> Result<Option<NodeId>, Unbuildable> {
        let start = self.starts.iter().find(|(circuit, _)| *circuit == self.bay.isolate.circuit);
        Ok(end(&self.work()?, Conductor::N).or_else(|| end(&start?.1, Conductor::N)))
    }

    /// The first line of another circuit, behind its device.
    fn line_of(&self, fault: &Fault, circuit: &CircuitId) -> Result<NodeId, Unbuildable> {
        let start = self.starts.iter().find(|(there, _)| there == circuit);
        let line = start.and_then(|(_, ends)| first_line(ends)).map(|(_, node)| node);
        line.ok_or_else(|| absent(fault, "the other circuit has no line"))
    }
}

fn absent(fault: &Fault, says: &str) -> Unbuildable {
    Unbuildable::new(fault.id(), says)
}
