//! Settings and faults at the start, as a task file writes them.

use super::Sketch;
use crate::bay::coverage::singles;
use crate::bay::{Bay, Fault};
use serde_json::{Value, json};

/// The faults that can be planted in this bay, in a fixed order; what is planted already is among them.
pub fn possible(bay: &Bay) -> Vec<Fault> {
    let mut faults = Vec::new();
    let others: Vec<_> =
        bay.circuits.iter().map(|circuit| &circuit.id).filter(|id| **id != bay.isolate.circuit).collect();
    for fault in singles(bay) {
        match fault {
            // Mistakes of the candidate, or of the indicator: nobody plants them in a bay.
            Fault::WrongDevice { .. } | Fault::FloatingSupply { .. } | Fault::DeadIndicator => {}
            Fault::BorrowedNeutral { .. } => {
                faults.extend(others.iter().map(|from| Fault::BorrowedNeutral { from: (*from).clone() }));
            }
            Fault::JoinedStrapper { behind, wire, .. } => {
                faults.extend(others.iter().map(|from| Fault::JoinedStrapper {
                    behind: behind.clone(),
                    wire,
                    from: (*from).clone(),
                }))
            }
            fault => faults.push(fault),
        }
    }
    for fault in &bay.setup.planted {
        // A file may plant the same thing twice.
        if !faults.contains(fault) {
            faults.push(fault.clone());
        }
    }
    faults
}

/// The name of a fault among those that can be planted: two strappers from different circuits differ too.
pub fn planted_id(fault: &Fault) -> String {
    match fault {
        Fault::JoinedStrapper { from, .. } => format!("{}:{from}", fault.id()),
        fault => fault.id(),
    }
}

impl Sketch {
    /// Writes settings and planted faults of a bay that was read, in the words of files.
    pub fn set_setup(&mut self, bay: &Bay) {
        let word = |switch: &crate::bay::SwitchId, setting: crate::bay::Setting| {
            bay.switch(switch).map(|there| setting.word(there.kind))
        };
        let setup = &bay.setup;
        let switches = setup
            .switches
            .iter()
            .map(|one| json!({ "switch": one.switch.as_str(), "setting": word(&one.switch, one.setting) }));
        let switches: Vec<Value> = switches.collect();
        let fault = |fault: &Fault| {
            let mut written = serde_json::to_value(fault).unwrap_or_default();
            if let Fault::StuckSwitch { switch, setting } = fault {
                written["setting"] = json!(word(switch, *setting));
            }
            super::without_nulls(&mut written);
            written
        };
        let planted: Vec<Value> = setup.planted.iter().map(fault).collect();
        self.set("setup", Some(json!({ "off": setup.off, "switches": switches, "planted": planted })));
    }
}
