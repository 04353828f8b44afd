//! The equipment table.

use super::{Known, LABEL, MANY, Names, all, short};
use crate::bay::equipment::NoticeKind;
use crate::bay::{Item, ItemKind, Probes, Thing};
use crate::reading::{At, Fields, Node};

/// Reads the items on the table, and whether its keys and padlocks belong together.
pub(super) fn read(items: &[At<'_>], known: &Known) -> Option<Vec<Item>> {
    let of_kind = |kind: &'static str| items.iter().filter(move |item| text(item, "kind") == Some(kind));
    if of_kind("padlock").next().is_none() {
        for key in of_kind("key") {
            key.fault("this key opens nothing, expected a padlock on the table that names a key");
        }
    }
    let keys = known.items.only("a key", |id| of_kind("key").any(|item| text(item, "id") == Some(id)));
    all(items, |at| item(at, known, &keys))
}

/// The text under a key of an item.
fn text<'a>(item: &At<'a>, key: &str) -> Option<&'a str> {
    item.node.get(key).and_then(Node::as_text)
}

fn item(at: &At<'_>, known: &Known, keys: &Names) -> Option<Item> {
    let mut fields = at.fields()?;
    let (id, kind, label) = (fields.id("id"), fields.word("kind"), fields.text("label", LABEL));
    let short = fields.maybe("short", |at| short(&at, ""));
    // Without its kind nobody can say which keys belong to it, so the others go unreported.
    let thing = thing(&mut fields, kind?, known, keys);
    fields.finish();
    Some(Item { id: id?, label: label?, short: short?, thing: thing? })
}

fn thing(fields: &mut Fields<'_>, kind: ItemKind, known: &Known, keys: &Names) -> Option<Thing> {
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
        ItemKind::Padlock => Thing::Padlock { key: fields.required("key").and_then(|at| keys.named(&at))? },
        ItemKind::Key => Thing::Key,
        ItemKind::Notice => {
            let notice = fields.maybe("notice", |at| at.word())?;
            Thing::Notice { notice: notice.unwrap_or(NoticeKind::DoNotSwitchOn) }
        }
        ItemKind::LeadSet => Thing::LeadSet,
        ItemKind::Adapter => Thing::Adapter,
    })
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
