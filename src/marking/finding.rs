//! What marking answers: findings, verdict, what is owed, the plan and the clock.

use super::{CriterionId, Fails, ObservationId};
use crate::bay::Fault;
use crate::bay::network::State;
use crate::bay::plan::Plan;
use serde::{Deserialize, Serialize};

/// Everything that follows from a task and a log. Serialises to the contract of `mark --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Marking {
    pub verdict: Verdict,
    /// One for each criterion, in the order of the checklist.
    pub findings: Vec<Finding>,
    pub owed: Vec<Owed>,
    pub plan: Plan,
    pub coverage: Coverage,
    pub clock: Clock,
    /// Whether the log has not ended. Not part of the printed contract, which says so by its verdict.
    #[serde(skip)]
    pub running: bool,
}

/// What became of one criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    pub criterion: CriterionId,
    pub outcome: Outcome,
    pub fails: Fails,
    pub weight: u16,
    /// The observations it rests on, in the order of their times.
    pub because: Vec<ObservationId>,
    /// Session time of the observation that settled it, in milliseconds.
    pub at_ms: Option<u64>,
    /// What was seen and at what minute, in one sentence.
    pub says: String,
}

/// What became of a criterion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    Met,
    NotMet,
    NotSeen,
    NotApplicable,
}

/// Something that can still settle a criterion: an act of the candidate while the log runs, or a judgement by eye.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Owed {
    pub criterion: CriterionId,
    pub says: String,
}

/// The verdict with its reasons.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    pub outcome: VerdictOutcome,
    pub marks: u32,
    pub of: u32,
    /// Marks as a percentage, to one decimal; 0 where nothing was applicable.
    pub percent: f64,
    /// The criteria that decided it.
    pub reasons: Vec<CriterionId>,
}

/// How an attempt came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VerdictOutcome {
    Pass,
    Fail,
    AutomaticFail,
    Unfinished,
}

/// Which hidden causes the tests would have shown.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Coverage {
    pub shown: u32,
    pub of: u32,
    pub hidden_causes: Vec<HiddenCause>,
    /// Why nothing could be worked out, in a sentence; the counts are 0 then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why_not: Option<String>,
}

impl Coverage {
    /// No coverage, and why.
    pub fn why_not(says: impl Into<String>) -> Self {
        Self { why_not: Some(says.into()), ..Self::default() }
    }
}

/// A way the point could still be live although it looks dead.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HiddenCause {
    /// Stable, such as `stuck_pole:Q2:L`.
    pub id: String,
    /// The cause in plain sentences.
    pub says: String,
    /// Whether the tests show it, however the switches stood at the start.
    pub shown: bool,
    /// The test that shows it at the latest, or the proof that shows a dead indicator.
    pub by: Option<ObservationId>,
    /// From which settings it was missed and what the tests would have shown, in a sentence.
    pub missed_at: Option<String>,
    /// The smallest addition that would have shown it, in a sentence.
    pub addition: Option<String>,
    /// The `id` of an earlier cause that no voltage test can tell from this one: a page may show the two as one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub like: Option<String>,
    /// How the bay stood where it was missed, for a picture; not printed.
    #[serde(skip)]
    pub scene: Option<Scene>,
}

/// A bay in a state with faults in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scene {
    pub state: State,
    pub faults: Vec<Fault>,
}

/// The session's own time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Clock {
    /// Milliseconds from start to end (or to the last observation), pauses left out.
    pub elapsed_ms: u64,
    /// Milliseconds allowed, adjustments included.
    pub allowed_ms: u64,
}
