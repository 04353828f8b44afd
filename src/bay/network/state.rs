//! One state of a bay, and the branches that are made in it.

use super::faults::Effect;
use super::{Bay, DeviceId, Setting, SwitchId, Wired};
use crate::bay::solve::{Made, Unsolvable};

/// How everything in a bay stands.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct State {
    /// Whether each device is on, in the order of the board.
    pub on: Vec<bool>,
    /// The setting of each switch, in the order of the circuits and their switches.
    pub settings: Vec<Setting>,
    /// Whether the lamp at the point of work is in and whole.
    pub lamp_in: bool,
    /// Whether appliances and motors are connected.
    pub loads_on: bool,
}

impl State {
    /// As the assessor sets the bay up.
    pub fn set_up(bay: &Bay) -> Self {
        Self {
            on: bay.board.devices.iter().map(|device| !bay.setup.off.contains(&device.id)).collect(),
            settings: bay.switches().map(|switch| bay.setup.setting(&switch.id)).collect(),
            lamp_in: true,
            loads_on: true,
        }
    }

    /// Switches a device.
    pub fn switch(&mut self, bay: &Bay, device: &DeviceId, on: bool) {
        let devices = bay.board.devices.iter().zip(&mut self.on);
        devices.filter(|(there, _)| there.id == *device).for_each(|(_, stands)| *stands = on);
    }

    /// Throws a wall switch.
    pub fn throw(&mut self, bay: &Bay, switch: &SwitchId) {
        let switches = bay.switches().zip(&mut self.settings);
        switches.filter(|(there, _)| there.id == *switch).for_each(|(_, setting)| *setting = setting.thrown());
    }

    /// Sets a wall switch.
    pub fn set(&mut self, bay: &Bay, switch: &SwitchId, to: Setting) {
        let switches = bay.switches().zip(&mut self.settings);
        switches.filter(|(there, _)| there.id == *switch).for_each(|(_, setting)| *setting = to);
    }
}

impl Wired {
    /// The branches made in a state with some of its faults active, each by its place.
    ///
    /// A fault of a contact wins over one of its device or switch. Two faults that force the same thing to different
    /// values are a [`Unsolvable::Conflict`].
    pub fn made(&self, state: &State, faults: &[usize]) -> Result<Made, Unsolvable> {
        let effects = || faults.iter().filter_map(|&at| self.faults.get(at)).flatten();
        for (at, one) in effects().enumerate() {
            if let Some(thing) = effects().take(at).find_map(|other| self.contradiction(*one, *other)) {
                return Err(Unsolvable::Conflict(thing));
            }
        }
        let mut made = self.always.clone();
        if let Some(lamp) = self.lamp {
            made.set(lamp, state.lamp_in);
        }
        self.loads.iter().for_each(|&load| made.set(load, state.loads_on));
        for at in 0..self.devices.len() {
            self.stand(&mut made, at, state.on.get(at).copied().unwrap_or(true));
        }
        for at in 0..self.switches.len() {
            self.turn(&mut made, at, state.settings.get(at).copied().unwrap_or_default());
        }
        for effect in effects() {
            match *effect {
                Effect::Device(at, on) => self.stand(&mut made, at, on),
                Effect::Switch(at, setting) => self.turn(&mut made, at, setting),
                Effect::Branch(..) => {}
            }
        }
        for effect in effects() {
            if let Effect::Branch(branch, stands) = *effect {
                made.set(branch, stands);
            }
        }
        Ok(made)
    }

    fn stand(&self, made: &mut Made, device: usize, on: bool) {
        self.devices[device].contacts.iter().for_each(|(_, contact)| made.set(*contact, on));
    }

    fn turn(&self, made: &mut Made, switch: usize, setting: Setting) {
        let contacts = &self.switches[switch].contacts;
        contacts.iter().for_each(|(contact, made_in)| made.set(*contact, *made_in == setting));
    }

    /// What two effects force to different values.
    fn contradiction(&self, one: Effect, other: Effect) -> Option<String> {
        match (one, other) {
            (Effect::Device(at, on), Effect::Device(same, off)) if at == same && on != off => {
                Some(self.devices[at].device.to_string())
            }
            (Effect::Switch(at, here), Effect::Switch(same, there)) if at == same && here != there => {
                Some(self.switches[at].switch.to_string())
            }
            (Effect::Branch(branch, made), Effect::Branch(same, open)) if branch == same && made != open => {
                Some(self.compiled.network().branches().get(branch.at()).map(|it| it.name.clone()).unwrap_or_default())
            }
            _ => None,
        }
    }
}
