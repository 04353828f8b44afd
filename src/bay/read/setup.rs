//! How the assessor sets the bay up.

use super::{Known, MANY, all};
use crate::bay::setup::SwitchSetting;
use crate::bay::{Board, Circuit, Conductor, Fault, Setting, Setup, SwitchId, SwitchKind};
use crate::reading::{At, Fields};

/// The faults that can be planted; the others are mistakes of the candidate, or of the indicator.
const PLANTED: [&str; 9] = [
    "second_supply",
    "borrowed_neutral",
    "broken_neutral",
    "lost_earth",
    "crossed_polarity",
    "stuck_pole",
    "stuck_switch",
    "broken_contact",
    "joined_strapper",
];

/// What is already known of the bay, where it could be read.
struct Bay<'a> {
    known: &'a Known,
    circuits: &'a [Circuit],
    board: Option<&'a Board>,
}

/// Reads the set-up. Settings and poles are checked where the switches and devices could be read.
pub(super) fn read(at: &At<'_>, known: &Known, circuits: Option<&[Circuit]>, board: Option<&Board>) -> Option<Setup> {
    let bay = Bay { known, circuits: circuits.unwrap_or_default(), board };
    let mut fields = at.fields()?;
    let off = fields.maybe("off", |at| at.distinct(MANY, |at| known.devices.named(at)));
    let switches = fields.maybe("switches", |at| all(&at.list(MANY)?, |at| setting_of(at, &bay)));
    let planted = fields.maybe("planted", |at| all(&at.list(MANY)?, |at| fault(at, &bay)));
    fields.finish();
    let (off, switches) = (off?.unwrap_or_default(), switches?.unwrap_or_default());
    Some(Setup { off, switches, planted: planted?.unwrap_or_default() })
}

fn setting_of(at: &At<'_>, bay: &Bay<'_>) -> Option<SwitchSetting> {
    let mut fields = at.fields()?;
    let there = setting_in(&mut fields, bay);
    fields.finish();
    there
}

fn setting(at: &At<'_>, kind: SwitchKind) -> Option<Setting> {
    let words = Setting::words(kind);
    let word = at.word_of(&words)?;
    Some(if word == words[0] { Setting::First } else { Setting::Second })
}

fn fault(at: &At<'_>, bay: &Bay<'_>) -> Option<Fault> {
    let mut fields = at.fields()?;
    let kind = fields.required("fault").and_then(|at| at.word_of(&PLANTED))?;
    let fault = parts(kind, &mut fields, bay);
    fields.finish();
    fault
}

fn parts(kind: &str, fields: &mut Fields<'_>, bay: &Bay<'_>) -> Option<Fault> {
    let known = bay.known;
    Some(match kind {
        "second_supply" => Fault::SecondSupply { source: fields.maybe("source", |at| known.sources.named(&at))? },
        "borrowed_neutral" => {
            Fault::BorrowedNeutral { from: fields.required("from").and_then(|at| known.circuits.named(&at))? }
        }
        "broken_neutral" => Fault::BrokenNeutral,
        "lost_earth" => Fault::LostEarth,
        "crossed_polarity" => Fault::CrossedPolarity,
        "stuck_pole" => {
            let device = fields.required("device");
            let device = device.and_then(|at| known.devices.named(&at));
            let poles = device.as_ref().and_then(|id| Some(&bay.board?.devices.iter().find(|it| it.id == *id)?.poles));
            let pole = fields.required("pole").and_then(|at| {
                let pole: Conductor = at.word()?;
                if poles.is_some_and(|poles| !poles.contains(&pole)) {
                    at.fault(format!("this device has no pole for {pole}"));
                    return None;
                }
                Some(pole)
            });
            Fault::StuckPole { device: device?, pole: pole? }
        }
        "stuck_switch" => {
            let there = setting_in(fields, bay)?;
            Fault::StuckSwitch { switch: there.switch, setting: there.setting }
        }
        "broken_contact" => {
            let switch = fields.required("switch").and_then(|at| known.switches.named(&at));
            let contact = fields.required("contact").and_then(|at| {
                let contacts = match bay.kind(switch.as_ref()?)? {
                    SwitchKind::OneWay => 1,
                    SwitchKind::TwoWay => 2,
                    SwitchKind::Intermediate => 4,
                };
                at.whole(1..=contacts)
            });
            Fault::BrokenContact { switch: switch?, contact: contact? }
        }
        _ => {
            let behind = fields.required("behind").and_then(|at| known.switches.named(&at));
            let wire = fields.whole("wire", 1..=2);
            let from = fields.required("from").and_then(|at| known.circuits.named(&at));
            Fault::JoinedStrapper { behind: behind?, wire: wire?, from: from? }
        }
    })
}

fn setting_in(fields: &mut Fields<'_>, bay: &Bay<'_>) -> Option<SwitchSetting> {
    let switch = fields.required("switch").and_then(|at| bay.known.switches.named(&at));
    let setting = fields.required("setting").and_then(|at| setting(&at, bay.kind(switch.as_ref()?)?));
    Some(SwitchSetting { switch: switch?, setting: setting? })
}

impl Bay<'_> {
    /// The kind of a switch. Without its circuit read, whose own fault is reported, nothing can be said of it.
    fn kind(&self, switch: &SwitchId) -> Option<SwitchKind> {
        let mut switches = self.circuits.iter().flat_map(|circuit| &circuit.switches);
        switches.find(|there| there.id == *switch).map(|there| there.kind)
    }
}
