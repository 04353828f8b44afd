//! A task that was written reads as the same again, and looks as if a person had written it.

use super::task_file;
use super::tests::{any_checklist, name, text};
use crate::bay::equipment::{NoticeKind, SHORT_LINE};
use crate::bay::setup::SwitchSetting;
use crate::bay::*;
use crate::marking::sketch::{Sketch, differences};
use crate::marking::{Checklist, ExtraTime, Task};
use proptest::prelude::*;
use proptest::sample::{select, subsequence};

const STAIRWELL: &str = include_str!("../../../tests/reference/examples/stairwell.toml");
const OTHERS: [&str; 3] = [
    include_str!("../../demo/tasks/stairwell.toml"),
    include_str!("../../demo/tasks/rose.toml"),
    include_str!("../../demo/tasks/extractor.toml"),
];

/// Source: the worked example, which was written by hand. Only its remarks are not kept.
#[test]
fn the_worked_example_is_written_as_it_was_by_hand() {
    let without_remarks: String = STAIRWELL.split_inclusive('\n').filter(|line| !line.starts_with('#')).collect();
    assert_eq!(task_file(&Task::read_toml(STAIRWELL).unwrap()), without_remarks);
}

#[test]
fn every_task_of_ours_reads_as_it_was_written() {
    for text in OTHERS {
        let task = Task::read_toml(text).unwrap();
        assert_eq!(Task::read_toml(&task_file(&task)), Ok(task.clone()));
        // The toml crate's own types, which share nothing with our reader but the parser.
        let (mut by_hand, mut ours): (toml::Table, toml::Table) =
            (text.parse().unwrap(), task_file(&task).parse().unwrap());
        for part in ["supply", "board", "circuits", "sources", "isolate", "setup", "briefing"] {
            assert_eq!(by_hand.remove(part), ours.remove(part), "{part}");
        }
    }
}

/// Any short form, or none: one word that fits a line.
fn short() -> impl Strategy<Value = Option<String>> {
    let word = text().prop_map(|text| text.split_whitespace().collect::<String>().chars().take(SHORT_LINE).collect());
    prop::option::of(word)
}

const LINES: [Conductor; 3] = [Conductor::L1, Conductor::L2, Conductor::L3];
const SWITCHED: [Wiring; 2] = [Wiring::FeedAtSwitch, Wiring::LoopIn];

fn lines(phases: Phases) -> Vec<Conductor> {
    match phases {
        Phases::One => vec![Conductor::L],
        Phases::Three => LINES.to_vec(),
    }
}

fn number(range: std::ops::RangeInclusive<f64>) -> BoxedStrategy<f64> {
    let (least, most) = (*range.start(), *range.end());
    prop_oneof![range, (least.ceil() as i32..=most as i32).prop_map(f64::from)].boxed()
}

fn switches(wiring: Wiring) -> BoxedStrategy<Vec<SwitchKind>> {
    use SwitchKind::{Intermediate, OneWay, TwoWay};
    if !SWITCHED.contains(&wiring) {
        return Just(Vec::new()).boxed();
    }
    let between = (0..=6usize).prop_map(|count| {
        std::iter::once(TwoWay).chain(std::iter::repeat_n(Intermediate, count)).chain([TwoWay]).collect()
    });
    prop_oneof![Just(vec![OneWay]), between].boxed()
}

fn load() -> impl Strategy<Value = Load> {
    let connection = select(vec![Connection::LineNeutral, Connection::Star, Connection::Delta]);
    (connection, number(0.1..=1e6), number(-1e6..=1e6)).prop_map(|(connection, ohm, reactance_ohm)| Load {
        connection,
        ohm,
        reactance_ohm,
    })
}

