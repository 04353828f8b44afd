//! Where everything stands: the board on the left, the switches in the middle, the point on the right; a lane for each
//! conductor.

use super::pen::{Anchor, Pen, Spot, shortened, two_lines};
use super::symbols::{APART, POLE};
use super::{devices, settings};
use crate::bay::network::State;
use crate::bay::setup::SwitchSetting;
use crate::bay::{Bay, Circuit, Conductor, Device, Fault, Point, SwitchKind, Wiring};

/// Left edge of the board.
const LEFT: f64 = 12.0;
/// Where the supply enters.
const SUPPLY: f64 = LEFT + 34.0;
/// Width of a device's column, of a switch's and of the point.
const DEVICE: f64 = 88.0;
const SWITCH: f64 = 122.0;
const POINT: f64 = 150.0;
/// Distance of two lanes.
const LANE: f64 = 38.0;
/// The first lane, below the names of the devices.
const TOP: f64 = 116.0;

/// The picture's parts in their places.
pub(super) struct Layout<'b> {
    bay: &'b Bay,
    circuit: &'b Circuit,
    point: &'b Point,
    state: &'b State,
    devices: Vec<(usize, &'b Device)>,
    settings: Vec<SwitchSetting>,
    /// The lane of each conductor that leaves the board; that of the switched line is the line's own, through the
    /// switches.
    lanes: Vec<(Conductor, f64)>,
    /// The line that goes to the switches, and the lane on which it passes through them.
    switched: Option<(Conductor, f64)>,
    /// The right edge of the board, and the left edge of the point.
    board_right: f64,
    point_left: f64,
}

impl<'b> Layout<'b> {
    pub fn new(bay: &'b Bay, circuit: &'b Circuit, point: &'b Point, state: &'b State) -> Self {
        let devices = devices(bay, circuit);
        let board_right = SUPPLY + 14.0 + DEVICE * devices.len() as f64;
        let is_switched = !circuit.switches.is_empty();
        let gap = if is_switched { SWITCH * circuit.switches.len() as f64 + 34.0 } else { 90.0 };
        let line = line_of(bay, circuit);
        let switched_line = line.filter(|_| is_switched);
        let mut lanes = Vec::new();
        let mut switched = None;
        let mut y = TOP;
        for conductor in carried(bay, circuit, point) {
            if Some(conductor) == switched_line {
                if point.conductors.contains(&conductor) {
                    lanes.push((conductor, y));
                    // Below it the way back from the rose, and the switches with their names.
                    y += if circuit.wiring == Wiring::LoopIn { 92.0 } else { 66.0 };
                }
                switched = Some((conductor, y));
                y += APART + 68.0;
            } else {
                lanes.push((conductor, y));
                y += LANE;
            }
        }
        let settings = settings(bay, circuit, state);
        Self {
            bay,
            circuit,
            point,
            state,
            devices,
            settings,
            lanes,
            switched,
            board_right,
            point_left: board_right + gap,
        }
    }

    /// The drawing with its width and height.
    pub fn draw(&self, faults: &[Fault]) -> (String, f64, f64) {
        let mut pen = Pen::new(self.bay);
        let bottom = self.lanes.iter().map(|(_, y)| *y).fold(TOP, f64::max) + 36.0;
        self.board(&mut pen, bottom);
        for &(conductor, y) in &self.lanes {
            self.lane(&mut pen, conductor, y);
        }
        if let Some((line, y)) = self.switched {
            self.switches(&mut pen, line, y);
        }
        self.point(&mut pen, bottom);
        for fault in faults {
            if let Some(spot) = self.place_of(fault) {
                pen.mark(spot);
            }
        }
        (pen.out, self.point_left + POINT + LEFT, bottom + LEFT)
    }

