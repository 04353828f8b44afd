//! What the marking page needs to know of a log to say on each tile what the next act would be. It judges nothing.

use crate::bay::{Conductor, DeviceId, ItemId, ItemKind, PointId, SwitchId};
use crate::marking::observation::{OnOff, Reading};
use crate::marking::{Act, Log, Observation, ObservationId, Task};
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// How far the log has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    Before,
    Running,
    Ended,
}

/// The observations that were taken back.
pub fn struck(log: &Log) -> HashSet<ObservationId> {
    let mut struck = HashSet::new();
    // A strike names something earlier, so that read from the end each strike is known to stand or not.
    for seen in log.observations().iter().rev() {
        if let Act::Struck { observation, .. } = &seen.act
            && !struck.contains(&seen.id)
        {
            struck.insert(*observation);
        }
    }
    struck
}

/// The observations that stand, in the order of their times.
pub fn standing(log: &Log) -> Vec<&Observation> {
    let struck = struck(log);
    let mut standing: Vec<_> = log.observations().iter().filter(|seen| !struck.contains(&seen.id)).collect();
    standing.sort_by_key(|seen| (seen.at_ms, seen.seq));
    standing
}

/// One pair test as the rounds table shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tested {
    /// Which probe went where, in either order.
    pub first: Conductor,
    pub second: Conductor,
    /// Counted from 0: how many switches had been thrown.
    pub round: usize,
    pub reading: Reading,
    pub unsure: bool,
}

/// What has been seen so far.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// Wall time of `started`, in milliseconds since 1970.
    pub started: Option<i64>,
    pub ended: Option<ObservationId>,
    /// Milliseconds for which the clock has stood still.
    pub paused_ms: u64,
    pub paused_since: Option<u64>,
    pub last_at_ms: u64,
    pub off: BTreeSet<DeviceId>,
    pub last_off: Option<DeviceId>,
    pub taken: BTreeSet<ItemId>,
    pub last_item: Option<ItemId>,
    pub instrument: Option<ItemId>,
    pub lock_off: Option<ItemId>,
    pub padlock: Option<ItemId>,
    pub notice: Option<ItemId>,
    /// What was put on a device and not taken off again, in the order of putting on.
    pub on: Vec<(ItemId, DeviceId)>,
    pub open: Option<PointId>,
    pub lamp_out: BTreeSet<PointId>,
    pub thrown: BTreeMap<SwitchId, usize>,
    pub round: usize,
    pub tests: Vec<Tested>,
    pub view_blocked: bool,
    /// When an act of each kind was last seen, and how often.
    pub seen: BTreeMap<&'static str, (u64, usize)>,
}

impl State {
    /// Reads a log.
    pub fn of(log: &Log, task: &Task) -> Self {
        let mut state = Self { off: task.bay.setup.off.iter().cloned().collect(), ..Self::default() };
        let standing = standing(log);
        let doubted: HashSet<_> = standing
            .iter()
            .filter_map(|seen| match seen.act {
                Act::Unsure { observation } => Some(observation),
                _ => None,
            })
            .collect();
        for seen in standing {
            state.take(seen, task, doubted.contains(&seen.id));
        }
        state
    }

    /// How far the log has come.
    pub fn phase(&self) -> Phase {
        match (self.started, self.ended) {
            (None, _) => Phase::Before,
            (Some(_), None) => Phase::Running,
            (Some(_), Some(_)) => Phase::Ended,
        }
    }

    /// The point that tests are made at: the open one, else the one that the task names.
    pub fn point<'a>(&'a self, task: &'a Task) -> &'a PointId {
        self.open.as_ref().unwrap_or(&task.bay.isolate.point)
    }

    /// The device that is being secured: the one last switched off, else the one that the task names.
    pub fn device<'a>(&'a self, task: &'a Task) -> &'a DeviceId {
        self.last_off.as_ref().unwrap_or(&task.bay.isolate.device)
    }