/// A point whose conductors its circuit has, and whose load they can carry.
fn point(phases: Phases, wiring: Wiring) -> impl Strategy<Value = Point> {
    let kind = select(vec![
        PointKind::LampHolder,
        PointKind::Rose,
        PointKind::Socket,
        PointKind::SwitchBox,
        PointKind::Isolator,
        PointKind::TerminalBox,
    ]);
    let conductors = {
        let mut all = vec![Conductor::N];
        all.extend(if SWITCHED.contains(&wiring) { vec![Conductor::Sl] } else { lines(phases) });
        subsequence(all.clone(), 1..=all.len())
    };
    let more = (any::<bool>(), prop::option::of(load()));
    (name(), kind, text(), conductors, more).prop_map(|(id, kind, label, mut conductors, (lamp, load))| {
        conductors.insert(conductors.len() / 2, Conductor::E);
        let lines = conductors.iter().filter(|conductor| conductor.is_line()).count();
        let fits = |load: &Load| match load.connection {
            Connection::LineNeutral => lines > 0 && conductors.contains(&Conductor::N),
            Connection::Star | Connection::Delta => lines > 1,
        };
        let load = load.filter(fits);
        Point { id: PointId::new(&id).unwrap(), kind, label, conductors, lamp, load }
    })
}

fn circuit(phases: Phases) -> impl Strategy<Value = Circuit> {
    let wiring = select(vec![Wiring::Radial, Wiring::Ring, Wiring::FeedAtSwitch, Wiring::LoopIn]);
    wiring.prop_flat_map(move |wiring| {
        let points = prop::collection::vec(point(phases, wiring), 1..4);
        let length = prop::option::of(1..=2_000u16);
        (name(), text(), switches(wiring), prop::collection::vec(text(), 8), points, length).prop_map(
            move |(id, label, kinds, labels, points, length_m)| {
                let switch = |(kind, label)| Switch { id: SwitchId::new("S").unwrap(), kind, label };
                let switches = kinds.into_iter().zip(labels).map(switch).collect();
                Circuit { id: CircuitId::new(&id).unwrap(), label, wiring, switches, points, length_m }
            },
        )
    })
}

fn probes() -> impl Strategy<Value = Probes> {
    let words = (
        select(vec![Leads::Sound, Leads::Damaged]),
        select(vec![Protection::Fused, Protection::CurrentLimited, Protection::None]),
    );
    (number(0.0..=100.0), any::<bool>(), words, any::<bool>(), 1..=10_000u16).prop_map(
        |(exposed_tip_mm, finger_guards, (leads, protection), in_date, rated_volts)| Probes {
            exposed_tip_mm,
            finger_guards,
            leads,
            protection,
            in_date,
            rated_volts,
        },
    )
}

/// A thing that names a device by its place, or a key that the table begins with.
fn thing(devices: Vec<DeviceId>) -> impl Strategy<Value = Thing> {
    let notice = select(vec![NoticeKind::DoNotSwitchOn, NoticeKind::Danger, NoticeKind::Testing]);
    prop_oneof![
        probes().prop_map(Thing::VoltageIndicator),
        probes().prop_map(Thing::Multimeter),
        select(vec![Thing::NonContactIndicator, Thing::Key, Thing::LeadSet, Thing::Adapter]),
        (1..=1_000u16, any::<bool>()).prop_map(|(output_volts, works)| Thing::ProvingUnit { output_volts, works }),
        subsequence(devices.clone(), 0..=devices.len()).prop_map(|fits| Thing::LockOff { fits }),
        Just(Thing::Padlock { key: ItemId::new("the-key").unwrap() }),
        notice.prop_map(|notice| Thing::Notice { notice }),
    ]
}