    fn board(&self, pen: &mut Pen<'_>, bottom: f64) {
        pen.frame((LEFT, 12.0), self.board_right - LEFT, bottom - 12.0);
        let room = ((self.board_right - LEFT - 20.0) / 7.2) as usize;
        pen.bold((LEFT + 10.0, 32.0), Anchor::Start, &shortened(&self.bay.board.label, room));
        for (column, (at, device)) in self.devices.iter().enumerate() {
            let x = self.device_x(column) + POLE / 2.0;
            let on = self.state.on.get(*at).copied().unwrap_or(true);
            pen.bold((x, 56.0), Anchor::Middle, &format!("{} {}", device.id, if on { "on" } else { "off" }));
            let rating = device.rating_a.map(|amperes| format!("{amperes} A")).unwrap_or_default();
            let label = if device.feeds.is_none() { "main".to_owned() } else { rating };
            pen.text((x, 72.0), Anchor::Middle, &label);
            let poles: Vec<f64> = device.poles.iter().filter_map(|pole| self.at_board(*pole)).collect();
            if let [first, .., last] = poles.as_slice() {
                let blade = if on { (x, 0.0) } else { (x, -8.0) };
                pen.linkage(&[(x, first + blade.1), (x, last + blade.1)]);
            }
        }
    }

    fn device_x(&self, column: usize) -> f64 {
        SUPPLY + 22.0 + DEVICE * column as f64
    }

    /// The lane on which a conductor leaves the board.
    fn at_board(&self, conductor: Conductor) -> Option<f64> {
        let own = self.lanes.iter().find(|(there, _)| *there == conductor).map(|(_, y)| *y);
        own.or_else(|| self.switched.filter(|(line, _)| *line == conductor).map(|(_, y)| y))
    }

    /// A conductor inside the board, through the poles of its devices.
    fn inside(&self, pen: &mut Pen<'_>, conductor: Conductor, y: f64) {
        pen.bold((LEFT + 10.0, y + 4.5), Anchor::Start, conductor.letters());
        let mut x = SUPPLY;
        for (column, (at, device)) in self.devices.iter().enumerate() {
            if device.poles.contains(&conductor) {
                let pole = self.device_x(column);
                pen.conductor(conductor, &[(x, y), (pole, y)]);
                pen.pole((pole, y), device.kind, self.state.on.get(*at).copied().unwrap_or(true));
                x = pole + POLE;
            }
        }
        pen.conductor(conductor, &[(x, y), (self.board_right + 8.0, y)]);
        if conductor == Conductor::E {
            pen.earth((SUPPLY, y));
        }
    }

    /// A conductor from the supply to the point.
    fn lane(&self, pen: &mut Pen<'_>, conductor: Conductor, y: f64) {
        self.inside(pen, conductor, y);
        let to = if self.point.conductors.contains(&conductor) { self.point_left } else { self.point_left - 30.0 };
        pen.conductor(conductor, &[(self.board_right + 8.0, y), (to, y)]);
        pen.bold((self.board_right + 10.0, y - 7.0), Anchor::Start, conductor.letters());
    }

    /// The line through the switches to the point.
    fn switches(&self, pen: &mut Pen<'_>, line: Conductor, y: f64) {
        let first = self.board_right + 34.0;
        let permanent = self.lanes.iter().find(|(conductor, _)| *conductor == line).map(|(_, y)| *y);
        match permanent {
            None => {
                self.inside(pen, line, y);
                pen.conductor(line, &[(self.board_right + 8.0, y), (first, y)]);
                pen.bold((self.board_right + 10.0, y - 7.0), Anchor::Start, line.letters());
            }
            Some(above) if self.circuit.wiring == Wiring::LoopIn => {
                let (rose, back) = (self.point_left + 16.0, above + 24.0);
                pen.circle((rose, above), 3.5, true);
                let start = self.board_right + 16.0;
                pen.conductor(line, &[(rose, above), (rose, back), (start, back), (start, y), (first, y)]);
                pen.bold((start + 8.0, y - 7.0), Anchor::Start, line.letters());
            }
            Some(above) => {
                let start = self.board_right + 16.0;
                pen.circle((start, above), 3.5, true);
                pen.conductor(line, &[(start, above), (start, y), (first, y)]);
            }
        }
        for at in 0..self.circuit.switches.len() {
            self.switch(pen, line, at, (first + SWITCH * at as f64, y));
        }
        let last = first + SWITCH * (self.circuit.switches.len() as f64 - 1.0);
        let from = last + if self.circuit.switches.len() == 1 { 20.0 + POLE } else { 76.0 };
        pen.conductor(Conductor::Sl, &[(from, y), (self.point_left, y)]);
        pen.bold((self.point_left - 24.0, y - 7.0), Anchor::Start, Conductor::Sl.letters());
    }

