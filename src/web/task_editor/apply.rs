//! What a form of the editor does to a draft.

use super::fields::{Field, Group, Kind, Target};
use crate::bay::setup::SwitchSetting;
use crate::bay::{DeviceId, Setting};
use crate::marking::sketch::{Marked, Sketch, Step, Way, planted_id, possible, stock};
use crate::web::criteria::typed::Typed;
use serde_json::{Value, json};

/// Puts what was typed into the sketch. Of fields that are not in the form nothing changes; what is not ticked counts as
/// taken away where the form was sent as a whole.
pub fn fill(sketch: &mut Sketch, step: Step, groups: &[Group], typed: &Typed) {
    let whole = typed.has("whole");
    let fields = || groups.iter().flat_map(|group| &group.fields);
    let before = sketch.clone();
    for field in fields() {
        let there = !typed.all(&field.name).is_empty();
        match field.kind {
            Kind::Check if there || whole => sketch.set(&field.name, Some(json!(there))),
            Kind::Checks(_) if field.target == Target::Place && (there || whole) => {
                // Beside its field an empty list says nothing that a missing one does not.
                let values = in_order(&field.values, typed.all(&field.name).to_vec());
                sketch.set(&field.name, (!values.is_empty() || field.name.ends_with(".fits")).then(|| json!(values)));
            }
            Kind::Text | Kind::Number | Kind::Area | Kind::Choice(_) if there => {
                one(sketch, field, typed.get(&field.name))
            }
            _ => {}
        }
    }
    for (marked, begins) in [(Marked::Device, "board.devices"), (Marked::Switch, "circuits")] {
        let marks = fields().filter(|field| field.name.starts_with(begins) && field.name.ends_with(".id"));
        let changed = marks.map(|field| (field.value.clone(), sketch.text(&field.name)));
        let changed: Vec<(String, String)> = changed.filter(|(old, new)| old != new).collect();
        sketch.carry_along(&before, marked, &changed);
    }
    if step == Step::Start {
        start(sketch, groups, typed, whole);
    }
    if step == Step::Circuits {
        without_empty_loads(sketch);
    }
}

fn one(sketch: &mut Sketch, field: &Field, typed: &str) {
    if !matches!(field.target, Target::FedBy(_)) && without_ends(typed) == without_ends(&field.value) {
        // Not touched: what came from a file keeps its blanks and line ends.
        return;
    }
    let text = typed.replace("\r\n", "\n");
    let text = text.trim();
    let value = match (&field.target, &field.kind) {
        (Target::FedBy(circuit), _) => return feed(sketch, circuit, &field.value, text),
        (Target::Setting | Target::Planted | Target::Checklist, _) => return,
        (Target::Whole, _) | (_, Kind::Number) => number(text),
        _ => json!(text),
    };
    sketch.set(&field.name, (!text.is_empty()).then_some(value));
}

/// A text as far as every kind of field hands it back.
fn without_ends(text: &str) -> String {
    text.replace(['\r', '\n'], "")
}

/// A number, or what was typed in its place, which the reader then says something about.
fn number(text: &str) -> Value {
    if let Ok(whole) = text.parse::<i64>() {
        return json!(whole);
    }
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() => json!(number),
        _ => json!(text),
    }
}

fn feed(sketch: &mut Sketch, circuit: &str, before: &str, now: &str) {
    if before == now {
        return;
    }
    for at in 0..sketch.list("board.devices").len() {
        let place = format!("board.devices[{at}].feeds");
        let id = sketch.text(&format!("board.devices[{at}].id"));
        if id == now {
            sketch.set(&place, Some(json!(circuit)));
        } else if sketch.text(&place) == circuit {
            sketch.set(&place, None);
        }
    }
}

/// What was ticked, with what stood there before in the order in which it stood.
fn in_order<T: PartialEq + Clone>(before: &[T], ticked: Vec<T>) -> Vec<T> {
    let mut values: Vec<T> = before.iter().filter(|value| ticked.contains(value)).cloned().collect();
    values.extend(ticked.into_iter().filter(|value| !before.contains(value)));
    values
}