    fn note(&mut self, kind: &'static str, at_ms: u64) {
        let seen = self.seen.entry(kind).or_default();
        *seen = (at_ms, seen.1 + 1);
    }

    fn take(&mut self, seen: &Observation, task: &Task, unsure: bool) {
        let at_ms = seen.at_ms;
        self.last_at_ms = self.last_at_ms.max(at_ms);
        match &seen.act {
            Act::Started => self.started = Some(seen.wall.0),
            Act::Ended { .. } => self.ended = Some(seen.id),
            Act::Paused { .. } => self.paused_since = Some(at_ms),
            Act::Resumed => {
                let since = self.paused_since.take().unwrap_or(at_ms);
                self.paused_ms += at_ms.saturating_sub(since);
            }
            Act::Switched { device, to: OnOff::Off } => {
                self.off.insert(device.clone());
                self.last_off = Some(device.clone());
            }
            Act::Switched { device, to: OnOff::On } => {
                self.off.remove(device);
            }
            Act::Picked { item } => self.pick(item, task),
            Act::Returned { item } => {
                self.taken.remove(item);
            }
            Act::ViewBlocked => self.view_blocked = true,
            Act::ViewClear => self.view_blocked = false,
            other => self.take_work(other, at_ms, unsure),
        }
    }

    fn take_work(&mut self, act: &Act, at_ms: u64, unsure: bool) {
        match act {
            Act::Opened { point } => self.open = Some(point.clone()),
            Act::Closed { .. } => self.open = None,
            Act::LampOut { point } => {
                self.lamp_out.insert(point.clone());
            }
            Act::LampIn { point } => {
                self.lamp_out.remove(point);
            }
            Act::Operated { switch } => {
                *self.thrown.entry(switch.clone()).or_default() += 1;
                self.round += 1;
            }
            Act::Tested { first, second, reading, .. } => {
                let (first, second, reading, round) = (*first, *second, *reading, self.round);
                self.tests.push(Tested { first, second, round, reading, unsure });
            }
            Act::Identified { .. } => self.note("identified", at_ms),
            Act::PermissionGiven { .. } => self.note("permission", at_ms),
            Act::Inspected { .. } => self.note("inspected", at_ms),
            Act::Fitted { item, device } => self.put_on("fitted", item, device, at_ms),
            Act::Locked { item, device, .. } => self.put_on("locked", item, device, at_ms),
            Act::Posted { item, device, .. } => self.put_on("posted", item, device, at_ms),
            Act::Key { .. } => self.note("key", at_ms),
            Act::Proved { .. } => self.note("proved", at_ms),
            Act::Removed { item, .. } => {
                self.on.retain(|(worn, _)| worn != item);
                self.note("removed", at_ms);
            }
            Act::Touched { .. } => self.note("touched", at_ms),
            Act::Declared { .. } => self.note("declared", at_ms),
            Act::Remark { .. } => self.note("remark", at_ms),
            Act::SteppedIn { .. } => self.note("stepped_in", at_ms),
            _ => {}
        }
    }

    fn put_on(&mut self, kind: &'static str, item: &ItemId, device: &DeviceId, at_ms: u64) {
        self.on.retain(|(worn, _)| worn != item);
        self.on.push((item.clone(), device.clone()));
        self.note(kind, at_ms);
    }

    fn pick(&mut self, item: &ItemId, task: &Task) {
        self.taken.insert(item.clone());
        self.last_item = Some(item.clone());
        let Some(thing) = task.bay.item(item) else { return };
        let hand = match thing.kind() {
            ItemKind::LockOff => &mut self.lock_off,
            ItemKind::Padlock => &mut self.padlock,
            ItemKind::Notice => &mut self.notice,
            _ if thing.is_instrument() => &mut self.instrument,
            _ => return,
        };
        *hand = Some(item.clone());
    }
}
