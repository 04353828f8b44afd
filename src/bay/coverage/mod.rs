//! Which hidden causes of a live point the tests made would have shown.
//!
//! Definitions, in the words of this module:
//!
//! - A *hidden cause* is a [`Fault`], or two at once, with which the point may be live although it looks dead. It is
//!   *dangerous* if in some setting of the switches some pair of the conductors at the point, or one of them and true
//!   earth, shows [`LIVE_VOLTS`] or more on an indicator with its load switched in.
//! - The tests count as made: after isolation, at the point of work, between two good proofs of the indicator. The
//!   candidate does not know how the switches stood at the start, so the worst start is assumed: a cause is *shown* only
//!   if it is shown from every start.
//! - A dead indicator shows in no test. The proofs show it.
//! - If the point is live without any fault the isolation itself is wrong: that is said, and no coverage is computed.
//!
//! Coverage is feedback, never a mark: it depends on how many causes are listed. Nothing here looks at what is planted.

mod causes;
pub mod judge;
mod table;

pub use causes::{pairs_of, singles};

use super::network::{State, Unbuildable, Wired};
use super::solve::LIVE_VOLTS;
use super::{Bay, Conductor, Fault, Setting, Switch, SwitchId};
use judge::{Judged, Table, Tried};
use std::mem::discriminant;
use table::Tables;

/// Most switches whose settings are gone through.
pub const MOST_SWITCHES: usize = 8;

/// Most nodes times settings times sets of causes that are gone through: a fraction of a second. Twelve devices and three
/// switches need a hundredth of it.
const MOST_WORK: usize = 10_000_000;

/// One thing done at the point of work, in the order of doing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// A wall switch of the circuit was thrown.
    Throw(SwitchId),
    /// A pair was tested between two good proofs, with the lamp in or out.
    Test { pair: [Conductor; 2], lamp_in: bool },
}

/// What a candidate did, as far as coverage asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replay {
    /// How devices, lamp and loads stood; its switch settings are not looked at.
    pub state: State,
    pub steps: Vec<Step>,
    /// Whether the indicator was proved good before and after.
    pub proved: bool,
}

/// Hidden causes, and what became of each.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    /// The dangerous ones, in the order of the list.
    pub causes: Vec<Cause>,
    /// How many were gone through, the harmless ones included.
    pub listed: usize,
}

/// One dangerous cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    pub faults: Vec<Fault>,
    pub found: Found,
    /// The place of the first cause in the list that reads the same in every setting, so that no voltage test can tell
    /// the two apart; `None` where this is the first.
    pub like: Option<usize>,
}

/// What became of a cause.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// Shown from every start, at the latest by this step (its place in [`Replay::steps`]).
    ByTest(usize),
    /// Shown by proving the indicator.
    ByProof,
    Missed(Missed),
}

/// How a cause was missed.
#[derive(Debug, Clone, PartialEq)]
pub struct Missed {
    /// A start from which no test shows it; empty where none does from any start.
    pub start: Vec<(SwitchId, Setting)>,
    /// The most that any of the tests would have shown from there, in volts.
    pub volts: f64,
    /// The smallest addition that shows it, whatever the start; `None` where no test at the point can.
    pub addition: Option<Addition>,
}

/// Tests to add: this pair, after each of these throws; at once where there are none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Addition {
    pub throws: Vec<SwitchId>,
    pub pair: [Conductor; 2],
}

/// Why coverage cannot be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WhyNot {
    #[error("The bay cannot be worked out: {0}.")]
    Unbuildable(#[from] Unbuildable),
    #[error(
        "The point was still live as it was left: up to {volts:.0} V. The isolation itself was wrong, so nothing is said about hidden causes."
    )]
    StillLive { volts: f64 },
    #[error("The circuit has {0} switches; at most {most} are worked out.", most = MOST_SWITCHES)]
    TooManySwitches(usize),
    #[error("The bay has too many devices, switches and causes to go through them all.")]
    TooLarge,
}

impl Coverage {
    /// How many dangerous causes were shown.
    pub fn shown(&self) -> usize {
        self.causes.iter().filter(|cause| !matches!(cause.found, Found::Missed(_))).count()
    }
}

impl Cause {
    /// A stable identifier: that of its fault, or of both.
    pub fn id(&self) -> String {
        let ids: Vec<String> = self.faults.iter().map(Fault::id).collect();
        ids.join("+")
    }

    /// The cause in plain sentences.
    pub fn says(&self, bay: &Bay) -> String {
        let says: Vec<String> = self.faults.iter().map(|fault| fault.says(bay)).collect();
        says.join(" ")
    }
}

/// Coverage of single causes.
pub fn coverage(bay: &Bay, replay: &Replay) -> Result<Coverage, WhyNot> {
    let singles = singles(bay);
    let sets: Vec<Vec<usize>> = (0..singles.len()).map(|at| vec![at]).collect();
    of(bay, replay, &singles, &sets)
}

/// Coverage of two causes at once. Those that contradict each other are left out.
pub fn coverage_of_pairs(bay: &Bay, replay: &Replay) -> Result<Coverage, WhyNot> {
    let singles = singles(bay);
    let sets: Vec<Vec<usize>> = pairs_of(&singles).into_iter().map(Vec::from).collect();
    of(bay, replay, &singles, &sets)
}

