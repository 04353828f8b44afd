//! The circuit as a picture: board, device, switches in their settings, and the point, with every conductor in its colour,
//! with its letter, and with dashes of its own for print in black and white.
//!
//! Our own drawing, after the ideas of IEC 60617.

mod layout;
mod pen;
mod symbols;

use super::network::State;
use super::setup::SwitchSetting;
use super::{Bay, Circuit, Device, DeviceKind, Fault, Point, Setting};
use layout::Layout;
pub(crate) use pen::escaped;

/// The circuit to isolate, in a state.
///
/// `id` begins the identifiers of title and description, so that several pictures can stand on one page; it must be fit
/// for an XML identifier. `faults` are marked where they are. The text is at least 12 pixels high as long as the picture
/// is not shrunk.
pub fn circuit(bay: &Bay, state: &State, faults: &[Fault], id: &str) -> String {
    let (Some(circuit), Some(point)) = (bay.circuit(&bay.isolate.circuit), bay.point(&bay.isolate.point)) else {
        return String::new();
    };
    let layout = Layout::new(bay, circuit, point, state);
    let (body, width, height) = layout.draw(faults);
    let id = escaped(id);
    let title = escaped(&format!("{} from {}", circuit.label, bay.board.label));
    let description = escaped(&description(bay, circuit, point, state, faults));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" \
         viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" color=\"currentColor\">\n\
         <title id=\"{id}-t\">{title}</title>\n<desc id=\"{id}-d\">{description}</desc>\n\
         <g font-family=\"system-ui, sans-serif\" font-size=\"13\" fill=\"currentColor\" stroke-linejoin=\"round\">\n{body}</g>\n</svg>\n"
    )
}

/// The devices that the current passes on its way to the circuit: main switches, then those of the circuit.
fn devices<'b>(bay: &'b Bay, circuit: &Circuit) -> Vec<(usize, &'b Device)> {
    let all = || bay.board.devices.iter().enumerate();
    let is_main = |device: &Device| {
        device.feeds.is_none()
            && !matches!(device.kind, DeviceKind::Breaker | DeviceKind::Rcbo)
            && !bay.sources.iter().any(|source| source.device.as_ref() == Some(&device.id))
    };
    let own = all().filter(|(_, device)| device.feeds.as_ref() == Some(&circuit.id));
    all().filter(|(_, device)| is_main(device)).chain(own).collect()
}

/// How each switch of a circuit stands.
fn settings(bay: &Bay, circuit: &Circuit, state: &State) -> Vec<SwitchSetting> {
    let standing = |id| bay.switches().zip(&state.settings).find(|(there, _)| there.id == id).map(|(_, it)| *it);
    let of = |switch: &super::Switch| SwitchSetting {
        switch: switch.id.clone(),
        setting: standing(switch.id.clone()).unwrap_or(Setting::First),
    };
    circuit.switches.iter().map(of).collect()
}

/// The picture in sentences.
fn description(bay: &Bay, circuit: &Circuit, point: &Point, state: &State, faults: &[Fault]) -> String {
    let mut says = Vec::new();
    for (at, device) in devices(bay, circuit) {
        let on = state.on.get(at).copied().unwrap_or(true);
        says.push(format!("{} ({}) is {}.", device.id, device.label, if on { "on" } else { "off" }));
    }
    for (switch, there) in circuit.switches.iter().zip(settings(bay, circuit, state)) {
        says.push(format!("Switch {} ({}) stands at {}.", switch.id, switch.label, there.setting.word(switch.kind)));
    }
    let colour = |conductor| bay.standards.colour(conductor, bay.supply.volts).name();
    let conductors: Vec<String> =
        point.conductors.iter().map(|conductor| format!("{conductor} {}", colour(*conductor))).collect();
    says.push(format!("At the point {}: {}.", point.label, conductors.join(", ")));
    if point.lamp {
        says.push(format!("The lamp is {}.", if state.lamp_in { "in" } else { "out" }));
    }
    says.extend(faults.iter().map(|fault| format!("Marked: {}", fault.says(bay))));
    says.join(" ")
}