    /// One switch with its name, its setting and its strappers to the next.
    fn switch(&self, pen: &mut Pen<'_>, line: Conductor, at: usize, (x, y): Spot) {
        let (switch, setting) = (&self.circuit.switches[at], self.settings[at].setting);
        let centre = x + 46.0;
        let word = setting.word(switch.kind);
        let name = if switch.kind == SwitchKind::TwoWay {
            format!("{} at {word}", switch.id)
        } else {
            format!("{} {word}", switch.id)
        };
        pen.bold((centre, y - APART - 20.0), Anchor::Middle, &name);
        let below = if switch.kind == SwitchKind::OneWay { 22.0 } else { APART + 20.0 };
        for (row, text) in two_lines(&switch.label, 16).iter().enumerate() {
            pen.text((centre, y + below + 16.0 * row as f64), Anchor::Middle, text);
        }
        let next = |from: f64, to: f64| [-APART, APART].map(|height| [(from, y + height), (to, y + height)]);
        let is_last = at + 1 == self.circuit.switches.len();
        match switch.kind {
            SwitchKind::OneWay => {
                pen.conductor(line, &[(x, y), (x + 20.0, y)]);
                pen.one_way((x + 20.0, y), setting);
            }
            SwitchKind::TwoWay if is_last => {
                pen.two_way((x + 76.0, y), x + 36.0, setting);
            }
            SwitchKind::TwoWay => {
                pen.conductor(line, &[(x, y), (x + 20.0, y)]);
                pen.two_way((x + 20.0, y), x + 60.0, setting);
                let to = x + SWITCH + 36.0 - if self.circuit.switches.len() > 2 { 14.0 } else { 0.0 };
                next(x + 63.0, to - 3.0).iter().for_each(|way| pen.conductor(line, way));
            }
            SwitchKind::Intermediate => {
                pen.intermediate((x + 22.0, y), 48.0, setting);
                let ends = if at + 2 == self.circuit.switches.len() { 36.0 } else { 22.0 };
                next(x + 73.0, x + SWITCH + ends - 3.0).iter().for_each(|way| pen.conductor(line, way));
            }
        }
        let terminals = match switch.kind {
            SwitchKind::TwoWay if is_last => Some(x + 22.0),
            SwitchKind::TwoWay => Some(x + 66.0),
            _ => None,
        };
        for (number, height) in terminals.iter().flat_map(|_| [("1", -APART), ("2", APART)]) {
            let x = terminals.unwrap_or_default();
            pen.text((x, y + height - 5.0), Anchor::Start, number);
        }
    }

    /// The point with its terminals, and what is connected there.
    fn point(&self, pen: &mut Pen<'_>, bottom: f64) {
        let left = self.point_left;
        pen.frame((left, 12.0), POINT, bottom - 12.0);
        for (row, text) in two_lines(&self.point.label, 19).iter().enumerate() {
            pen.bold((left + 10.0, 32.0 + 17.0 * row as f64), Anchor::Start, text);
        }
        for &conductor in &self.point.conductors {
            let Some(y) = self.at_point(conductor) else { continue };
            pen.conductor(conductor, &[(left, y), (left + 36.0, y)]);
            pen.circle((left + 40.0, y), 4.0, false);
            pen.bold((left + 50.0, y - 6.0), Anchor::Start, conductor.letters());
        }
        let lines: Vec<f64> =
            self.point.conductors.iter().filter(|it| it.is_line()).filter_map(|it| self.at_point(*it)).collect();
        let neutral = self.at_point(Conductor::N);
        let lamp_line = self.at_point(Conductor::Sl).or(lines.first().copied());
        if let (true, Some(line), Some(neutral)) = (self.point.lamp, lamp_line, neutral) {
            let (x, middle) = (left + 112.0, f64::midpoint(line, neutral));
            pen.stroke(&[(left + 44.0, line), (x, line), (x, middle - 11.0)]);
            pen.stroke(&[(x, middle + 11.0), (x, neutral), (left + 44.0, neutral)]);
            pen.lamp((x, middle), self.state.lamp_in);
            let word = if self.state.lamp_in { "in" } else { "out" };
            pen.text((left + 78.0, middle + 4.5), Anchor::Start, word);
        } else if let (Some(load), Some(&top)) = (self.point.load, lines.first()) {
            let low = neutral.or(lines.last().copied()).unwrap_or(top);
            let spot = (left + 116.0, f64::midpoint(top, low));
            for &line in &lines {
                pen.stroke(&[(left + 44.0, line), (left + 84.0, line), (spot.0 - 13.0, spot.1)]);
            }
            pen.load(spot, load.connection);
        }
    }

