//! The equipment table as text.

use super::{Keys, word};
use crate::bay::equipment::NoticeKind;
use crate::bay::{Item, Probes, Thing};
use crate::reading::to_toml;

/// One `[[table]]`.
pub fn item(item: &Item) -> String {
    let mut keys = Keys::under("[[table]]");
    keys.put("id", to_toml::text(item.id.as_str()));
    keys.put("kind", to_toml::text(item.kind().word()));
    keys.put("label", to_toml::text(&item.label));
    keys.maybe("short", item.short.as_deref().map(to_toml::text));
    match &item.thing {
        Thing::VoltageIndicator(it) | Thing::Multimeter(it) => probes(&mut keys, it),
        Thing::ProvingUnit { output_volts, works } => {
            keys.put("output_volts", output_volts);
            keys.put("works", works);
        }
        Thing::LockOff { fits } => {
            keys.put("fits", to_toml::list(fits.iter().map(|id| to_toml::text(id.as_str()))));
        }
        Thing::Padlock { key } => keys.put("key", to_toml::text(key.as_str())),
        Thing::Notice { notice: NoticeKind::DoNotSwitchOn } => {}
        Thing::Notice { notice } => keys.put("notice", word(notice)),
        Thing::NonContactIndicator | Thing::Key | Thing::LeadSet | Thing::Adapter => {}
    }
    keys.0
}

fn probes(keys: &mut Keys, probes: &Probes) {
    keys.put("exposed_tip_mm", to_toml::measured(probes.exposed_tip_mm));
    keys.put("finger_guards", probes.finger_guards);
    keys.put("leads", word(&probes.leads));
    keys.put("protection", word(&probes.protection));
    keys.put("in_date", probes.in_date);
    keys.put("rated_volts", probes.rated_volts);
}
