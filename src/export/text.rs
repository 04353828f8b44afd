//! A marking, a plan and a coverage as plain text for a terminal.

use crate::bay::plan::{Exposing, Plan, Reasons};
use crate::marking::known::minute;
use crate::marking::{Coverage, Finding, HiddenCause, Log, Marking, Outcome, Task, VerdictOutcome};
use std::fmt::Write;

/// Columns of the text; findings are wrapped to it.
const WIDTH: usize = 100;
/// Columns before the words of a finding.
const INDENT: usize = 6;

/// The caution on everything that shows a procedure.
pub const CAUTION: &str =
    "Training material, not a permit to work. Local rules and a competent licensed person decide.";

/// The marking of one log: verdict first, then each stage with what became of its criteria.
pub fn marking(task: &Task, marking: &Marking) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}\n", task.title);
    let verdict = &marking.verdict;
    let _ = writeln!(out, "{}", headline(verdict.outcome));
    let _ = writeln!(out, "{} of {} marks ({:.1} %)", verdict.marks, verdict.of, verdict.percent);
    let clock = marking.clock;
    let _ = writeln!(out, "{} of {} minutes", minute(clock.elapsed_ms), minute(clock.allowed_ms));
    for id in &verdict.reasons {
        if let Some(criterion) = task.checklist.criterion(id) {
            let _ = writeln!(out, "  because of {id}: {}", criterion.says);
        }
    }
    for stage in &task.checklist.stages {
        let _ = writeln!(out, "\n{}", stage.title);
        for criterion in &stage.criteria {
            if let Some(finding) = marking.findings.iter().find(|finding| finding.criterion == criterion.id) {
                put_finding(&mut out, &criterion.says, finding);
            }
        }
    }
    if !marking.owed.is_empty() {
        let _ = writeln!(out, "\nStill owed: {}", marking.owed.len());
    }
    let coverage = &marking.coverage;
    match &coverage.why_not {
        Some(why) => _ = writeln!(out, "\nNo word on hidden causes. {why}"),
        None => _ = writeln!(out, "\nThe tests show {} of {} hidden causes.", coverage.shown, coverage.of),
    }
    let _ = writeln!(out, "\n{CAUTION}");
    out
}

fn headline(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "PASS",
        VerdictOutcome::Fail => "FAIL",
        VerdictOutcome::AutomaticFail => "AUTOMATIC FAIL (proposed; an assessor confirms or overrules it)",
        VerdictOutcome::Unfinished => "UNFINISHED",
    }
}

fn put_finding(out: &mut String, says: &str, finding: &Finding) {
    let mark = match finding.outcome {
        Outcome::Met => "  ✓",
        Outcome::NotMet => "  ✕",
        Outcome::NotSeen => "  ?",
        Outcome::NotApplicable => "  –",
    };
    let _ = writeln!(out, "{mark}   {says}");
    for line in wrapped(&finding.says, WIDTH - INDENT) {
        let _ = writeln!(out, "{:INDENT$}{line}", "");
    }
}

/// Which hidden causes were shown and which were missed, the missed ones first.
pub fn coverage(task: &Task, log: &Log, coverage: &Coverage) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}\n", task.title);
    if let Some(why) = &coverage.why_not {
        let _ = writeln!(out, "No coverage. {why}\n\n{CAUTION}");
        return out;
    }
    let _ = writeln!(out, "The tests show {} of {} hidden causes.", coverage.shown, coverage.of);
    let (shown, missed): (Vec<&HiddenCause>, Vec<_>) = coverage.hidden_causes.iter().partition(|cause| cause.shown);
    if !missed.is_empty() {
        let _ = writeln!(out, "\nMissed");
    }
    for cause in missed {
        let _ = writeln!(out, "  ✕   {}", cause.says);
        // What is like an earlier cause was missed from where that one was, and the same would have shown it.
        if cause.like.is_some() {
            continue;
        }
        for says in [&cause.missed_at, &cause.addition].into_iter().flatten() {
            for line in wrapped(says, WIDTH - INDENT) {
                let _ = writeln!(out, "{:INDENT$}{line}", "");
            }
        }
    }
    if !shown.is_empty() {
        let _ = writeln!(out, "\nShown");
    }
    for cause in shown {
        let seen = log.observations().iter().find(|seen| Some(seen.id) == cause.by);
        let by =
            seen.map(|seen| format!("  (by {}, observation {})", minute(seen.at_ms), seen.seq)).unwrap_or_default();
        let _ = writeln!(out, "  ✓   {}{by}", cause.says);
    }
    let _ = writeln!(out, "\n{CAUTION}");
    out
}

/// The tests a complete proof needs, and for each pair a fault that it alone shows where that was worked out.
pub fn plan(task: &Task, plan: &Plan, reasons: Option<&Reasons>) -> String {
    let point = task.bay.point(&task.bay.isolate.point).map_or("the point", |point| point.label.as_str());
    let mut out = String::new();
    let _ = writeln!(out, "{}\n", task.title);
    let pairs = plan.pairs.len();
    let tests = u64::from(plan.rounds) * pairs as u64;
    let rounds = if plan.rounds == 1 { "1 round".to_owned() } else { format!("{} rounds", plan.rounds) };
    let _ = writeln!(out, "At {point}: {pairs} pairs in {rounds}, {tests} tests in all.\n");
    for pair in &plan.pairs {
        let _ = writeln!(out, "  {} on first, then {}", pair[0], pair[1]);
        let reason = reasons.and_then(|reasons| reasons.pairs.iter().find(|reason| reason.pair == *pair));
        for line in
            reason.map(|reason| wrapped(&format!("Alone shows: {}", reason.says), WIDTH - INDENT)).into_iter().flatten()
        {
            let _ = writeln!(out, "{:INDENT$}{line}", "");
        }
    }
    let switches = task.bay.circuit(&task.bay.isolate.circuit).map_or(&[][..], |circuit| &circuit.switches[..]);
    if plan.rounds > 1 {
        let names: Vec<String> = switches.iter().map(|switch| format!("{} ({})", switch.id, switch.label)).collect();
        let _ = writeln!(out, "\nOnce as found, then again after throwing a switch: {}.", names.join(", "));
        for says in reasons.into_iter().flat_map(|reasons| &reasons.exposing).map(Exposing::says) {
            wrapped(&says, WIDTH).iter().for_each(|line| _ = writeln!(out, "{line}"));
        }
    }
    let _ = writeln!(out, "\n{CAUTION}");
    out
}

/// Words in lines of at most `width` characters; a longer word stands alone.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn words_wrap_at_the_width_and_none_is_lost() {
        let lines = wrapped("one two three fourteen-letters five", 9);
        assert_eq!(lines, ["one two", "three", "fourteen-letters", "five"]);
        assert!(wrapped("", 9).is_empty());
    }
}
