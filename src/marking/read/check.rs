//! Whether an observation makes sense in its task.

use crate::bay::{CircuitId, Conductor, DeviceId, Item, ItemId, ItemKind, PointId, SwitchId};
use crate::marking::observation::Control;
use crate::marking::{Act, CriterionId, Decided, Observation, ObservationId, Task};
use crate::reading::words::not_one_of;
use crate::reading::{Fault, Node};
use std::fmt::Display;

impl Observation {
    /// What is wrong with the observation in this task: identifiers that do not exist, an item of the wrong kind, a
    /// conductor that is not at the point, an observation struck or doubted that `is_known` denies. Paths are relative
    /// to the observation (`act.device`), lines are 1.
    pub fn check(&self, task: &Task, is_known: impl Fn(&ObservationId) -> bool) -> Vec<Fault> {
        let mut check = Check { task, faults: Vec::new() };
        check.board(&self.act);
        check.table(&self.act);
        check.point(&self.act);
        match &self.act {
            Act::Ticked { criterion, .. } => check.by_eye(criterion),
            Act::Remark { criterion: Some(criterion), .. } => _ = check.criterion(criterion),
            Act::Struck { observation, .. } | Act::Unsure { observation } if !is_known(observation) => {
                check.add("observation", format!("no observation `{}` was recorded before this one", observation.0));
            }
            _ => {}
        }
        check.faults
    }
}

/// What an act of a bad form names that the task does not have, so that one fault in it does not hide the others.
pub(super) fn unknown_names(act: &Node, task: &Task) -> Vec<Fault> {
    let mut check = Check { task, faults: Vec::new() };
    let text = |field| act.get(field).and_then(Node::as_text);
    if let Some(id) = text("circuit").and_then(CircuitId::new) {
        check.circuit(&id);
    }
    if let Some(id) = text("device").and_then(DeviceId::new) {
        check.device(&id);
    }
    if let Some(id) = text("switch").and_then(SwitchId::new) {
        check.switch(&id);
    }
    if let Some(id) = text("point").and_then(PointId::new) {
        check.conductors(&id);
    }
    if let Some(id) = text("item").and_then(ItemId::new) {
        check.item(&id);
    }
    if let Some(id) = text("criterion").and_then(CriterionId::new) {
        check.criterion(&id);
    }
    check.faults
}

struct Check<'a> {
    task: &'a Task,
    faults: Vec<Fault>,
}

impl<'a> Check<'a> {
    fn add(&mut self, field: &str, says: String) {
        self.faults.push(Fault { line: 1, path: format!("act.{field}"), says });
    }

