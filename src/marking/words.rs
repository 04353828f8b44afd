//! Acts in plain words, for timelines, sheets and the last line of the marking page.

use super::observation::{
    Act, Control, ControlResult, EndReason, OnOff, OrderOff, Part, PauseReason, Place, ProvedOn, Reading, Shows,
    StepReason, StrikeReason,
};
use super::{Outcome, Task};
use crate::bay::{CircuitId, DeviceId, ItemId, PointId, SwitchId};

/// What was seen, as a short sentence without a full stop, such as `Tested E then SL: nothing shown`. Identifiers that
/// the task does not hold are shown as they are.
pub fn describe(act: &Act, task: &Task) -> String {
    let name = Names(task);
    authority_and_table(act, &name)
        .or_else(|| securing(act, &name))
        .or_else(|| proving(act, &name))
        .unwrap_or_else(|| record(act, &name))
}

fn authority_and_table(act: &Act, name: &Names) -> Option<String> {
    Some(match act {
        Act::Started => "Started".into(),
        Act::Resumed => "Clock started again".into(),
        Act::Paused { reason, .. } => format!("Clock stopped: {}", pause_words(*reason)),
        Act::Ended { reason: EndReason::Finished } => "Ended".into(),
        Act::Ended { reason } => format!("Ended: {}", end_words(*reason)),
        Act::Identified { circuit, device } => format!("Found {} on {}", name.circuit(circuit), name.device(device)),
        Act::SourceListed { source } => {
            let label = name.0.bay.source(source).map_or(source.as_str(), |source| &source.label);
            format!("Named a supply: {label}")
        }
        Act::PermissionAsked { .. } => "Asked for leave to switch off".into(),
        Act::PermissionGiven { .. } => "Was given leave".into(),
        Act::Picked { item } => format!("Took {}", name.item(item)),
        Act::Returned { item } => format!("Put back {}", name.item(item)),
        Act::Inspected { item, part } => format!("Looked over {} of {}", part_words(*part), name.item(item)),
        Act::LoadOff { circuit } => format!("Took the load off {}", name.circuit(circuit)),
        _ => return None,
    })
}

fn securing(act: &Act, name: &Names) -> Option<String> {
    Some(match act {
        Act::Switched { device, to: OnOff::Off } => format!("Switched off {}", name.device(device)),
        Act::Switched { device, to: OnOff::On } => format!("Switched on {}", name.device(device)),
        Act::Fitted { item, device } => format!("Fitted {} to {}", name.item(item), name.device(device)),
        Act::Locked { item, device, holds: true } => {
            format!("Closed {} on {} and it holds", name.item(item), name.device(device))
        }
        Act::Locked { item, device, holds: false } => {
            format!("Closed {} on {}: not tried, or it did not hold", name.item(item), name.device(device))
        }
        Act::Posted { item, device, filled } => {
            let filled = if *filled { "filled in" } else { "not filled in" };
            format!("Hung {} on {}, {filled}", name.item(item), name.device(device))
        }
        Act::Key { item, place } => format!("{} {}", name.item(item), place_words(*place)),
        Act::Removed { item, device } => format!("Took {} off {}", name.item(item), name.device(device)),
        Act::ControlTried { control, result } => {
            let what = match control {
                Control::Device(device) => name.device(device),
                Control::Switch(switch) => name.switch(switch),
            };
            let result = match result {
                ControlResult::Nothing => "nothing happened",
                ControlResult::Started => "it started",
            };
            format!("Tried {what}: {result}")
        }
        _ => return None,
    })
}

fn proving(act: &Act, name: &Names) -> Option<String> {
    Some(match act {
        Act::Proved { item, on, shows } => {
            format!("Proved {} {}: {}", name.item(item), proved_words(*on), shows_words(*shows))
        }
        Act::Opened { point } => format!("Opened {}", name.point(point)),
        Act::Closed { point } => format!("Closed {}", name.point(point)),
        Act::LampOut { point } => format!("Took the lamp out of {}", name.point(point)),
        Act::LampIn { point } => format!("Put the lamp back in {}", name.point(point)),
        Act::Operated { switch } => format!("Threw {}", name.switch(switch)),
        Act::Tested { point, first, second, reading, order_off, item } => {
            let mut says = format!("Tested {first} then {second}: {}", reading_words(*reading));
            if *order_off == OrderOff::FirstFirst {
                says += &format!("; {first} came off first");
            }
            if *point != name.0.bay.isolate.point {
                says += &format!("; at {}", name.point(point));
            }
            if let Some(item) = item {
                says += &format!("; with {}", name.item(item));
            }
            says
        }
        Act::Touched { point } => format!("Touched a conductor at {}", name.point(point)),
        Act::Declared { circuit } => format!("Said that {} is isolated and proved dead", name.circuit(circuit)),
        _ => return None,
    })
}

