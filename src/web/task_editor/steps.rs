//! What each step asks, from the sketch as it stands.

use super::fields::{Field, Group, Target, add, options};
use crate::bay::{Bay, Conductor, Fault, Setting};
use crate::marking::sketch::{Sketch, Step, planted_id, possible};
use serde_json::Value;

/// What a step needs to know besides the sketch.
pub struct Around<'a> {
    /// The bay, as far as it can be drawn.
    pub bay: Option<&'a Bay>,
    /// Checklists to choose from, as value and label, and the one chosen.
    pub checklists: Vec<(String, String)>,
    pub checklist: String,
}

/// What is said of a short form.
pub const SHORT: &str = "May stay empty. Two lines of at most 12 letters, the mark included.";

/// The fields of a step.
pub fn groups(step: Step, sketch: &Sketch, around: &Around<'_>) -> Vec<Group> {
    match step {
        Step::Board => board(sketch),
        Step::Circuits => circuits(sketch),
        Step::Sources => sources(sketch),
        Step::Isolate => isolate(sketch),
        Step::Table => super::table::groups(sketch, around.bay),
        Step::Start => start(sketch, around.bay),
        Step::Checklist => checklist(sketch, around),
        Step::Briefing => briefing(sketch),
        Step::Publish => Vec::new(),
    }
}

/// The things of a list as options: their names with their labels.
pub fn things(list: &[Value]) -> Vec<(String, String)> {
    let text = |value: &Value, key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    list.iter().map(|value| (text(value, "id"), text(value, "label"))).filter(|(id, _)| !id.is_empty()).collect()
}

/// The devices as options: mark and label.
pub fn devices(sketch: &Sketch) -> Vec<(String, String)> {
    let named = |(id, label): (String, String)| (id.clone(), format!("{id} {label}").trim().to_owned());
    things(sketch.list("board.devices")).into_iter().map(named).collect()
}

/// What stands above the button that adds to a list.
fn another(sketch: &Sketch, list: &str, one: &str, all: &str) -> String {
    if sketch.list(list).is_empty() { all.to_owned() } else { format!("Another {one}") }
}

fn with_none(mut options: Vec<(String, String)>, none: &str) -> Vec<(String, String)> {
    options.insert(0, (String::new(), none.to_owned()));
    options
}

fn title(sketch: &Sketch, place: &str, what: &str, at: usize) -> String {
    let (mark, label) = (sketch.text(&format!("{place}.id")), sketch.text(&format!("{place}.label")));
    match (what, label.as_str()) {
        ("Device" | "Switch", _) => format!("{what} {mark} {label}").trim().to_owned(),
        (what, "") => format!("{what} {}", at + 1),
        (what, label) => format!("{what}: {label}"),
    }
}

/// The lines and neutral of the supply.
fn lines(sketch: &Sketch) -> Vec<Conductor> {
    use Conductor::{L, L1, L2, L3, N};
    if sketch.text("supply.phases") == "3" { vec![N, L1, L2, L3] } else { vec![N, L] }
}

fn letters(conductors: impl IntoIterator<Item = Conductor>) -> Vec<(String, String)> {
    let named = |conductor: Conductor| {
        let letters = conductor.letters();
        let label = match conductor {
            Conductor::E => "E, earth".to_owned(),
            Conductor::N => "N, neutral".to_owned(),
            Conductor::Sl => "SL, switched line".to_owned(),
            _ => format!("{letters}, line"),
        };
        (letters.to_owned(), label)
    };
    conductors.into_iter().map(named).collect()
}

