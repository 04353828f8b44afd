//! From observations to findings and a verdict.
//!
//! Pure: the same task and log give the same marking on any machine and in any year.

pub mod answer;
pub mod checklist;
pub mod decision;
pub mod finding;
pub mod known;
pub mod log;
pub mod observation;
mod read;
pub mod rules;
pub mod task;
pub mod verdict;
pub mod words;

pub use crate::bay::plan::Rounds;
pub use checklist::{Checklist, Criterion, CriterionId, Decided, Fails, Rule, Stage};
pub use finding::{Clock, Coverage, Finding, Marking, Outcome, Owed, Verdict, VerdictOutcome};
pub use log::Log;
pub use observation::{Act, Observation, ObservationId};
pub use task::{ExtraTime, Task};

use crate::bay;
use answer::Answer;
use known::Known;
use std::collections::HashSet;
use verdict::Weighed;

/// Marks a session from its task and its log.
///
/// The same task and log give the same marking, on any machine and in any year; nothing is read from the clock or kept
/// between calls. Linear in the observations.
pub fn mark(task: &Task, log: &Log) -> Marking {
    let known = Known::fold(task, log, &HashSet::new());
    let unsure = known::unsure(log);
    let without = (!unsure.is_empty()).then(|| Known::fold(task, log, &unsure));
    let mut findings = Vec::new();
    let mut weighed = Vec::new();
    let mut owed = Vec::new();
    for criterion in task.checklist.criteria() {
        let answer = rules::decide(criterion, &known);
        let doubt = without.as_ref().and_then(|without| doubt(criterion, &answer, &known, without, &unsure));
        let outcome = if doubt.is_some() { Outcome::NotSeen } else { answer.outcome(&known) };
        owed.extend(answer.owed_by(criterion, &known));
        weighed.push(Weighed {
            criterion: &criterion.id,
            outcome,
            fails: criterion.fails,
            weight: criterion.weight,
            by_eye: criterion.decided == Decided::ByEye,
        });
        findings.push(answer.finding(criterion, &known, outcome, doubt));
    }
    Marking {
        verdict: verdict::verdict(task, &weighed, known.running),
        findings,
        owed,
        plan: bay::plan::plan(&task.bay, task.checklist.rounds()),
        coverage: Coverage::default(),
        clock: Clock { elapsed_ms: known.elapsed_ms, allowed_ms: task.allowed_ms() },
        running: known.running,
    }
}

/// An unsure observation that the answer rests on: one without which the outcome would be another.
fn doubt(
    criterion: &Criterion,
    answer: &Answer,
    known: &Known,
    without: &Known,
    unsure: &HashSet<ObservationId>,
) -> Option<ObservationId> {
    if rules::decide(criterion, without).outcome(without) == answer.outcome(known) {
        return None;
    }
    let rests_on = answer.parts().0.iter().map(|&pos| known.acts[pos].id);
    let cited = rests_on.into_iter().find(|id| unsure.contains(id));
    cited.or_else(|| known.acts.iter().map(|seen| seen.id).find(|id| unsure.contains(id)))
}
