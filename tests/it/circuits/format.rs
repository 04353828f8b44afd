//! Reads the reference cases: the format `bay-circuit/1` of `tests/reference/circuits/README.md`.

use baywitness::bay::solve::{BranchId, Compiled, Made, Network, NodeId, Part, Unsolvable};
use serde::Deserialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

pub type State = BTreeMap<String, String>;

#[derive(Debug, Clone, Deserialize)]
pub struct Case {
    #[serde(default)]
    pub id: String,
    #[serde(default)]
    pub frequency_hz: f64,
    #[serde(default)]
    pub reference: String,
    #[serde(default)]
    pub threshold_v: f64,
    #[serde(default)]
    pub tolerance_v: f64,
    #[serde(default)]
    pub indicators: BTreeMap<String, f64>,
    #[serde(default)]
    pub free: Vec<String>,
    pub nodes: Vec<String>,
    pub elements: Vec<Element>,
    pub devices: Vec<Device>,
    #[serde(default)]
    pub hazards: Vec<Hazard>,
    #[serde(default)]
    pub points: Vec<Point>,
    pub configurations: Vec<Configuration>,
    #[serde(default)]
    pub claims: Vec<Claim>,
    #[serde(default)]
    pub tests: Vec<Plan>,
    #[serde(default)]
    pub coverage: Vec<Value>,
    #[serde(default)]
    pub coverage_by_start: Vec<Value>,
    #[serde(default)]
    pub coverage_summary: Vec<Value>,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Element {
    pub id: String,
    pub a: String,
    pub b: String,
    #[serde(flatten)]
    pub kind: ElementKind,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum ElementKind {
    Source { volts: f64, deg: f64, series_ohm: f64 },
    Link { ohm: f64, closed: bool },
    Load { ohm: f64, reactance_ohm: f64 },
    Capacitor { nf: f64 },
}

#[derive(Debug, Clone, Deserialize)]
pub struct Device {
    pub id: String,
    #[serde(default)]
    pub ohm: f64,
    #[serde(flatten)]
    pub kind: DeviceKind,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum DeviceKind {
    Breaker { poles: Vec<[String; 2]> },
    OneWay { a: String, b: String },
    TwoWay { common: String, l1: String, l2: String },
    Intermediate { a1: String, a2: String, b1: String, b2: String },
    Lamp { a: String, b: String },
    Appliance { branches: Vec<Appliance> },
}

#[derive(Debug, Clone, Deserialize)]
pub struct Appliance {
    pub a: String,
    pub b: String,
    pub ohm: f64,
    pub reactance_ohm: f64,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Hazard {
    pub id: String,
    pub overrides: State,
    pub adds: Vec<Element>,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Point {
    pub id: String,
    pub conductors: BTreeMap<String, String>,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Configuration {
    pub id: String,
    pub state: State,
    pub hazards: Vec<String>,
    pub readings: Vec<Reading>,
    #[serde(default)]
    pub verdicts: Vec<Verdict>,
    pub report: Option<Vec<Value>>,
    pub error: Option<Value>,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Reading {
    pub point: Option<String>,
    pub a: String,
    pub b: String,
    pub indicator: String,
    pub volts: f64,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Verdict {
    pub point: String,
    pub now: String,
    pub any_position: String,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Claim {
    pub configuration: String,
    pub point: String,
    pub a: String,
    pub b: String,
    pub indicator: String,
    pub min: f64,
    pub max: f64,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Plan {
    pub id: String,
    pub start: State,
    pub steps: Vec<Step>,
}

#[derive(Debug, Clone, Deserialize)]
pub struct Step {
    pub state: State,
    pub point: String,
    pub a: String,
    pub b: String,
}

/// One contact: the device's states in which it is made.
struct Contact {
    device: String,
    name: String,
    made_in: &'static str,
    branch: BranchId,
}

/// A case as a network of ours.
pub struct Bench {
    pub compiled: Compiled,
    nodes: BTreeMap<String, NodeId>,
    elements: Vec<(String, BranchId, bool)>,
    contacts: Vec<Contact>,
    adds: BTreeMap<String, Vec<BranchId>>,
    overrides: BTreeMap<String, State>,
}

impl Bench {
    pub fn new(case: &Case) -> Self {
        let mut network = Network::new(case.frequency_hz, &case.reference);
        let mut nodes = BTreeMap::from([(case.reference.clone(), NodeId::REFERENCE)]);
        for name in case.nodes.iter().filter(|name| **name != case.reference) {
            nodes.insert(name.clone(), network.node(name));
        }
        let mut add = |name: &str, a: &str, b: &str, part| {
            network.branch(name, nodes[a], nodes[b], part).expect("the case is well formed")
        };
        let mut elements = Vec::new();
        for element in &case.elements {
            let closed = !matches!(element.kind, ElementKind::Link { closed: false, .. });
            elements.push((element.id.clone(), add(&element.id, &element.a, &element.b, part(&element.kind)), closed));
        }
        let mut contacts = Vec::new();
        for device in &case.devices {
            for (name, [a, b], made_in, part) in contacts_of(device) {
                let branch = add(&format!("{}.{name}", device.id), &a, &b, part);
                contacts.push(Contact { device: device.id.clone(), name, made_in, branch });
            }
        }
        let mut adds = BTreeMap::new();
        for hazard in &case.hazards {
            let own = hazard.adds.iter().map(|element| add(&element.id, &element.a, &element.b, part(&element.kind)));
            adds.insert(hazard.id.clone(), own.collect());
        }
        let overrides = case.hazards.iter().map(|hazard| (hazard.id.clone(), hazard.overrides.clone())).collect();
        Self { compiled: Compiled::new(network), nodes, elements, contacts, adds, overrides }
    }

    pub fn node(&self, name: &str) -> NodeId {
        self.nodes[name]
    }

    /// The branches made in a state with some hazards active.
    pub fn made(&self, state: &State, hazards: &[String]) -> Result<Made, Unsolvable> {
        let mut forced = State::new();
        for (thing, value) in hazards.iter().flat_map(|hazard| &self.overrides[hazard]) {
            if forced.insert(thing.clone(), value.clone()).is_some_and(|before| before != *value) {
                return Err(Unsolvable::Conflict(thing.clone()));
            }
        }
        let mut made = self.compiled.network().nothing_made();
        for (id, branch, closed) in &self.elements {
            made.set(*branch, forced.get(id).map_or(*closed, |value| value == "closed"));
        }
        for contact in &self.contacts {
            let stands = forced.get(&contact.device).unwrap_or(&state[&contact.device]) == contact.made_in;
            let own = forced.get(&format!("{}.{}", contact.device, contact.name));
            made.set(contact.branch, own.map_or(stands, |value| value == "closed"));
        }
        for branch in hazards.iter().flat_map(|hazard| &self.adds[hazard]) {
            made.set(*branch, true);
        }
        Ok(made)
    }
}

fn part(kind: &ElementKind) -> Part {
    match *kind {
        ElementKind::Source { volts, deg, series_ohm } => Part::Source { volts, deg, series_ohm },
        ElementKind::Link { ohm, .. } => Part::Link { ohm },
        ElementKind::Load { ohm, reactance_ohm } => Part::Load { ohm, reactance_ohm },
        ElementKind::Capacitor { nf } => Part::Capacitor { nf },
    }
}

fn contacts_of(device: &Device) -> Vec<(String, [String; 2], &'static str, Part)> {
    let link = Part::Link { ohm: device.ohm };
    let one = |name: &str, a: &String, b: &String, made_in| (name.to_owned(), [a.clone(), b.clone()], made_in, link);
    match &device.kind {
        DeviceKind::Breaker { poles } => {
            poles.iter().zip(1..).map(|([a, b], pole)| one(&format!("{pole}"), a, b, "closed")).collect()
        }
        DeviceKind::OneWay { a, b } => vec![one("1", a, b, "closed")],
        DeviceKind::TwoWay { common, l1, l2 } => vec![one("1", common, l1, "1"), one("2", common, l2, "2")],
        DeviceKind::Intermediate { a1, a2, b1, b2 } => vec![
            one("11", a1, b1, "straight"),
            one("22", a2, b2, "straight"),
            one("12", a1, b2, "crossed"),
            one("21", a2, b1, "crossed"),
        ],
        DeviceKind::Lamp { a, b } => {
            let load = Part::Load { ohm: device.ohm, reactance_ohm: 0.0 };
            vec![("f".to_owned(), [a.clone(), b.clone()], "working", load)]
        }
        DeviceKind::Appliance { branches } => branches
            .iter()
            .zip(1..)
            .map(|(branch, at)| {
                let load = Part::Load { ohm: branch.ohm, reactance_ohm: branch.reactance_ohm };
                (format!("{at}"), [branch.a.clone(), branch.b.clone()], "connected", load)
            })
            .collect(),
    }
}

impl Case {
    /// The states that this device may stand in.
    pub fn states_of(&self, device: &str) -> [&'static str; 2] {
        match self.devices.iter().find(|there| there.id == device).expect("a device").kind {
            DeviceKind::TwoWay { .. } => ["1", "2"],
            DeviceKind::Intermediate { .. } => ["straight", "crossed"],
            DeviceKind::Lamp { .. } => ["working", "removed"],
            DeviceKind::Appliance { .. } => ["connected", "disconnected"],
            DeviceKind::Breaker { .. } | DeviceKind::OneWay { .. } => ["closed", "open"],
        }
    }

    /// The state in every position of the free devices.
    pub fn positions(&self, state: &State) -> Vec<State> {
        self.free.iter().fold(vec![state.clone()], |positions, device| {
            let both = |position: State| {
                self.states_of(device).map(|to| {
                    let mut there = position.clone();
                    there.insert(device.clone(), to.to_owned());
                    there
                })
            };
            positions.into_iter().flat_map(both).collect()
        })
    }

    /// The conductor nodes of a point.
    pub fn point(&self, id: &str) -> &BTreeMap<String, String> {
        &self.points.iter().find(|point| point.id == id).expect("a point").conductors
    }

    /// The nodes that a point's verdict looks at: its conductors and true earth.
    pub fn nodes_at(&self, point: &str) -> Vec<String> {
        let nodes: BTreeSet<String> = self.point(point).values().chain([&self.reference]).cloned().collect();
        nodes.into_iter().collect()
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/circuits")
}

/// The cases of one file: one, or the many of the random networks.
pub fn file(name: &str) -> Vec<Case> {
    let text = std::fs::read_to_string(folder().join(name)).unwrap_or_else(|why| panic!("{name}: {why}"));
    let mut whole: Value = serde_json::from_str(&text).unwrap_or_else(|why| panic!("{name}: {why}"));
    assert_eq!(whole["format"], "bay-circuit/1", "{name}");
    let Some(networks) = whole.as_object_mut().and_then(|keys| keys.remove("networks")) else {
        return vec![serde_json::from_value(whole).unwrap_or_else(|why| panic!("{name}: {why}"))];
    };
    let with_shared = |network: &Value| {
        let mut case = whole.clone();
        for (key, value) in network.as_object().expect("a network is an object") {
            case[key] = value.clone();
        }
        serde_json::from_value(case).unwrap_or_else(|why| panic!("{name}: {why}"))
    };
    networks.as_array().expect("a list of networks").iter().map(with_shared).collect()
}

/// The names of every file of cases.
pub fn files() -> Vec<String> {
    let entries = std::fs::read_dir(folder()).expect("the reference cases");
    let names = entries.map(|entry| entry.expect("a file").file_name().to_string_lossy().into_owned());
    let mut names: Vec<String> = names.filter(|name| name.ends_with(".json")).collect();
    names.sort();
    names
}