    /// The lane on which a conductor reaches the point.
    fn at_point(&self, conductor: Conductor) -> Option<f64> {
        match conductor {
            Conductor::Sl => self.switched.map(|(_, y)| y),
            _ => self.lanes.iter().find(|(there, _)| *there == conductor).map(|(_, y)| *y),
        }
    }

    /// Where a fault is marked; one that is nowhere in the picture is not.
    fn place_of(&self, fault: &Fault) -> Option<Spot> {
        let device = |id| self.devices.iter().position(|(_, device)| device.id == id);
        let switch = |id| self.circuit.switches.iter().position(|switch| switch.id == id);
        let at_switch =
            |at: usize| (self.board_right + 34.0 + SWITCH * at as f64, self.switched.map_or(TOP, |(_, y)| y));
        let at_device = |column: usize| (self.device_x(column) + POLE / 2.0, 86.0);
        let beside = |conductor| Some((self.board_right + 44.0, self.at_board(conductor)?));
        match fault {
            Fault::WrongDevice { .. } => Some(at_device(device(self.bay.isolate.device.clone())?)),
            Fault::StuckPole { device: id, pole } => {
                let x = self.device_x(device(id.clone())?) + POLE / 2.0;
                Some((x, self.at_board(*pole)? + 14.0))
            }
            Fault::CrossedPolarity => Some((SUPPLY + 8.0, self.at_board(Conductor::N)? - 14.0)),
            Fault::BorrowedNeutral { .. } | Fault::BrokenNeutral => beside(Conductor::N),
            Fault::LostEarth => Some((self.point_left + 16.0, self.at_point(Conductor::E)?)),
            Fault::StuckSwitch { switch: id, .. } | Fault::BrokenContact { switch: id, .. } => {
                let (x, y) = at_switch(switch(id.clone())?);
                Some((x + 96.0, y - APART - 18.0))
            }
            Fault::JoinedStrapper { behind, wire, .. } => {
                let (x, y) = at_switch(switch(behind.clone())?);
                Some((x + SWITCH - 14.0, y + if *wire == 1 { -APART } else { APART }))
            }
            Fault::SecondSupply { .. } | Fault::FloatingSupply { .. } => {
                let line = self.point.conductors.iter().find(|conductor| conductor.is_line())?;
                Some((self.point_left + 16.0, self.at_point(*line)?))
            }
            Fault::DeadIndicator => None,
        }
    }
}

/// The first line that feeds a circuit.
fn line_of(bay: &Bay, circuit: &Circuit) -> Option<Conductor> {
    let feeding = bay.board.devices.iter().filter(|device| device.feeds.as_ref() == Some(&circuit.id));
    feeding.flat_map(|device| device.poles.iter().copied()).filter(|pole| pole.is_line()).min()
}

/// The conductors that leave the board for the circuit: its lines, N and E.
fn carried(bay: &Bay, circuit: &Circuit, point: &Point) -> Vec<Conductor> {
    let feeding = || bay.board.devices.iter().filter(|device| device.feeds.as_ref() == Some(&circuit.id));
    let is_carried = |conductor: &Conductor| {
        *conductor != Conductor::Sl
            && (point.conductors.contains(conductor) || feeding().any(|device| device.poles.contains(conductor)))
    };
    let mut conductors: Vec<Conductor> = Conductor::ALL.into_iter().filter(is_carried).collect();
    // Lines on top, then N, then E.
    conductors.sort_by_key(|conductor| (std::cmp::Reverse(conductor.danger()), *conductor));
    conductors
}