fn board(sketch: &Sketch) -> Vec<Group> {
    let mut supply = Group::new("supply", "Practice and supply");
    let practice = options(&[
        ("GB", "GB, Great Britain"),
        ("IE", "IE, Ireland"),
        ("EU", "EU, the rest of the Union"),
        ("US", "US, United States"),
        ("AU", "AU, Australia and New Zealand"),
    ]);
    let phases = options(&[("1", "One phase"), ("3", "Three phases")]);
    supply.fields = vec![
        Field::choice(sketch, "standards", "National practice", practice)
            .hint("Colours on the drawing follow from it."),
        Field::choice(sketch, "supply.phases", "Phases", phases).target(Target::Whole),
        Field::number(sketch, "supply.volts", "Volts between line and neutral"),
    ];
    let mut board = Group::new("board", "The board");
    board.fields = vec![Field::text(sketch, "board.label", "Name of the board").hint("Such as DB-W, workshop.")];
    let mut groups = vec![supply, board];
    let kinds = options(&[
        ("main_switch", "Main switch"),
        ("isolator", "Isolator"),
        ("breaker", "Breaker"),
        ("rcd", "RCD"),
        ("rcbo", "RCBO"),
        ("fuse_switch", "Fuse switch"),
    ]);
    let fed = with_none(things(sketch.list("circuits")), "No circuit of its own");
    for at in 0..sketch.list("board.devices").len() {
        let place = format!("board.devices[{at}]");
        let field = |key: &str| format!("{place}.{key}");
        let mut group = Group::of_list(sketch, "board.devices", at, title(sketch, &place, "Device", at));
        group.fields = vec![
            Field::text(sketch, field("id"), "Mark").hint("As it stands on the board, such as Q1."),
            Field::text(sketch, field("label"), "Label"),
            Field::choice(sketch, field("kind"), "Kind", kinds.clone()),
            Field::checks(sketch, field("poles"), "Conductors it switches", letters(lines(sketch))),
            Field::number(sketch, field("rating_a"), "Rated current in amperes").hint("May stay empty."),
            Field::choice(sketch, field("feeds"), "Circuit it feeds", fed.clone()),
            Field::text(sketch, field("short"), "Short form for small tiles").hint(SHORT).more(),
        ];
        groups.push(group);
    }
    let mut more = Group::new("", another(sketch, "board.devices", "device", "Devices"));
    more.adds = vec![add("add:device", "Add a device")];
    groups.push(more);
    groups
}

fn circuits(sketch: &Sketch) -> Vec<Group> {
    let mut groups = Vec::new();
    for at in 0..sketch.list("circuits").len() {
        let place = format!("circuits[{at}]");
        groups.push(circuit(sketch, &place, at));
        let list = format!("{place}.switches");
        for number in 0..sketch.list(&list).len() {
            groups.push(switch(sketch, &list, number));
        }
        let list = format!("{place}.points");
        for number in 0..sketch.list(&list).len() {
            groups.push(point(sketch, &list, number));
        }
        let mut more = Group { inner: true, ..Group::new("", "") };
        more.adds =
            vec![add(format!("add:switch:{at}"), "Add a switch"), add(format!("add:point:{at}"), "Add a point")];
        more.title = format!("More in {}", title(sketch, &place, "Circuit", at));
        groups.push(more);
    }
    let mut more = Group::new("", another(sketch, "circuits", "circuit", "Circuits"));
    more.adds = vec![add("add:circuit", "Add a circuit")];
    groups.push(more);
    groups
}

fn circuit(sketch: &Sketch, place: &str, at: usize) -> Group {
    let field = |key: &str| format!("{place}.{key}");
    let mut group = Group::of_list(sketch, "circuits", at, title(sketch, place, "Circuit", at));
    let wiring = options(&[
        ("radial", "Radial"),
        ("ring", "Ring"),
        ("feed_at_switch", "Switched light, feed at the switch"),
        ("loop_in", "Switched light, looped in at the rose"),
    ]);
    let id = sketch.text(&field("id"));
    let feeding = |device: &&Value| device.get("feeds").and_then(Value::as_str) == Some(id.as_str());
    let fed_by: Vec<_> = sketch.list("board.devices").iter().filter(feeding).collect();
    let one = fed_by.first().and_then(|device| device.get("id")).and_then(Value::as_str).unwrap_or_default();
    let mut fed = Field::choice(sketch, field("fed-by"), "Fed by", with_none(devices(sketch), "No device yet"));
    (fed.value, fed.target) = (one.to_owned(), Target::FedBy(id.clone()));
    group.fields.push(Field::text(sketch, field("label"), "What it feeds"));
    // Where several devices stand one after the other, only the board can say so.
    if fed_by.len() <= 1 {
        group.fields.push(fed);
    }
    group.fields.push(Field::choice(sketch, field("wiring"), "Wiring", wiring));
    group.fields.push(
        Field::number(sketch, field("length_m"), "Length of cable in metres")
            .hint("With it, a conductor that floats picks up a voltage from its neighbours.")
            .more(),
    );
    group
}

fn switch(sketch: &Sketch, list: &str, at: usize) -> Group {
    let place = format!("{list}[{at}]");
    let kinds = options(&[("one_way", "One-way"), ("two_way", "Two-way"), ("intermediate", "Intermediate")]);
    let mut group = Group { inner: true, ..Group::of_list(sketch, list, at, title(sketch, &place, "Switch", at)) };
    group.fields = vec![
        Field::text(sketch, format!("{place}.id"), "Mark").hint("Such as S1."),
        Field::text(sketch, format!("{place}.label"), "Where it is"),
        Field::choice(sketch, format!("{place}.kind"), "Kind", kinds),
    ];
    group
}