fn record(act: &Act, name: &Names) -> String {
    match act {
        Act::Ticked { criterion, outcome, .. } => {
            let says = name.0.checklist.criterion(criterion).map_or(criterion.as_str(), |criterion| &criterion.says);
            format!("Judged by eye: {says}: {}", outcome_words(*outcome))
        }
        Act::Remark { text, .. } => format!("Note: {}", text.as_str()),
        Act::Prompted { .. } => "Was given help".into(),
        Act::SteppedIn { reason, .. } => format!("Assessor stepped in: {}", step_words(*reason)),
        Act::Unsure { .. } => "An act was not seen well".into(),
        Act::ViewBlocked => "View blocked".into(),
        Act::ViewClear => "View clear again".into(),
        Act::Struck { reason, .. } => format!("An entry was taken back: {}", strike_words(*reason)),
        // Every other kind has been put into words by one of the three functions before.
        _ => "Something was recorded".into(),
    }
}

/// Names of things as the task labels them.
struct Names<'a>(&'a Task);

impl Names<'_> {
    fn item(&self, id: &ItemId) -> String {
        self.0.bay.item(id).map_or(id.as_str(), |item| &item.label).to_owned()
    }

    fn device(&self, id: &DeviceId) -> String {
        match self.0.bay.device(id) {
            Some(device) => format!("{id} ({})", device.label),
            None => id.to_string(),
        }
    }

    fn circuit(&self, id: &CircuitId) -> String {
        self.0.bay.circuit(id).map_or(id.as_str(), |circuit| &circuit.label).to_owned()
    }

    fn point(&self, id: &PointId) -> String {
        self.0.bay.point(id).map_or(id.as_str(), |point| &point.label).to_owned()
    }

    fn switch(&self, id: &SwitchId) -> String {
        match self.0.bay.switch(id) {
            Some(switch) => format!("{id} ({})", switch.label),
            None => id.to_string(),
        }
    }
}

/// An outcome as a word.
pub fn outcome_words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not met",
        Outcome::NotSeen => "not seen",
        Outcome::NotApplicable => "not applicable",
    }
}

/// A part of an item.
pub fn part_words(part: Part) -> &'static str {
    match part {
        Part::Tips => "the tips",
        Part::Guards => "the finger guards",
        Part::Leads => "the leads",
        Part::Body => "the body",
        Part::Date => "the date",
        Part::Rating => "the rating",
        Part::Fit => "the fit",
    }
}

fn pause_words(reason: PauseReason) -> &'static str {
    match reason {
        PauseReason::Alarm => "alarm",
        PauseReason::Equipment => "trouble with equipment",
        PauseReason::Unwell => "unwell",
        PauseReason::Other => "another reason",
    }
}

fn end_words(reason: EndReason) -> &'static str {
    match reason {
        EndReason::Finished => "finished",
        EndReason::Unsafe => "it was unsafe to go on",
        EndReason::Alarm => "alarm",
        EndReason::Equipment => "trouble with equipment",
        EndReason::Unwell => "unwell",
        EndReason::Other => "another reason",
    }
}

/// Where a key is, as the end of a sentence.
pub fn place_words(place: Place) -> &'static str {
    match place {
        Place::Kept => "kept in person",
        Place::InLock => "left in the lock",
        Place::OnBoard => "left on the board",
        Place::OnTable => "left on the table",
        Place::HandedOver => "handed over",
    }
}

fn proved_words(on: ProvedOn) -> &'static str {
    match on {
        ProvedOn::ProvingUnit => "on a proving unit",
        ProvedOn::KnownLive => "on a known live supply",
        ProvedOn::TipsTogether => "with its tips together",
        ProvedOn::SelfTest => "by its self-test",
        ProvedOn::Other => "in another way",
    }
}

fn shows_words(shows: Shows) -> &'static str {
    match shows {
        Shows::All => "all shown",
        Shows::Some => "only some shown",
        Shows::Nothing => "nothing shown",
    }
}

fn reading_words(reading: Reading) -> &'static str {
    match reading {
        Reading::None => "nothing shown",
        Reading::Live => "live",
        Reading::Tripped => "the RCD tripped, so live",
    }
}

fn step_words(reason: StepReason) -> &'static str {
    match reason {
        StepReason::LivePart => "live part",
        StepReason::WrongDevice => "wrong device",
        StepReason::UnsafeTool => "unsafe tool",
        StepReason::AtHeight => "at height",
        StepReason::Unwell => "unwell",
        StepReason::Other => "another reason",
    }
}

