//! A circuit from the board to its points, by its wiring.

use super::{
    BAR_OHM, Build, Contacts, Ends, LAMP_OHM, METRE_NF, METRE_OHM, RUN_OHM, SWITCH_OHM, Unbuildable, end, first_line,
};
use crate::bay::solve::{NodeId, Part};
use crate::bay::{Circuit, Conductor, Connection, Load, Point, Setting, Switch, SwitchKind, Wiring};

/// A line on its way through switches: one conductor, or the two strappers.
#[derive(Clone, Copy)]
enum Way {
    One(NodeId),
    Two([NodeId; 2]),
}

impl Build<'_> {
    /// Lays out one circuit.
    pub(super) fn circuit(&mut self, circuit: &Circuit) -> Result<(), Unbuildable> {
        let start = self.start(circuit)?;
        self.starts.push((circuit.id.clone(), start.clone()));
        let mut points: Vec<Ends> = vec![Vec::new(); circuit.points.len()];
        for &(conductor, node) in &start {
            self.run(circuit, conductor, node, &mut points)?;
        }
        if !circuit.switches.is_empty() {
            let line = self.switch_feed(circuit, &start, &points)?;
            let switched = self.switched(&circuit.switches, line)?;
            self.run(circuit, Conductor::Sl, switched, &mut points)?;
        }
        for (point, ends) in circuit.points.iter().zip(points) {
            if let Some(missing) = point.conductors.iter().find(|conductor| end(&ends, **conductor).is_none()) {
                return Err(Unbuildable::new(&point.id, format!("nothing feeds the conductor {missing} here")));
            }
            self.lamp(point, &ends)?;
            if let Some(load) = point.load {
                self.load(point, load, &ends)?;
            }
            if point.id == self.bay.isolate.point {
                self.capacitances(circuit, &ends)?;
            }
            self.points.push((point.id.clone(), ends));
        }
        Ok(())
    }

    /// One conductor from point to point; in a ring back to its start.
    fn run(
        &mut self,
        circuit: &Circuit,
        conductor: Conductor,
        start: NodeId,
        points: &mut [Ends],
    ) -> Result<(), Unbuildable> {
        let ohm = circuit.length_m.map_or(RUN_OHM, |metres| f64::from(metres) * METRE_OHM);
        let mut last = start;
        for (point, ends) in circuit.points.iter().zip(points) {
            if !point.conductors.contains(&conductor) {
                continue;
            }
            let name = format!("{} {conductor}", point.id);
            let node = self.network.node(name.clone());
            self.wire(name, last, node, ohm)?;
            last = node;
            let is_work = point.id == self.bay.isolate.point;
            if is_work && conductor == Conductor::E {
                let name = format!("{} earth lead", point.id);
                let lead = self.network.node(name.clone());
                self.earth_lead = Some(self.wire(name, node, lead, BAR_OHM)?);
                ends.push((conductor, lead));
            } else {
                ends.push((conductor, node));
            }
        }
        if circuit.wiring == Wiring::Ring && last != start {
            self.wire(format!("{} {conductor} back", circuit.id), last, start, ohm)?;
        }
        Ok(())
    }

    /// The line that goes to the first switch: from the first rose where it loops in, else from the board.
    fn switch_feed(&mut self, circuit: &Circuit, start: &Ends, points: &[Ends]) -> Result<NodeId, Unbuildable> {
        let Some((line, node)) = first_line(start) else {
            return Err(Unbuildable::new(&circuit.id, "no line feeds its switches"));
        };
        let in_rose = points.iter().find_map(|ends| end(ends, line));
        match in_rose {
            Some(rose) if circuit.wiring == Wiring::LoopIn => Ok(rose),
            _ => Ok(node),
        }
    }

    /// The switches in the order of the wiring, and the switched line behind them.
    fn switched(&mut self, switches: &[Switch], line: NodeId) -> Result<NodeId, Unbuildable> {
        let mut way = Way::One(line);
        for switch in switches {
            way = self.switch(switch, way)?;
        }
        match (way, switches.last()) {
            (Way::One(node), _) => Ok(node),
            (Way::Two(_), Some(last)) => Err(Unbuildable::new(&last.id, "the strappers behind it end nowhere")),
            (Way::Two(_), None) => Ok(line),
        }
    }

    fn switch(&mut self, switch: &Switch, way: Way) -> Result<Way, Unbuildable> {
        use Setting::{First, Second};
        let mut node = |terminal: &str| self.network.node(format!("{} {terminal}", switch.id));
        let (ends, way) = match (way, switch.kind) {
            (Way::One(a), SwitchKind::OneWay) => {
                let b = node("out");
                (vec![(a, b, Second)], Way::One(b))
            }
            (Way::One(common), SwitchKind::TwoWay) => {
                let behind = [node("1"), node("2")];
                (vec![(common, behind[0], First), (common, behind[1], Second)], Way::Two(behind))
            }
            (Way::Two([a1, a2]), SwitchKind::Intermediate) => {
                let [b1, b2] = [node("1"), node("2")];
                (vec![(a1, b1, First), (a2, b2, First), (a1, b2, Second), (a2, b1, Second)], Way::Two([b1, b2]))
            }
            (Way::Two([a1, a2]), SwitchKind::TwoWay) => {
                let common = node("common");
                (vec![(a1, common, First), (a2, common, Second)], Way::One(common))
            }
            _ => return Err(Unbuildable::new(&switch.id, "a switch of this kind cannot stand here")),
        };
        if let Way::Two(behind) = way {
            let wires = behind.into_iter().zip(1..).map(|(node, wire)| (switch.id.clone(), wire, node));
            self.strappers.extend(wires);
        }
        let mut contacts = Vec::new();
        for (at, (a, b, made_in)) in ends.into_iter().enumerate() {
            contacts.push((self.link(format!("{} contact {}", switch.id, at + 1), a, b, SWITCH_OHM)?, made_in));
        }
        self.switches.push(Contacts { switch: switch.id.clone(), contacts });
        Ok(way)
    }

    /// A lamp between the switched line, or else the first line, and N. A lamp elsewhere on the circuit burns on.
    fn lamp(&mut self, point: &Point, ends: &Ends) -> Result<(), Unbuildable> {
        let line = end(ends, Conductor::Sl).or_else(|| first_line(ends).map(|(_, node)| node));
        let (true, Some(line), Some(neutral)) = (point.lamp, line, end(ends, Conductor::N)) else { return Ok(()) };
        let lamp = Part::Load { ohm: LAMP_OHM, reactance_ohm: 0.0 };
        let lamp = self.part(format!("{} lamp", point.id), line, neutral, lamp)?;
        if point.id == self.bay.isolate.point {
            self.lamp = Some(lamp);
        } else {
            self.always.push(lamp);
        }
        Ok(())
    }

    fn load(&mut self, point: &Point, load: Load, ends: &Ends) -> Result<(), Unbuildable> {
        let lines: Vec<NodeId> = ends.iter().filter(|(it, _)| it.is_line()).map(|(_, node)| *node).collect();
        let neutral = end(ends, Conductor::N);
        let pairs: Vec<(NodeId, NodeId)> = match load.connection {
            Connection::LineNeutral => neutral.map(|n| lines.iter().map(|&l| (l, n)).collect()).unwrap_or_default(),
            Connection::Star => {
                let star = self.network.node(format!("{} star point", point.id));
                lines.iter().map(|&line| (line, star)).collect()
            }
            // Two lines have one branch between them, three have three.
            Connection::Delta if lines.len() == 2 => vec![(lines[0], lines[1])],
            Connection::Delta => (0..lines.len()).map(|at| (lines[at], lines[(at + 1) % lines.len()])).collect(),
        };
        for (a, b) in pairs {
            let part = Part::Load { ohm: load.ohm, reactance_ohm: load.reactance_ohm };
            let branch = self.part(format!("{} load", point.id), a, b, part)?;
            self.loads.push(branch);
        }
        Ok(())
    }

    /// The conductors of one cable stand beside each other as capacitors.
    fn capacitances(&mut self, circuit: &Circuit, ends: &Ends) -> Result<(), Unbuildable> {
        let Some(metres) = circuit.length_m else { return Ok(()) };
        for (at, (one, a)) in ends.iter().enumerate() {
            for (other, b) in &ends[at + 1..] {
                let name = format!("{} {one} beside {other}", circuit.id);
                let branch = self.part(name, *a, *b, Part::Capacitor { nf: f64::from(metres) * METRE_NF })?;
                self.always.push(branch);
            }
        }
        Ok(())
    }
}
