//! Good and bad task files and logs.

mod forms;
mod logs;
mod properties;
mod rules;
mod tasks;

use crate::marking::Task;
use crate::reading::Faults;

/// The worked example.
pub(super) const STAIRWELL: &str = include_str!("../../../../tests/reference/examples/stairwell.toml");

/// Its log without a fault of the candidate.
pub(super) const FLAWLESS: &str = include_str!("../../../../tests/reference/examples/stairwell-flawless.ndjson");

/// The worked example, read.
pub(super) fn stairwell() -> Task {
    Task::read_toml(STAIRWELL).unwrap()
}

/// Each fault as a line of text.
pub(super) fn lines<T>(read: Result<T, Faults>) -> Vec<String> {
    read.err().map(|faults| faults.as_slice().iter().map(ToString::to_string).collect()).unwrap_or_default()
}
