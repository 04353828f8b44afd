//! Supply and board: from the source to where each circuit leaves.

use super::{BAR_OHM, Build, EARTHING_OHM, Ends, POLE_OHM, Poles, SUPPLY_OHM, Unbuildable, end, frequency};
use crate::bay::solve::{Network, NodeId};
use crate::bay::{Bay, Circuit, Conductor, Device, DeviceKind, Phases, SourceKind};

impl<'b> Build<'b> {
    /// The supply and the main switches.
    pub(super) fn new(bay: &'b Bay) -> Result<Self, Unbuildable> {
        let mut network = Network::new(frequency(bay), "true earth");
        let earth_bar = network.node("earth bar");
        let device = |device: &Device| Poles { device: device.id.clone(), contacts: Vec::new() };
        let mut build = Self {
            bay,
            network,
            always: Vec::new(),
            earth_bar,
            bus: Vec::new(),
            devices: bay.board.devices.iter().map(device).collect(),
            switches: Vec::new(),
            lamp: None,
            loads: Vec::new(),
            points: Vec::new(),
            starts: Vec::new(),
            feeds: Vec::new(),
            earth_lead: None,
            strappers: Vec::new(),
            sources: Vec::new(),
        };
        build.wire("main earth".into(), NodeId::REFERENCE, earth_bar, EARTHING_OHM)?;
        let lines: &[Conductor] = match bay.supply.phases {
            Phases::One => &[Conductor::L],
            Phases::Three => &[Conductor::L1, Conductor::L2, Conductor::L3],
        };
        for &conductor in lines {
            let node = build.source(format!("supply {conductor}"), degrees(conductor))?;
            build.bus.push((conductor, node));
        }
        let neutral = build.network.node("supply N");
        build.wire("supply N".into(), NodeId::REFERENCE, neutral, SUPPLY_OHM)?;
        build.bus.push((Conductor::N, neutral));
        build.main_switches()?;
        Ok(build)
    }

    /// Devices that feed no circuit of their own stand before all others, in the order of the board. A breaker without a
    /// circuit is a spare way, and the isolator of another source stands in that source's way.
    fn main_switches(&mut self) -> Result<(), Unbuildable> {
        let bay = self.bay;
        for (at, device) in bay.board.devices.iter().enumerate() {
            let spare = matches!(device.kind, DeviceKind::Breaker | DeviceKind::Rcbo);
            let elsewhere = bay.sources.iter().any(|source| source.device.as_ref() == Some(&device.id));
            if device.feeds.is_some() || spare || elsewhere {
                continue;
            }
            for &pole in &device.poles {
                let Some(from) = end(&self.bus, pole) else { continue };
                let to = self.pole(at, pole, from)?;
                self.bus.iter_mut().filter(|(there, _)| *there == pole).for_each(|(_, node)| *node = to);
            }
        }
        Ok(())
    }

    /// A pole of a device, and the node behind it.
    fn pole(&mut self, device: usize, pole: Conductor, from: NodeId) -> Result<NodeId, Unbuildable> {
        let name = format!("{} {pole}", self.devices[device].device);
        let to = self.network.node(name.clone());
        self.pole_to(device, pole, from, to, name)?;
        Ok(to)
    }

    fn pole_to(
        &mut self,
        device: usize,
        pole: Conductor,
        from: NodeId,
        to: NodeId,
        name: String,
    ) -> Result<(), Unbuildable> {
        let contact = self.link(name, from, to, POLE_OHM)?;
        self.devices[device].contacts.push((pole, contact));
        Ok(())
    }

    /// Where a circuit leaves the board: its lines and N behind its devices, and E.
    pub(super) fn start(&mut self, circuit: &Circuit) -> Result<Ends, Unbuildable> {
        let feeding: Vec<(usize, &Device)> = self
            .bay
            .board
            .devices
            .iter()
            .enumerate()
            .filter(|(_, device)| device.feeds.as_ref() == Some(&circuit.id))
            .collect();
        let has_neutral = feeding.iter().any(|(_, device)| device.poles.contains(&Conductor::N))
            || circuit.points.iter().any(|point| point.conductors.contains(&Conductor::N));
        let mut ends = Vec::new();
        for (conductor, bar) in self.bus.clone() {
            let has_pole = |device: &Device| device.poles.contains(&conductor);
            let is_past_devices = conductor == Conductor::N && has_neutral;
            if !is_past_devices && !feeding.iter().any(|(_, device)| has_pole(device)) {
                continue;
            }
            let from = self.feed(circuit, conductor, bar)?;
            let in_series = |device: &Device| matches!(device.kind, DeviceKind::Isolator | DeviceKind::Rcd);
            let side_by_side: Vec<usize> =
                feeding.iter().filter(|(_, it)| has_pole(it) && !in_series(it)).map(|(at, _)| *at).collect();
            let mut node = from;
            if let Some((&first, others)) = side_by_side.split_first() {
                node = self.pole(first, conductor, from)?;
                for &other in others {
                    // A second device for the same conductor feeds it past the first.
                    let name = format!("{} {conductor}", self.devices[other].device);
                    self.pole_to(other, conductor, bar, node, name)?;
                }
            }
            for (at, _) in feeding.iter().filter(|(_, it)| has_pole(it) && in_series(it)) {
                node = self.pole(*at, conductor, node)?;
            }
            ends.push((conductor, node));
        }
        let earth = self.network.node(format!("{} E", circuit.id));
        self.wire(format!("{} E", circuit.id), self.earth_bar, earth, BAR_OHM)?;
        ends.push((Conductor::E, earth));
        Ok(ends)
    }

    /// The way from a bar to the device of a circuit. That of the isolated circuit can be opened or crossed by a fault.
    fn feed(&mut self, circuit: &Circuit, conductor: Conductor, bar: NodeId) -> Result<NodeId, Unbuildable> {
        if circuit.id != self.bay.isolate.circuit {
            return Ok(bar);
        }
        let name = format!("{} {conductor} at the bar", circuit.id);
        let node = self.network.node(name.clone());
        let link = self.wire(name, bar, node, BAR_OHM)?;
        self.feeds.push((conductor, link, node));
        Ok(node)
    }

    /// Second supplies of the task, up to the point of work.
    pub(super) fn sources(&mut self) -> Result<(), Unbuildable> {
        let work = self.work()?;
        for source in self.bay.sources.iter().filter(|source| source.kind != SourceKind::Mains) {
            let reached = match source.reaches {
                Some(conductor) => end(&work, conductor).map(|node| (conductor, node)),
                None => super::first_line(&work),
            };
            let Some((line, to)) = reached else {
                return Err(Unbuildable::new(&source.id, "the point of work has no such line for this source"));
            };
            let from = self.source(format!("source {}", source.id), degrees(line))?;
            let name = format!("feed of {}", source.id);
            let device = source.device.as_ref();
            match device.and_then(|id| self.devices.iter().position(|there| there.device == *id)) {
                Some(at) => {
                    let pole = self.bay.board.devices[at].poles.first().copied().unwrap_or(Conductor::L);
                    self.pole_to(at, pole, from, to, name)?;
                }
                None => {
                    let link = self.link(name, from, to, BAR_OHM)?;
                    self.sources.push((source.id.clone(), link));
                }
            }
        }
        Ok(())
    }
}

/// The angle of a line's supply. A second supply is taken to run with the line that it feeds.
pub(super) fn degrees(line: Conductor) -> f64 {
    match line {
        Conductor::L2 => -120.0,
        Conductor::L3 => 120.0,
        _ => 0.0,
    }
}