/// A bay without sources, set-up and table: identifiers are numbered so that they differ.
fn bare_bay() -> impl Strategy<Value = Bay> {
    let standards = select(Standards::ALL.to_vec());
    let phases = select(vec![Phases::One, Phases::Three]);
    (standards, phases, 50..=1_000u16).prop_flat_map(|(standards, phases, volts)| {
        let circuits = prop::collection::vec(circuit(phases), 1..4);
        let kinds = select(vec![
            DeviceKind::Isolator,
            DeviceKind::Breaker,
            DeviceKind::Rcd,
            DeviceKind::Rcbo,
            DeviceKind::FuseSwitch,
        ]);
        let device = (name(), kinds, any::<bool>(), prop::option::of(1..=10_000u16), text(), short());
        let devices = prop::collection::vec(device, 4);
        (circuits, devices, text(), any::<prop::sample::Index>()).prop_map(move |(circuits, devices, label, which)| {
            let circuits = numbered(circuits);
            let device = |(at, (id, kind, neutral, rating_a, label, short)): (
                usize,
                (String, _, bool, _, _, Option<String>),
            )| {
                let mut poles = lines(phases);
                poles.extend(neutral.then_some(Conductor::N));
                // One more than there are circuits: the main switch, which feeds none.
                let feeds = circuits.get(at).map(|circuit: &Circuit| circuit.id.clone());
                let kind = if feeds.is_none() { DeviceKind::MainSwitch } else { kind };
                let id = DeviceId::new(&format!("{id}.{at}")).unwrap();
                // A short form stands behind the device's own name, which a line must hold.
                let short = short.filter(|_| id.as_str().len() <= SHORT_LINE);
                Device { id, kind, poles, rating_a, label, short, feeds }
            };
            let devices: Vec<Device> = devices.into_iter().enumerate().map(device).collect();
            let at = which.index(circuits.len());
            let isolate = Isolate {
                circuit: circuits[at].id.clone(),
                device: devices[at].id.clone(),
                point: circuits[at].points[0].id.clone(),
            };
            let (supply, board) = (Supply { phases, volts }, Board { label, devices });
            let setup = Setup::default();
            Bay { standards, supply, board, circuits, sources: Vec::new(), isolate, table: Vec::new(), setup }
        })
    })
}

fn numbered(mut circuits: Vec<Circuit>) -> Vec<Circuit> {
    for (at, circuit) in circuits.iter_mut().enumerate() {
        circuit.id = CircuitId::new(&format!("{}.{at}", circuit.id)).unwrap();
        for (number, switch) in circuit.switches.iter_mut().enumerate() {
            switch.id = SwitchId::new(&format!("{}{at}:{number}", switch.id)).unwrap();
        }
        for (number, point) in circuit.points.iter_mut().enumerate() {
            point.id = PointId::new(&format!("{}-{at}:{number}", point.id)).unwrap();
        }
    }
    circuits
}

fn source(bay: &Bay) -> impl Strategy<Value = Source> + use<> {
    let kinds = [SourceKind::Mains, SourceKind::Generator, SourceKind::Battery, SourceKind::Inverter];
    let kind = select([&kinds[..], &[SourceKind::OtherBoard]].concat());
    let device = prop::option::of(select(bay.board.devices.iter().map(|device| device.id.clone()).collect::<Vec<_>>()));
    let reaches = prop::option::of(select(vec![Conductor::L, Conductor::L2, Conductor::Sl]));
    (name(), kind, text(), device, reaches).prop_map(|(id, kind, label, device, reaches)| Source {
        id: SourceId::new(&id).unwrap(),
        kind,
        label,
        device,
        reaches,
    })
}

/// Every fault that may be planted in this bay.
fn faults(bay: &Bay) -> Vec<Fault> {
    let mut all =
        vec![Fault::SecondSupply { source: None }, Fault::BrokenNeutral, Fault::LostEarth, Fault::CrossedPolarity];
    all.extend(bay.sources.iter().map(|source| Fault::SecondSupply { source: Some(source.id.clone()) }));
    all.extend(bay.circuits.iter().map(|circuit| Fault::BorrowedNeutral { from: circuit.id.clone() }));
    for device in &bay.board.devices {
        all.extend(device.poles.iter().map(|pole| Fault::StuckPole { device: device.id.clone(), pole: *pole }));
    }
    for switch in bay.switches() {
        let stuck = |setting| Fault::StuckSwitch { switch: switch.id.clone(), setting };
        all.extend(Setting::BOTH.map(stuck));
        let contacts = match switch.kind {
            SwitchKind::OneWay => 1,
            SwitchKind::TwoWay => 2,
            SwitchKind::Intermediate => 4,
        };
        all.extend((1..=contacts).map(|contact| Fault::BrokenContact { switch: switch.id.clone(), contact }));
        let from = &bay.circuits[0].id;
        all.extend([1, 2].map(|wire| Fault::JoinedStrapper { behind: switch.id.clone(), wire, from: from.clone() }));
    }
    all
}

