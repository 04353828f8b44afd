//! Securing: lock-off device, padlock, key, notice, and leaving all of it in place.

use super::authority::named_off;
use super::words::listed;
use crate::bay::equipment::NoticeKind;
use crate::bay::{ItemId, Thing};
use crate::marking::answer::Answer;
use crate::marking::known::{Guard, Known, Pos};
use crate::marking::observation::{Act, Control, ControlResult, OnOff, Place};

/// A lock-off device that fits the named device was fitted to it.
///
/// Source: the means of isolation must resist being switched on (trade fact B08, read).
pub(super) fn lock_off_fits(known: &Known) -> Answer {
    let named = known.named();
    let fitted = known.all(|act| matches!(act, Act::Fitted { .. }));
    let fits = |item: &ItemId| {
        let thing = known.task.bay.item(item).map(|item| &item.thing);
        matches!(thing, Some(Thing::LockOff { fits }) if fits.contains(named))
    };
    let good = fitted
        .iter()
        .find(|&&pos| matches!(&known.acts[pos].act, Act::Fitted { item, device } if device == named && fits(item)));
    if let Some(&pos) = good {
        return Answer::met([pos], format!("Fitted a lock-off device that fits at {}.", known.minute(pos)));
    }
    match fitted.last().map(|&pos| (pos, &known.acts[pos].act)) {
        Some((pos, Act::Fitted { item, device })) => {
            let (item, device, at) = (known.name_item(item), known.name_device(device), known.minute(pos));
            let wanted = known.name_device(named);
            Answer::not_met(fitted, format!("Put “{item}” on {device} at {at}; it does not secure {wanted}."))
        }
        _ => Answer::owed("Fitting a lock-off device was not recorded."),
    }
}

/// The padlock on the named device was closed, tried, and holds.
///
/// Source: steps of GB guidance, lock (trade fact B09, read second-hand); 29 CFR 1910.333(b)(2)(iii)(A) (B34, read).
pub(super) fn locked_and_tried(known: &Known) -> Answer {
    let named = known.named();
    let locked = known.all(|act| matches!(act, Act::Locked { device, .. } if device == named));
    match locked.last().map(|&pos| (pos, &known.acts[pos].act)) {
        Some((pos, Act::Locked { holds: true, .. })) => {
            Answer::met([pos], format!("Closed the padlock and tried it at {}; it holds.", known.minute(pos)))
        }
        Some((pos, _)) => Answer::not_met(
            [pos],
            format!("The padlock closed at {} was not tried or does not hold.", known.minute(pos)),
        ),
        None => Answer::owed(format!("Closing a padlock on {} was not recorded.", known.name_device(known.named()))),
    }
}

/// From the closing of the padlock on, every known place of its key is *kept*: the last known place at that moment and
/// every later one, until the padlock comes off after the declaration. No known place at all is not recorded.
///
/// Source: one key, one holder (trade fact B12, read second-hand).
pub(super) fn key_kept(known: &Known) -> Answer {
    let padlocks = padlocks_closed(known);
    if padlocks.is_empty() {
        return Answer::owed("No padlock was closed, so keeping its key was not recorded.");
    }
    let mut because = Vec::new();
    let mut lapses = Vec::new();
    for (closed, padlock) in padlocks {
        let Some(Thing::Padlock { key }) = known.task.bay.item(padlock).map(|item| &item.thing) else { continue };
        let places = places_of(known, key, closed, taken_off(known, padlock));
        if places.is_empty() {
            let says = format!("Where the key of “{}” went was not recorded.", known.name_item(padlock));
            return Answer::Absent { because: vec![closed], from: known.at(closed), until: None, says };
        }
        for (at, &(pos, place)) in places.iter().enumerate() {
            because.push(pos);
            if place != Place::Kept {
                let until = places.get(at + 1).map_or_else(|| "the end".to_owned(), |&(next, _)| known.minute(next));
                let from = known.minute(pos.max(closed));
                lapses.push((pos, format!("{} from {from} to {until}", place_words(place))));
            }
        }
    }
    if lapses.is_empty() {
        return Answer::met(because, "The key was kept from the moment the padlock closed.");
    }
    let (because, spans): (Vec<Pos>, Vec<String>) = lapses.into_iter().unzip();
    Answer::not_met(because, format!("The key was {}.", listed(&spans)))
}

