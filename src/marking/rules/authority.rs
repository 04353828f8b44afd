//! Before switching: finding the circuit, naming its supplies, leave, load, and switching the named device only.

use super::words::listed;
use crate::bay::DeviceId;
use crate::marking::answer::Answer;
use crate::marking::known::{Known, Pos};
use crate::marking::observation::{Act, OnOff};

/// An act that had to come before the first switching, and did not.
fn absent_before(known: &Known, first: Option<Pos>, says: String) -> Answer {
    Answer::Absent {
        because: first.into_iter().collect(),
        from: known.span.0,
        until: first.map(|pos| known.at(pos)),
        says,
    }
}

fn first_switching(known: &Known) -> Option<Pos> {
    known.switched.first().map(|switched| switched.pos)
}

/// When the named device was first switched off.
pub(super) fn named_off(known: &Known) -> Option<Pos> {
    let named = known.named();
    known.switched.iter().find(|switched| switched.device == named && switched.to == OnOff::Off).map(|s| s.pos)
}

/// The circuit and its device are named before anything is switched, and they are the right ones.
///
/// A candidate may correct themselves: the last naming before the first switching counts. Source: the steps of GB guidance
/// (permission, identify, switch off; trade fact B09, read second-hand).
pub(super) fn circuit_identified(known: &Known) -> Answer {
    let isolate = &known.task.bay.isolate;
    let first = first_switching(known);
    let named = known.all(|act| matches!(act, Act::Identified { .. }));
    let Some(&last) = named.iter().rfind(|&&pos| first.is_none_or(|first| pos < first)) else {
        return absent_before(
            known,
            first,
            "Naming the circuit and its device before switching was not recorded.".into(),
        );
    };
    match &known.acts[last].act {
        Act::Identified { circuit, device } if (circuit, device) == (&isolate.circuit, &isolate.device) => {
            Answer::met([last], format!("Named {} at {}.", known.name_device(device), known.minute(last)))
        }
        Act::Identified { circuit, device } => {
            let (circuit, device) = (known.name_circuit(circuit), known.name_device(device));
            Answer::not_met(
                [last],
                format!("Named {circuit} on {device} at {}, which is not the one.", known.minute(last)),
            )
        }
        _ => Answer::owed("Naming the circuit was not recorded."),
    }
}

/// Every source that the task lists was named before anything was switched; not applicable where it lists none.
///
/// Source: 29 CFR 1910.333(b)(2)(ii)(B), all sources disconnected (trade fact B32, read).
pub(super) fn sources_listed(known: &Known) -> Answer {
    let sources = &known.task.bay.sources;
    if sources.is_empty() {
        return Answer::not_applicable("The task lists no other supplies.");
    }
    let first = first_switching(known);
    let named = known.all(|act| matches!(act, Act::SourceListed { .. }));
    let early: Vec<Pos> = named.into_iter().filter(|&pos| first.is_none_or(|first| pos < first)).collect();
    let is_named =
        |id| early.iter().any(|&pos| matches!(&known.acts[pos].act, Act::SourceListed { source } if source == id));
    let missing: Vec<String> =
        sources.iter().filter(|source| !is_named(&source.id)).map(|source| source.label.clone()).collect();
    if missing.is_empty() {
        return Answer::met(early, "Named every supply before switching.");
    }
    absent_before(known, first, format!("Naming {} before switching was not recorded.", listed(&missing)))
}

/// Leave was asked for and given, for the circuit to isolate, before anything was switched.
///
/// Source: the steps of GB guidance begin with permission (trade facts B09 and B10, read second-hand).
pub(super) fn permission_before_switching(known: &Known) -> Answer {
    let wanted = &known.task.bay.isolate.circuit;
    let first = first_switching(known);
    let early = |pos: &Pos| first.is_none_or(|first| *pos < first);
    let asked = known.all(|act| matches!(act, Act::PermissionAsked { circuit } if circuit == wanted));
    let given = known.all(|act| matches!(act, Act::PermissionGiven { circuit } if circuit == wanted));
    match (asked.into_iter().find(early), given.into_iter().find(early)) {
        (Some(asked), Some(given)) => Answer::met(
            [asked, given],
            format!("Asked for leave at {} and had it before switching.", known.minute(asked)),
        ),
        (Some(_), None) => {
            absent_before(known, first, "Asked, but leave given before switching was not recorded.".into())
        }
        _ => absent_before(known, first, "Asking for leave before switching was not recorded.".into()),
    }
}

/// The load was taken off before the named device was switched off.
///
/// Source: S.I. 299/2007 (IE) reg. 85(1)(c) and 29 CFR 1910.333(b)(1) (trade fact B11, read).
pub(super) fn load_removed_first(known: &Known) -> Answer {
    let wanted = &known.task.bay.isolate.circuit;
    let off = named_off(known);
    let load = known.all(|act| matches!(act, Act::LoadOff { circuit } if circuit == wanted));
    match load.into_iter().find(|&pos| off.is_none_or(|off| pos < off)) {
        Some(pos) => Answer::met([pos], format!("Took the load off at {}, before switching.", known.minute(pos))),
        None => absent_before(known, off, "Taking the load off before switching was not recorded.".into()),
    }
}

/// The named device was switched off and no other was ever switched; a knock put right is still a finding.
///
/// Source: isolation of the right circuit only is common practice, no source.
pub(super) fn only_named_device_switched(known: &Known) -> Answer {
    let named = known.named();
    let others: Vec<_> = known.switched.iter().filter(|switched| switched.device != named).collect();
    if let Some(first) = others.first() {
        let mut devices: Vec<&DeviceId> = others.iter().map(|switched| switched.device).collect();
        devices.sort();
        devices.dedup();
        let names: Vec<String> = devices.into_iter().map(|device| known.name_device(device)).collect();
        let because: Vec<Pos> = others.iter().map(|switched| switched.pos).collect();
        return Answer::not_met(because, format!("Switched {} at {}.", listed(&names), known.minute(first.pos)));
    }
    match named_off(known) {
        Some(off) => Answer::met([off], format!("Switched off {} and no other.", known.name_device(named))),
        None => Answer::owed(format!("Switching off {} was not recorded.", known.name_device(named))),
    }
}
