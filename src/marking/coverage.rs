//! What the tests made would have shown, as sentences for the candidate.

use super::finding::{Coverage, HiddenCause, Scene};
use super::known::{Known, Pos, Proof, Test};
use super::observation::{Act, OnOff, ProvedOn, Shows};
use super::{Log, ObservationId, Task};
use crate::bay::coverage::{self, Addition, Cause, Found, Missed, Replay, Step, WhyNot};
use crate::bay::network::State;
use crate::bay::{Bay, Fault, ItemKind, Setting, SwitchId};
use std::collections::HashSet;

/// Coverage of two hidden causes at once, of an ended log.
pub fn coverage_of_pairs(task: &Task, log: &Log) -> Coverage {
    let known = Known::fold(task, log, &HashSet::new());
    worked_out(&known, coverage::coverage_of_pairs)
}

/// Coverage of single hidden causes. A log that has not ended has none: its last proof is still to come.
pub(super) fn of(known: &Known) -> Coverage {
    worked_out(known, coverage::coverage)
}

fn worked_out(known: &Known, compute: fn(&Bay, &Replay) -> Result<coverage::Coverage, WhyNot>) -> Coverage {
    if known.running {
        return Coverage::why_not("The session has not ended.");
    }
    let done = Done::of(known);
    let bay = &known.task.bay;
    match compute(bay, &done.replay) {
        Err(why) => Coverage::why_not(why.to_string()),
        Ok(found) => {
            let told = |cause: &Cause| {
                let like = |at: usize| found.causes.get(at).map(Cause::id);
                HiddenCause { like: cause.like.and_then(like), ..hidden_cause(bay, cause, &done) }
            };
            let causes: Vec<HiddenCause> = found.causes.iter().map(told).collect();
            let shown = causes.iter().filter(|cause| cause.shown).count() as u32;
            Coverage { shown, of: causes.len() as u32, hidden_causes: causes, why_not: None }
        }
    }
}

/// What was done at the point of work, and by which observations.
struct Done {
    replay: Replay,
    /// The observation of each step.
    observations: Vec<ObservationId>,
    /// The good proof that closed the testing.
    last_proof: Option<ObservationId>,
    /// Tests between two good proofs, and the others.
    tests: usize,
    uncounted: usize,
}

impl Done {
    fn of(known: &Known) -> Self {
        let bay = &known.task.bay;
        let counted: Vec<(&Test, &Proof)> =
            known.tests_at_point().filter_map(|test| Some((test, closing_proof(known, test)?))).collect();
        let until = counted.last().map_or(known.acts.len(), |(test, _)| test.pos);
        let state = state_before(known, until);
        let mut now = State::set_up(bay);
        let mut steps = Vec::new();
        let mut observations = Vec::new();
        let mut next = counted.iter().peekable();
        for (pos, seen) in known.acts.iter().enumerate() {
            apply(bay, &mut now, &seen.act);
            let step = match &seen.act {
                Act::Operated { switch } if known.throws.iter().any(|throw| throw.pos == pos) => {
                    Some(Step::Throw(switch.clone()))
                }
                Act::Tested { .. } => next
                    .next_if(|(test, _)| test.pos == pos)
                    .filter(|_| now.on == state.on && now.loads_on == state.loads_on)
                    .map(|(test, _)| Step::Test { pair: [test.first, test.second], lamp_in: now.lamp_in }),
                _ => None,
            };
            if let Some(step) = step {
                steps.push(step);
                observations.push(seen.id);
            }
        }
        let uncounted = known.tests_at_point().count() - counted.len();
        let proved = !counted.is_empty() && uncounted == 0;
        let last_proof = counted.last().map(|(_, proof)| known.acts[proof.pos].id);
        Self { replay: Replay { state, steps, proved }, observations, last_proof, tests: counted.len(), uncounted }
    }
}

/// The good proof after a test, if the last proof of its instrument before it was good too.
fn closing_proof<'k, 'a>(known: &'k Known<'a>, test: &Test) -> Option<&'k Proof<'a>> {
    let item = test.item?;
    let kind = known.task.bay.item(item)?.kind();
    if !matches!(kind, ItemKind::VoltageIndicator | ItemKind::Multimeter) {
        return None;
    }
    let of_item = || known.proofs.iter().filter(|proof| proof.item == item);
    let good =
        |proof: &&Proof| proof.shows == Shows::All && matches!(proof.on, ProvedOn::ProvingUnit | ProvedOn::KnownLive);
    of_item().rfind(|proof| proof.pos < test.pos).filter(good)?;
    of_item().find(|proof| proof.pos > test.pos).filter(good)
}