/// The first closing of each padlock on the named device.
fn padlocks_closed<'a>(known: &Known<'a>) -> Vec<(Pos, &'a ItemId)> {
    let mut closed: Vec<(Pos, &ItemId)> = Vec::new();
    for (pos, seen) in known.acts.iter().enumerate() {
        if let Act::Locked { item, device, .. } = &seen.act
            && device == known.named()
            && closed.iter().all(|(_, there)| *there != item)
        {
            closed.push((pos, item));
        }
    }
    closed
}

/// When a padlock came off after the declaration; the key matters no more from then on.
fn taken_off(known: &Known, padlock: &ItemId) -> Pos {
    let declared = known.all(|act| matches!(act, Act::Declared { .. })).first().copied();
    let removed = known.all(|act| matches!(act, Act::Removed { item, .. } if item == padlock));
    removed.into_iter().find(|&pos| declared.is_some_and(|declared| pos > declared)).unwrap_or(known.acts.len())
}

/// The last known place of a key at `closed`, and every later one before `until`.
fn places_of(known: &Known, key: &ItemId, closed: Pos, until: Pos) -> Vec<(Pos, Place)> {
    let of_key = known.keys.iter().filter(|(pos, item, _)| *item == key && *pos < until);
    let places: Vec<(Pos, Place)> = of_key.map(|&(pos, _, place)| (pos, place)).collect();
    let later = places.partition_point(|&(pos, _)| pos < closed);
    places[later.saturating_sub(1)..].to_vec()
}

fn place_words(place: Place) -> &'static str {
    match place {
        Place::Kept => "kept",
        Place::InLock => "left in the lock",
        Place::OnBoard => "left on the board",
        Place::OnTable => "left on the table",
        Place::HandedOver => "handed over",
    }
}

/// A notice that forbids switching on hangs on the named device, filled in where `filled` asks for it.
///
/// Source: contents of a notice are common practice (trade fact B15); a tag is law in the US,
/// 29 CFR 1910.333(b)(2)(iii)(B) (B35, read).
pub(super) fn notice_posted(known: &Known, wants_filled: bool) -> Answer {
    let named = known.named();
    let posted = known.all(|act| matches!(act, Act::Posted { .. }));
    let fault = |pos: Pos| match &known.acts[pos].act {
        Act::Posted { item, device, filled } => {
            let thing = known.task.bay.item(item).map(|item| &item.thing);
            if device != named {
                Some(format!("hung on {}", known.name_device(device)))
            } else if !matches!(thing, Some(Thing::Notice { notice: NoticeKind::DoNotSwitchOn })) {
                Some("does not forbid switching on".to_owned())
            } else {
                (wants_filled && !filled).then(|| "not filled in".to_owned())
            }
        }
        _ => None,
    };
    if let Some(&pos) = posted.iter().find(|&&pos| fault(pos).is_none()) {
        return Answer::met([pos], format!("Hung the notice at {}.", known.minute(pos)));
    }
    match posted.last().and_then(|&pos| Some((pos, fault(pos)?))) {
        Some((pos, why)) => Answer::not_met(posted, format!("The notice at {} was {why}.", known.minute(pos))),
        None => Answer::owed("Hanging a notice was not recorded."),
    }
}

