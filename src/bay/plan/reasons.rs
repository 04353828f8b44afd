//! Why the tests of a plan are needed: which switches matter, how few throws expose a live circuit, and what each pair
//! alone shows.

use super::pairs;
use crate::bay::coverage::{MOST_SWITCHES, pairs_of, singles};
use crate::bay::network::{State, Unbuildable, Wired};
use crate::bay::setup::SwitchSetting;
use crate::bay::solve::{LIVE_VOLTS, LOW_OHM, NodeId, Solver};
use crate::bay::{Bay, Conductor, Fault, Setting, Switch, SwitchId};
use serde::Serialize;

/// Longest walk of throws that is looked for.
const MOST_THROWS: usize = 4;

/// Most faults of which two at once are tried.
const MOST_PAIRED: usize = 60;

/// Why the tests are needed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reasons {
    /// The switches whose throw can change what is live at the point while the circuit is on.
    pub changing: Vec<SwitchId>,
    /// The fewest throws that expose a live circuit, for each set of faults of the switches.
    pub exposing: Vec<Exposing>,
    /// One fault for each pair that no other pair shows.
    pub pairs: Vec<PairReason>,
}

/// What is assumed of the switches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Assumed {
    Healthy,
    /// At most one switch is stuck in one setting.
    OneStuck,
    /// At most one contact never closes.
    OneBrokenContact,
}

/// The walks of fewest throws after which, whatever the start, one test read live. Every pair is tested at the start and
/// after each throw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Exposing {
    pub assumed: Assumed,
    /// Empty where no walk of up to four throws does; one empty walk where the first test always shows it.
    pub walks: Vec<Vec<SwitchId>>,
}

/// A fault that only this pair shows, with the lamp out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairReason {
    pub pair: [Conductor; 2],
    pub faults: Vec<Fault>,
    /// The faults in plain sentences.
    pub says: String,
    /// The setting in which only this pair shows it; empty where no other pair shows it in any.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub settings: Vec<SwitchSetting>,
}

/// Ways of throwing that are written out; the rest are counted.
const WAYS_TOLD: usize = 6;

impl Exposing {
    /// The fewest throws in a sentence.
    pub fn says(&self) -> String {
        let assumed = match self.assumed {
            Assumed::Healthy => "With healthy switches",
            Assumed::OneStuck => "If one switch may be stuck",
            Assumed::OneBrokenContact => "If one contact may be broken",
        };
        let way = |walk: &Vec<SwitchId>| walk.iter().map(SwitchId::as_str).collect::<Vec<_>>().join(" then ");
        let ways: Vec<String> = self.walks.iter().map(way).collect();
        match ways.as_slice() {
            [] => format!("{assumed}, no four throws are sure to show a live circuit."),
            [none] if none.is_empty() => format!("{assumed}, a live circuit shows without throwing anything."),
            few if few.len() <= WAYS_TOLD => format!("{assumed}, throw {}.", few.join(", or ")),
            many => format!(
                "{assumed}, throw {}, or {} other ways.",
                many[..WAYS_TOLD].join(", or "),
                many.len() - WAYS_TOLD
            ),
        }
    }
}

/// Works out why the tests at the point of work are needed.
pub fn reasons(bay: &Bay) -> Result<Reasons, Unbuildable> {
    let exposing = [Assumed::Healthy, Assumed::OneStuck, Assumed::OneBrokenContact];
    let exposing = exposing.into_iter().map(|assumed| fewest_throws(bay, assumed)).collect::<Result<_, _>>()?;
    Ok(Reasons { changing: changing(bay)?, exposing, pairs: pair_reasons(bay)? })
}

fn switches(bay: &Bay) -> &[Switch] {
    bay.circuit(&bay.isolate.circuit).map_or(&[][..], |circuit| &circuit.switches[..])
}

/// Whether each pair at the point reads live, in each setting of the switches, for one set of faults.
struct Lives {
    settings: usize,
    pairs: usize,
    live: Vec<bool>,
}

impl Lives {
    fn at(&self, setting: usize) -> &[bool] {
        &self.live[setting * self.pairs..][..self.pairs]
    }

    fn any(&self, setting: usize) -> bool {
        self.at(setting).contains(&true)
    }
}

/// Reads the point in every setting with one set of faults after another, the named device off or on.
struct Bench<'w> {
    bay: &'w Bay,
    wired: &'w Wired,
    solver: Solver<'w>,
    ends: Vec<[NodeId; 2]>,
}

