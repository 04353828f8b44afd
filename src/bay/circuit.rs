//! Circuits, their switches and the points where conductors can be reached.

use super::{CircuitId, PointId, SwitchId};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What one device feeds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Circuit {
    pub id: CircuitId,
    pub label: String,
    pub wiring: Wiring,
    /// In order from the feed to the load; empty for radial and ring wiring.
    pub switches: Vec<Switch>,
    pub points: Vec<Point>,
    /// Metres of cable in which its conductors run side by side. Where it is stated, a conductor that floats picks up a
    /// voltage from its neighbours.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_m: Option<u16>,
}

/// How a circuit is wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wiring {
    Radial,
    Ring,
    /// Line and neutral loop at the first switch; the lamp has switched line, neutral and earth only.
    FeedAtSwitch,
    /// The permanent line loops through the rose, so that it is present beside the lamp.
    LoopIn,
}

/// A wall switch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Switch {
    pub id: SwitchId,
    pub kind: SwitchKind,
    pub label: String,
}

/// What sort of wall switch it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SwitchKind {
    OneWay,
    TwoWay,
    Intermediate,
}

/// A place where conductors can be reached.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    pub id: PointId,
    pub kind: PointKind,
    pub label: String,
    /// Distinct, at least two, E among them.
    pub conductors: Vec<Conductor>,
    /// Whether a lamp sits there that can be taken out.
    pub lamp: bool,
    /// What is connected there besides a lamp.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load: Option<Load>,
}

/// An appliance or a motor at a point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Load {
    pub connection: Connection,
    /// Resistance of each branch, in ohms.
    pub ohm: f64,
    /// Reactance in series with it, in ohms; a positive one is inductive.
    pub reactance_ohm: f64,
}

/// Between which conductors a load is connected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Connection {
    /// From each line at the point to N.
    LineNeutral,
    /// From each line at the point to a star point of its own.
    Star,
    /// From each line at the point to the next.
    Delta,
}

/// What sort of point it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PointKind {
    LampHolder,
    Rose,
    Socket,
    SwitchBox,
    Isolator,
    TerminalBox,
}

/// A conductor as it is lettered at a point or a pole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Conductor {
    E,
    N,
    L,
    L1,
    L2,
    L3,
    /// The switched line of a lighting point.
    #[serde(rename = "SL")]
    Sl,
}

impl Conductor {
    /// Every conductor, the less dangerous first.
    pub const ALL: [Self; 7] = [Self::E, Self::N, Self::L, Self::L1, Self::L2, Self::L3, Self::Sl];

    /// The letters on a drawing or a tile.
    pub fn letters(self) -> &'static str {
        match self {
            Self::E => "E",
            Self::N => "N",
            Self::L => "L",
            Self::L1 => "L1",
            Self::L2 => "L2",
            Self::L3 => "L3",
            Self::Sl => "SL",
        }
    }

    /// How dangerous the conductor is to touch, for the order of the probes: earth 0, neutral 1, every line 2.
    ///
    /// The earth probe goes on first so that the free probe cannot become live (trade fact B17, read second-hand).
    pub fn danger(self) -> u8 {
        match self {
            Self::E => 0,
            Self::N => 1,
            _ => 2,
        }
    }

    /// Whether it is a line conductor, switched or not.
    pub fn is_line(self) -> bool {
        self.danger() == 2
    }
}

impl fmt::Display for Conductor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.letters())
    }
}