/// Before the first test the device was off, a lock-off device was on it and its padlock held. Whether the lock-off
/// device fits is another rule.
///
/// Source: steps of GB guidance (trade fact B09, read second-hand); 29 CFR 1910.333(b)(2) in the order printed (B30, read).
pub(super) fn secured_before_testing(known: &Known) -> Answer {
    let first = known.tests.first().map(|test| test.pos);
    let before = first.unwrap_or(known.acts.len());
    let guard = known.guard_before(before);
    let steps: Vec<Pos> = known.guards.iter().map(|&(pos, _)| pos).filter(|&pos| pos < before).collect();
    if guard.is_complete() {
        let moment =
            first.map_or_else(|| "so far".to_owned(), |pos| format!("before the first test at {}", known.minute(pos)));
        return Answer::met(steps, format!("The isolation was secured {moment}."));
    }
    let ever = known.guards.iter().filter(|(pos, _)| *pos < before).fold(Guard::default(), |all, (_, guard)| Guard {
        off: all.off || guard.off,
        lock_off: all.lock_off || guard.lock_off,
        padlock: all.padlock || guard.padlock,
    });
    if ever.is_complete() {
        return Answer::not_met(steps, "The isolation was undone before the first test.");
    }
    let missing: Vec<String> =
        [(ever.off, "switching off"), (ever.lock_off, "a lock-off device"), (ever.padlock, "a padlock that holds")]
            .into_iter()
            .filter(|(there, _)| !there)
            .map(|(_, what)| what.to_owned())
            .collect();
    let says = format!("Before the first test, {} was not recorded.", listed(&missing));
    Answer::Absent {
        because: first.into_iter().collect(),
        from: known.span.0,
        until: first.map(|pos| known.at(pos)),
        says,
    }
}

/// From switching off until the declaration nothing came off the named device and it was not switched on.
///
/// Source: precautions that keep equipment dead during work (trade fact B04, read second-hand).
pub(super) fn nothing_removed_early(known: &Known) -> Answer {
    let named = known.named();
    let Some(off) = named_off(known) else {
        return Answer::owed(format!("Switching off {} was not recorded.", known.name_device(named)));
    };
    let declared = known.all(|act| matches!(act, Act::Declared { .. })).last().copied().unwrap_or(known.acts.len());
    let undone: Vec<Pos> = known
        .all(|act| match act {
            Act::Removed { device, .. } => device == named,
            Act::Switched { device, to } => device == named && *to == OnOff::On,
            _ => false,
        })
        .into_iter()
        .filter(|&pos| (off..declared).contains(&pos))
        .collect();
    match undone.first() {
        None => Answer::met([off], "Nothing was taken off and the device stayed off."),
        Some(&pos) => {
            let says = match &known.acts[pos].act {
                Act::Removed { item, .. } => format!("Took off “{}” at {}.", known.name_item(item), known.minute(pos)),
                _ => format!("Switched {} on again at {}.", known.name_device(named), known.minute(pos)),
            };
            Answer::not_met(undone, says)
        }
    }
}

/// Once it was secured, what was isolated was tried, and nothing started.
///
/// Source: 29 CFR 1910.333(b)(2)(iv)(A) (trade fact B38, read).
pub(super) fn controls_tried(known: &Known) -> Answer {
    let secured = known.guards.iter().find(|(_, guard)| guard.is_complete()).map(|&(pos, _)| pos);
    let is_of_circuit = |control: &Control| match control {
        Control::Device(device) => device == known.named(),
        Control::Switch(switch) => {
            known.circuit().is_some_and(|circuit| circuit.switches.iter().any(|there| there.id == *switch))
        }
    };
    let tried = known.all(|act| matches!(act, Act::ControlTried { control, .. } if is_of_circuit(control)));
    let after: Vec<Pos> = tried.into_iter().filter(|&pos| secured.is_some_and(|secured| pos > secured)).collect();
    let started = after
        .iter()
        .find(|&&pos| matches!(&known.acts[pos].act, Act::ControlTried { result: ControlResult::Started, .. }));
    match (started, after.first()) {
        (Some(&pos), _) => {
            Answer::not_met([pos], format!("Something started when it was tried at {}.", known.minute(pos)))
        }
        (None, Some(&pos)) => {
            Answer::met([pos], format!("Tried the controls at {}; nothing started.", known.minute(pos)))
        }
        (None, None) => Answer::owed("Trying the controls after securing was not recorded."),
    }
}