fn strike_words(reason: StrikeReason) -> &'static str {
    match reason {
        StrikeReason::MisTap => "tapped by mistake",
        StrikeReason::Twice => "recorded twice",
        StrikeReason::Corrected => "corrected",
        StrikeReason::Other => "another reason",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::Observation;

    const TASK: &str = include_str!("../../tests/reference/examples/stairwell.toml");

    fn words(act: &str) -> String {
        let text = format!(
            r#"{{"id":"01938c1e-0000-7000-8000-000000000001","seq":1,"at_ms":0,"wall":"2027-02-03T10:00:00.000Z","act":{act}}}"#
        );
        let seen = Observation::read_json(&text).unwrap_or_else(|faults| panic!("{act}: {faults}"));
        describe(&seen.act, &Task::read_toml(TASK).unwrap())
    }

    #[test]
    fn things_are_called_as_the_task_labels_them() {
        assert_eq!(words(r#"{"kind":"switched","device":"Q2","to":"off"}"#), "Switched off Q2 (Stairwell lights)");
        assert_eq!(words(r#"{"kind":"picked","item":"vi-b"}"#), "Took Two-pole indicator, shrouds left off");
        assert_eq!(words(r#"{"kind":"operated","switch":"S2"}"#), "Threw S2 (Half landing)");
        assert_eq!(words(r#"{"kind":"picked","item":"gone"}"#), "Took gone");
    }

    #[test]
    fn a_test_says_order_reading_and_what_was_unusual() {
        let plain = r#"{"kind":"tested","point":"lamp","first":"E","second":"SL","reading":"none"}"#;
        assert_eq!(words(plain), "Tested E then SL: nothing shown");
        let odd = r#"{"kind":"tested","point":"flood","first":"L","second":"E","reading":"live","order_off":"first_first","item":"mm-a"}"#;
        assert_eq!(words(odd), "Tested L then E: live; L came off first; at Floodlight box; with Bench multimeter");
    }

    #[test]
    fn every_kind_has_words_of_its_own() {
        let acts = [
            r#"{"kind":"started"}"#,
            r#"{"kind":"resumed"}"#,
            r#"{"kind":"paused","reason":"alarm"}"#,
            r#"{"kind":"ended"}"#,
            r#"{"kind":"identified","circuit":"stairs","device":"Q2"}"#,
            r#"{"kind":"source_listed","source":"mains"}"#,
            r#"{"kind":"permission_asked","circuit":"stairs"}"#,
            r#"{"kind":"permission_given","circuit":"stairs"}"#,
            r#"{"kind":"picked","item":"pl-a"}"#,
            r#"{"kind":"returned","item":"pl-a"}"#,
            r#"{"kind":"inspected","item":"vi-a","part":"tips"}"#,
            r#"{"kind":"load_off","circuit":"stairs"}"#,
            r#"{"kind":"switched","device":"Q2","to":"on"}"#,
            r#"{"kind":"fitted","item":"lo-a","device":"Q2"}"#,
            r#"{"kind":"locked","item":"pl-a","device":"Q2","holds":true}"#,
            r#"{"kind":"posted","item":"no-a","device":"Q2","filled":true}"#,
            r#"{"kind":"key","item":"key-a","place":"kept"}"#,
            r#"{"kind":"removed","item":"pl-a","device":"Q2"}"#,
            r#"{"kind":"control_tried","device":"Q2","result":"nothing"}"#,
            r#"{"kind":"proved","item":"vi-a","on":"proving_unit","shows":"all"}"#,
            r#"{"kind":"opened","point":"lamp"}"#,
            r#"{"kind":"closed","point":"lamp"}"#,
            r#"{"kind":"lamp_out","point":"lamp"}"#,
            r#"{"kind":"lamp_in","point":"lamp"}"#,
            r#"{"kind":"operated","switch":"S1"}"#,
            r#"{"kind":"tested","point":"lamp","first":"E","second":"N","reading":"none"}"#,
            r#"{"kind":"touched","point":"lamp"}"#,
            r#"{"kind":"declared","circuit":"stairs"}"#,
            r#"{"kind":"ticked","criterion":"tidy","outcome":"met"}"#,
            r#"{"kind":"remark","text":"On the ladder"}"#,
            r#"{"kind":"prompted"}"#,
            r#"{"kind":"stepped_in","reason":"live_part"}"#,
            r#"{"kind":"unsure","observation":"01938c1e-0000-7000-8000-000000000002"}"#,
            r#"{"kind":"view_blocked"}"#,
            r#"{"kind":"view_clear"}"#,
            r#"{"kind":"struck","observation":"01938c1e-0000-7000-8000-000000000002","reason":"twice"}"#,
        ];
        let said: std::collections::BTreeSet<_> = acts.iter().map(|act| words(act)).collect();
        assert_eq!(said.len(), acts.len());
        assert!(!said.contains("Something was recorded"));
    }
}
