//! What is known at each moment of a session: the one fold over the log that every rule reads.

use super::observation::{Act, OnOff, OrderOff, Place, ProvedOn, Reading, Shows};
use super::{Log, Observation, ObservationId, Task};
use crate::bay::{Circuit, Conductor, DeviceId, ItemId, Point, PointId, SwitchId, plan};
use std::collections::{HashMap, HashSet};

/// A place in the order of the fold: an index into [`Known::acts`].
pub type Pos = usize;

/// What a log says, in the order in which it happened.
#[derive(Debug)]
pub struct Known<'a> {
    pub task: &'a Task,
    /// What counts, in the order of (`at_ms`, `seq`): nothing struck, and nothing the candidate did after the end.
    pub acts: Vec<&'a Observation>,
    /// Whether the log has not ended.
    pub running: bool,
    /// Session time of the start, and of the end or the last act so far.
    pub span: (u64, u64),
    /// Milliseconds from start to end, pauses left out.
    pub elapsed_ms: u64,
    /// When the marker's view was blocked: from, until.
    pub blocked: Vec<(u64, u64)>,
    pub switched: Vec<Switched<'a>>,
    /// How the named device stood after each act that touched it.
    pub guards: Vec<(Pos, Guard)>,
    pub tests: Vec<Test<'a>>,
    pub proofs: Vec<Proof<'a>>,
    /// Throws of the isolated circuit's switches.
    pub throws: Vec<Throw<'a>>,
    pub keys: Vec<(Pos, &'a ItemId, Place)>,
}

/// A device was switched.
#[derive(Debug, Clone, Copy)]
pub struct Switched<'a> {
    pub pos: Pos,
    pub device: &'a DeviceId,
    pub to: OnOff,
}

/// What keeps the named device from being switched on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Guard {
    pub off: bool,
    pub lock_off: bool,
    pub padlock: bool,
}

impl Guard {
    /// Whether the device is off, with a lock-off device on it and a padlock that holds.
    pub fn is_complete(self) -> bool {
        self.off && self.lock_off && self.padlock
    }
}

/// One pair test.
#[derive(Debug, Clone, Copy)]
pub struct Test<'a> {
    pub pos: Pos,
    pub point: &'a PointId,
    pub first: Conductor,
    pub second: Conductor,
    pub reading: Reading,
    pub order_off: OrderOff,
    /// The instrument: as stated, else the one last picked.
    pub item: Option<&'a ItemId>,
}

impl Test<'_> {
    /// Whether the test was between these two conductors, in either order.
    pub fn is_of(&self, pair: [Conductor; 2]) -> bool {
        [self.first, self.second] == pair || [self.second, self.first] == pair
    }

    /// Whether it showed voltage; an RCD that tripped means live.
    pub fn is_live(&self) -> bool {
        self.reading != Reading::None
    }
}

/// The indicator was tried.
#[derive(Debug, Clone, Copy)]
pub struct Proof<'a> {
    pub pos: Pos,
    pub item: &'a ItemId,
    pub on: ProvedOn,
    pub shows: Shows,
}

/// A wall switch of the isolated circuit was thrown.
#[derive(Debug, Clone, Copy)]
pub struct Throw<'a> {
    pub pos: Pos,
    pub switch: &'a SwitchId,
    /// What left the point of work open at that moment, if it was open.
    pub open_since: Option<Pos>,
}

impl<'a> Known<'a> {
    /// Folds a log. Observations in `without` are left out as if they had not been made.
    pub fn fold(task: &'a Task, log: &'a Log, without: &HashSet<ObservationId>) -> Self {
        let struck = struck(log.observations());
        let mut acts: Vec<&Observation> = log
            .observations()
            .iter()
            .filter(|seen| !struck.contains(&seen.id) && !without.contains(&seen.id))
            .filter(|seen| !matches!(seen.act, Act::Struck { .. }))
            .collect();
        acts.sort_by_key(|seen| (seen.at_ms, seen.seq));
        let ended = acts.iter().position(|seen| matches!(seen.act, Act::Ended { .. }));
        if let Some(end) = ended {
            let mut pos = 0;
            acts.retain(|seen| {
                pos += 1;
                pos <= end + 1 || is_markers_own(&seen.act)
            });
        }
        let span = session_span(&acts, ended);
        let mut known = Self {
            task,
            running: ended.is_none(),
            span,
            elapsed_ms: elapsed(&acts, span),
            blocked: blocked(&acts, span.1),
            acts,
            switched: Vec::new(),
            guards: Vec::new(),
            tests: Vec::new(),
            proofs: Vec::new(),
            throws: Vec::new(),
            keys: Vec::new(),
        };
        known.read_acts();
        known
    }