/// Coverage of these sets of faults, each fault by its place.
pub fn of(bay: &Bay, replay: &Replay, faults: &[Fault], sets: &[Vec<usize>]) -> Result<Coverage, WhyNot> {
    let switches = bay.circuit(&bay.isolate.circuit).map_or(&[][..], |circuit| &circuit.switches[..]);
    if switches.len() > MOST_SWITCHES {
        return Err(WhyNot::TooManySwitches(switches.len()));
    }
    let wired = Wired::new(bay, faults)?;
    let work = wired.compiled().network().node_count().saturating_mul(sets.len() << switches.len());
    if work > MOST_WORK {
        return Err(WhyNot::TooLarge);
    }
    let mut tables = Tables::new(bay, &wired, &replay.state)?;
    let (tried, places) = tried(replay, switches, tables.pairs(), tables.lamp_bit());
    let lamps = [true, false].map(|lamp_in| {
        lamp_in == replay.state.lamp_in || tried.iter().any(|tried| (tried.thrown & tables.lamp_bit() == 0) == lamp_in)
    });
    let end = end_of(replay, switches) | if replay.state.lamp_in { 0 } else { tables.lamp_bit() };
    let empty = tables.of(&[], lamps).map_err(Unbuildable::from)?;
    let volts = empty.worst(end);
    if volts >= LIVE_VOLTS {
        return Err(WhyNot::StillLive { volts });
    }
    let mut coverage = Coverage { causes: Vec::new(), listed: 0 };
    let mut firsts: Vec<(usize, Table)> = Vec::new();
    for set in sets {
        let faults: Vec<Fault> = set.iter().filter_map(|&at| faults.get(at)).cloned().collect();
        if faults.contains(&Fault::DeadIndicator) {
            coverage.listed += 1;
            coverage.causes.push(Cause { faults, found: dead_indicator(replay), like: None });
            continue;
        }
        // Faults that contradict each other are no cause.
        let Ok(table) = tables.of(set, lamps) else { continue };
        coverage.listed += 1;
        let judged = judge::judge(&table, &tried, end);
        if judged.dangerous {
            let found = found(judged, switches, tables.pairs(), &places);
            let same_end = |at: usize| discriminant(&coverage.causes[at].found) == discriminant(&found);
            let is_like = |(at, first): &&(usize, Table)| same_end(*at) && first.reads_like(&table);
            let like = firsts.iter().find(is_like).map(|(at, _)| *at);
            if like.is_none() {
                firsts.push((coverage.causes.len(), table));
            }
            coverage.causes.push(Cause { faults, found, like });
        }
    }
    Ok(coverage)
}

fn dead_indicator(replay: &Replay) -> Found {
    if replay.proved {
        return Found::ByProof;
    }
    Found::Missed(Missed { start: Vec::new(), volts: 0.0, addition: None })
}

fn found(judged: Judged, switches: &[Switch], pairs: &[[Conductor; 2]], places: &[usize]) -> Found {
    let Some(missed) = judged.missed else {
        return Found::ByTest(judged.by.and_then(|by| places.get(by).copied()).unwrap_or_default());
    };
    let named = if missed.everywhere { &[][..] } else { switches };
    let setting = |at: usize| if missed.start >> at & 1 == 0 { Setting::First } else { Setting::Second };
    let start = named.iter().enumerate().map(|(at, switch)| (switch.id.clone(), setting(at))).collect();
    let addition = judged.addition.and_then(|walk| {
        let throws = walk.thrown.iter().filter_map(|&at| switches.get(at)).map(|switch| switch.id.clone()).collect();
        Some(Addition { throws, pair: *pairs.get(walk.pair)? })
    });
    Found::Missed(Missed { start, volts: missed.volts, addition })
}

/// The tests as the switches thrown before each, with their places among the steps; a repeated one counts once.
fn tried(replay: &Replay, switches: &[Switch], pairs: &[[Conductor; 2]], lamp_bit: usize) -> (Vec<Tried>, Vec<usize>) {
    let (mut tried, mut places): (Vec<Tried>, Vec<usize>) = (Vec::new(), Vec::new());
    let mut thrown = 0;
    for (place, step) in replay.steps.iter().enumerate() {
        match step {
            Step::Throw(switch) => thrown ^= bit_of(switches, switch),
            Step::Test { pair: [one, other], lamp_in } => {
                let same = |pair: &[Conductor; 2]| *pair == [*one, *other] || *pair == [*other, *one];
                let Some(pair) = pairs.iter().position(same) else { continue };
                let now = Tried { thrown: thrown | if *lamp_in { 0 } else { lamp_bit }, pair };
                if !tried.contains(&now) {
                    tried.push(now);
                    places.push(place);
                }
            }
        }
    }
    (tried, places)
}

/// Which switches stand otherwise at the end than at the start.
fn end_of(replay: &Replay, switches: &[Switch]) -> usize {
    replay.steps.iter().fold(0, |thrown, step| match step {
        Step::Throw(switch) => thrown ^ bit_of(switches, switch),
        Step::Test { .. } => thrown,
    })
}

fn bit_of(switches: &[Switch], switch: &SwitchId) -> usize {
    switches.iter().position(|there| there.id == *switch).map_or(0, |at| 1 << at)
}