fn point(sketch: &Sketch, list: &str, at: usize) -> Group {
    let place = format!("{list}[{at}]");
    let field = |key: &str| format!("{place}.{key}");
    let kinds = options(&[
        ("lamp_holder", "Lamp holder"),
        ("rose", "Rose"),
        ("socket", "Socket"),
        ("switch_box", "Switch box"),
        ("isolator", "Isolator"),
        ("terminal_box", "Terminal box"),
    ]);
    let load = options(&[
        ("", "Nothing"),
        ("line_neutral", "Between line and neutral"),
        ("star", "In star"),
        ("delta", "In delta"),
    ]);
    let mut there = vec![Conductor::E];
    there.extend(lines(sketch));
    there.push(Conductor::Sl);
    let mut group = Group { inner: true, ..Group::of_list(sketch, list, at, title(sketch, &place, "Point", at)) };
    group.fields = vec![
        Field::text(sketch, field("label"), "Where it is"),
        Field::choice(sketch, field("kind"), "Kind", kinds),
        Field::checks(sketch, field("conductors"), "Conductors that can be reached", letters(there)),
        Field::check(sketch, field("lamp"), "A lamp is there that can be taken out"),
        Field::choice(sketch, field("load.connection"), "Appliance or motor connected there", load).more(),
        Field::number(sketch, field("load.ohm"), "Its resistance in ohms, each branch").more(),
        Field::number(sketch, field("load.reactance_ohm"), "Its reactance in ohms").hint("May stay empty.").more(),
    ];
    group
}

fn sources(sketch: &Sketch) -> Vec<Group> {
    let kinds = options(&[
        ("mains", "Mains"),
        ("generator", "Generator"),
        ("battery", "Battery"),
        ("inverter", "Inverter"),
        ("other_board", "Another board"),
    ]);
    let mut groups = Vec::new();
    for at in 0..sketch.list("sources").len() {
        let place = format!("sources[{at}]");
        let lines = lines(sketch).into_iter().filter(|conductor| conductor.is_line()).chain([Conductor::Sl]);
        let mut group = Group::of_list(sketch, "sources", at, title(sketch, &place, "Supply", at));
        group.fields = vec![
            Field::text(sketch, format!("{place}.label"), "Label"),
            Field::choice(sketch, format!("{place}.kind"), "Kind", kinds.clone()),
            Field::choice(
                sketch,
                format!("{place}.device"),
                "Isolated by",
                with_none(devices(sketch), "Nothing on this board"),
            ),
            Field::choice(
                sketch,
                format!("{place}.reaches"),
                "Line it feeds at the point of work",
                with_none(letters(lines), "The first one"),
            )
            .more(),
        ];
        groups.push(group);
    }
    let mut more = Group::new("", another(sketch, "sources", "supply", "Supplies"));
    more.hint = "Everything that could feed the point of work: the mains, a generator, solar. The candidate has to name them where the checklist asks for it.".to_owned();
    more.adds = vec![add("add:source", "Add a supply")];
    groups.push(more);
    groups
}

fn isolate(sketch: &Sketch) -> Vec<Group> {
    let mut points = Vec::new();
    for circuit in sketch.list("circuits") {
        let of = circuit.get("label").and_then(Value::as_str).unwrap_or_default();
        let list = circuit.get("points").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
        points.extend(things(list).into_iter().map(|(id, label)| (id, format!("{label}, on {of}"))));
    }
    let mut group = Group::new("isolate", "What the candidate isolates");
    group.fields = vec![
        Field::choice(sketch, "isolate.circuit", "Circuit", things(sketch.list("circuits"))),
        Field::choice(sketch, "isolate.device", "The device that isolates it", devices(sketch)),
        Field::choice(sketch, "isolate.point", "Point of work, where it is proved dead", points),
    ];
    vec![group]
}

