//! Whether a task can be done as its checklist asks: whether bay and table give what each rule needs.
//!
//! What can never be met whatever a candidate does is refused; what can be done and yet may not be what was meant is a
//! warning. [`feed`](super::feed) says which rules have no subject in a bay; the table, the named device and what is
//! planted are looked at here.

use super::feed::unfed;
use super::observation::ProvedOn;
use super::sketch::Step;
use super::suits::{unfit, unsuited_in};
use super::{Checklist, Criterion, CriterionId, Decided, Rule, Task};
use crate::bay::coverage::{self, Found, Replay};
use crate::bay::equipment::NoticeKind;
use crate::bay::network::State;
use crate::bay::plan::{Rounds, plan};
use crate::bay::{Bay, Item, ItemKind, Thing};

/// What a task cannot give, or what to look at before it is published.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfit {
    /// The criterion that asks for it; `None` where it is the task as a whole.
    pub criterion: Option<CriterionId>,
    /// Where it can be put right.
    pub step: Step,
    /// Why, as sentences.
    pub says: String,
}

impl Unfit {
    /// Why, and which criterion asks for it.
    pub fn told(&self, checklist: &Checklist) -> String {
        let asked = self.criterion.as_ref().and_then(|id| checklist.criterion(id));
        let criterion = |criterion: &Criterion| format!("{} The checklist asks: “{}”", self.says, criterion.says);
        asked.map_or_else(|| self.says.clone(), criterion)
    }
}

/// How fit a task is for its checklist.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Fitness {
    /// What keeps it from being published.
    pub refused: Vec<Unfit>,
    pub warnings: Vec<Unfit>,
}

/// How fit a task is for its own checklist.
pub fn fitness(task: &Task) -> Fitness {
    let mut fitness = Fitness::default();
    for criterion in task.checklist.criteria() {
        let Decided::Rule(rule) = &criterion.decided else { continue };
        if let Some((step, says)) = lacking(&task.bay, rule) {
            fitness.refused.push(Unfit { criterion: Some(criterion.id.clone()), step, says });
        }
    }
    for one in unfed(task) {
        if fitness.refused.iter().any(|known| known.criterion.as_ref() == Some(&one.criterion)) {
            continue;
        }
        let rule = task.checklist.criterion(&one.criterion).map(|criterion| &criterion.decided);
        let asks = matches!(rule, Some(Decided::Rule(Rule::Happened { .. } | Rule::Before { .. })));
        let unfit = Unfit { criterion: Some(one.criterion), step: Step::Checklist, says: one.says };
        if asks { fitness.refused.push(unfit) } else { fitness.warnings.push(unfit) }
    }
    fitness.warnings.extend(off_at_the_start(&task.bay));
    fitness.warnings.extend(unshown(task));
    fitness
}

/// What a rule needs and the bay does not have, and where it is put right.
fn lacking(bay: &Bay, rule: &Rule) -> Option<(Step, String)> {
    let device = &bay.isolate.device;
    let table = |says: String| Some((Step::Table, says));
    match rule {
        Rule::SourcesListed if bay.sources.is_empty() => {
            Some((Step::Sources, "The candidate is to name the supplies, and the task lists none.".to_owned()))
        }
        Rule::LockOffFits if !any(bay, |thing| matches!(thing, Thing::LockOff { fits } if fits.contains(device))) => {
            table(format!("No lock-off device on the table fits {device}."))
        }
        Rule::SecuredBeforeTesting if !any(bay, |thing| matches!(thing, Thing::LockOff { .. })) => {
            table("There is no lock-off device on the table.".to_owned())
        }
        Rule::LockedAndTried | Rule::KeyKept | Rule::SecuredBeforeTesting
            if !any(bay, |thing| matches!(thing, Thing::Padlock { .. })) =>
        {
            table("There is no padlock on the table.".to_owned())
        }
        Rule::NoticePosted { .. }
            if !any(bay, |thing| matches!(thing, Thing::Notice { notice: NoticeKind::DoNotSwitchOn })) =>
        {
            table("No notice on the table forbids switching on.".to_owned())
        }
        Rule::IndicatorSuitable { accepts, max_tip_mm } => no_indicator(bay, accepts, *max_tip_mm).and_then(table),
        Rule::ProvedBeforeTesting { accepts } | Rule::ProvedAfterTesting { accepts } => {
            no_proof(bay, accepts).and_then(table)
        }
        Rule::IndicatorInspected { .. }
        | Rule::AllPairsTested
        | Rule::AllRoundsTested { .. }
        | Rule::LessDangerousFirst
        | Rule::SecuredBeforeTesting
        | Rule::NoTouchBeforeProof
            if !bay.table.iter().any(Item::is_instrument) =>
        {
            table("There is nothing on the table to test with.".to_owned())
        }
        _ => None,
    }
}

fn any(bay: &Bay, is: impl Fn(&Thing) -> bool) -> bool {
    bay.table.iter().any(|item| is(&item.thing))
}

