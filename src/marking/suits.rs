//! Whether what lies on the table suits the task, worked out from its real attributes and what the checklist accepts.

use super::{Checklist, Decided, Rule, Task};
use crate::bay::equipment::NoticeKind;
use crate::bay::{Bay, Item, ItemKind, Leads, Phases, Probes, Protection, Thing};

/// Why an item on the table does not suit the task, in phrases; empty where it does.
pub fn unsuited(task: &Task, item: &Item) -> Vec<String> {
    unsuited_in(&task.bay, Some(&task.checklist), item)
}

/// The same before the task is whole: without a checklist, the contract's limits stand.
pub fn unsuited_in(bay: &Bay, checklist: Option<&Checklist>, item: &Item) -> Vec<String> {
    let named = &bay.isolate.device;
    let kinds = |kind: ItemKind| bay.table.iter().filter(move |there| there.kind() == kind);
    let why = match &item.thing {
        Thing::VoltageIndicator(_) | Thing::Multimeter(_) | Thing::NonContactIndicator => {
            let (accepts, max_tip_mm) = instruments(checklist);
            return unfit(bay, item, &accepts, max_tip_mm);
        }
        Thing::ProvingUnit { works: false, .. } => "does not work".to_owned(),
        Thing::LockOff { fits } if !fits.contains(named) => format!("does not fit {named}"),
        Thing::Key
            if !kinds(ItemKind::Padlock)
                .any(|lock| matches!(&lock.thing, Thing::Padlock { key } if *key == item.id)) =>
        {
            "opens no padlock on the table".to_owned()
        }
        Thing::Notice { notice: NoticeKind::Danger } => "warns, but does not forbid switching on".to_owned(),
        Thing::Notice { notice: NoticeKind::Testing } => {
            "says that testing goes on, not that switching on is forbidden".to_owned()
        }
        _ => return Vec::new(),
    };
    vec![why]
}

/// The kinds of instrument and the longest bare tip that the checklist accepts; the contract's where it does not say.
fn instruments(checklist: Option<&Checklist>) -> (Vec<ItemKind>, f64) {
    let asked = checklist.into_iter().flat_map(Checklist::criteria).find_map(|criterion| match &criterion.decided {
        Decided::Rule(Rule::IndicatorSuitable { accepts, max_tip_mm }) => Some((accepts.clone(), *max_tip_mm)),
        _ => None,
    });
    asked.unwrap_or_else(|| (Rule::ACCEPTS.to_vec(), Rule::MAX_TIP_MM))
}

/// Why an instrument is not fit for proving dead in this bay, from its real attributes; empty where it is.
///
/// Source: HSE GS38 4th edition (2015) paragraph 9, at most 4 mm of bare tip (trade facts A01, A04, A05, A08, A28;
/// kinds not accepted A18, A21, A22).
pub fn unfit(bay: &Bay, item: &Item, accepts: &[ItemKind], max_tip_mm: f64) -> Vec<String> {
    if !accepts.contains(&item.kind()) {
        return vec!["its kind is not accepted for proving dead".into()];
    }
    match &item.thing {
        Thing::VoltageIndicator(probes) | Thing::Multimeter(probes) => probe_faults(bay, probes, max_tip_mm),
        _ => Vec::new(),
    }
}

fn probe_faults(bay: &Bay, probes: &Probes, max_tip_mm: f64) -> Vec<String> {
    let needed = highest_volts(bay);
    let mut faults = Vec::new();
    if probes.exposed_tip_mm > max_tip_mm {
        faults.push(format!("bare tips of {} mm, over the limit of {max_tip_mm} mm", probes.exposed_tip_mm));
    }
    if !probes.finger_guards {
        faults.push("no finger guards".into());
    }
    if probes.leads == Leads::Damaged {
        faults.push("damaged leads".into());
    }
    if probes.protection == Protection::None {
        faults.push("neither fused nor current-limited".into());
    }
    if !probes.in_date {
        faults.push("out of date".into());
    }
    if probes.rated_volts < needed {
        faults.push(format!("rated for {} V where {needed} V can be met", probes.rated_volts));
    }
    faults
}

/// The highest voltage between two conductors of the bay: line to line where there are three phases (√3 times line to
/// neutral, by circuit law), else line to neutral.
fn highest_volts(bay: &Bay) -> u16 {
    let supply = bay.supply;
    match supply.phases {
        Phases::One => supply.volts,
        // 1732/1000 is √3 to four figures; exact enough for a rating, and the same on every machine.
        Phases::Three => u16::try_from(u32::from(supply.volts) * 1_732 / 1_000).unwrap_or(u16::MAX),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the worked example's own labels, which say what is wrong with each item.
    #[test]
    fn what_is_unsuited_is_worked_out_and_said() {
        let task = Task::read_toml(include_str!("../../tests/reference/examples/stairwell.toml")).unwrap();
        let says = |id: &str| {
            let item = task.bay.table.iter().find(|item| item.id.as_str() == id).unwrap();
            unsuited(&task, item).join("; ")
        };
        for suits in ["vi-a", "pu-a", "lo-a", "pl-a", "key-a", "no-a"] {
            assert_eq!(says(suits), "", "{suits}");
        }
        assert_eq!(says("vi-b"), "bare tips of 14 mm, over the limit of 4 mm");
        assert_eq!(says("vi-c"), "damaged leads");
        assert_eq!(says("mm-a"), "its kind is not accepted for proving dead");
        assert_eq!(says("nc-a"), "its kind is not accepted for proving dead");
        assert_eq!(says("lo-b"), "does not fit Q2");
        assert_eq!(says("key-b"), "opens no padlock on the table");
    }
}
