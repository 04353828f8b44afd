//! Faults that a bay may have: planted by the assessor, or considered as hidden causes of a live point.

use super::{Bay, CircuitId, Conductor, DeviceId, Setting, SourceId, SwitchId};
use serde::Serialize;

/// One fault of the circuit to isolate, of its point of work, or of what was done at the board.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(tag = "fault", rename_all = "snake_case")]
pub enum Fault {
    /// Another device was opened in place of the named one.
    WrongDevice { opened: DeviceId },
    /// A second supply feeds the point: one of the task's sources, or one that nobody knows of.
    SecondSupply { source: Option<SourceId> },
    /// A load of another circuit returns through this circuit's neutral.
    BorrowedNeutral { from: CircuitId },
    /// The neutral of the circuit is off its bar.
    BrokenNeutral,
    /// The earth is not connected at the point of work.
    LostEarth,
    /// Line and neutral of the circuit are crossed before its device.
    CrossedPolarity,
    /// A pole stays closed although its device says off.
    StuckPole { device: DeviceId, pole: Conductor },
    /// A switch stays in one setting although its rocker moves.
    StuckSwitch { switch: SwitchId, setting: Setting },
    /// A contact of a switch never makes. Contacts count from 1: of a two-way switch one for each setting, of an
    /// intermediate the two of straight, then the two of crossed.
    BrokenContact { switch: SwitchId, contact: u8 },
    /// The strapper `wire` (1 or 2) behind a switch is joined to another circuit.
    JoinedStrapper { behind: SwitchId, wire: u8, from: CircuitId },
    /// A supply that is not tied to earth, such as an inverter, stands between two conductors of the point.
    FloatingSupply { between: [Conductor; 2] },
    /// The indicator shows nothing at all. Only proving it can tell.
    DeadIndicator,
}

impl Fault {
    /// A stable identifier for files and exports, such as `stuck_pole:Q2:L`.
    pub fn id(&self) -> String {
        match self {
            Self::WrongDevice { opened } => format!("wrong_device:{opened}"),
            Self::SecondSupply { source: Some(source) } => format!("second_supply:{source}"),
            Self::SecondSupply { source: None } => "second_supply".to_owned(),
            Self::BorrowedNeutral { from } => format!("borrowed_neutral:{from}"),
            Self::BrokenNeutral => "broken_neutral".to_owned(),
            Self::LostEarth => "lost_earth".to_owned(),
            Self::CrossedPolarity => "crossed_polarity".to_owned(),
            Self::StuckPole { device, pole } => format!("stuck_pole:{device}:{pole}"),
            Self::StuckSwitch { switch, setting } => format!("stuck_switch:{switch}:{}", *setting as u8 + 1),
            Self::BrokenContact { switch, contact } => format!("broken_contact:{switch}:{contact}"),
            Self::JoinedStrapper { behind, wire, .. } => format!("joined_strapper:{behind}:{wire}"),
            Self::FloatingSupply { between: [one, other] } => format!("floating_supply:{one}:{other}"),
            Self::DeadIndicator => "dead_indicator".to_owned(),
        }
    }

    /// The fault as a plain sentence, in the past: it is told to a candidate afterwards.
    pub fn says(&self, bay: &Bay) -> String {
        let named = &bay.isolate.device;
        let circuit = |id: &CircuitId| bay.circuit(id).map_or(id.as_str(), |circuit| circuit.label.as_str()).to_owned();
        let device = |id: &DeviceId| match bay.device(id) {
            Some(device) => format!("{id} ({})", device.label),
            None => id.to_string(),
        };
        match self {
            Self::WrongDevice { opened } => {
                format!("{} was off instead of {}. The circuit was still on.", device(opened), device(named))
            }
            Self::SecondSupply { source } => match source.as_ref().and_then(|id| bay.source(id)) {
                Some(source) => format!("A second supply still fed the point: {}.", source.label),
                None => "A second supply that nobody knew of still fed the point.".to_owned(),
            },
            Self::BorrowedNeutral { from } => {
                format!("A load of {} used the neutral of this circuit.", circuit(from))
            }
            Self::BrokenNeutral => "The neutral of the circuit was off its bar.".to_owned(),
            Self::LostEarth => "The earth was not connected at the point.".to_owned(),
            Self::CrossedPolarity => {
                format!("Line and neutral were crossed before {named}. The neutral stayed live.")
            }
            Self::StuckPole { device: of, pole } => {
                format!("The {pole} contact of {} stayed closed, although its lever said off.", device(of))
            }
            Self::StuckSwitch { switch, setting } => {
                let word = bay.switch(switch).map_or("one", |there| setting.word(there.kind));
                format!("Switch {switch} was stuck in setting {word}, although its rocker moved.")
            }
            Self::BrokenContact { switch, contact } => {
                format!("Contact {contact} of switch {switch} never closed.")
            }
            Self::JoinedStrapper { behind, wire, from } => {
                format!("Strapper {wire} behind switch {behind} was joined to {}.", circuit(from))
            }
            Self::FloatingSupply { between: [one, other] } => {
                format!("A supply that is not tied to earth, such as an inverter, fed {one} and {other}.")
            }
            Self::DeadIndicator => "The indicator had died and would have shown nothing.".to_owned(),
        }
    }
}