/// Why nothing on the table may be tested with; each instrument with its reasons.
fn no_indicator(bay: &Bay, accepts: &[ItemKind], max_tip_mm: f64) -> Option<String> {
    let reasons = |item: &Item| unfit(bay, item, accepts, max_tip_mm);
    let instruments: Vec<&Item> = bay.table.iter().filter(|item| item.is_instrument()).collect();
    if instruments.iter().any(|item| reasons(item).is_empty()) {
        return None;
    }
    let told: Vec<String> =
        instruments.iter().map(|item| format!("{}: {}.", item.label, reasons(item).join(", "))).collect();
    let told = if told.is_empty() { "There is none at all.".to_owned() } else { told.join(" ") };
    Some(format!("No indicator on the table suits. {told}"))
}

fn no_proof(bay: &Bay, accepts: &[ProvedOn]) -> Option<String> {
    let works = any(bay, |thing| matches!(thing, Thing::ProvingUnit { works: true, .. }));
    let live = bay
        .board
        .devices
        .iter()
        .any(|device| device.feeds.as_ref() != Some(&bay.isolate.circuit) && !bay.setup.off.contains(&device.id));
    let there = |on: &ProvedOn| match on {
        ProvedOn::ProvingUnit => works,
        ProvedOn::KnownLive => live,
        ProvedOn::TipsTogether | ProvedOn::SelfTest | ProvedOn::Other => true,
    };
    if accepts.iter().any(there) {
        return None;
    }
    Some(if accepts.contains(&ProvedOn::KnownLive) {
        "There is nothing to prove the indicator on: no proving unit that works, and nothing on the board stays on."
            .into()
    } else {
        "There is nothing to prove the indicator on: no proving unit on the table works.".into()
    })
}

fn off_at_the_start(bay: &Bay) -> Option<Unfit> {
    let device = &bay.isolate.device;
    let says = format!("{device} is off at the start, so the candidate has nothing to switch off.");
    bay.setup.off.contains(device).then_some(Unfit { criterion: None, step: Step::Start, says })
}

/// Planted faults that a candidate cannot find although every planned test is made.
fn unshown(task: &Task) -> Vec<Unfit> {
    let (bay, planted) = (&task.bay, &task.bay.setup.planted);
    if planted.is_empty() {
        return Vec::new();
    }
    let warning = |says| Unfit { criterion: None, step: Step::Start, says };
    let sets: Vec<Vec<usize>> = (0..planted.len()).map(|at| vec![at]).collect();
    let found = match coverage::of(bay, &every_planned_test(task), planted, &sets) {
        Ok(found) => found,
        Err(why) => return vec![warning(format!("What the planned tests show cannot be worked out. {why}"))],
    };
    let shown = |id: String| {
        let cause = found.causes.iter().find(|cause| cause.id() == id);
        cause.is_some_and(|cause| !matches!(cause.found, Found::Missed(_)))
    };
    let unshown = planted.iter().filter(|fault| !shown(fault.id()));
    unshown.map(|fault| warning(format!("No planned test shows what is planted: {}", fault.says(bay)))).collect()
}

/// The tests that the checklist asks for, all of them made as they should be.
fn every_planned_test(task: &Task) -> Replay {
    let bay = &task.bay;
    let rounds = task.checklist.rounds();
    let asks_lamp_out = |criterion: &Criterion| criterion.decided == Decided::Rule(Rule::LampOutBeforeTesting);
    let mut state = State::set_up(bay);
    state.switch(bay, &bay.isolate.device, false);
    state.loads_on = false;
    state.lamp_in = !task.checklist.criteria().any(asks_lamp_out);
    let pairs = plan(bay, rounds).pairs;
    let lamp_in = state.lamp_in;
    let tests = || pairs.iter().map(|pair| coverage::Step::Test { pair: *pair, lamp_in });
    let switches = bay.circuit(&bay.isolate.circuit).map_or(&[][..], |circuit| &circuit.switches[..]);
    let mut steps: Vec<coverage::Step> = tests().collect();
    for throw in throws(switches.len(), plan(bay, rounds).rounds, rounds) {
        steps.push(coverage::Step::Throw(switches[throw].id.clone()));
        steps.extend(tests());
    }
    Replay { state, steps, proved: true }
}

/// Which switch is thrown before each round but the first. Through every setting one switch at a time: the switch of the
/// lowest bit that changes (the reflected binary code).
fn throws(switches: usize, rounds: u32, asked: Rounds) -> Vec<usize> {
    let later = 1..rounds.min(1 << coverage::MOST_SWITCHES);
    match asked {
        Rounds::EverySetting => later.map(|round| round.trailing_zeros() as usize).collect(),
        _ => later.zip(0..switches).map(|(_, switch)| switch).collect(),
    }
}

/// Whether an item on the table suits, with the reason; `None` where nothing is asked of such a thing.
pub fn suits(bay: &Bay, checklist: Option<&Checklist>, item: &Item) -> Option<(bool, String)> {
    let reasons = unsuited_in(bay, checklist, item);
    if !reasons.is_empty() {
        return Some((false, sentence(&reasons.join(", "))));
    }
    let says = match &item.thing {
        _ if item.is_instrument() => "Fit for proving dead.".to_owned(),
        Thing::ProvingUnit { .. } => "Works.".to_owned(),
        Thing::LockOff { .. } => format!("Fits {}.", bay.isolate.device),
        Thing::Notice { .. } => "Forbids switching on.".to_owned(),
        _ => return None,
    };
    Some((true, says))
}

fn sentence(says: &str) -> String {
    let mut chars = says.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>()).unwrap_or_default();
    format!("{first}{}.", chars.as_str())
}