impl<'w> Bench<'w> {
    fn new(bay: &'w Bay, wired: &'w Wired) -> Result<Self, Unbuildable> {
        let id = &bay.isolate.point;
        if switches(bay).len() > MOST_SWITCHES {
            let says = format!("expected at most {MOST_SWITCHES} switches to work out their settings");
            return Err(Unbuildable { element: bay.isolate.circuit.to_string(), says });
        }
        let missing = || Unbuildable { element: id.to_string(), says: "no such point".into() };
        let (point, nodes) = bay.point(id).zip(wired.point(id)).ok_or_else(missing)?;
        let node = |conductor| nodes.iter().find(|(there, _)| *there == conductor).map(|(_, node)| *node);
        let ends = pairs(point).iter().filter_map(|[one, other]| Some([node(*one)?, node(*other)?])).collect();
        Ok(Self { bay, wired, solver: Solver::new(wired.compiled()), ends })
    }

    fn lives(&mut self, on: bool, faults: &[usize]) -> Result<Lives, Unbuildable> {
        let mut state = State::set_up(self.bay);
        state.switch(self.bay, &self.bay.isolate.device, on);
        state.lamp_in = false;
        state.loads_on = false;
        let switches = switches(self.bay);
        let settings = 1 << switches.len();
        let mut live = Vec::with_capacity(settings * self.ends.len());
        for setting in 0..settings {
            for (at, switch) in switches.iter().enumerate() {
                state.set(self.bay, &switch.id, if setting >> at & 1 == 0 { Setting::First } else { Setting::Second });
            }
            let made = self.wired.made(&state, faults)?;
            let mut solved = self.solver.solve(&made)?;
            live.extend(self.ends.iter().map(|[a, b]| solved.reading(*a, *b, LOW_OHM) >= LIVE_VOLTS));
        }
        Ok(Lives { settings, pairs: self.ends.len(), live })
    }
}

/// The switches whose throw changes which pairs are live while the circuit is on.
pub fn changing(bay: &Bay) -> Result<Vec<SwitchId>, Unbuildable> {
    let wired = Wired::new(bay, &[])?;
    let lives = Bench::new(bay, &wired)?.lives(true, &[])?;
    let changes = |at: usize| (0..lives.settings).any(|setting| lives.at(setting) != lives.at(setting ^ (1 << at)));
    let switches = switches(bay).iter().enumerate().filter(|(at, _)| changes(*at));
    Ok(switches.map(|(_, switch)| switch.id.clone()).collect())
}

/// The fewest throws that expose a circuit that is on, whatever the start and whichever of the assumed faults there is.
/// A fault with which the point is dead in every setting asks for nothing.
pub fn fewest_throws(bay: &Bay, assumed: Assumed) -> Result<Exposing, Unbuildable> {
    let faults: Vec<Fault> = match assumed {
        Assumed::Healthy => Vec::new(),
        Assumed::OneStuck => singles(bay).into_iter().filter(|it| matches!(it, Fault::StuckSwitch { .. })).collect(),
        Assumed::OneBrokenContact => {
            singles(bay).into_iter().filter(|it| matches!(it, Fault::BrokenContact { .. })).collect()
        }
    };
    let wired = Wired::new(bay, &faults)?;
    let mut bench = Bench::new(bay, &wired)?;
    let mut all = vec![bench.lives(true, &[])?];
    for at in 0..faults.len() {
        all.push(bench.lives(true, &[at])?);
    }
    all.retain(|lives| (0..lives.settings).any(|setting| lives.any(setting)));
    let switches = switches(bay);
    let exposes =
        |walk: &[usize]| all.iter().all(|lives| (0..lives.settings).all(|start| is_live_on(lives, start, walk)));
    for length in 0..=MOST_THROWS {
        let walks: Vec<Vec<usize>> = walks(switches.len(), length).into_iter().filter(|walk| exposes(walk)).collect();
        if !walks.is_empty() {
            let named = |walk: Vec<usize>| walk.into_iter().map(|at| switches[at].id.clone()).collect();
            return Ok(Exposing { assumed, walks: walks.into_iter().map(named).collect() });
        }
    }
    Ok(Exposing { assumed, walks: Vec::new() })
}

