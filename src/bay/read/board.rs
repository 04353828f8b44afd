//! The board and its devices.

use super::{Known, LABEL, MANY, all, circuit::conductor, short};
use crate::bay::{Board, Conductor, Device, DeviceId, DeviceKind, Phases};
use crate::reading::At;

/// Reads the board. Poles are checked against the phases where those could be read.
pub(super) fn read(at: &At<'_>, phases: Option<Phases>, known: &Known) -> Option<Board> {
    let mut fields = at.fields()?;
    let label = fields.text("label", LABEL);
    let devices = fields.some("devices", MANY).and_then(|devices| all(&devices, |at| device(at, phases, known)));
    fields.finish();
    Some(Board { label: label?, devices: devices? })
}

fn device(at: &At<'_>, phases: Option<Phases>, known: &Known) -> Option<Device> {
    let mut fields = at.fields()?;
    let id: Option<DeviceId> = fields.id("id");
    let kind = fields.word("kind");
    let poles = fields.required("poles").and_then(|at| poles(&at, phases));
    let rating_a = fields.maybe("rating_a", |at| at.whole(1..=10_000));
    let label = fields.text("label", LABEL);
    let short = fields.maybe("short", |at| short(&at, id.as_ref().map_or("", DeviceId::as_str)));
    let feeds = fields.maybe("feeds", |at| {
        if kind == Some(DeviceKind::MainSwitch) {
            at.fault("a main switch feeds the other devices, not a circuit of its own; take `feeds` out");
        }
        known.circuits.named(&at)
    });
    fields.finish();
    Some(Device {
        id: id?,
        kind: kind?,
        poles: poles?,
        rating_a: rating_a?,
        label: label?,
        short: short?,
        feeds: feeds?,
    })
}

fn poles(at: &At<'_>, phases: Option<Phases>) -> Option<Vec<Conductor>> {
    let poles = at.distinct(4, |at| {
        let pole = conductor(at, phases)?;
        if matches!(pole, Conductor::E | Conductor::Sl) {
            at.fault(format!("a device has no pole for {pole}, expected a line conductor or N"));
            return None;
        }
        Some(pole)
    })?;
    if !poles.iter().any(|pole| pole.is_line()) {
        at.fault("expected a line conductor among the poles");
        return None;
    }
    Some(poles)
}
