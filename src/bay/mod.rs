//! What stands in the bay: board, circuits, points of work, the equipment table, and the tests a complete proof needs.
//!
//! Pure: nothing here knows a clock, a screen or a database.

pub mod board;
pub mod circuit;
pub mod coverage;
pub mod drawing;
pub mod equipment;
pub mod fault;
pub mod ids;
pub mod network;
pub mod plan;
pub(crate) mod read;
pub mod readings;
pub mod setup;
pub mod solve;
pub mod standards;
pub mod write;

pub use board::{Board, Device, DeviceKind};
pub use circuit::{Circuit, Conductor, Connection, Load, Point, PointKind, Switch, SwitchKind, Wiring};
pub use equipment::{Item, ItemKind, Leads, Probes, Protection, Thing};
pub use fault::Fault;
pub use ids::{CircuitId, DeviceId, ItemId, PointId, SourceId, SwitchId};
pub use setup::{Setting, Setup};
pub use standards::Standards;

use serde::Serialize;

/// A bay set out for one task: the board, its circuits, what is to be isolated and what lies on the table.
///
/// A value of this type has been checked: every identifier it mentions exists, and the circuit to isolate is fed by
/// the device to isolate and holds the point of work.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bay {
    pub standards: Standards,
    pub supply: Supply,
    pub board: Board,
    pub circuits: Vec<Circuit>,
    /// Supplies that could feed the point of work and that the candidate is expected to name. Empty where the task
    /// does not ask.
    pub sources: Vec<Source>,
    pub isolate: Isolate,
    pub table: Vec<Item>,
    /// How the assessor sets the bay up before the candidate comes.
    pub setup: Setup,
}

/// The supply of the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Supply {
    pub phases: Phases,
    /// Volts between line and neutral.
    pub volts: u16,
}

/// How many phases the board has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "u8")]
pub enum Phases {
    One,
    Three,
}

impl From<Phases> for u8 {
    fn from(phases: Phases) -> Self {
        match phases {
            Phases::One => 1,
            Phases::Three => 3,
        }
    }
}

/// A supply that could feed the point of work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Source {
    pub id: SourceId,
    pub kind: SourceKind,
    pub label: String,
    /// The device on the board that isolates it. Without one it is switched elsewhere, and off unless a fault says
    /// otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device: Option<DeviceId>,
    /// The line conductor at the point of work that it feeds; the first one unless stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reaches: Option<Conductor>,
}

/// What sort of supply a [`Source`] is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceKind {
    Mains,
    Generator,
    Battery,
    Inverter,
    OtherBoard,
}

/// What the task asks to be isolated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Isolate {
    pub circuit: CircuitId,
    /// The named device: the one that isolates the circuit.
    pub device: DeviceId,
    /// The point of work, where the circuit is proved dead.
    pub point: PointId,
}

impl Bay {
    /// The device with this identifier, on the board.
    pub fn device(&self, id: &DeviceId) -> Option<&Device> {
        self.board.devices.iter().find(|device| device.id == *id)
    }

    /// The circuit with this identifier.
    pub fn circuit(&self, id: &CircuitId) -> Option<&Circuit> {
        self.circuits.iter().find(|circuit| circuit.id == *id)
    }

    /// The item on the table with this identifier.
    pub fn item(&self, id: &ItemId) -> Option<&Item> {
        self.table.iter().find(|item| item.id == *id)
    }

    /// Every point of every circuit.
    pub fn points(&self) -> impl Iterator<Item = &Point> {
        self.circuits.iter().flat_map(|circuit| &circuit.points)
    }

    /// Every switch of every circuit.
    pub fn switches(&self) -> impl Iterator<Item = &Switch> {
        self.circuits.iter().flat_map(|circuit| &circuit.switches)
    }

    /// The point with this identifier.
    pub fn point(&self, id: &PointId) -> Option<&Point> {
        self.points().find(|point| point.id == *id)
    }

    /// The switch with this identifier.
    pub fn switch(&self, id: &SwitchId) -> Option<&Switch> {
        self.switches().find(|switch| switch.id == *id)
    }

    /// The source with this identifier.
    pub fn source(&self, id: &SourceId) -> Option<&Source> {
        self.sources.iter().find(|source| source.id == *id)
    }
}