/// Whether some test on a walk from this start reads live.
fn is_live_on(lives: &Lives, start: usize, walk: &[usize]) -> bool {
    let mut setting = start;
    lives.any(setting)
        || walk.iter().any(|switch| {
            setting ^= 1 << switch;
            lives.any(setting)
        })
}

/// Every walk of so many throws.
fn walks(switches: usize, length: usize) -> Vec<Vec<usize>> {
    (0..length).fold(vec![Vec::new()], |walks, _| {
        let longer = |walk: Vec<usize>| {
            (0..switches).map(move |switch| walk.iter().copied().chain([switch]).collect::<Vec<_>>())
        };
        walks.into_iter().flat_map(longer).collect()
    })
}

/// A set of faults that one pair alone shows: in every setting that shows it, or in this one.
#[derive(Debug, Clone)]
struct Alone {
    set: Vec<usize>,
    setting: Option<usize>,
}

/// For each pair a fault, else two at once, that it alone shows after the named device is off. A supply that is not tied
/// to earth is the last resort: it shows between its own conductors only.
pub fn pair_reasons(bay: &Bay) -> Result<Vec<PairReason>, Unbuildable> {
    let Some(point) = bay.point(&bay.isolate.point) else { return Ok(Vec::new()) };
    let all = pairs(point);
    let mut faults = singles(bay);
    let single = (0..faults.len()).map(|at| vec![at]);
    let double = if faults.len() > MOST_PAIRED { Vec::new() } else { pairs_of(&faults) };
    let double = double.into_iter().map(Vec::from);
    let last = (0..all.len()).map(|at| vec![faults.len() + at]);
    let sets: Vec<Vec<usize>> = single.chain(double).chain(last).collect();
    faults.extend(all.iter().map(|pair| Fault::FloatingSupply { between: *pair }));
    let wired = Wired::new(bay, &faults)?;
    let found = alone(&mut Bench::new(bay, &wired)?, sets, all.len());
    let reason = |(pair, found): (&[Conductor; 2], Option<Alone>)| {
        let Alone { set, setting } = found?;
        let faults: Vec<Fault> = set.into_iter().map(|at| faults[at].clone()).collect();
        let says: Vec<String> = faults.iter().map(|fault| fault.says(bay)).collect();
        Some(PairReason { pair: *pair, faults, says: says.join(" "), settings: named(bay, setting) })
    };
    Ok(all.iter().zip(found).filter_map(reason).collect())
}

/// The first set for each pair that it alone shows, if possible whatever the setting.
fn alone(bench: &mut Bench<'_>, sets: Vec<Vec<usize>>, pairs: usize) -> Vec<Option<Alone>> {
    let mut found: Vec<Option<Alone>> = vec![None; pairs];
    for set in sets {
        // Two faults that contradict each other give no readings.
        let Ok(lives) = bench.lives(false, &set) else { continue };
        let shows = |pair| (0..lives.settings).any(|setting| lives.at(setting)[pair]);
        let in_any: Vec<bool> = (0..pairs).map(shows).collect();
        match only(&in_any) {
            Some(pair) if found[pair].as_ref().is_none_or(|found| found.setting.is_some()) => {
                found[pair] = Some(Alone { set, setting: None });
            }
            Some(_) => {}
            None => {
                let in_one = (0..lives.settings).filter_map(|setting| Some((only(lives.at(setting))?, setting)));
                for (pair, setting) in in_one {
                    found[pair].get_or_insert_with(|| Alone { set: set.clone(), setting: Some(setting) });
                }
            }
        }
        if found.iter().all(|found| found.as_ref().is_some_and(|found| found.setting.is_none())) {
            break;
        }
    }
    found
}

/// The one place that is true.
fn only(places: &[bool]) -> Option<usize> {
    let mut places = places.iter().enumerate().filter(|(_, stands)| **stands).map(|(at, _)| at);
    places.next().filter(|_| places.next().is_none())
}

fn named(bay: &Bay, setting: Option<usize>) -> Vec<SwitchSetting> {
    let of = |setting: usize| {
        let switches = switches(bay).iter().enumerate();
        let there = switches.map(move |(at, switch)| SwitchSetting {
            switch: switch.id.clone(),
            setting: if setting >> at & 1 == 0 { Setting::First } else { Setting::Second },
        });
        there.collect()
    };
    setting.map(of).unwrap_or_default()
}
