use super::*;
use crate::bay::{Fault as BayFault, Setting, SwitchId};
use crate::marking::examples;
use crate::marking::library;

fn stairwell() -> Task {
    let (task, _) = examples::ALL[0].read().unwrap();
    task
}

#[test]
fn a_task_becomes_a_sketch_and_the_same_task_again() {
    for example in &examples::ALL {
        let (mut task, _) = example.read().unwrap();
        assert_eq!(Sketch::of_task(&task).task().unwrap(), task, "{}", example.name);
        // With everything that can be planted in it, and switches that do not stand as usual.
        let circuit = task.bay.circuit(&task.bay.isolate.circuit).unwrap().clone();
        let thrown = |switch: &crate::bay::Switch| crate::bay::setup::SwitchSetting {
            switch: switch.id.clone(),
            setting: Setting::Second,
        };
        task.bay.setup.switches = circuit.switches.iter().map(thrown).collect();
        task.bay.setup.off = vec![task.bay.board.devices[0].id.clone()];
        task.bay.setup.planted = possible(&task.bay);
        assert_eq!(Sketch::of_task(&task).task().unwrap(), task, "{}", example.name);
    }
}

#[test]
fn what_a_file_plants_twice_is_offered_once_and_stays_as_it_is() {
    let mut task = stairwell();
    let all = possible(&task.bay);
    // A pole of the main switch: a file may plant it, and the editor offers only what feeds the circuit.
    let main = task.bay.board.devices[0].clone();
    let stuck = BayFault::StuckPole { device: main.id, pole: main.poles[0] };
    assert!(!all.contains(&stuck));
    task.bay.setup.planted = vec![stuck.clone(), all[0].clone(), stuck.clone()];
    let offered = possible(&task.bay);
    assert_eq!((&offered[..all.len()], &offered[all.len()..]), (&all[..], &[stuck][..]));
    assert_eq!(Sketch::of_task(&task).task().unwrap(), task);
}

#[test]
fn what_is_missing_is_said_at_its_place_in_words_for_a_form() {
    let sketch = Sketch::empty("Ours", Standards::Gb);
    let faults = sketch.faults();
    let says = |path: &str| faults.iter().find(|fault| fault.path == path).map(|fault| fault.says.as_str());
    assert_eq!(says("board.label"), Some("Please fill this in."));
    assert_eq!(says("board.devices"), Some("Add at least one device."));
    assert_eq!(says("circuits"), Some("Add at least one circuit."));
    assert_eq!(says("isolate.circuit"), Some("Please choose."));
    assert_eq!(says("table"), Some("Put at least one thing on the table."));
    assert_eq!(says("checklist"), Some("Please choose a checklist."));
    assert_eq!(says("briefing"), Some("Please fill this in."));
    assert!(faults.iter().all(|fault| fault.says.ends_with('.') && !fault.says.contains('`')), "{faults:?}");
}

#[test]
fn a_fault_of_one_value_in_a_ticked_list_belongs_to_the_field() {
    let mut sketch = Sketch::of_task(&stairwell());
    sketch.set("circuits[0].points[0].conductors", Some(json!(["L", "E"])));
    sketch.set("board.devices[1].rating_a", Some(json!("six")));
    sketch.set("board.devices[2].id", Some(json!("Q 2")));
    let faults = sketch.faults();
    let says = |path: &str| faults.iter().find(|fault| fault.path == path).map(|fault| fault.says.clone());
    let light = says("circuits[0].points[0].conductors").unwrap();
    assert!(light.contains("no permanent line"), "{light}");
    assert_eq!(says("board.devices[1].rating_a").unwrap(), "Please give a whole number from 1 to 10000.");
    assert_eq!(says("board.devices[2].id").unwrap(), "Use letters, digits and . _ : - only, without blanks.");
}

#[test]
fn the_bay_is_drawn_as_soon_as_board_and_circuits_will_do() {
    let mut sketch = Sketch::of_task(&stairwell());
    for key in ["title", "briefing", "checklist", "table", "isolate", "setup"] {
        sketch.set(key, None);
    }
    sketch.set("sources", Some(json!([{ "id": "s1" }])));
    assert_eq!(sketch.bay().unwrap().isolate, stairwell().bay.isolate, "the first circuit that is fed");
    sketch.set("board.devices[1].poles", None);
    assert!(sketch.bay().is_none());
}

