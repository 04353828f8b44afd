//! What must lie on the table and how everything must stand: the bay sheet and the bay check show the same lists.

use crate::bay::equipment::NoticeKind;
use crate::bay::{Bay, Leads, Probes, Protection, Thing};
use crate::marking::{Task, suits};

/// One thing that must lie on the table.
pub struct Laid {
    pub label: String,
    pub as_described: String,
    /// Why it does not suit the task; empty where it does.
    pub unsuited: String,
}

/// Everything that must lie on the table.
pub fn table(task: &Task) -> Vec<Laid> {
    let laid = |item: &crate::bay::Item| Laid {
        label: item.label.clone(),
        as_described: as_described(&item.thing),
        unsuited: suits::unsuited(task, item).join("; "),
    };
    task.bay.table.iter().map(laid).collect()
}

/// An item in the words of the table, so that what lies there can be compared with the task.
fn as_described(thing: &Thing) -> String {
    match thing {
        Thing::VoltageIndicator(probes) => format!("Voltage indicator: {}", probes_described(probes)),
        Thing::Multimeter(probes) => format!("Multimeter: {}", probes_described(probes)),
        Thing::NonContactIndicator => "Non-contact indicator".into(),
        Thing::ProvingUnit { output_volts, works } => {
            format!("Proving unit, {output_volts} V, {}", if *works { "works" } else { "does not work" })
        }
        Thing::LockOff { fits } => {
            let fits: Vec<_> = fits.iter().map(crate::bay::DeviceId::as_str).collect();
            format!("Lock-off device; fits {}", if fits.is_empty() { "nothing here".into() } else { fits.join(", ") })
        }
        Thing::Padlock { key } => format!("Padlock; opened by {key}"),
        Thing::Key => "Key".into(),
        Thing::Notice { notice } => format!("Notice: {}", notice_words(*notice)),
        Thing::LeadSet => "Lead set".into(),
        Thing::Adapter => "Adapter".into(),
    }
}

fn notice_words(kind: NoticeKind) -> &'static str {
    match kind {
        NoticeKind::DoNotSwitchOn => "do not switch on",
        NoticeKind::Danger => "danger",
        NoticeKind::Testing => "testing in progress",
    }
}

fn probes_described(probes: &Probes) -> String {
    let leads = match probes.leads {
        Leads::Sound => "leads sound",
        Leads::Damaged => "a lead damaged",
    };
    let protection = match probes.protection {
        Protection::Fused => "fused",
        Protection::CurrentLimited => "current limited",
        Protection::None => "not fused",
    };
    format!(
        "bare tips {} mm, {}, {leads}, {protection}, {}, rated {} V",
        probes.exposed_tip_mm,
        if probes.finger_guards { "finger guards" } else { "no finger guards" },
        if probes.in_date { "in date" } else { "out of date" },
        probes.rated_volts,
    )
}

/// How everything stands before the candidate comes in, without what is planted.
pub fn positions(bay: &Bay) -> Vec<String> {
    let off: Vec<String> = bay.setup.off.iter().map(ToString::to_string).collect();
    let but = if off.is_empty() { String::new() } else { format!(" but {}", off.join(", ")) };
    let mut holds = vec![format!("Every device on {}{but} is on, and nothing is locked off.", bay.board.label)];
    if let (Some(circuit), Some(point)) = (bay.circuit(&bay.isolate.circuit), bay.point(&bay.isolate.point)) {
        if bay.setup.planted.is_empty() {
            holds.push(format!("{} works as it should.", circuit.label));
        }
        for switch in &circuit.switches {
            let word = bay.setup.setting(&switch.id).word(switch.kind);
            holds.push(format!("{} ({}) stands at {word}.", switch.id, switch.label));
        }
        holds.push(format!("{} is closed{}.", point.label, if point.lamp { " and its lamp is in" } else { "" }));
    }
    if !bay.sources.is_empty() {
        let labels: Vec<_> = bay.sources.iter().map(|source| source.label.as_str()).collect();
        holds.push(format!("Supplies that feed the point: {}.", labels.join(", ")));
    }
    holds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_item_is_described_by_all_that_decides_whether_it_suits() {
        let probes = Probes {
            exposed_tip_mm: 14.0,
            finger_guards: true,
            leads: Leads::Damaged,
            protection: Protection::None,
            in_date: false,
            rated_volts: 690,
        };
        let says = as_described(&Thing::VoltageIndicator(probes));
        for part in ["14 mm", "finger guards", "a lead damaged", "not fused", "out of date", "690 V"] {
            assert!(says.contains(part), "{part} in {says}");
        }
    }
}
