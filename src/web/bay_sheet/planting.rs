//! How a fault is planted, how it is made harmless and how it is undone, in words for whoever prepares the bay.
//!
//! Source: common practice of training bays, no source. The words defer to the local rules and to a licensed person.

use crate::bay::{Bay, CircuitId, Fault};

/// One planted fault.
pub struct Planted {
    /// What is wrong, as a sentence.
    pub says: String,
    /// How it is made.
    pub made: String,
    /// Why it can hurt nobody.
    pub harmless: &'static str,
    /// How it is undone.
    pub undone: String,
}

/// What holds for every bay, whatever is planted.
pub const ALWAYS: [&str; 4] = [
    "The bay is fed through a residual-current device (RCD) and an emergency-off button that the assessor can reach. Both were tried today.",
    "The supply of the bay is current-limited, or isolated and of low energy, wherever the local rules ask for it.",
    "Whoever changed the wiring is competent and authorised, and did it with the bay's own supply isolated, secured and proved dead.",
    "Every cover is back on. Nothing live can be touched without a tool or a probe.",
];

const CONTACT: &str = "The contact is bridged or opened inside the closed device, at the bay's own current-limited supply behind the RCD.";
const FEED: &str = "It comes from a current-limited supply behind its own RCD, and the emergency-off button takes it away with the rest.";
const WIRE: &str = "The wire is moved behind a cover that needs a tool, with the bay isolated; bare ends are in an insulated terminal. RCD and emergency off still act.";
const EARTH: &str = "Only the lead at this point is off. The earth of every metal part that can be touched stays on, and is measured after the change.";

/// The planted faults of a bay, in the order of its task.
pub fn planted(bay: &Bay) -> Vec<Planted> {
    bay.setup.planted.iter().map(|fault| of(bay, fault)).collect()
}

fn of(bay: &Bay, fault: &Fault) -> Planted {
    let says = fault.says(bay);
    let circuit = |id: &CircuitId| bay.circuit(id).map_or(id.as_str(), |circuit| circuit.label.as_str()).to_owned();
    let own = circuit(&bay.isolate.circuit);
    let with = |made: String, harmless, undone: String| Planted { says: says.clone(), made, harmless, undone };
    match fault {
        Fault::SecondSupply { source } => {
            let label = source.as_ref().and_then(|id| bay.source(id)).map_or("a second supply", |it| it.label.as_str());
            let made = format!("Connect {label} to the line at the point of work, out of sight.");
            with(made, FEED, format!("Take {label} off the point of work and lock it away."))
        }
        Fault::BorrowedNeutral { from } => {
            let made = format!("Take the neutral of one load of {} to the neutral of {own}.", circuit(from));
            with(made, WIRE, format!("Take that load's neutral back to {}.", circuit(from)))
        }
        Fault::BrokenNeutral => {
            let made = format!("Take the neutral of {own} off its bar and park it in an insulated terminal.");
            with(made, WIRE, format!("Put the neutral of {own} back on its bar and check it for tightness."))
        }
        Fault::LostEarth => {
            let made = "Take the earth lead off at the point of work only and park it in an insulated terminal.";
            with(made.into(), EARTH, "Put the earth lead back and measure that it is continuous.".into())
        }
        Fault::CrossedPolarity => {
            let made = format!("Exchange line and neutral of {own} before {}.", bay.isolate.device);
            with(made, WIRE, format!("Put line and neutral of {own} back and test the polarity."))
        }
        Fault::StuckPole { device, pole } => {
            let made = format!("Bridge the {pole} pole of {device} inside the board, or fit the prepared device.");
            with(made, CONTACT, format!("Take the bridge off {device}, and prove that all its poles open."))
        }
        Fault::StuckSwitch { switch, setting } => {
            let word = bay.switch(switch).map_or("one", |there| setting.word(there.kind));
            let made = format!("Fit the prepared switch in the place of {switch}: its contacts stay at {word}.");
            with(made, CONTACT, format!("Fit the healthy switch {switch} again and try both settings."))
        }
        Fault::BrokenContact { switch, contact } => {
            let made = format!("Open contact {contact} of {switch}, or fit the prepared switch.");
            with(made, CONTACT, format!("Fit the healthy switch {switch} again and try both settings."))
        }
        Fault::JoinedStrapper { behind, wire, from } => {
            let made = format!("Join strapper {wire} behind {behind} to {}, through a fuse.", circuit(from));
            with(made, WIRE, format!("Take the join behind {behind} away and prove the strapper separate."))
        }
        // Mistakes of a candidate and a dead indicator cannot be planted: a task file that does so is refused.
        Fault::WrongDevice { .. } | Fault::FloatingSupply { .. } | Fault::DeadIndicator => {
            with("As described.".into(), FEED, "Undo it.".into())
        }
    }
}
