//! Findings as cards: what stands, what it rests on, and what is still open about it.

use super::criteria::rules;
use super::decide::Fault;
use super::marking::state;
use super::show::{self, Sign};
use crate::marking::decision::{Open, Standing};
use crate::marking::words::describe;
use crate::marking::{Act, CriterionId, Decided, Fails, Log, Observation, ObservationId, Task};

/// One finding with what it rests on.
pub struct Card {
    pub id: String,
    pub says: String,
    pub stage: String,
    pub fails: &'static str,
    pub by_eye: bool,
    pub stands: Sign,
    pub proposed: Sign,
    pub because: String,
    pub evidence: Vec<Evidence>,
    /// What the finding rests on and what was recorded just before and after each of it, in the order of time.
    pub around: Vec<Near>,
    /// The rule in plain words.
    pub rule: Vec<String>,
    /// The assessor's reason, where one was given.
    pub reason: Option<String>,
    pub decided: bool,
    pub open: bool,
    pub fault: Option<String>,
    /// The reason that was refused, to be put right.
    pub typed: String,
}

/// An observation among its neighbours.
pub struct Near {
    pub minute: String,
    pub says: String,
    /// Whether the finding rests on it.
    pub cited: bool,
}

/// One observation that a finding rests on.
pub struct Evidence {
    pub minute: String,
    pub says: String,
}

/// The card of a finding.
pub fn card(task: &Task, log: &Log, standing: &Standing, open: &[Open], fault: Option<&Fault>) -> Card {
    let id = &standing.proposed.criterion;
    let criterion = task.checklist.criterion(id);
    let stage = task.checklist.stages.iter().find(|stage| stage.criteria.iter().any(|one| one.id == *id));
    let is_open = |one: &Open| matches!(one, Open::Confirm(of) | Open::Judge(of) if of == id);
    Card {
        id: id.to_string(),
        says: criterion.map(|criterion| criterion.says.clone()).unwrap_or_default(),
        stage: stage.map(|stage| stage.title.clone()).unwrap_or_default(),
        fails: fails_words(standing.proposed.fails),
        by_eye: criterion.is_some_and(|criterion| criterion.decided == Decided::ByEye),
        stands: show::outcome(standing.outcome),
        proposed: show::outcome(standing.proposed.outcome),
        because: standing.proposed.says.clone(),
        evidence: evidence(task, log, standing),
        around: around(task, log, standing),
        rule: criterion.map(|criterion| rule_words(&criterion.decided)).unwrap_or_default(),
        reason: standing.decision.as_ref().and_then(|decision| decision.reason.clone()),
        decided: standing.decision.is_some(),
        open: open.iter().any(is_open),
        fault: fault.and_then(|fault| fault.on(id)).map(str::to_owned),
        typed: fault.filter(|fault| fault.on(id).is_some()).map(|fault| fault.typed.clone()).unwrap_or_default(),
    }
}

/// The observations that a finding rests on.
pub fn cited<'l>(log: &'l Log, standing: &Standing) -> Vec<&'l Observation> {
    let seen = |id: &ObservationId| log.observations().iter().find(|seen| seen.id == *id);
    standing.proposed.because.iter().filter_map(seen).collect()
}

/// How a criterion is decided, in plain sentences.
fn rule_words(decided: &Decided) -> Vec<String> {
    match decided {
        Decided::ByEye => vec!["Judged by eye: no record can settle it.".into()],
        Decided::Rule(rule) => {
            let says =
                rules::named(rule.word()).map_or_else(|| rules::plain(rule.word()), |words| words.says.to_owned());
            std::iter::once(says).chain(rules::parameters(rule)).collect()
        }
    }
}

/// What a finding rests on with its neighbours in time; nothing where it rests on nothing.
fn around(task: &Task, log: &Log, standing: &Standing) -> Vec<Near> {
    let of_the_attempt = |seen: &&Observation| !matches!(seen.act, Act::Struck { .. } | Act::Unsure { .. });
    let seen: Vec<&Observation> = state::standing(log).into_iter().filter(of_the_attempt).collect();
    let cited = |at: usize| seen.get(at).is_some_and(|one| standing.proposed.because.contains(&one.id));
    let near = |at: &usize| cited(*at) || cited(at + 1) || at.checked_sub(1).is_some_and(cited);
    let line =
        |at: usize| Near { minute: show::clock(seen[at].at_ms), says: describe(&seen[at].act, task), cited: cited(at) };
    (0..seen.len()).filter(near).map(line).collect()
}

/// The observations that a finding rests on, with their minutes.
pub fn evidence(task: &Task, log: &Log, standing: &Standing) -> Vec<Evidence> {
    let cite = |seen: &Observation| Evidence { minute: show::clock(seen.at_ms), says: describe(&seen.act, task) };
    cited(log, standing).into_iter().map(cite).collect()
}

/// What a criterion that is not met does, as a word.
pub fn fails_words(fails: Fails) -> &'static str {
    match fails {
        Fails::Ordinary => "costs marks if not met",
        Fails::Must => "fails if not met",
        Fails::Automatic => "automatic fail if not met",
    }
}

/// What is still open, as a line in the list of what stands in the way of signing.
pub fn open_words(task: &Task, open: &Open) -> String {
    let says =
        |id: &CriterionId| task.checklist.criterion(id).map_or(id.as_str(), |criterion| &criterion.says).to_owned();
    match open {
        Open::NotEnded => "The attempt has not been ended.".into(),
        Open::Confirm(id) => format!("Confirm or overrule: {}", says(id)),
        Open::Judge(id) => format!("Judge: {}", says(id)),
    }
}
