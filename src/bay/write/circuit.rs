//! Circuits as text.

use super::{Keys, conductors, entry, word};
use crate::bay::{Circuit, Load, Point, Switch};
use crate::reading::to_toml;

/// One `[[circuits]]` with its switches and points.
pub fn circuit(circuit: &Circuit) -> String {
    let mut keys = Keys::under("[[circuits]]");
    keys.put("id", to_toml::text(circuit.id.as_str()));
    keys.put("label", to_toml::text(&circuit.label));
    keys.put("wiring", word(&circuit.wiring));
    keys.maybe("length_m", circuit.length_m);
    keys.put("switches", to_toml::lines(circuit.switches.iter().map(switch)));
    keys.put("points", to_toml::lines(circuit.points.iter().map(point)));
    keys.0
}

fn switch(switch: &Switch) -> String {
    to_toml::table([
        entry("id", to_toml::text(switch.id.as_str())),
        entry("kind", word(&switch.kind)),
        entry("label", to_toml::text(&switch.label)),
    ])
}

fn point(point: &Point) -> String {
    let head = [
        entry("id", to_toml::text(point.id.as_str())),
        entry("kind", word(&point.kind)),
        entry("label", to_toml::text(&point.label)),
        entry("conductors", conductors(&point.conductors)),
    ];
    let lamp = point.lamp.then(|| entry("lamp", true));
    let load = point.load.as_ref().map(|it| entry("load", load(it)));
    to_toml::table(head.into_iter().chain(lamp).chain(load))
}

fn load(load: &Load) -> String {
    let ohm = [entry("connection", word(&load.connection)), entry("ohm", to_toml::number(load.ohm))];
    // Minus zero is written: it reads as the same value, and nothing that was read is lost.
    let pure = load.reactance_ohm == 0.0 && load.reactance_ohm.is_sign_positive();
    let reactance = (!pure).then(|| entry("reactance_ohm", to_toml::measured(load.reactance_ohm)));
    to_toml::table(ohm.into_iter().chain(reactance))
}
