//! Circuits with their switches and points.

use super::{LABEL, MANY, all, load};
use crate::bay::{Circuit, Conductor, Phases, Point, PointKind, Switch, SwitchKind, Wiring};
use crate::reading::At;

/// Most switches of one circuit: their settings double with each.
const SWITCHES: usize = 8;

/// Reads a circuit. Conductors are checked against the phases where those could be read.
pub(super) fn read(at: &At<'_>, phases: Option<Phases>) -> Option<Circuit> {
    let mut fields = at.fields()?;
    let id = fields.id("id");
    let label = fields.text("label", LABEL);
    let wiring = fields.word("wiring");
    let switches = fields.required("switches").and_then(|at| {
        let switches = all(&at.list(SWITCHES)?, switch)?;
        arrangement(&at, wiring?, &switches)?;
        Some(switches)
    });
    let points = fields.some("points", MANY).and_then(|points| all(&points, |at| point(at, phases, wiring)));
    let length_m = fields.maybe("length_m", |at| at.whole(1..=2_000));
    fields.finish();
    Some(Circuit { id: id?, label: label?, wiring: wiring?, switches: switches?, points: points?, length_m: length_m? })
}

fn switch(at: &At<'_>) -> Option<Switch> {
    let mut fields = at.fields()?;
    let (id, kind, label) = (fields.id("id"), fields.word("kind"), fields.text("label", LABEL));
    fields.finish();
    Some(Switch { id: id?, kind: kind?, label: label? })
}

/// Whether the switches can stand in this order: one one-way switch, or a two-way at each end with any intermediates
/// between them (trade facts C09 and C11).
fn arrangement(at: &At<'_>, wiring: Wiring, switches: &[Switch]) -> Option<()> {
    use SwitchKind::{Intermediate, OneWay, TwoWay};
    let kinds: Vec<SwitchKind> = switches.iter().map(|switch| switch.kind).collect();
    let switched = matches!(wiring, Wiring::FeedAtSwitch | Wiring::LoopIn);
    let says = match kinds.as_slice() {
        [] if switched => "this wiring is that of switched lights, expected at least one switch",
        [] => return Some(()),
        _ if !switched => "radial and ring wiring have no wall switches, expected an empty list",
        [OneWay] => return Some(()),
        [TwoWay, between @ .., TwoWay] if between.iter().all(|kind| *kind == Intermediate) => return Some(()),
        _ => "expected one one_way switch, or two_way, any intermediate, two_way, in the order of the wiring",
    };
    at.fault(says);
    None
}

fn point(at: &At<'_>, phases: Option<Phases>, wiring: Option<Wiring>) -> Option<Point> {
    let mut fields = at.fields()?;
    let id = fields.id("id");
    let kind = fields.word("kind");
    let label = fields.text("label", LABEL);
    let conductors = fields.required("conductors").and_then(|at| conductors(&at, phases, wiring, kind));
    let lamp = fields.maybe("lamp", |at| at.bool());
    let load = fields.maybe("load", |at| load::read(&at, conductors.as_deref()));
    fields.finish();
    let lamp = lamp?.unwrap_or(false);
    Some(Point { id: id?, kind: kind?, label: label?, conductors: conductors?, lamp, load: load? })
}

fn conductors(
    at: &At<'_>,
    phases: Option<Phases>,
    wiring: Option<Wiring>,
    kind: Option<PointKind>,
) -> Option<Vec<Conductor>> {
    let conductors = at.distinct(Conductor::ALL.len(), |at| {
        let conductor = conductor(at, phases)?;
        let switched = wiring.is_none_or(|wiring| matches!(wiring, Wiring::FeedAtSwitch | Wiring::LoopIn));
        let light = matches!(kind, Some(PointKind::LampHolder | PointKind::Rose));
        if conductor == Conductor::Sl && !switched {
            at.fault("SL, the switched line, exists only where the wiring is feed_at_switch or loop_in");
            return None;
        }
        if wiring == Some(Wiring::FeedAtSwitch) && light && conductor.is_line() && conductor != Conductor::Sl {
            at.fault("with the feed at the switch a light has the switched line SL only, no permanent line");
            return None;
        }
        Some(conductor)
    })?;
    if !conductors.contains(&Conductor::E) {
        at.fault("expected E among the conductors: every point has its earth");
        return None;
    }
    if conductors.len() < 2 {
        at.fault("expected at least two conductors, or there is no pair to test");
        return None;
    }
    Some(conductors)
}

/// A conductor that a board of these phases has.
pub(super) fn conductor(at: &At<'_>, phases: Option<Phases>) -> Option<Conductor> {
    let conductor = at.word()?;
    let says = match (phases, conductor) {
        (Some(Phases::One), Conductor::L1 | Conductor::L2 | Conductor::L3) => "the supply has one phase, expected L",
        (Some(Phases::Three), Conductor::L) => "the supply has three phases, expected L1, L2 or L3",
        _ => return Some(conductor),
    };
    at.fault(format!("no {conductor} here: {says}"));
    None
}
