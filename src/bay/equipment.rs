//! The equipment table and the real attributes of what lies on it.
//!
//! Whether an item suits the task is never typed in; it is worked out from these attributes.

use super::{DeviceId, ItemId};
use serde::{Deserialize, Serialize};

/// Most characters on a line of a short form, which has two lines: what the narrowest tile of the marking page shows
/// whole at its smallest letters.
pub const SHORT_LINE: usize = 12;

/// One thing on the equipment table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    pub id: ItemId,
    pub label: String,
    /// What a narrow tile says instead of the label; see [`SHORT_LINE`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub short: Option<String>,
    #[serde(flatten)]
    pub thing: Thing,
}

/// What an item is, with the attributes that decide whether it suits.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Thing {
    VoltageIndicator(Probes),
    Multimeter(Probes),
    NonContactIndicator,
    ProvingUnit {
        /// Volts it puts out.
        output_volts: u16,
        works: bool,
    },
    LockOff {
        /// The devices it fits.
        fits: Vec<DeviceId>,
    },
    Padlock {
        /// The key that opens it.
        key: ItemId,
    },
    Key,
    Notice {
        notice: NoticeKind,
    },
    LeadSet,
    Adapter,
}

/// What a notice tells whoever comes to the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoticeKind {
    /// Somebody is at work; do not switch on.
    DoNotSwitchOn,
    /// Warns of danger but forbids nothing.
    Danger,
    /// Says that testing is in progress.
    Testing,
}

/// The probes, leads and rating of an instrument.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Probes {
    /// Longest bare metal at a tip, in millimetres.
    pub exposed_tip_mm: f64,
    pub finger_guards: bool,
    pub leads: Leads,
    pub protection: Protection,
    pub in_date: bool,
    pub rated_volts: u16,
}

/// The condition of test leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Leads {
    Sound,
    Damaged,
}

/// What limits the current through test leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Protection {
    Fused,
    CurrentLimited,
    None,
}

/// The kind of an item without its attributes, as rules and pages name it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ItemKind {
    VoltageIndicator,
    Multimeter,
    NonContactIndicator,
    ProvingUnit,
    LockOff,
    Padlock,
    Key,
    Notice,
    LeadSet,
    Adapter,
}

impl ItemKind {
    /// What a candidate could try to prove a circuit dead with.
    pub const INSTRUMENTS: [Self; 3] = [Self::VoltageIndicator, Self::Multimeter, Self::NonContactIndicator];

    /// Whether a candidate could try to prove a circuit dead with it.
    pub fn is_instrument(self) -> bool {
        Self::INSTRUMENTS.contains(&self)
    }

    /// The spelling in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::VoltageIndicator => "voltage_indicator",
            Self::Multimeter => "multimeter",
            Self::NonContactIndicator => "non_contact_indicator",
            Self::ProvingUnit => "proving_unit",
            Self::LockOff => "lock_off",
            Self::Padlock => "padlock",
            Self::Key => "key",
            Self::Notice => "notice",
            Self::LeadSet => "lead_set",
            Self::Adapter => "adapter",
        }
    }
}

impl Item {
    /// The kind of the item.
    pub fn kind(&self) -> ItemKind {
        match self.thing {
            Thing::VoltageIndicator(_) => ItemKind::VoltageIndicator,
            Thing::Multimeter(_) => ItemKind::Multimeter,
            Thing::NonContactIndicator => ItemKind::NonContactIndicator,
            Thing::ProvingUnit { .. } => ItemKind::ProvingUnit,
            Thing::LockOff { .. } => ItemKind::LockOff,
            Thing::Padlock { .. } => ItemKind::Padlock,
            Thing::Key => ItemKind::Key,
            Thing::Notice { .. } => ItemKind::Notice,
            Thing::LeadSet => ItemKind::LeadSet,
            Thing::Adapter => ItemKind::Adapter,
        }
    }

    /// Whether a candidate could try to prove a circuit dead with it.
    pub fn is_instrument(&self) -> bool {
        self.kind().is_instrument()
    }
}
