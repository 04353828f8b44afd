//! What the assessor decided about proposed findings, and the verdict that follows.
//!
//! An automatic outcome never stands without a person: each proposed automatic fail is confirmed or overruled with a
//! reason, and what could not be seen is judged, before a session can be signed.

use super::verdict::{Weighed, verdict};
use super::{CriterionId, Decided as How, Fails, Finding, Marking, Outcome, Task, Verdict, VerdictOutcome};

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

/// Why a decision cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecisionFault {
    #[error("no criterion is called “{0}”")]
    Unknown(CriterionId),
    #[error("a decision is met, not met or not applicable")]
    NotSeen,
    #[error("a reason is needed where the outcome is not the proposed one")]
    NoReason,
    #[error("a reason has at most {0} characters")]
    TooLong(usize),
}

/// Longest reason, in characters.
pub const LONGEST_REASON: usize = 2_000;

impl Decision {
    /// Says what is wrong with a decision on this marking, if anything.
    pub fn check(&self, marking: &Marking) -> Result<(), DecisionFault> {
        let proposed = marking.findings.iter().find(|finding| finding.criterion == self.criterion);
        let proposed = proposed.ok_or_else(|| DecisionFault::Unknown(self.criterion.clone()))?;
        let reason = self.reason.as_deref().map(str::trim).unwrap_or_default();
        if self.outcome == Outcome::NotSeen {
            return Err(DecisionFault::NotSeen);
        }
        if self.outcome != proposed.outcome && reason.is_empty() {
            return Err(DecisionFault::NoReason);
        }
        if reason.chars().count() > LONGEST_REASON {
            return Err(DecisionFault::TooLong(LONGEST_REASON));
        }
        Ok(())
    }
}

/// Puts the decisions into a marking. The latest decision on a criterion counts.
pub fn decide(task: &Task, marking: &Marking, decisions: &[Decision]) -> Decided {
    let running = marking.running;
    let findings: Vec<Standing> = marking.findings.iter().map(|finding| stand(finding, decisions)).collect();
    let weighed: Vec<Weighed> = findings.iter().map(|standing| weigh(task, standing)).collect();
    let verdict = verdict(task, &weighed, running);
    let mut open = Vec::new();
    if running {
        open.push(Open::NotEnded);
    }
    open.extend(findings.iter().filter(|_| !running).filter_map(needs));
    Decided { findings, verdict, open }
}

impl Standing {
    /// Whether the assessor's word differs from what was worked out. Judging what was not seen overrules nothing.
    pub fn is_overruled(&self) -> bool {
        let settled = self.proposed.outcome != Outcome::NotSeen;
        settled && self.decision.is_some() && self.outcome != self.proposed.outcome
    }
}

impl Decided {
    /// The criteria on which the assessor's word differs from what was worked out.
    pub fn overruled(&self) -> Vec<CriterionId> {
        let overruled = self.findings.iter().filter(|standing| standing.is_overruled());
        overruled.map(|standing| standing.proposed.criterion.clone()).collect()
    }

    /// Whether everything is decided, so that the session can be signed.
    pub fn can_be_signed(&self) -> bool {
        self.open.is_empty() && self.verdict.outcome != VerdictOutcome::Unfinished
    }
}

fn stand(finding: &Finding, decisions: &[Decision]) -> Standing {
    let decision = decisions.iter().rfind(|decision| decision.criterion == finding.criterion).cloned();
    let outcome = decision.as_ref().map_or(finding.outcome, |decision| decision.outcome);
    Standing { proposed: finding.clone(), outcome, decision }
}

fn weigh<'a>(task: &Task, standing: &'a Standing) -> Weighed<'a> {
    let finding = &standing.proposed;
    let by_eye = task.checklist.criterion(&finding.criterion).is_some_and(|one| one.decided == How::ByEye);
    Weighed {
        criterion: &finding.criterion,
        outcome: standing.outcome,
        fails: finding.fails,
        weight: finding.weight,
        by_eye,
    }
}

fn needs(standing: &Standing) -> Option<Open> {
    let criterion = standing.proposed.criterion.clone();
    match (standing.proposed.outcome, standing.outcome) {
        (_, Outcome::NotSeen) => Some(Open::Judge(criterion)),
        (Outcome::NotMet, _) if standing.proposed.fails == Fails::Automatic && standing.decision.is_none() => {
            Some(Open::Confirm(criterion))
        }
        _ => None,
    }
}
