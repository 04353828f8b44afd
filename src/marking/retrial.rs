//! What a session would have come to under another checklist. It answers a question; nothing of it is ever stored.

use super::decision::{self, Decided, Decision, Standing};
use super::{
    Checklist, ChecklistFile, CriterionId, Decided as How, Fails, Log, Marking, Outcome, Task, Verdict, VerdictOutcome,
};
use std::collections::HashMap;

/// A session marked anew under another checklist.
#[derive(Debug, Clone, PartialEq)]
pub struct Retrial {
    /// What was signed.
    pub signed: VerdictOutcome,
    pub verdict: Verdict,
    /// The criteria that make the difference; empty where the outcome is the same.
    pub because: Vec<Because>,
}

/// One criterion that makes the difference between two outcomes.
#[derive(Debug, Clone, PartialEq)]
pub struct Because {
    pub criterion: CriterionId,
    pub says: String,
    /// How it stood and what it did; `None` where the checklist had no such criterion.
    pub was: Option<(Outcome, Fails)>,
    /// How it would stand; `None` where the other checklist has no such criterion.
    pub is: Option<(Outcome, Fails)>,
}

/// What a criterion by eye comes to that nobody ticked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unjudged {
    /// Nothing: the session is unfinished.
    Open,
    /// Met, to see what the rules alone change.
    Met,
}

/// The task with another checklist and its pass mark, everything else as it is.
pub fn with_checklist(task: &Task, file: &ChecklistFile) -> Task {
    Task { checklist: file.checklist.clone(), pass_percent: file.pass_percent, ..task.clone() }
}

/// Marks a signed session under `other`, which is its `task` with another checklist in it. The assessor's decisions count
/// wherever the other checklist has a criterion of that identifier; what it proposes anew stands as proposed, since nobody
/// was asked. A criterion by eye that nobody ticked leaves the session unfinished, or counts as met, as `unjudged` says.
pub fn retry(
    task: &Task,
    other: &Task,
    log: &Log,
    decisions: &[Decision],
    signed: VerdictOutcome,
    unjudged: Unjudged,
) -> Retrial {
    let is = stand(other, log, decisions, unjudged);
    let because = if is.verdict.outcome == signed {
        Vec::new()
    } else {
        // Only where the outcome differs does anybody ask what it was before.
        differ(&task.checklist, &other.checklist, &stand(task, log, decisions, Unjudged::Open), &is)
    };
    Retrial { signed, verdict: is.verdict, because }
}

fn stand(task: &Task, log: &Log, decisions: &[Decision], unjudged: Unjudged) -> Decided {
    let marking = super::mark_without_coverage(task, log);
    match unjudged {
        Unjudged::Open => decision::decide(task, &marking, decisions),
        Unjudged::Met => decision::decide(task, &marking, &with_eye_met(task, &marking, decisions)),
    }
}

/// The decisions, and a word for every criterion by eye that nobody judged: met. To show what rules alone come to.
pub fn with_eye_met(task: &Task, marking: &Marking, decisions: &[Decision]) -> Vec<Decision> {
    let by_eye = |id: &CriterionId| task.checklist.criterion(id).is_some_and(|one| one.decided == How::ByEye);
    let open =
        marking.findings.iter().filter(|finding| finding.outcome == Outcome::NotSeen && by_eye(&finding.criterion));
    let met = |id: &CriterionId| Decision { criterion: id.clone(), outcome: Outcome::Met, reason: None };
    // The latest counts, so what was decided comes after.
    open.map(|finding| met(&finding.criterion)).chain(decisions.iter().cloned()).collect()
}

/// The criteria that stand otherwise and bear on one of the two verdicts; all that stand otherwise where the marks decided.
fn differ(older: &Checklist, newer: &Checklist, was: &Decided, is: &Decided) -> Vec<Because> {
    let before: HashMap<&CriterionId, &Standing> = by_id(was);
    let after: HashMap<&CriterionId, &Standing> = by_id(is);
    let reason = |id: &CriterionId| was.verdict.reasons.contains(id) || is.verdict.reasons.contains(id);
    let says = |id: &CriterionId| newer.criterion(id).or_else(|| older.criterion(id)).map(|one| one.says.clone());
    let ids = newer.criteria().chain(older.criteria().filter(|one| newer.criterion(&one.id).is_none()));
    let because = |id: &CriterionId| Because {
        criterion: id.clone(),
        says: says(id).unwrap_or_default(),
        was: before.get(id).map(|standing| (standing.outcome, standing.proposed.fails)),
        is: after.get(id).map(|standing| (standing.outcome, standing.proposed.fails)),
    };
    let otherwise = |because: &Because| {
        let weight = |side: &HashMap<&CriterionId, &Standing>| {
            side.get(&because.criterion).map(|standing| standing.proposed.weight)
        };
        because.was != because.is || weight(&before) != weight(&after)
    };
    let all: Vec<Because> = ids.map(|one| because(&one.id)).filter(otherwise).collect();
    let deciding: Vec<Because> = all.iter().filter(|one| reason(&one.criterion)).cloned().collect();
    if deciding.is_empty() { all } else { deciding }
}

fn by_id(decided: &Decided) -> HashMap<&CriterionId, &Standing> {
    decided.findings.iter().map(|standing| (&standing.proposed.criterion, standing)).collect()
}

/// How many sessions came to what, and would come to what.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Counts([[u32; 4]; 4]);

impl Counts {
    /// The outcomes, in the order of rows and columns.
    pub const OUTCOMES: [VerdictOutcome; 4] =
        [VerdictOutcome::Pass, VerdictOutcome::Fail, VerdictOutcome::AutomaticFail, VerdictOutcome::Unfinished];

    /// Counts one session.
    pub fn add(&mut self, was: VerdictOutcome, is: VerdictOutcome) {
        self.0[Self::at(was)][Self::at(is)] += 1;
    }

    /// Sessions that came to `was` and would come to `is`.
    pub fn of(&self, was: VerdictOutcome, is: VerdictOutcome) -> u32 {
        self.0[Self::at(was)][Self::at(is)]
    }

    /// Every session.
    pub fn all(&self) -> u32 {
        self.0.iter().flatten().sum()
    }

    /// Sessions whose outcome would differ.
    pub fn different(&self) -> u32 {
        self.all() - (0..4).map(|at| self.0[at][at]).sum::<u32>()
    }

    fn at(outcome: VerdictOutcome) -> usize {
        match outcome {
            VerdictOutcome::Pass => 0,
            VerdictOutcome::Fail => 1,
            VerdictOutcome::AutomaticFail => 2,
            VerdictOutcome::Unfinished => 3,
        }
    }
}