/// Settings and planted faults are one thing: what names a switch or device that is gone falls away.
fn start(sketch: &mut Sketch, groups: &[Group], typed: &Typed, whole: bool) {
    let Some(mut bay) = sketch.bay().filter(|_| !groups.iter().all(|group| group.fields.is_empty())) else { return };
    if whole || !typed.all("setup.off").is_empty() {
        let off = typed.all("setup.off").iter().filter_map(|id| DeviceId::new(id));
        bay.setup.off = in_order(&bay.setup.off, off.filter(|id| bay.device(id).is_some()).collect());
    }
    let mut switches = bay.setup.switches.clone();
    for switch in bay.switches() {
        let [_, second] = Setting::words(switch.kind);
        let setting = match typed.get(&format!("setting:{}", switch.id)) {
            "" => continue,
            word if word == second => Setting::Second,
            _ => Setting::First,
        };
        match switches.iter_mut().find(|one| one.switch == switch.id) {
            Some(one) => one.setting = setting,
            None if setting == Setting::Second => switches.push(SwitchSetting { switch: switch.id.clone(), setting }),
            None => {}
        }
    }
    bay.setup.switches = switches;
    if whole || !typed.all("setup.planted").is_empty() {
        let ticked = |fault: &crate::bay::Fault| typed.holds("setup.planted", &planted_id(fault));
        bay.setup.planted = in_order(&bay.setup.planted, possible(&bay).into_iter().filter(ticked).collect());
    }
    sketch.set_setup(&bay);
}

fn without_empty_loads(sketch: &mut Sketch) {
    for circuit in 0..sketch.list("circuits").len() {
        for point in 0..sketch.list(&format!("circuits[{circuit}].points")).len() {
            let load = format!("circuits[{circuit}].points[{point}].load");
            if sketch.text(&format!("{load}.connection")).is_empty() {
                sketch.set(&load, None);
            }
        }
    }
}

/// Does what a button asks for and answers the name of what comes under the keyboard next; `None` where nothing of the
/// kind can be done.
pub fn press(sketch: &mut Sketch, button: &str) -> Option<String> {
    let (what, about) = button.split_once(':')?;
    match what {
        "add" => added(sketch, about),
        "stock" => {
            let at = sketch.list("table").len();
            sketch.put(stock::named(about)?).then(|| format!("table[{at}].label"))
        }
        _ => {
            let (list, at) = about.strip_suffix(']')?.rsplit_once('[')?;
            let at: usize = at.parse().ok()?;
            match what {
                "up" => sketch.shift(list, at, Way::Up).then(|| format!("up:{list}[{}]", at.saturating_sub(1))),
                "down" => sketch.shift(list, at, Way::Down).then(|| format!("down:{list}[{}]", at + 1)),
                "copy" if list == "table" => {
                    let to = sketch.list("table").len();
                    sketch.copy_item(at).then(|| format!("table[{to}].label"))
                }
                "remove" => sketch.remove(list, at).map(|_| adds_to(list)),
                _ => None,
            }
        }
    }
}

/// The button that adds to a list, where the keyboard goes when something was taken out.
fn adds_to(list: &str) -> String {
    let within = |kind: &str| {
        let circuit = list.trim_start_matches("circuits[").split(']').next().unwrap_or_default();
        format!("add:{kind}:{circuit}")
    };
    match list.rsplit('.').next() {
        Some("devices") => "add:device".to_owned(),
        Some("switches") => within("switch"),
        Some("points") => within("point"),
        Some("circuits") => "add:circuit".to_owned(),
        Some("sources") => "add:source".to_owned(),
        _ => stock::ALL.first().map(|first| format!("stock:{}", first.word)).unwrap_or_default(),
    }
}

