//! What the assessor decided about proposed findings, and the verdict that follows.

use super::{CriterionId, Finding, Marking, Outcome, Task, Verdict};

/// The assessor's word on one proposed finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    pub criterion: CriterionId,
    /// The outcome that stands: met, not met or not applicable.
    pub outcome: Outcome,
    /// Why; required where the outcome is not the proposed one.
    pub reason: Option<String>,
}

/// A marking with the assessor's decisions in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Decided {
    /// Each finding as it stands.
    pub findings: Vec<Standing>,
    pub verdict: Verdict,
    /// What still needs the assessor before the session can be signed.
    pub open: Vec<Open>,
}

/// A finding as it stands after the decisions.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// As the engine proposed it.
    pub proposed: Finding,
    /// The outcome that stands.
    pub outcome: Outcome,
    /// The assessor's word, where there is one.
    pub decision: Option<Decision>,
}

/// Something that needs the assessor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Open {
    /// The log has not ended.
    NotEnded,
    /// An automatic fail to confirm or overrule.
    Confirm(CriterionId),
    /// A criterion by eye, or one not seen, to judge.
    Judge(CriterionId),
}

/// Puts the decisions into a marking. The latest decision on a criterion counts.
pub fn decide(task: &Task, marking: &Marking, decisions: &[Decision]) -> Decided {
    let _ = (task, marking, decisions);
    todo!()
}