    fn read_acts(&mut self) {
        let isolate = &self.task.bay.isolate;
        let mut instrument: Option<&'a ItemId> = None;
        let mut open_since: Option<Pos> = None;
        let mut guarding = Guarding::default();
        for pos in 0..self.acts.len() {
            let act: &'a Act = &self.acts[pos].act;
            match act {
                Act::Picked { item } if self.task.bay.item(item).is_some_and(|item| item.is_instrument()) => {
                    instrument = Some(item);
                }
                Act::Switched { device, to } => self.switched.push(Switched { pos, device, to: *to }),
                Act::Proved { item, on, shows } => self.proofs.push(Proof { pos, item, on: *on, shows: *shows }),
                Act::Key { item, place } => self.keys.push((pos, item, *place)),
                Act::Opened { point } if *point == isolate.point => open_since = Some(pos),
                Act::Closed { point } if *point == isolate.point => open_since = None,
                Act::Tested { point, first, second, reading, order_off, item } => {
                    if *point == isolate.point {
                        open_since = open_since.or(Some(pos));
                    }
                    let (first, second, reading, order_off) = (*first, *second, *reading, *order_off);
                    let item = item.as_ref().or(instrument);
                    self.tests.push(Test { pos, point, first, second, reading, order_off, item });
                }
                Act::Operated { switch } if self.is_on_circuit(switch) => {
                    self.throws.push(Throw { pos, switch, open_since });
                }
                _ => {}
            }
            if guarding.take(act, &isolate.device) {
                self.guards.push((pos, guarding.guard()));
            }
        }
    }

    fn is_on_circuit(&self, switch: &SwitchId) -> bool {
        self.circuit().is_some_and(|circuit| circuit.switches.iter().any(|there| there.id == *switch))
    }

    /// The circuit to isolate.
    pub fn circuit(&self) -> Option<&'a Circuit> {
        self.task.bay.circuit(&self.task.bay.isolate.circuit)
    }

    /// The point of work.
    pub fn point(&self) -> Option<&'a Point> {
        self.task.bay.point(&self.task.bay.isolate.point)
    }

    /// The named device.
    pub fn named(&self) -> &'a DeviceId {
        &self.task.bay.isolate.device
    }

    /// Every pair of conductors at the point of work.
    pub fn pairs(&self) -> Vec<[Conductor; 2]> {
        self.point().map(plan::pairs).unwrap_or_default()
    }

    /// The tests made at the point of work.
    pub fn tests_at_point(&self) -> impl Iterator<Item = &Test<'a>> {
        self.tests.iter().filter(|test| *test.point == self.task.bay.isolate.point)
    }

    /// The positions of the acts that `wanted` picks out.
    pub fn all(&self, wanted: impl Fn(&'a Act) -> bool) -> Vec<Pos> {
        (0..self.acts.len()).filter(|&pos| wanted(&self.acts[pos].act)).collect()
    }

    /// How the named device stood just before `pos`.
    pub fn guard_before(&self, pos: Pos) -> Guard {
        let after = self.guards.partition_point(|(at, _)| *at < pos);
        self.guards[..after].last().map_or_else(Guard::default, |(_, guard)| *guard)
    }

    /// Session time of an act, in milliseconds.
    pub fn at(&self, pos: Pos) -> u64 {
        self.acts[pos].at_ms
    }

    /// Session time of an act as minutes and seconds since the start.
    pub fn minute(&self, pos: Pos) -> String {
        minute(self.at(pos).saturating_sub(self.span.0))
    }
}

/// Milliseconds as `mm:ss`.
pub fn minute(ms: u64) -> String {
    format!("{:02}:{:02}", ms / 60_000, ms / 1_000 % 60)
}

