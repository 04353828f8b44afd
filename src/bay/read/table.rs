//! The equipment table.

use super::{Known, LABEL, MANY, all};
use crate::bay::equipment::NoticeKind;
use crate::bay::{Item, ItemKind, Probes, Thing};
use crate::reading::{At, Fields};

/// Reads the items on the table, and whether its keys and padlocks belong together.
pub(super) fn read(items: &[At<'_>], known: &Known) -> Option<Vec<Item>> {
    let kind_of = |item: &At<'_>| item.node.get("kind").and_then(|kind| kind.as_text()).map(str::to_owned);
    let padlocked = items.iter().any(|item| kind_of(item).as_deref() == Some("padlock"));
    for key in items.iter().filter(|item| !padlocked && kind_of(item).as_deref() == Some("key")) {
        key.fault("this key opens nothing: expected a padlock on the table that names a key");
    }
    let is_key = |id: &str| {
        let named = |item: &&At<'_>| item.node.get("id").and_then(|node| node.as_text()) == Some(id);
        items.iter().find(named).and_then(kind_of).is_none_or(|kind| kind == "key")
    };
    all(items, |at| item(at, known, &is_key))
}

fn item(at: &At<'_>, known: &Known, is_key: &dyn Fn(&str) -> bool) -> Option<Item> {
    let mut fields = at.fields()?;
    let (id, kind, label) = (fields.id("id"), fields.word("kind"), fields.text("label", LABEL));
    // Without its kind nobody can say which keys belong to it, so the others go unreported.
    let thing = thing(&mut fields, kind?, known, is_key);
    fields.finish();
    Some(Item { id: id?, label: label?, thing: thing? })
}

fn thing(fields: &mut Fields<'_>, kind: ItemKind, known: &Known, is_key: &dyn Fn(&str) -> bool) -> Option<Thing> {
    Some(match kind {
        ItemKind::VoltageIndicator => Thing::VoltageIndicator(probes(fields)?),
        ItemKind::Multimeter => Thing::Multimeter(probes(fields)?),
        ItemKind::NonContactIndicator => Thing::NonContactIndicator,
        ItemKind::ProvingUnit => {
            let (output_volts, works) = (fields.whole("output_volts", 1..=1_000), fields.bool("works"));
            Thing::ProvingUnit { output_volts: output_volts?, works: works? }
        }
        ItemKind::LockOff => {
            let fits = fields.required("fits")?;
            Thing::LockOff { fits: fits.distinct(MANY, |at| known.devices.named(at))? }
        }
        ItemKind::Padlock => Thing::Padlock { key: fields.required("key").and_then(|at| key(&at, known, is_key))? },
        ItemKind::Key => Thing::Key,
        ItemKind::Notice => {
            let notice = fields.maybe("notice", |at| at.word())?;
            Thing::Notice { notice: notice.unwrap_or(NoticeKind::DoNotSwitchOn) }
        }
        ItemKind::LeadSet => Thing::LeadSet,
        ItemKind::Adapter => Thing::Adapter,
    })
}

fn key(at: &At<'_>, known: &Known, is_key: &dyn Fn(&str) -> bool) -> Option<crate::bay::ItemId> {
    let key: crate::bay::ItemId = known.items.named(at)?;
    if !is_key(key.as_str()) {
        at.fault(format!("`{key}` is no key, expected an item of kind key that opens this padlock"));
        return None;
    }
    Some(key)
}

fn probes(fields: &mut Fields<'_>) -> Option<Probes> {
    let exposed_tip_mm = fields.number("exposed_tip_mm", 0.0..=100.0);
    let finger_guards = fields.bool("finger_guards");
    let leads = fields.word("leads");
    let protection = fields.word("protection");
    let in_date = fields.bool("in_date");
    let rated_volts = fields.whole("rated_volts", 1..=10_000);
    Some(Probes {
        exposed_tip_mm: exposed_tip_mm?,
        finger_guards: finger_guards?,
        leads: leads?,
        protection: protection?,
        in_date: in_date?,
        rated_volts: rated_volts?,
    })
}
