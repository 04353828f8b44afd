//! The verdict that follows from findings.

use super::{CriterionId, Fails, Outcome, Task, Verdict, VerdictOutcome};

/// One criterion as the verdict weighs it.
#[derive(Debug, Clone, Copy)]
pub struct Weighed<'a> {
    pub criterion: &'a CriterionId,
    pub outcome: Outcome,
    pub fails: Fails,
    pub weight: u16,
    /// Decided by eye.
    pub by_eye: bool,
}

/// The verdict: unfinished while the log runs or a criterion by eye is not seen; else an automatic fail, else a fail for a
/// must that is not met or for marks under the pass mark, else a pass. Not applicable leaves both sums.
pub fn verdict(task: &Task, weighed: &[Weighed], running: bool) -> Verdict {
    let counted = weighed.iter().filter(|one| one.outcome != Outcome::NotApplicable);
    let of: u32 = counted.clone().map(|one| u32::from(one.weight)).sum();
    let marks: u32 = counted.filter(|one| one.outcome == Outcome::Met).map(|one| u32::from(one.weight)).sum();
    let short = u64::from(marks) * 100 < u64::from(task.pass_percent) * u64::from(of);
    let (outcome, reasons) = outcome(weighed, running, short);
    Verdict { outcome, marks, of, percent: percent(marks, of), reasons }
}

fn outcome(weighed: &[Weighed], running: bool, short: bool) -> (VerdictOutcome, Vec<CriterionId>) {
    let ids = |wanted: &dyn Fn(&&Weighed) -> bool| -> Vec<CriterionId> {
        weighed.iter().filter(wanted).map(|one| one.criterion.clone()).collect()
    };
    let unjudged = ids(&|one| one.by_eye && one.outcome == Outcome::NotSeen);
    if running || !unjudged.is_empty() {
        return (VerdictOutcome::Unfinished, unjudged);
    }
    let automatic = ids(&|one| one.outcome == Outcome::NotMet && one.fails == Fails::Automatic);
    if !automatic.is_empty() {
        return (VerdictOutcome::AutomaticFail, automatic);
    }
    if short {
        return (VerdictOutcome::Fail, ids(&|one| matches!(one.outcome, Outcome::NotMet | Outcome::NotSeen)));
    }
    let must = ids(&|one| one.outcome == Outcome::NotMet && one.fails == Fails::Must);
    if must.is_empty() { (VerdictOutcome::Pass, Vec::new()) } else { (VerdictOutcome::Fail, must) }
}

/// A share in per cent to one decimal, rounded half up in whole numbers, so that it is the same on every machine.
fn percent(marks: u32, of: u32) -> f64 {
    if of == 0 {
        return 0.0;
    }
    let tenths = (u64::from(marks) * 1_000 * 2 + u64::from(of)) / (u64::from(of) * 2);
    tenths as f64 / 10.0
}
