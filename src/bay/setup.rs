//! How the assessor sets a bay up: switch settings, devices found off, and what is planted.

use super::{DeviceId, Fault, SwitchId, SwitchKind};
use serde::Serialize;

/// What the assessor prepares before the candidate comes. Nothing of it is shown to the candidate.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Setup {
    /// Devices that are off at the start; every other is on.
    pub off: Vec<DeviceId>,
    /// Switches that do not stand in their first setting.
    pub switches: Vec<SwitchSetting>,
    /// Faults planted in the circuit to isolate.
    pub planted: Vec<Fault>,
}

/// One switch in one setting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SwitchSetting {
    pub switch: SwitchId,
    pub setting: Setting,
}

/// One of the two settings of a wall switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Setting {
    #[default]
    First,
    Second,
}

impl Setting {
    /// Both settings.
    pub const BOTH: [Self; 2] = [Self::First, Self::Second];

    /// The words for the two settings of a kind of switch: off and on, 1 and 2, straight and crossed.
    pub fn words(kind: SwitchKind) -> [&'static str; 2] {
        match kind {
            SwitchKind::OneWay => ["off", "on"],
            SwitchKind::TwoWay => ["1", "2"],
            SwitchKind::Intermediate => ["straight", "crossed"],
        }
    }

    /// The word for this setting of a kind of switch.
    pub fn word(self, kind: SwitchKind) -> &'static str {
        let [first, second] = Self::words(kind);
        match self {
            Self::First => first,
            Self::Second => second,
        }
    }

    /// The other setting.
    pub fn thrown(self) -> Self {
        match self {
            Self::First => Self::Second,
            Self::Second => Self::First,
        }
    }
}

impl Setup {
    /// The setting of a switch at the start.
    pub fn setting(&self, switch: &SwitchId) -> Setting {
        self.switches.iter().find(|there| there.switch == *switch).map(|there| there.setting).unwrap_or_default()
    }
}
