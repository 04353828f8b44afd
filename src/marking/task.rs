//! A task: bay, checklist, minutes and briefing.

use super::Checklist;
use crate::bay::Bay;
use serde::Serialize;

/// A task as its file describes it, checked throughout.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Task {
    pub title: String,
    pub briefing: String,
    /// Time allowed, in minutes: 1 to 600.
    pub minutes: u16,
    /// The share of the marks that passes: 0 to 100.
    pub pass_percent: u8,
    #[serde(flatten)]
    pub bay: Bay,
    pub checklist: Checklist,
    /// An adjustment agreed with the candidate; none in the file itself.
    #[serde(skip)]
    pub extra: ExtraTime,
}

/// Time agreed with one candidate on top of the task's minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ExtraTime {
    /// Per cent of the task's minutes.
    pub percent: u16,
    /// Whole minutes.
    pub minutes: u16,
}

impl Task {
    /// The same task with an adjustment in it.
    pub fn with_extra(mut self, extra: ExtraTime) -> Self {
        self.extra = extra;
        self
    }

    /// Milliseconds allowed, the adjustment included.
    pub fn allowed_ms(&self) -> u64 {
        let minutes = u64::from(self.minutes) * 60_000;
        minutes + minutes * u64::from(self.extra.percent) / 100 + u64::from(self.extra.minutes) * 60_000
    }
}
