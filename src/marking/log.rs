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

    /// A log from observations that were each checked when they were stored, in the order of recording. They keep
    /// their `seq`, which may have gaps while a device still holds some back.
    pub fn of_stored(observations: Vec<Observation>) -> Self {
        Self { observations }
    }
}