/// How devices, lamp and loads stood just before an act, as far as the log says; the rest as it was set up.
fn state_before(known: &Known, pos: Pos) -> State {
    let bay = &known.task.bay;
    let mut state = State::set_up(bay);
    known.acts[..pos].iter().for_each(|seen| apply(bay, &mut state, &seen.act));
    state
}

fn apply(bay: &Bay, state: &mut State, act: &Act) {
    match act {
        Act::Switched { device, to } => state.switch(bay, device, *to == OnOff::On),
        Act::LampOut { point } if *point == bay.isolate.point => state.lamp_in = false,
        Act::LampIn { point } if *point == bay.isolate.point => state.lamp_in = true,
        Act::LoadOff { circuit } if *circuit == bay.isolate.circuit => state.loads_on = false,
        _ => {}
    }
}

fn hidden_cause(bay: &Bay, cause: &Cause, done: &Done) -> HiddenCause {
    let blank = HiddenCause {
        id: cause.id(),
        says: cause.says(bay),
        shown: true,
        by: None,
        missed_at: None,
        addition: None,
        scene: None,
        like: None,
    };
    match &cause.found {
        Found::ByTest(step) => HiddenCause { by: done.observations.get(*step).copied(), ..blank },
        Found::ByProof => HiddenCause { by: done.last_proof, ..blank },
        Found::Missed(_) if cause.faults.contains(&Fault::DeadIndicator) => HiddenCause {
            shown: false,
            missed_at: Some("Not every test stood between two good proofs of its indicator.".into()),
            addition: Some(
                "Proving the indicator before the first test and after the last would have shown it.".into(),
            ),
            ..blank
        },
        Found::Missed(missed) => HiddenCause {
            shown: false,
            missed_at: Some(missed_at(bay, missed, done)),
            addition: Some(addition(missed.addition.as_ref(), done)),
            scene: (done.tests > 0).then(|| scene(bay, cause, missed, done)),
            ..blank
        },
    }
}

/// The bay where a cause was missed: isolated as the candidate left it, from a start that hid the cause.
fn scene(bay: &Bay, cause: &Cause, missed: &Missed, done: &Done) -> Scene {
    let mut state = done.replay.state.clone();
    for (switch, setting) in &missed.start {
        state.set(bay, switch, *setting);
    }
    Scene { state, faults: cause.faults.clone() }
}

fn missed_at(bay: &Bay, missed: &Missed, done: &Done) -> String {
    if done.tests == 0 {
        return "No test stood between two good proofs of its indicator.".to_owned();
    }
    let shown = format!("the tests would have shown {}", volts(missed.volts));
    let setting = |(switch, setting): &(SwitchId, Setting)| {
        let word = bay.switch(switch).map_or("", |there| setting.word(there.kind));
        if word.chars().all(char::is_numeric) { format!("{switch} at {word}") } else { format!("{switch} {word}") }
    };
    let settings: Vec<String> = missed.start.iter().map(setting).collect();
    match settings.as_slice() {
        [] if has_switches(bay) => format!("In every setting of the switches {shown}."),
        [] => format!("With this, {shown}."),
        settings => format!("Starting with {}, {shown}.", settings.join(", ")),
    }
}

fn has_switches(bay: &Bay) -> bool {
    bay.circuit(&bay.isolate.circuit).is_some_and(|circuit| !circuit.switches.is_empty())
}

/// A reading as an indicator's user would say it.
fn volts(volts: f64) -> String {
    if volts < 1.0 { "nothing".to_owned() } else { format!("at most {volts:.0} V") }
}

fn addition(addition: Option<&Addition>, done: &Done) -> String {
    if done.uncounted > 0 && done.tests == 0 {
        return "Proving the indicator before the first test and after the last would have made the tests count."
            .into();
    }
    let Some(Addition { throws, pair: [one, other] }) = addition else {
        return "No test between the conductors of this point shows it.".to_owned();
    };
    let names: Vec<&str> = throws.iter().map(SwitchId::as_str).collect();
    match names.as_slice() {
        [] => format!("Testing {one}–{other} as well would have shown it."),
        [switch] => format!("Throwing {switch} and testing {one}–{other} again would have shown it."),
        [before @ .., last] => {
            let before = before.join(", then ");
            format!("Throwing {before}, then {last}, with {one}–{other} tested after each, would have shown it.")
        }
    }
}