/// The observations that are taken back. A strike that is itself struck takes nothing back.
pub fn struck(observations: &[Observation]) -> HashSet<ObservationId> {
    let strikes: Vec<(ObservationId, ObservationId)> = observations
        .iter()
        .filter_map(|seen| match seen.act {
            Act::Struck { observation, .. } => Some((seen.id, observation)),
            _ => None,
        })
        .collect();
    let mut struck = HashSet::with_capacity(strikes.len());
    // A strike names something recorded before it, so from the last strike back each one's own fate is settled first.
    for (strike, target) in strikes.into_iter().rev() {
        if !struck.contains(&strike) {
            struck.insert(target);
        }
    }
    struck
}

/// The observations that the marker is unsure of, the clock's own left aside: they frame the session.
pub fn unsure(log: &Log) -> HashSet<ObservationId> {
    let struck = struck(log.observations());
    let kinds: HashMap<ObservationId, &Act> = log.observations().iter().map(|seen| (seen.id, &seen.act)).collect();
    log.observations()
        .iter()
        .filter(|seen| !struck.contains(&seen.id))
        .filter_map(|seen| match seen.act {
            Act::Unsure { observation } => Some(observation),
            _ => None,
        })
        .filter(|doubted| !struck.contains(doubted))
        .filter(|doubted| kinds.get(doubted).is_some_and(|act| !is_markers_own(act) && !is_clock(act)))
        .collect()
}

fn is_clock(act: &Act) -> bool {
    matches!(act, Act::Started | Act::Resumed | Act::Paused { .. } | Act::Ended { .. })
}

/// Acts of the marker rather than the candidate; these still count after the end.
fn is_markers_own(act: &Act) -> bool {
    matches!(
        act,
        Act::Ticked { .. }
            | Act::Remark { .. }
            | Act::Prompted { .. }
            | Act::SteppedIn { .. }
            | Act::Unsure { .. }
            | Act::ViewBlocked
            | Act::ViewClear
            | Act::Struck { .. }
    )
}

fn session_span(acts: &[&Observation], ended: Option<Pos>) -> (u64, u64) {
    let start = acts.iter().find(|seen| matches!(seen.act, Act::Started)).map_or(0, |seen| seen.at_ms);
    let end = match ended {
        Some(pos) => acts[pos].at_ms,
        None => acts.last().map_or(start, |seen| seen.at_ms),
    };
    (start, end.max(start))
}

fn elapsed(acts: &[&Observation], (start, end): (u64, u64)) -> u64 {
    let mut paused = 0;
    let mut since: Option<u64> = None;
    for seen in acts.iter().filter(|seen| (start..=end).contains(&seen.at_ms)) {
        match seen.act {
            Act::Paused { .. } => since = since.or(Some(seen.at_ms)),
            Act::Resumed => paused += since.take().map_or(0, |from| seen.at_ms - from),
            _ => {}
        }
    }
    paused += since.map_or(0, |from| end - from);
    end - start - paused
}

fn blocked(acts: &[&Observation], end: u64) -> Vec<(u64, u64)> {
    let mut spans = Vec::new();
    let mut since: Option<u64> = None;
    for seen in acts {
        match seen.act {
            Act::ViewBlocked => since = since.or(Some(seen.at_ms)),
            Act::ViewClear => spans.extend(since.take().map(|from| (from, seen.at_ms))),
            _ => {}
        }
    }
    spans.extend(since.map(|from| (from, end)));
    spans
}

/// What is on the named device.
#[derive(Debug, Default)]
struct Guarding<'a> {
    off: bool,
    lock_offs: Vec<&'a ItemId>,
    padlocks: Vec<&'a ItemId>,
}

impl<'a> Guarding<'a> {
    /// Takes an act in and says whether it touched the named device.
    fn take(&mut self, act: &'a Act, named: &DeviceId) -> bool {
        match act {
            Act::Switched { device, to } if device == named => self.off = *to == OnOff::Off,
            Act::Fitted { item, device } if device == named => self.lock_offs.push(item),
            Act::Locked { item, device, holds } if device == named => {
                self.padlocks.retain(|there| *there != item);
                if *holds {
                    self.padlocks.push(item);
                }
            }
            Act::Removed { item, device } if device == named => {
                self.lock_offs.retain(|there| *there != item);
                self.padlocks.retain(|there| *there != item);
            }
            _ => return false,
        }
        true
    }

    fn guard(&self) -> Guard {
        Guard { off: self.off, lock_off: !self.lock_offs.is_empty(), padlock: !self.padlocks.is_empty() }
    }
}