#[test]
fn a_mark_that_changes_is_carried_along() {
    let before = Sketch::of_task(&stairwell());
    let mut sketch = before.clone();
    let pair = |old: &str, new: &str| (old.to_owned(), new.to_owned());
    sketch.set("board.devices[2].id", Some(json!("Q22")));
    sketch.carry_along(&before, Marked::Device, &[pair("Q2", "Q22")]);
    let task = sketch.task().unwrap();
    assert_eq!(task.bay.isolate.device.as_str(), "Q22");
    let mut planted = stairwell();
    planted.bay.setup.planted =
        vec![BayFault::StuckSwitch { switch: SwitchId::new("S1").unwrap(), setting: Setting::Second }];
    let before = Sketch::of_task(&planted);
    let mut sketch = before.clone();
    sketch.set("circuits[0].switches[0].id", Some(json!("S9")));
    sketch.carry_along(&before, Marked::Switch, &[pair("S1", "S9")]);
    assert_eq!(sketch.task().unwrap().bay.setup.planted[0].id(), "stuck_switch:S9:2");
}

#[test]
fn two_marks_are_swapped_at_once_and_a_mark_used_twice_carries_nothing() {
    let before = Sketch::of_task(&stairwell());
    let pair = |old: &str, new: &str| (old.to_owned(), new.to_owned());
    let mut sketch = before.clone();
    sketch.set("board.devices[0].id", Some(json!("Q2")));
    sketch.set("board.devices[2].id", Some(json!("Q0")));
    sketch.carry_along(&before, Marked::Device, &[pair("Q0", "Q2"), pair("Q2", "Q0")]);
    let (old, new) = (before.task().unwrap(), sketch.task().unwrap());
    assert_eq!((old.bay.isolate.device.as_str(), new.bay.isolate.device.as_str()), ("Q2", "Q0"));
    let place = |sketch: &Sketch, id| sketch.list("table").iter().position(|item| item["id"] == id).unwrap();
    assert_eq!(sketch.texts(&format!("table[{}].fits", place(&sketch, "lo-b"))), ["Q2"], "fitted Q0 alone");

    // Q2 is called Q0 as well, and again Q2: what named either still does.
    let mut twice = before.clone();
    twice.set("board.devices[2].id", Some(json!("Q0")));
    twice.carry_along(&before, Marked::Device, &[pair("Q2", "Q0")]);
    let mut again = twice.clone();
    again.set("board.devices[2].id", Some(json!("Q2")));
    again.carry_along(&twice, Marked::Device, &[pair("Q0", "Q2")]);
    assert_eq!(again, before);
}

#[test]
fn everything_of_the_stock_is_a_thing_that_can_lie_on_a_table() {
    let mut sketch = Sketch::of_task(&stairwell());
    sketch.set("table", Some(json!([])));
    assert!(stock::ALL.iter().all(|one| sketch.put(one)));
    let padlock = sketch.list("table").iter().position(|item| item["kind"] == "padlock").unwrap();
    assert!(sketch.copy_item(padlock) && sketch.copy_item(0));
    let task = sketch.task().unwrap();
    assert_eq!(task.bay.table.len(), stock::ALL.len() + 1 + 2 + 1, "each padlock has a key of its own");
    let labels: std::collections::BTreeSet<&str> = task.bay.table.iter().map(|item| item.label.as_str()).collect();
    assert_eq!(labels.len(), task.bay.table.len(), "no two look alike");
}

#[test]
fn only_known_lists_are_changed_and_nothing_leaves_its_list() {
    let mut sketch = Sketch::of_task(&stairwell());
    assert!(!sketch.add("checklist.stages", json!({})) && !sketch.add("setup", json!({})));
    assert!(!sketch.shift("board.devices", 0, Way::Up) && !sketch.shift("board.devices", 3, Way::Down));
    assert!(sketch.remove("board.devices", 4).is_none());
    assert!(sketch.shift("circuits[0].switches", 0, Way::Down));
    assert_eq!(sketch.text("circuits[0].switches[1].id"), "S1");
    assert_eq!(sketch.free_name("switches", "S"), "S4");
}

#[test]
fn what_differs_is_told_in_words_and_nothing_where_nothing_differs() {
    let older = Sketch::of_task(&stairwell());
    let mut newer = older.clone();
    newer.set_checklist(&library::checklist(Standards::Ie));
    assert_eq!(differences(&older, &newer), [], "the checklist is compared elsewhere");
    newer.set("board.devices[1].rating_a", Some(json!(10)));
    newer.set("minutes", Some(json!(40)));
    newer.remove("table", 0);
    let told = differences(&older, &newer);
    let says: Vec<&str> = told.iter().map(|one| one.says.as_str()).collect();
    assert!(says.contains(&"Board, device 2, rated current: 6 became 10"), "{says:?}");
    assert!(says.contains(&"Minutes: 25 became 40"), "{says:?}");
    assert!(told.iter().any(|one| one.word == "removed" && one.step == Step::Table), "{told:?}");
}
