//! Whether the parts of a bay fit together.
//!
//! These checks read the document, not the parts: a part with a fault of its own must not hide another's.

use super::known::listed;
use crate::bay::{Board, Circuit};
use crate::reading::{At, Node};

/// The text under a key.
fn text<'a>(node: &'a Node, key: &str) -> Option<&'a str> {
    node.get(key)?.as_text()
}

fn devices(task: &Node) -> &[Node] {
    task.get("board").and_then(|board| board.get("devices")).map(Node::items).unwrap_or_default()
}

/// Each circuit is fed by a device.
pub(super) fn feeds(task: &Node, circuits: &[At<'_>]) {
    for circuit in circuits {
        let Some(id) = text(circuit.node, "id") else { continue };
        if !devices(task).iter().any(|device| text(device, "feeds") == Some(id)) {
            circuit.fault(format!("no device feeds this circuit, expected one with `feeds = \"{id}\"`"));
        }
    }
}

/// The named device feeds the circuit to isolate, and the point of work is on it.
pub(super) fn isolate(task: &Node, at: &At<'_>) {
    let under = |key: &str| Some(At { node: at.node.get(key)?, path: at.path_of(key), found: at.found });
    let Some(circuit) = text(at.node, "circuit") else { return };
    if let Some(device) = under("device") {
        let named = devices(task).iter().find(|node| text(node, "id") == device.node.as_text());
        if let Some(fed) = named.filter(|node| text(node, "feeds") != Some(circuit)) {
            let fed = text(fed, "feeds").map_or("no circuit".into(), |fed| format!("`{fed}`"));
            device.fault(format!("this device feeds {fed}, expected the one that feeds `{circuit}`"));
        }
    }
    if let Some(point) = under("point") {
        let task = At { node: task, path: String::new(), found: at.found };
        let has = |circuit: &At<'_>| {
            let points = circuit.node.get("points").map(Node::items).unwrap_or_default();
            points.iter().any(|node| text(node, "id") == point.node.as_text())
        };
        let on = listed(&task, "circuits").into_iter().find(has);
        if let Some(on) = on.as_ref().and_then(|on| text(on.node, "id")).filter(|on| *on != circuit) {
            point.fault(format!("this point is on `{on}`, expected one of `{circuit}`"));
        }
    }
}

/// The permanent lines at each point come through a pole of a device that feeds its circuit.
pub(super) fn lines(ats: &[At<'_>], circuits: &[Circuit], board: &Board) {
    for (at, circuit) in ats.iter().zip(circuits) {
        let feeding = || board.devices.iter().filter(|device| device.feeds.as_ref() == Some(&circuit.id));
        if feeding().next().is_none() {
            continue;
        }
        for (at, point) in listed(at, "points").iter().zip(&circuit.points) {
            let Some(list) = at.node.get("conductors") else { continue };
            let permanent = point
                .conductors
                .iter()
                .enumerate()
                .filter(|(_, conductor)| conductor.is_line() && **conductor != crate::bay::Conductor::Sl);
            for (index, conductor) in permanent {
                if !feeding().any(|device| device.poles.contains(conductor)) {
                    let line = list.items().get(index).map_or(list.line, |node| node.line);
                    let path = format!("{}[{index}]", at.path_of("conductors"));
                    at.found.add(
                        line,
                        path,
                        format!("no device that feeds `{}` has a pole for {conductor}", circuit.id),
                    );
                }
            }
        }
    }
}
