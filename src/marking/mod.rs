//! From observations to findings and a verdict.
//!
//! Pure: the same task and log give the same marking on any machine and in any year.

pub mod act_form;
pub mod answer;
pub mod checklist;
pub mod coverage;
pub mod decision;
pub mod difference;
pub mod draft;
pub mod examples;
pub mod feed;
pub mod finding;
pub mod fitness;
pub mod known;
pub mod library;
pub mod log;
pub mod observation;
mod read;
pub mod retrial;
pub mod rules;
pub mod sketch;
pub mod suits;
pub mod task;
pub mod timeline;
pub mod verdict;
pub mod words;
pub mod write;

pub use crate::bay::plan::Rounds;
pub use checklist::{Checklist, ChecklistFile, Criterion, CriterionId, Decided, Fails, Rule, Stage};
pub use finding::{Clock, Coverage, Finding, HiddenCause, Marking, Outcome, Owed, Scene, Verdict, VerdictOutcome};
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
    marked(task, log, coverage::of)
}

/// As [`mark`], but does not work out what the tests would have shown: feedback that no finding rests on, and most of the
/// work.
pub fn mark_without_coverage(task: &Task, log: &Log) -> Marking {
    marked(task, log, |_| Coverage::why_not("It was not asked for."))
}

fn marked(task: &Task, log: &Log, coverage: impl Fn(&Known) -> Coverage) -> Marking {
    let known = Known::fold(task, log, &HashSet::new());
    let unsure = known::unsure(log);
    let without = (!unsure.is_empty()).then(|| Known::fold(task, log, &unsure));
    let mut findings = Vec::new();
    let mut weighed = Vec::new();
    let mut owed = Vec::new();
    for criterion in task.checklist.criteria() {
        let answer = rules::decide(criterion, &known);
        owed.extend(answer.owed_by(criterion, &known));
        let finding = match &without {
            None => answer.finding(criterion, &known),
            Some(without) => surely(criterion, &answer, &known, without, &unsure),
        };
        weighed.push(Weighed {
            criterion: &criterion.id,
            outcome: finding.outcome,
            fails: criterion.fails,
            weight: criterion.weight,
            by_eye: criterion.decided == Decided::ByEye,
        });
        findings.push(finding);
    }
    Marking {
        verdict: verdict::verdict(task, &weighed, known.running),
        findings,
        owed,
        plan: bay::plan::plan(&task.bay, task.checklist.rounds()),
        coverage: coverage(&known),
        clock: Clock { elapsed_ms: known.elapsed_ms, allowed_ms: task.allowed_ms() },
        running: known.running,
    }
}

/// The finding where the marker is unsure of some observations: the one that stands without them, so that it cites none
/// of them; not seen where they make the difference.
fn surely(
    criterion: &Criterion,
    answer: &Answer,
    known: &Known,
    without: &Known,
    unsure: &HashSet<ObservationId>,
) -> Finding {
    let doubted = rules::decide(criterion, without);
    if doubted.outcome(without) == answer.outcome(known) {
        return doubted.finding(criterion, without);
    }
    let mut finding = answer.finding(criterion, known);
    finding.outcome = Outcome::NotSeen;
    finding.says = format!("Not seen well enough to decide. {}", finding.says);
    if !finding.because.iter().any(|id| unsure.contains(id)) {
        finding.because.extend(known.acts.iter().map(|seen| seen.id).find(|id| unsure.contains(id)));
    }
    finding
}