fn start(sketch: &Sketch, bay: Option<&Bay>) -> Vec<Group> {
    let Some(bay) = bay.filter(|_| sketch.at("isolate.point").is_some()) else {
        let mut group = Group::new("", "Not yet");
        group.hint =
            "Finish the board, the circuits and what to isolate first. Then settings and faults can be chosen here."
                .into();
        return vec![group];
    };
    let mut devices_off = Group::new("setup.off", "Devices");
    devices_off.fields = vec![Field::checks(sketch, "setup.off", "Off at the start", devices(sketch))];
    let mut groups = vec![devices_off];
    let mut switches = Group::new("setup.switches", "Switches");
    for switch in bay.switches() {
        let [first, second] = Setting::words(switch.kind);
        let settings = options(&[(first, first), (second, second)]);
        let label = format!("{} {}", switch.id, switch.label);
        let field = Field::choice(sketch, format!("setting:{}", switch.id), &label, settings).target(Target::Setting);
        switches.fields.push(field.valued(bay.setup.setting(&switch.id).word(switch.kind).to_owned()));
    }
    if !switches.fields.is_empty() {
        groups.push(switches);
    }
    let mut planted = Group::new("setup.planted", "Planted faults");
    planted.hint = "Nobody but the assessor is told before the end. Told afterwards, each reads as here.".to_owned();
    let mut field = Field::checks(sketch, "setup.planted", "Planted in the circuit", Vec::new());
    field.kind = super::fields::Kind::Sorted(sorted(bay));
    field.values = bay.setup.planted.iter().map(planted_id).collect();
    planted.fields = vec![field.target(Target::Planted)];
    groups.push(planted);
    groups
}

/// What can be planted, by the part that is at fault: there are dozens.
fn sorted(bay: &Bay) -> Vec<(&'static str, Vec<(String, String)>)> {
    let mut sorted: Vec<(&str, Vec<_>)> = Vec::new();
    for fault in possible(bay) {
        let part = part_at_fault(&fault);
        let option = (planted_id(&fault), fault.says(bay));
        match sorted.iter_mut().find(|(title, _)| *title == part) {
            Some((_, options)) => options.push(option),
            None => sorted.push((part, vec![option])),
        }
    }
    sorted
}

fn part_at_fault(fault: &Fault) -> &'static str {
    match fault {
        Fault::StuckPole { .. } => "The device",
        Fault::SecondSupply { .. } | Fault::FloatingSupply { .. } => "Another supply",
        Fault::BorrowedNeutral { .. } | Fault::BrokenNeutral | Fault::CrossedPolarity => "The neutral",
        Fault::LostEarth => "The earth",
        Fault::StuckSwitch { .. } | Fault::BrokenContact { .. } => "A switch",
        Fault::JoinedStrapper { .. } => "The wires between switches",
        Fault::WrongDevice { .. } | Fault::DeadIndicator => "Other",
    }
}

fn checklist(sketch: &Sketch, around: &Around<'_>) -> Vec<Group> {
    let mut group = Group::new("", "Checklist");
    let field = Field::choice(sketch, "checklist", "Checklist", Vec::new()).target(Target::Checklist);
    let kind = super::fields::Kind::Choice(around.checklists.clone());
    group.fields = vec![Field { kind, ..field.valued(around.checklist.clone()) }];
    group.hint = if around.checklists.iter().all(|(value, _)| value.is_empty()) {
        "The centre has not published a checklist yet. Make one under Checklists, publish it, and choose it here."
    } else {
        "Choosing another puts its pass mark in place of the one under Briefing."
    }
    .to_owned();
    vec![group]
}

fn briefing(sketch: &Sketch) -> Vec<Group> {
    let mut group = Group::new("", "Briefing, time and marks");
    group.fields = vec![
        Field::text(sketch, "title", "Title"),
        Field::area(sketch, "briefing", "Briefing").hint("Read to the candidate word by word."),
        Field::number(sketch, "minutes", "Minutes allowed"),
        Field::number(sketch, "pass_percent", "Pass mark in per cent"),
    ];
    vec![group]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::write::tests_task::any_task;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    proptest! {
        #[test]
        fn whatever_can_be_planted_stands_once_under_one_part(task in any_task()) {
            let sorted = sorted(&task.bay);
            let listed: Vec<&String> = sorted.iter().flat_map(|(_, options)| options).map(|(id, _)| id).collect();
            let possible: BTreeSet<String> = possible(&task.bay).iter().map(planted_id).collect();
            prop_assert_eq!(listed.len(), possible.len());
            prop_assert_eq!(listed.into_iter().cloned().collect::<BTreeSet<String>>(), possible);
            let parts: BTreeSet<&str> = sorted.iter().map(|(part, _)| *part).collect();
            prop_assert_eq!(parts.len(), sorted.len());
        }
    }
}
