//! What an indicator is expected to show at the point of work: every pair in every setting of the switches, before the
//! isolation, after it, and with what is planted.
//!
//! For whoever prepares a bay: what is read there must be what the network says, or the bay is not as described.

use super::network::{self, State, Unbuildable};
use super::plan::pairs;
use super::setup::SwitchSetting;
use super::solve::LIVE_VOLTS;
use super::{Bay, Conductor, Setting, Switch};
use serde::Serialize;

/// Most switches of which every setting is gone through; with more, only the start and each switch thrown alone.
const MOST_SWITCHES: usize = 4;

/// Expected readings at the point of work, with its lamp out and appliances connected.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Expected {
    /// The columns: the less dangerous conductor first.
    pub pairs: Vec<[Conductor; 2]>,
    /// One table for each state of the bay, in the order in which they come up.
    pub cases: Vec<Case>,
}

/// One state of the bay.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Case {
    pub isolated: bool,
    pub planted: bool,
    pub rows: Vec<Row>,
    /// Why there are no rows, where the network has no sensible answer, such as a short circuit.
    pub why_not: Option<Unbuildable>,
}

/// Settings of the switches that read the same.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Each way the switches of the circuit may stand, in the order of the circuit.
    pub settings: Vec<Vec<SwitchSetting>>,
    /// Whether the bay is set up in one of them.
    pub at_start: bool,
    /// Whether these are all there are.
    pub every: bool,
    /// In the order of the columns.
    pub readings: Vec<Reading>,
}

/// What an indicator shows, in volts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reading {
    /// With its load switched in.
    pub volts: f64,
    /// Without it.
    pub unloaded_volts: f64,
}

/// What a reading is taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Means {
    None,
    /// Only an indicator that loads little shows it.
    Induced,
    Live,
}

impl Reading {
    /// From 50 V on it is live; a voltage that goes away under load is only induced.
    pub fn means(self) -> Means {
        if self.volts >= LIVE_VOLTS {
            Means::Live
        } else if self.unloaded_volts >= LIVE_VOLTS {
            Means::Induced
        } else {
            Means::None
        }
    }

    /// Whole volts, as an indicator shows them.
    pub fn whole(self) -> u32 {
        // Positive, and far below what a u32 holds: the supply has at most 1,000 V.
        self.volts.round() as u32
    }

    fn looks_like(self, other: Self) -> bool {
        self.whole() == other.whole() && self.means() == other.means()
    }
}

/// Works the readings out. The healthy bay first, then the bay with what is planted in it, if anything is.
pub fn expected(bay: &Bay) -> Expected {
    let point = bay.point(&bay.isolate.point);
    let mut healthy = bay.clone();
    healthy.setup.planted.clear();
    let mut cases = vec![case(&healthy, false), case(&healthy, true)];
    if !bay.setup.planted.is_empty() {
        cases.extend([case(bay, false), case(bay, true)]);
    }
    Expected { pairs: point.map(pairs).unwrap_or_default(), cases }
}

fn case(bay: &Bay, isolated: bool) -> Case {
    let (rows, why_not) = match rows(bay, isolated) {
        Ok(rows) => (rows, None),
        Err(why) => (Vec::new(), Some(why)),
    };
    Case { isolated, planted: !bay.setup.planted.is_empty(), rows, why_not }
}

fn rows(bay: &Bay, isolated: bool) -> Result<Vec<Row>, Unbuildable> {
    let switches = bay.circuit(&bay.isolate.circuit).map_or(&[][..], |circuit| &circuit.switches[..]);
    let start: Vec<SwitchSetting> = switches.iter().map(|it| set(it, bay.setup.setting(&it.id))).collect();
    let mut rows: Vec<Row> = Vec::new();
    for settings in ways(switches, &start) {
        let readings = readings(bay, isolated, &settings)?;
        let at_start = settings == start;
        let same = |row: &&mut Row| row.readings.iter().zip(&readings).all(|(one, other)| one.looks_like(*other));
        match rows.iter_mut().find(same) {
            Some(row) => {
                row.settings.push(settings);
                row.at_start |= at_start;
            }
            None => rows.push(Row { settings: vec![settings], at_start, every: false, readings }),
        }
    }
    let alone = rows.len() == 1;
    rows.iter_mut().for_each(|row| row.every = alone);
    Ok(rows)
}

fn set(switch: &Switch, setting: Setting) -> SwitchSetting {
    SwitchSetting { switch: switch.id.clone(), setting }
}

/// The ways the switches may stand, that of the start first.
fn ways(switches: &[Switch], start: &[SwitchSetting]) -> Vec<Vec<SwitchSetting>> {
    let thrown = |which: usize| {
        let one = |(at, there): (usize, &SwitchSetting)| match which >> at & 1 {
            0 => there.clone(),
            _ => SwitchSetting { setting: there.setting.thrown(), ..there.clone() },
        };
        start.iter().enumerate().map(one).collect()
    };
    if switches.len() <= MOST_SWITCHES {
        return (0..1 << switches.len()).map(thrown).collect();
    }
    std::iter::once(0).chain((0..switches.len()).map(|at| 1 << at)).map(thrown).collect()
}

fn readings(bay: &Bay, isolated: bool, settings: &[SwitchSetting]) -> Result<Vec<Reading>, Unbuildable> {
    let mut state = State::set_up(bay);
    state.lamp_in = false;
    if isolated {
        state.switch(bay, &bay.isolate.device, false);
    }
    settings.iter().for_each(|there| state.set(bay, &there.switch, there.setting));
    let shown = network::readings(bay, &bay.isolate.point, &state)?;
    Ok(shown.into_iter().map(|it| Reading { volts: it.volts, unloaded_volts: it.unloaded_volts }).collect())
}
