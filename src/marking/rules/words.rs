//! Names of things for the sentences of findings.

use crate::bay::{CircuitId, Conductor, DeviceId, ItemId, SwitchId};
use crate::marking::known::Known;

impl Known<'_> {
    /// A device as a person knows it: its label and letters.
    pub(super) fn name_device(&self, id: &DeviceId) -> String {
        self.task.bay.device(id).map_or_else(|| id.to_string(), |device| format!("{id} ({})", device.label))
    }

    /// A circuit by its label.
    pub(super) fn name_circuit(&self, id: &CircuitId) -> String {
        self.task.bay.circuit(id).map_or_else(|| id.to_string(), |circuit| circuit.label.clone())
    }

    /// An item by its label.
    pub(super) fn name_item(&self, id: &ItemId) -> String {
        self.task.bay.item(id).map_or_else(|| id.to_string(), |item| item.label.clone())
    }

    /// A switch as a person knows it.
    pub(super) fn name_switch(&self, id: &SwitchId) -> String {
        self.task.bay.switch(id).map_or_else(|| id.to_string(), |switch| format!("{id} ({})", switch.label))
    }
}

/// A pair of conductors, such as `E–SL`.
pub(super) fn pair_name(pair: [Conductor; 2]) -> String {
    format!("{}–{}", pair[0], pair[1])
}

/// A list as a person writes it: `a`, `a and b`, `a, b and c`.
pub(super) fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}
