//! One marker's log of one session.

use super::Observation;

/// A log that is valid against its task: identifiers are distinct and exist, and what an observation strikes or
/// doubts was recorded before it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Log {
    /// In the order of recording.
    observations: Vec<Observation>,
}

impl Log {
    /// The observations in the order of recording.
    pub fn observations(&self) -> &[Observation] {
        &self.observations
    }
}

impl Log {
    /// Reads an NDJSON log and checks it against its task: valid or refused whole, with every fault.
    pub fn read(bytes: &[u8], task: &super::Task) -> Result<Self, crate::reading::Faults> {
        let _ = (bytes, task);
        todo!()
    }

    /// A log from observations that were each checked when they were stored, in the order of recording. They keep
    /// their `seq`, which may have gaps while a device still holds some back.
    pub fn of_stored(observations: Vec<Observation>) -> Self {
        Self { observations }
    }
}
