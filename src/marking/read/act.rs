//! The form of an act: its kind and the fields that the kind has.

use crate::marking::observation::{Control, EndReason, OrderOff, Text};
use crate::marking::{Act, ObservationId, Outcome};
use crate::reading::{At, Fields};
use uuid::Variant;

/// Every kind of act, in the order of the contract.
pub(super) const KINDS: [&str; 36] = [
    "started",
    "resumed",
    "paused",
    "ended",
    "identified",
    "source_listed",
    "permission_asked",
    "permission_given",
    "picked",
    "returned",
    "inspected",
    "load_off",
    "switched",
    "fitted",
    "locked",
    "posted",
    "key",
    "removed",
    "control_tried",
    "proved",
    "opened",
    "closed",
    "lamp_out",
    "lamp_in",
    "operated",
    "tested",
    "touched",
    "declared",
    "ticked",
    "remark",
    "prompted",
    "stepped_in",
    "unsure",
    "view_blocked",
    "view_clear",
    "struck",
];

/// Reads an act; the caller finishes the table, so that a field its kind does not have is a fault.
pub(super) fn read(fields: &mut Fields<'_>) -> Option<Act> {
    let kind = fields.required("kind")?.word_of(&KINDS)?;
    clock(kind, fields)
        .or_else(|| board(kind, fields))
        .or_else(|| table(kind, fields))
        .or_else(|| point(kind, fields))
        .or_else(|| record(kind, fields))
}

/// What starts, stops and ends the session's time.
fn clock(kind: &str, fields: &mut Fields<'_>) -> Option<Act> {
    Some(match kind {
        "started" => Act::Started,
        "resumed" => Act::Resumed,
        "paused" => {
            let (reason, text) = (fields.word("reason"), text(fields));
            Act::Paused { reason: reason?, text: text? }
        }
        "ended" => Act::Ended { reason: fields.maybe("reason", |at| at.word())?.unwrap_or(EndReason::Finished) },
        _ => return None,
    })
}

/// What is done at the board and said about it.
fn board(kind: &str, fields: &mut Fields<'_>) -> Option<Act> {
    Some(match kind {
        "identified" => {
            let (circuit, device) = (fields.id("circuit"), fields.id("device"));
            Act::Identified { circuit: circuit?, device: device? }
        }
        "source_listed" => Act::SourceListed { source: fields.id("source")? },
        "permission_asked" => Act::PermissionAsked { circuit: fields.id("circuit")? },
        "permission_given" => Act::PermissionGiven { circuit: fields.id("circuit")? },
        "load_off" => Act::LoadOff { circuit: fields.id("circuit")? },
        "declared" => Act::Declared { circuit: fields.id("circuit")? },
        "switched" => {
            let (device, to) = (fields.id("device"), fields.word("to"));
            Act::Switched { device: device?, to: to? }
        }
        "control_tried" => {
            let (control, result) = (control(fields), fields.word("result"));
            Act::ControlTried { control: control?, result: result? }
        }
        "operated" => Act::Operated { switch: fields.id("switch")? },
        _ => return None,
    })
}

/// What is done with an item from the table.
fn table(kind: &str, fields: &mut Fields<'_>) -> Option<Act> {
    Some(match kind {
        "picked" => Act::Picked { item: fields.id("item")? },
        "returned" => Act::Returned { item: fields.id("item")? },
        "inspected" => {
            let (item, part) = (fields.id("item"), fields.word("part"));
            Act::Inspected { item: item?, part: part? }
        }
        "fitted" => {
            let (item, device) = (fields.id("item"), fields.id("device"));
            Act::Fitted { item: item?, device: device? }
        }
        "locked" => {
            let (item, device, holds) = (fields.id("item"), fields.id("device"), fields.bool("holds"));
            Act::Locked { item: item?, device: device?, holds: holds? }
        }
        "posted" => {
            let (item, device, filled) = (fields.id("item"), fields.id("device"), fields.bool("filled"));
            Act::Posted { item: item?, device: device?, filled: filled? }
        }
        "key" => {
            let (item, place) = (fields.id("item"), fields.word("place"));
            Act::Key { item: item?, place: place? }
        }
        "removed" => {
            let (item, device) = (fields.id("item"), fields.id("device"));
            Act::Removed { item: item?, device: device? }
        }
        "proved" => {
            let (item, on, shows) = (fields.id("item"), fields.word("on"), fields.word("shows"));
            Act::Proved { item: item?, on: on?, shows: shows? }
        }
        _ => return None,
    })
}