    fn unknown<'n>(&mut self, field: &str, id: &impl Display, names: impl Iterator<Item = &'n str>) {
        let says = not_one_of(&id.to_string(), names);
        let of = says.split_once(", ").map_or("", |(_, expected)| expected);
        self.add(field, format!("the task has no {field} `{id}`, {of}"));
    }

    /// What names circuits, devices, switches and sources.
    fn board(&mut self, act: &Act) {
        match act {
            Act::Identified { circuit, device } => {
                self.circuit(circuit);
                self.device(device);
            }
            Act::PermissionAsked { circuit }
            | Act::PermissionGiven { circuit }
            | Act::LoadOff { circuit }
            | Act::Declared { circuit } => self.circuit(circuit),
            Act::SourceListed { source } if self.task.bay.source(source).is_none() => {
                let sources = &self.task.bay.sources;
                self.unknown("source", source, sources.iter().map(|source| source.id.as_str()));
            }
            Act::Switched { device, .. } => self.device(device),
            Act::ControlTried { control: Control::Device(device), .. } => self.device(device),
            Act::ControlTried { control: Control::Switch(switch), .. } | Act::Operated { switch } => {
                self.switch(switch)
            }
            _ => {}
        }
    }

    /// What names items.
    fn table(&mut self, act: &Act) {
        match act {
            Act::Picked { item } | Act::Returned { item } | Act::Inspected { item, .. } => _ = self.item(item),
            Act::Fitted { item, device } => self.on_device(item, &[ItemKind::LockOff], device),
            Act::Locked { item, device, .. } => self.on_device(item, &[ItemKind::Padlock], device),
            Act::Posted { item, device, .. } => self.on_device(item, &[ItemKind::Notice], device),
            Act::Removed { item, device } => {
                self.on_device(item, &[ItemKind::LockOff, ItemKind::Padlock, ItemKind::Notice], device);
            }
            Act::Key { item, .. } => self.item_of(item, &[ItemKind::Key]),
            Act::Proved { item, .. } | Act::Tested { item: Some(item), .. } => {
                self.item_of(item, &ItemKind::INSTRUMENTS)
            }
            _ => {}
        }
    }

    /// What names points and their conductors.
    fn point(&mut self, act: &Act) {
        match act {
            Act::Opened { point }
            | Act::Closed { point }
            | Act::LampOut { point }
            | Act::LampIn { point }
            | Act::Touched { point } => _ = self.conductors(point),
            Act::Tested { point, first, second, .. } => {
                let Some(conductors) = self.conductors(point) else { return };
                for (field, conductor) in [("first", first), ("second", second)] {
                    if !conductors.contains(conductor) {
                        let words = not_one_of(conductor.letters(), conductors.iter().map(|one| one.letters()));
                        let of = words.split_once(", ").map_or("", |(_, expected)| expected);
                        self.add(field, format!("there is no {conductor} at `{point}`, {of}"));
                    }
                }
            }
            _ => {}
        }
    }

    fn circuit(&mut self, id: &CircuitId) {
        if self.task.bay.circuit(id).is_none() {
            let circuits = &self.task.bay.circuits;
            self.unknown("circuit", id, circuits.iter().map(|circuit| circuit.id.as_str()));
        }
    }

    fn device(&mut self, id: &DeviceId) {
        if self.task.bay.device(id).is_none() {
            let devices = &self.task.bay.board.devices;
            self.unknown("device", id, devices.iter().map(|device| device.id.as_str()));
        }
    }

    fn switch(&mut self, id: &SwitchId) {
        if self.task.bay.switch(id).is_none() {
            let task = self.task;
            self.unknown("switch", id, task.bay.switches().map(|switch| switch.id.as_str()));
        }
    }

    fn conductors(&mut self, id: &PointId) -> Option<&'a [Conductor]> {
        let task = self.task;
        let point = task.bay.point(id);
        if point.is_none() {
            self.unknown("point", id, task.bay.points().map(|point| point.id.as_str()));
        }
        point.map(|point| point.conductors.as_slice())
    }

    fn item(&mut self, id: &ItemId) -> Option<&'a Item> {
        let task = self.task;
        let item = task.bay.item(id);
        if item.is_none() {
            self.unknown("item", id, task.bay.table.iter().map(|item| item.id.as_str()));
        }
        item
    }

    fn item_of(&mut self, id: &ItemId, kinds: &[ItemKind]) {
        let Some(item) = self.item(id) else { return };
        if !kinds.contains(&item.kind()) {
            let words: Vec<&str> = kinds.iter().map(|kind| kind.word()).collect();
            let expected = words.join(" or ");
            self.add("item", format!("`{id}` is of kind {}, expected {expected}", item.kind().word()));
        }
    }

    fn on_device(&mut self, item: &ItemId, kinds: &[ItemKind], device: &DeviceId) {
        self.item_of(item, kinds);
        self.device(device);
    }

    fn criterion(&mut self, id: &CriterionId) -> Option<&'a Decided> {
        let task = self.task;
        let criterion = task.checklist.criterion(id);
        if criterion.is_none() {
            self.unknown("criterion", id, task.checklist.criteria().map(|criterion| criterion.id.as_str()));
        }
        criterion.map(|criterion| &criterion.decided)
    }

    fn by_eye(&mut self, id: &CriterionId) {
        if let Some(Decided::Rule(_)) = self.criterion(id) {
            self.add("criterion", format!("`{id}` is worked out by a rule, expected a criterion decided by_eye"));
        }
    }
}
