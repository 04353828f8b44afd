//! The distribution board and the devices on it.

use super::{CircuitId, Conductor, DeviceId};
use serde::{Deserialize, Serialize};

/// A distribution board or consumer unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Board {
    pub label: String,
    pub devices: Vec<Device>,
}

/// A main switch, isolator, breaker or residual-current device.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Device {
    pub id: DeviceId,
    pub kind: DeviceKind,
    /// The conductors it switches, one pole each: L, L1, L2, L3 or N.
    pub poles: Vec<Conductor>,
    /// Rated current in amperes.
    pub rating_a: Option<u16>,
    pub label: String,
    /// What a narrow tile says instead of the label, after the identifier; see [`super::equipment::SHORT_LINE`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub short: Option<String>,
    /// The circuit it feeds; a main switch feeds none of its own.
    pub feeds: Option<CircuitId>,
}

/// What sort of device it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DeviceKind {
    MainSwitch,
    Isolator,
    Breaker,
    Rcd,
    Rcbo,
    FuseSwitch,
}