/// What is done at a point.
fn point(kind: &str, fields: &mut Fields<'_>) -> Option<Act> {
    Some(match kind {
        "opened" => Act::Opened { point: fields.id("point")? },
        "closed" => Act::Closed { point: fields.id("point")? },
        "lamp_out" => Act::LampOut { point: fields.id("point")? },
        "lamp_in" => Act::LampIn { point: fields.id("point")? },
        "touched" => Act::Touched { point: fields.id("point")? },
        "tested" => return tested(fields),
        _ => return None,
    })
}

fn tested(fields: &mut Fields<'_>) -> Option<Act> {
    let point = fields.id("point");
    let first = fields.word("first");
    let second_at = fields.required("second");
    let second = second_at.as_ref().and_then(At::word);
    let reading = fields.word("reading");
    let order_off = fields.maybe("order_off", |at| at.word());
    let item = fields.maybe("item", |at| at.id());
    if let (Some(at), true) = (second_at, first.is_some() && first == second) {
        at.fault("the same conductor twice, expected another than `first`");
        return None;
    }
    Some(Act::Tested {
        point: point?,
        first: first?,
        second: second?,
        reading: reading?,
        order_off: order_off?.unwrap_or(OrderOff::SecondFirst),
        item: item?,
    })
}

/// What the assessor judges, notes and takes back.
fn record(kind: &str, fields: &mut Fields<'_>) -> Option<Act> {
    Some(match kind {
        "ticked" => {
            let criterion = fields.id("criterion");
            let outcome = fields.required("outcome").and_then(|at| ticked(&at));
            let text = text(fields);
            Act::Ticked { criterion: criterion?, outcome: outcome?, text: text? }
        }
        "remark" => {
            let text = fields.required("text").and_then(|at| free_text(&at));
            let criterion = fields.maybe("criterion", |at| at.id());
            Act::Remark { text: text?, criterion: criterion? }
        }
        "prompted" => Act::Prompted { text: text(fields)? },
        "stepped_in" => {
            let (reason, text) = (fields.word("reason"), text(fields));
            Act::SteppedIn { reason: reason?, text: text? }
        }
        "unsure" => Act::Unsure { observation: fields.required("observation").and_then(|at| observation_id(&at))? },
        "view_blocked" => Act::ViewBlocked,
        "view_clear" => Act::ViewClear,
        "struck" => {
            let observation = fields.required("observation").and_then(|at| observation_id(&at));
            let (reason, text) = (fields.word("reason"), text(fields));
            Act::Struck { observation: observation?, reason: reason?, text: text? }
        }
        _ => return None,
    })
}

/// What was tried: a device or a wall switch, one of them.
fn control(fields: &mut Fields<'_>) -> Option<Control> {
    let (device, switch) = (fields.optional("device"), fields.optional("switch"));
    match (device, switch) {
        (Some(device), None) => device.id().map(Control::Device),
        (None, Some(switch)) => switch.id().map(Control::Switch),
        (Some(_), Some(switch)) => {
            switch.fault("expected `device` or `switch`, found both");
            None
        }
        (None, None) => {
            if !fields.is_partial() {
                fields.at().fault("`device` or `switch` is missing");
            }
            None
        }
    }
}

/// An assessor ticks what was seen; what was not seen is not ticked.
fn ticked(at: &At<'_>) -> Option<Outcome> {
    at.word_of(&["met", "not_met", "not_applicable"])?;
    at.word()
}

fn text(fields: &mut Fields<'_>) -> Option<Option<Text>> {
    fields.maybe("text", |at| free_text(&at))
}

fn free_text(at: &At<'_>) -> Option<Text> {
    Text::new(&at.free_text(Text::LONGEST)?)
}

/// Reads the name of an observation: a UUID of version 7 with the variant of RFC 9562, written as its section 4 says.
pub(super) fn observation_id(at: &At<'_>) -> Option<ObservationId> {
    const EXAMPLE: &str = "such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
    let Some(text) = at.node.as_text() else {
        at.fault(format!("expected a UUID in quotes, {EXAMPLE}, found {}", at.node.what()));
        return None;
    };
    // The parser also takes braces, a URN and no hyphens at all; two spellings of one name would be two lines of evidence.
    let uuid = uuid::Uuid::try_parse(text).ok().filter(|_| text.len() == 36);
    let says = match uuid {
        None => format!("expected a UUID, {EXAMPLE}, found `{}`", crate::reading::words::shown(text)),
        Some(uuid) if uuid.get_variant() != Variant::RFC4122 => {
            "this UUID is not of the variant that RFC 9562 describes: its 17th digit must be 8, 9, a or b".into()
        }
        Some(uuid) if uuid.get_version_num() != 7 => {
            format!("expected a UUID of version 7 (its 13th digit), found version {}", uuid.get_version_num())
        }
        Some(uuid) => return Some(ObservationId(uuid)),
    };
    at.fault(says);
    None
}