fn setup(bay: &Bay) -> impl Strategy<Value = Setup> + use<> {
    let devices: Vec<DeviceId> = bay.board.devices.iter().map(|device| device.id.clone()).collect();
    let switches: Vec<SwitchId> = bay.switches().map(|switch| switch.id.clone()).collect();
    let count = switches.len();
    let set = subsequence(switches, 0..=count).prop_flat_map(|switches| {
        let settings = prop::collection::vec(select(Setting::BOTH.to_vec()), switches.len());
        settings.prop_map(move |settings| {
            let each = switches.iter().cloned().zip(settings);
            each.map(|(switch, setting)| SwitchSetting { switch, setting }).collect()
        })
    });
    let planted = prop::collection::vec(select(faults(bay)), 0..6);
    (subsequence(devices.clone(), 0..=devices.len()), set, planted).prop_map(|(off, switches, planted)| Setup {
        off,
        switches,
        planted,
    })
}

/// Any bay.
fn any_bay() -> impl Strategy<Value = Bay> {
    let with_sources = bare_bay().prop_flat_map(|bay| {
        prop::collection::vec(source(&bay), 0..4).prop_map(move |mut sources| {
            for (at, source) in sources.iter_mut().enumerate() {
                source.id = SourceId::new(&format!("{}.{at}", source.id)).unwrap();
            }
            Bay { sources, ..bay.clone() }
        })
    });
    with_sources.prop_flat_map(|bay| {
        let devices: Vec<DeviceId> = bay.board.devices.iter().map(|device| device.id.clone()).collect();
        let items = prop::collection::vec((name(), text(), short(), thing(devices)), 1..6);
        (setup(&bay), items).prop_map(move |(setup, items)| {
            let key = ItemId::new("the-key").unwrap();
            let mut table = vec![
                Item { id: key.clone(), label: "Key".into(), short: None, thing: Thing::Key },
                Item {
                    id: ItemId::new("its-lock").unwrap(),
                    label: "Lock".into(),
                    short: None,
                    thing: Thing::Padlock { key },
                },
            ];
            for (at, (id, label, short, thing)) in items.into_iter().enumerate() {
                table.push(Item { id: ItemId::new(&format!("{id}.{at}")).unwrap(), label, short, thing });
            }
            Bay { setup, table, ..bay.clone() }
        })
    })
}

/// A checklist of which nothing asks what a generated bay cannot give.
fn plain_checklist() -> impl Strategy<Value = Checklist> {
    any_checklist().prop_map(|mut checklist| {
        for criterion in checklist.stages.iter_mut().flat_map(|stage| &mut stage.criteria) {
            criterion.decided = crate::marking::Decided::ByEye;
        }
        checklist
    })
}

/// Any task.
pub(crate) fn any_task() -> impl Strategy<Value = Task> {
    let words = (text(), text(), text(), any::<bool>());
    (words, 1..=600u16, 0..=100u8, any_bay(), plain_checklist()).prop_map(
        |(words, minutes, pass_percent, bay, checklist)| {
            let (title, first, second, one_line) = words;
            let briefing = if one_line { first } else { format!("{first}\n{second}") };
            Task { title, briefing, minutes, pass_percent, bay, checklist, extra: ExtraTime::default() }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, max_shrink_iters: 256, ..ProptestConfig::with_cases(256) })]

    #[test]
    fn a_task_reads_as_it_was_written(task in any_task()) {
        let written = task_file(&task);
        prop_assert_eq!(Task::read_toml(&written).map_err(|faults| format!("{faults}\n{written}")), Ok(task));
    }

    #[test]
    fn a_task_becomes_a_sketch_and_the_same_task_again(task in any_task()) {
        let sketch = Sketch::of_task(&task);
        prop_assert_eq!(sketch.task(), Ok(task.clone()));
        prop_assert_eq!(sketch.bay(), Some(task.bay.clone()));
        prop_assert_eq!(differences(&sketch, &Sketch::of_task(&task)), []);
        // As it is stored.
        let stored: Sketch = serde_json::from_str(&serde_json::to_string(&sketch).unwrap()).unwrap();
        prop_assert_eq!(stored.task(), Ok(task));
    }
}
