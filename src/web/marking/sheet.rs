//! What the marking page's script must know of the task to go on without the service: names of things and what belongs
//! together. It holds nothing by which anything could be judged, and nothing about a person.

use super::tiles;
use crate::bay::{Bay, Conductor, Device, DeviceId, Item, ItemId, ItemKind, Point, Thing};
use crate::marking::observation::Part;
use crate::marking::{Log, Task};
use serde::Serialize;

/// The task, as far as tiles need it.
#[derive(Serialize)]
struct Sheet<'a> {
    circuit: &'a str,
    device: &'a str,
    point: &'a str,
    /// Parts that a look over an instrument records.
    parts: Vec<Part>,
    /// Rounds that the plan of tests asks for.
    rounds: u32,
    circuits: Vec<CircuitRow<'a>>,
    devices: Vec<DeviceRow<'a>>,
    /// Devices that are off at the start.
    off: &'a [DeviceId],
    items: Vec<ItemRow<'a>>,
    points: Vec<PointRow<'a>>,
    sources: Vec<Named<'a>>,
}

/// Something with a name.
#[derive(Serialize)]
struct Named<'a> {
    id: &'a str,
    label: &'a str,
}

#[derive(Serialize)]
struct CircuitRow<'a> {
    id: &'a str,
    label: &'a str,
    switches: Vec<Named<'a>>,
}

#[derive(Serialize)]
struct DeviceRow<'a> {
    id: &'a str,
    label: &'a str,
    feeds: Option<&'a str>,
}

#[derive(Serialize)]
struct ItemRow<'a> {
    id: &'a str,
    label: &'a str,
    hand: Option<Hand>,
    /// The key of a padlock.
    key: Option<&'a ItemId>,
}

/// What the next act of some tiles is done with.
#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum Hand {
    Instrument,
    LockOff,
    Padlock,
    Notice,
}

#[derive(Serialize)]
struct PointRow<'a> {
    id: &'a str,
    label: &'a str,
    lamp: bool,
    /// The less dangerous conductor first.
    pairs: Vec<[Conductor; 2]>,
}

/// The sheet as JSON. `rounds` is how many rounds the plan of tests asks for.
pub fn sheet(task: &Task, rounds: u32) -> String {
    let Bay { isolate, .. } = &task.bay;
    let sheet = Sheet {
        circuit: isolate.circuit.as_str(),
        device: isolate.device.as_str(),
        point: isolate.point.as_str(),
        parts: tiles::parts(task),
        rounds,
        circuits: circuits(&task.bay),
        devices: devices(&task.bay),
        off: &task.bay.setup.off,
        items: task.bay.table.iter().map(item).collect(),
        points: points(&task.bay),
        sources: task.bay.sources.iter().map(|one| Named { id: one.id.as_str(), label: &one.label }).collect(),
    };
    serde_json::to_string(&sheet).unwrap_or_default()
}

/// A marker's own log as a JSON list.
pub fn log(log: &Log) -> String {
    serde_json::to_string(log.observations()).unwrap_or_default()
}

fn circuits(bay: &Bay) -> Vec<CircuitRow<'_>> {
    bay.circuits
        .iter()
        .map(|one| CircuitRow {
            id: one.id.as_str(),
            label: &one.label,
            switches: one.switches.iter().map(|one| Named { id: one.id.as_str(), label: &one.label }).collect(),
        })
        .collect()
}

fn devices(bay: &Bay) -> Vec<DeviceRow<'_>> {
    bay.board.devices.iter().map(device).collect()
}

fn device(device: &Device) -> DeviceRow<'_> {
    let feeds = device.feeds.as_ref().map(|feeds| feeds.as_str());
    DeviceRow { id: device.id.as_str(), label: &device.label, feeds }
}

fn item(item: &Item) -> ItemRow<'_> {
    let hand = match item.kind() {
        ItemKind::LockOff => Some(Hand::LockOff),
        ItemKind::Padlock => Some(Hand::Padlock),
        ItemKind::Notice => Some(Hand::Notice),
        _ if item.is_instrument() => Some(Hand::Instrument),
        _ => None,
    };
    let key = match &item.thing {
        Thing::Padlock { key } => Some(key),
        _ => None,
    };
    ItemRow { id: item.id.as_str(), label: &item.label, hand, key }
}

fn points(bay: &Bay) -> Vec<PointRow<'_>> {
    bay.points().map(point).collect()
}

fn point(point: &Point) -> PointRow<'_> {
    PointRow { id: point.id.as_str(), label: &point.label, lamp: point.lamp, pairs: crate::bay::plan::pairs(point) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TASK: &str = include_str!("../../../tests/reference/examples/stairwell.toml");

    #[test]
    fn the_sheet_names_things_and_says_nothing_of_their_suitability() {
        let task = Task::read_toml(TASK).unwrap();
        let text = sheet(&task, 4);
        for word in ["exposed_tip", "finger_guards", "leads\":\"", "in_date", "fits", "works", "rated_volts", "faults"]
        {
            assert!(!text.contains(word), "{word}");
        }
        let read: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!((&read["device"], &read["rounds"]), (&"Q2".into(), &4.into()));
        assert_eq!(read["points"][0]["pairs"][0], serde_json::json!(["E", "N"]));
        let padlock = read["items"].as_array().unwrap().iter().find(|item| item["id"] == "pl-a").unwrap();
        assert_eq!((&padlock["hand"], &padlock["key"]), (&"padlock".into(), &"key-a".into()));
    }
}
