//! The set-up of a bay as text.

use super::{Keys, conductors, entry, word};
use crate::bay::setup::SwitchSetting;
use crate::bay::{Bay, Fault, Setup};
use crate::reading::to_toml;

/// `[setup]`; nothing where every device is on, every switch in its first setting and nothing planted.
pub fn setup(bay: &Bay) -> Option<String> {
    let setup = &bay.setup;
    if *setup == Setup::default() {
        return None;
    }
    let mut keys = Keys::under("[setup]");
    if !setup.off.is_empty() {
        keys.put("off", to_toml::list(setup.off.iter().map(|id| to_toml::text(id.as_str()))));
    }
    if !setup.switches.is_empty() {
        let settings = setup.switches.iter().map(|there| to_toml::table(setting(bay, there)));
        keys.put("switches", to_toml::lines(settings));
    }
    if !setup.planted.is_empty() {
        keys.put("planted", to_toml::lines(setup.planted.iter().map(|planted| fault(bay, planted))));
    }
    Some(keys.0)
}

fn setting(bay: &Bay, there: &SwitchSetting) -> [(String, String); 2] {
    let words = bay.switch(&there.switch).map_or("", |switch| there.setting.word(switch.kind));
    [entry("switch", to_toml::text(there.switch.as_str())), entry("setting", to_toml::text(words))]
}

/// One fault as a table on one line. Mistakes of a candidate and a dead indicator are written too, but no task file may
/// plant them.
pub fn fault(bay: &Bay, fault: &Fault) -> String {
    let id = fault.id();
    let kind = entry("fault", to_toml::text(id.split(':').next().unwrap_or_default()));
    to_toml::table(std::iter::once(kind).chain(parts(bay, fault)))
}

fn parts(bay: &Bay, fault: &Fault) -> Vec<(String, String)> {
    let text = |key: &str, text: &str| entry(key, to_toml::text(text));
    match fault {
        Fault::WrongDevice { opened } => vec![text("opened", opened.as_str())],
        Fault::SecondSupply { source } => source.iter().map(|source| text("source", source.as_str())).collect(),
        Fault::BorrowedNeutral { from } => vec![text("from", from.as_str())],
        Fault::BrokenNeutral | Fault::LostEarth | Fault::CrossedPolarity | Fault::DeadIndicator => Vec::new(),
        Fault::StuckPole { device, pole } => vec![text("device", device.as_str()), entry("pole", word(pole))],
        Fault::StuckSwitch { switch, setting } => {
            self::setting(bay, &SwitchSetting { switch: switch.clone(), setting: *setting }).into()
        }
        Fault::BrokenContact { switch, contact } => vec![text("switch", switch.as_str()), entry("contact", contact)],
        Fault::JoinedStrapper { behind, wire, from } => {
            vec![text("behind", behind.as_str()), entry("wire", wire), text("from", from.as_str())]
        }
        Fault::FloatingSupply { between } => vec![entry("between", conductors(between))],
    }
}