fn added(sketch: &mut Sketch, what: &str) -> Option<String> {
    let (what, circuit) = what.split_once(':').unwrap_or((what, ""));
    let (list, value, first) = match what {
        "device" => {
            let id = sketch.free_name("board.devices", "Q");
            let kind = if sketch.list("board.devices").is_empty() { "main_switch" } else { "breaker" };
            ("board.devices".to_owned(), json!({ "id": id, "kind": kind }), "label")
        }
        "circuit" => {
            let id = sketch.free_name("circuits", "circuit-");
            feed_by_the_first_free(sketch, &id);
            ("circuits".to_owned(), json!({ "id": id, "wiring": "radial", "switches": [], "points": [] }), "label")
        }
        "switch" => {
            let id = sketch.free_name("switches", "S");
            (format!("circuits[{}].switches", circuit.parse::<usize>().ok()?), json!({ "id": id }), "label")
        }
        "point" => {
            let id = sketch.free_name("points", "point-");
            (format!("circuits[{}].points", circuit.parse::<usize>().ok()?), json!({ "id": id }), "label")
        }
        "source" => ("sources".to_owned(), json!({ "id": sketch.free_name("sources", "source-") }), "label"),
        _ => return None,
    };
    let at = sketch.list(&list).len();
    sketch.add(&list, value).then(|| format!("{list}[{at}].{first}"))
}

/// A new circuit is fed by the first device that feeds nothing yet, until somebody says otherwise.
fn feed_by_the_first_free(sketch: &mut Sketch, circuit: &str) {
    let free = |device: &Value| device.get("feeds").is_none() && device.get("kind") != Some(&json!("main_switch"));
    if let Some(at) = sketch.list("board.devices").iter().position(free) {
        sketch.set(&format!("board.devices[{at}].feeds"), Some(json!(circuit)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::sketch::differences;
    use crate::marking::write::tests_task::any_task;
    use crate::web::task_editor::steps::{Around, groups};
    use proptest::prelude::*;

    /// What a browser sends of a form that nobody touched.
    fn untouched(groups: &[Group]) -> Typed {
        let mut typed = Typed::default();
        typed.set("whole", "on");
        for field in groups.iter().flat_map(|group| &group.fields) {
            match &field.kind {
                Kind::Check if field.value.is_empty() => {}
                Kind::Check => typed.set(&field.name, "on"),
                Kind::Checks(options) => {
                    let ticked = options.iter().filter(|(value, _)| field.holds(value));
                    ticked.for_each(|(value, _)| typed.add(&field.name, value));
                }
                Kind::Sorted(sorted) => {
                    let ticked = sorted.iter().flat_map(|(_, options)| options).filter(|(value, _)| field.holds(value));
                    ticked.for_each(|(value, _)| typed.add(&field.name, value));
                }
                Kind::Choice(options) => {
                    let chosen = options.iter().find(|(value, _)| *value == field.value).or(options.first());
                    chosen.into_iter().for_each(|(value, _)| typed.set(&field.name, value));
                }
                // Browsers send the line ends of a box as CR LF, and none of a line.
                Kind::Area => typed.set(&field.name, &field.value.replace("\r\n", "\n").replace('\n', "\r\n")),
                Kind::Text | Kind::Number => typed.set(&field.name, &field.value.replace(['\r', '\n'], "")),
            }
        }
        typed
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, max_shrink_iters: 256, ..ProptestConfig::with_cases(64) })]

        #[test]
        fn saving_what_was_not_touched_changes_nothing(task in any_task()) {
            let mut sketch = Sketch::of_task(&task);
            for step in Step::ALL {
                let bay = sketch.bay();
                let around = Around { bay: bay.as_ref(), checklists: Vec::new(), checklist: String::new() };
                let groups = groups(step, &sketch, &around);
                let typed = untouched(&groups);
                fill(&mut sketch, step, &groups, &typed);
                prop_assert_eq!(sketch.task(), Ok(task.clone()), "{}", step.word());
                prop_assert_eq!(differences(&Sketch::of_task(&task), &sketch), [], "{}", step.word());
            }
        }
    }
}
