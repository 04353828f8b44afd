//! Every wiring and every fault that the format knows, against what the trade knows of them.

use super::bays::{
    EXTRACTOR, ONE_WAY, ROSE, TWO_WAY, bay, changed, set, stairwell, stairwell_with, volts, volts_at, with_off,
    with_switches,
};
use crate::support::script::STAIRWELL;
use Conductor::{E, L, L1, L2, L3, N, Sl};
use baywitness::bay::network::{State, readings};
use baywitness::bay::{Bay, Conductor, PointId};
use baywitness::marking::Task;

const LIVE: std::ops::RangeInclusive<f64> = 225.0..=231.0;
const NONE: std::ops::RangeInclusive<f64> = 0.0..=1.0;

#[track_caller]
fn assert_reads(bay: &Bay, state: &State, pair: [Conductor; 2], range: &std::ops::RangeInclusive<f64>) {
    let volts = volts(bay, state, pair[0], pair[1]);
    assert!(range.contains(&volts), "{}–{}: {volts} V", pair[0], pair[1]);
}

/// Source: the switching truth tables of `tests/reference/trade/facts.toml`.
#[test]
fn the_switched_line_follows_the_truth_tables_of_its_switches() {
    let facts: toml::Table = include_str!("../../reference/trade/facts.toml").parse().expect("TOML");
    for (table, switches) in
        facts["switching"].as_array().expect("tables").iter().zip([Some(ONE_WAY), Some(TWO_WAY), None])
    {
        let bay = switches.map_or_else(stairwell, with_switches);
        let count = bay.circuit(&bay.isolate.circuit).expect("the circuit").switches.len();
        let live: Vec<bool> = (0..1 << count)
            .map(|bits| {
                let mut state = with_off(&bay, &[]);
                set(&bay, &mut state, bits);
                volts(&bay, &state, E, Sl) > 200.0
            })
            .collect();
        let rows = table["rows"].as_array().expect("rows");
        assert_eq!(rows.len(), live.len());
        // Which setting is called 1 is a convention; the lamp must be on in as many rows and change with every switch.
        let on = rows.iter().filter(|row| row.as_array().and_then(|row| row.last()?.as_integer()) == Some(1)).count();
        assert_eq!(live.iter().filter(|live| **live).count(), on);
        for bits in 0..live.len() {
            (0..count).for_each(|switch| assert_ne!(live[bits], live[bits ^ (1 << switch)], "{bits} {switch}"));
        }
    }
}

#[test]
fn a_dead_circuit_shows_nothing_in_any_setting() {
    for bay in [stairwell(), with_switches(ONE_WAY), with_switches(TWO_WAY), bay(EXTRACTOR), bay(ROSE)] {
        let named = bay.isolate.device.to_string();
        let count = bay.circuit(&bay.isolate.circuit).expect("the circuit").switches.len();
        for bits in 0..1 << count {
            for lamp_in in [false, true] {
                let mut state = with_off(&bay, &[&named]);
                state.lamp_in = lamp_in;
                set(&bay, &mut state, bits);
                for shown in readings(&bay, &bay.isolate.point, &state).expect("a solution") {
                    assert!(NONE.contains(&shown.volts), "{named} {bits}: {shown:?}");
                }
            }
        }
    }
}

#[test]
fn with_every_device_off_no_pair_of_any_point_shows_anything() {
    for bay in [stairwell(), bay(EXTRACTOR), bay(ROSE)] {
        let devices: Vec<&str> = bay.board.devices.iter().map(|device| device.id.as_str()).collect();
        let state = with_off(&bay, &devices);
        for point in bay.points() {
            for shown in readings(&bay, &point.id, &state).expect("a solution") {
                assert!(shown.volts < 0.1 && shown.unloaded_volts < 1.0, "{}: {shown:?}", point.id);
            }
        }
    }
}

#[test]
fn a_loop_in_rose_has_its_permanent_line_in_every_setting() {
    let bay = bay(ROSE);
    for bits in 0..2 {
        let mut state = with_off(&bay, &[]);
        set(&bay, &mut state, bits);
        assert_reads(&bay, &state, [L, N], &LIVE);
        assert_reads(&bay, &state, [L, E], &LIVE);
        let switched = if bits == 1 { &LIVE } else { &NONE };
        assert_reads(&bay, &state, [Sl, E], switched);
    }
    // Lamp in and switch off: the lamp ties SL to N, so the pair L–SL shows the supply behind it.
    let mut state = with_off(&bay, &[]);
    state.lamp_in = true;
    set(&bay, &mut state, 0);
    assert_reads(&bay, &state, [L, Sl], &(210.0..=215.0));
}

#[test]
fn three_phases_show_400_volts_between_lines() {
    let bay = bay(EXTRACTOR);
    let state = with_off(&bay, &[]);
    for pair in [[L1, L2], [L2, L3], [L1, L3]] {
        assert_reads(&bay, &state, pair, &(395.0..=400.0));
    }
    for line in [L1, L2, L3] {
        assert_reads(&bay, &state, [line, N], &LIVE);
    }
    let saw = PointId::new("saw-isolator").expect("well formed");
    assert!((395.0..=400.0).contains(&volts_at(&bay, &saw, &state, L1, L3)), "without N");
    let socket = PointId::new("bench-socket").expect("well formed");
    assert!(LIVE.contains(&volts_at(&bay, &socket, &state, L2, N)), "the ring");
}

fn planted(faults: &str) -> Bay {
    bay(&(STAIRWELL.to_owned() + &format!("\n[setup]\nplanted = [{faults}]\n")))
}

#[test]
fn crossed_polarity_leaves_the_neutral_live_behind_a_one_pole_breaker() {
    let bay = planted(r#"{ fault = "crossed_polarity" }"#);
    assert_reads(&bay, &with_off(&bay, &["Q2"]), [N, E], &LIVE);
    assert_reads(&bay, &with_off(&bay, &["Q0"]), [N, E], &NONE);
}

#[test]
fn a_borrowed_neutral_shows_once_the_neutral_is_off_its_bar() {
    let state = |bay: &Bay| with_off(bay, &["Q2"]);
    let borrowed = r#"{ fault = "borrowed_neutral", from = "bench" }"#;
    let bay = planted(borrowed);
    assert_reads(&bay, &state(&bay), [N, E], &NONE);
    let bay = planted(&format!(r#"{borrowed}, {{ fault = "broken_neutral" }}"#));
    assert_reads(&bay, &state(&bay), [N, E], &(190.0..=230.0));
    assert_reads(&bay, &with_off(&bay, &["Q2", "Q3"]), [N, E], &NONE);
}

#[test]
fn a_lost_earth_hides_a_live_line_from_the_test_to_earth() {
    let bay = planted(r#"{ fault = "lost_earth" }"#);
    let mut state = with_off(&bay, &[]);
    set(&bay, &mut state, 0);
    assert_reads(&bay, &state, [Sl, N], &LIVE);
    assert_reads(&bay, &state, [Sl, E], &NONE);
}

#[test]
fn a_stuck_pole_and_a_second_supply_keep_the_point_live() {
    let bay = planted(r#"{ fault = "stuck_pole", device = "Q2", pole = "L" }"#);
    assert_reads(&bay, &with_off(&bay, &["Q2"]), [Sl, E], &LIVE);
    let bay = planted(r#"{ fault = "second_supply" }"#);
    assert_reads(&bay, &with_off(&bay, &["Q0", "Q2"]), [Sl, E], &LIVE);
}

#[test]
fn a_stuck_switch_and_a_broken_contact_change_what_a_throw_does() {
    let bay = planted(r#"{ fault = "stuck_switch", switch = "S1", setting = "1" }"#);
    let mut state = with_off(&bay, &[]);
    let readings: Vec<f64> = [0, 1]
        .map(|bits| {
            set(&bay, &mut state, bits);
            volts(&bay, &state, Sl, E)
        })
        .to_vec();
    assert_eq!(readings[0], readings[1]);
    let bay = planted(r#"{ fault = "broken_contact", switch = "S1", contact = 1 }"#);
    let live = (0..8)
        .filter(|&bits| {
            set(&bay, &mut state, bits);
            volts(&bay, &state, Sl, E) > 200.0
        })
        .count();
    assert_eq!(live, 2, "of the four lit settings the two through the other contact");
}

#[test]
fn a_joined_strapper_is_live_through_the_switch_next_to_the_lamp() {
    let bay = planted(r#"{ fault = "joined_strapper", behind = "S2", wire = 1, from = "bench" }"#);
    let mut state = with_off(&bay, &["Q2"]);
    let live: Vec<usize> = (0..8)
        .filter(|&bits| {
            set(&bay, &mut state, bits);
            volts(&bay, &state, Sl, E) > 200.0
        })
        .collect();
    assert_eq!(live, [0, 1, 2, 3], "S3 in its first setting, whatever the others do");
}

#[test]
fn the_isolator_of_a_second_source_takes_it_away() {
    let text = changed(
        EXTRACTOR,
        &[
            (
                "[[circuits]]\nid = \"fan\"",
                "[[board.devices]]\nid = \"Q9\"\nkind = \"isolator\"\npoles = [\"L1\"]\nlabel = \"Damper\"\n\n[[circuits]]\nid = \"fan\"",
            ),
            (
                "label = \"Damper control from the plant room board, locked off there today\"",
                "label = \"Damper control\"\ndevice = \"Q9\"\nreaches = \"L2\"",
            ),
        ],
    );
    let bay = bay(&text);
    assert_reads(&bay, &with_off(&bay, &["Q2"]), [L2, E], &LIVE);
    assert_reads(&bay, &with_off(&bay, &["Q2"]), [L1, E], &NONE);
    assert_reads(&bay, &with_off(&bay, &["Q2", "Q9"]), [L2, E], &NONE);
}

#[test]
fn a_motor_shares_out_one_line_that_stayed_on() {
    for connection in ["star", "delta"] {
        let text = changed(
            EXTRACTOR,
            &[(
                "conductors = [\"L1\", \"L2\", \"L3\", \"N\", \"E\"] }",
                &format!(
                    "conductors = [\"L1\", \"L2\", \"L3\", \"N\", \"E\"], load = {{ connection = \"{connection}\", ohm = 30.0, reactance_ohm = 20.0 }} }}"
                ),
            )],
        );
        let bay = bay(&(text + "\n[setup]\nplanted = [{ fault = \"stuck_pole\", device = \"Q2\", pole = \"L1\" }]\n"));
        let mut state = with_off(&bay, &["Q2"]);
        for line in [L1, L2, L3] {
            assert_reads(&bay, &state, [line, E], &LIVE);
        }
        assert_reads(&bay, &state, [L1, L2], &NONE);
        state.loads_on = false;
        assert_reads(&bay, &state, [L2, E], &NONE);
    }
}

#[test]
fn a_long_cable_shows_a_phantom_voltage_only_without_load() {
    let text = changed(
        ROSE,
        &[(
            "wiring = \"loop_in\"\nswitches = [{ id = \"S1\"",
            "wiring = \"loop_in\"\nlength_m = 60\nswitches = [{ id = \"S1\"",
        )],
    );
    let bay = bay(&text);
    let mut state = with_off(&bay, &[]);
    set(&bay, &mut state, 0);
    let shown = readings(&bay, &bay.isolate.point, &state).expect("a solution");
    let floating = shown.iter().find(|shown| shown.pair == [E, Sl]).expect("the pair");
    assert!(floating.unloaded_volts > 40.0 && floating.volts < 10.0, "{floating:?}");
}

#[test]
fn what_makes_no_network_is_an_error_that_names_the_element() {
    let text = changed(
        EXTRACTOR,
        &[(
            "label = \"Damper control from the plant room board, locked off there today\"",
            "label = \"Damper\"\nreaches = \"SL\"",
        )],
    );
    let broken = bay(&text);
    let why = readings(&broken, &broken.isolate.point, &State::set_up(&broken)).expect_err("no SL at the fan");
    assert_eq!(why.element, "damper");
    let twice = r#"{ fault = "stuck_switch", switch = "S1", setting = "1" }, { fault = "stuck_switch", switch = "S1", setting = "2" }"#;
    let bay = planted(twice);
    let why = readings(&bay, &bay.isolate.point, &State::set_up(&bay)).expect_err("stuck both ways");
    assert_eq!(why.element, "S1");
}

#[test]
fn the_setup_is_read_and_its_faults_are_named() {
    let setup = "\n[setup]\noff = [\"Q3\"]\nswitches = [{ switch = \"S2\", setting = \"crossed\" }]\nplanted = [{ fault = \"lost_earth\" }]\n";
    let bay = bay(&(STAIRWELL.to_owned() + setup));
    let state = State::set_up(&bay);
    assert_eq!(state.on, [true, true, true, false]);
    let bad = "\n[setup]\noff = [\"Q7\"]\nswitches = [{ switch = \"S2\", setting = \"2\" }]\nplanted = [{ fault = \"gremlin\" }, { fault = \"stuck_pole\", device = \"Q2\", pole = \"N\" }, { fault = \"broken_contact\", switch = \"S1\", contact = 3 }]\n";
    let faults = Task::read_toml(&(STAIRWELL.to_owned() + bad)).expect_err("five faults");
    let paths: Vec<&str> = faults.as_slice().iter().map(|fault| fault.path.as_str()).collect();
    let expected = [
        "setup.off[0]",
        "setup.switches[0].setting",
        "setup.planted[0].fault",
        "setup.planted[1].pole",
        "setup.planted[2].contact",
    ];
    assert_eq!(paths, expected);
}

#[test]
fn a_load_that_its_point_cannot_hold_is_a_fault() {
    let text = STAIRWELL.replacen("lamp = true }", "lamp = true, load = { connection = \"delta\", ohm = 0 } }", 1);
    let faults = Task::read_toml(&text).expect_err("two faults");
    assert!(faults.to_string().contains("points[0].load.ohm"), "{faults}");
    let bay = stairwell_with(&[("lamp = true }", "load = { connection = \"line_neutral\", ohm = 40 } }")]);
    assert!(bay.points().any(|point| point.load.is_some()));
}

#[test]
fn a_short_circuit_is_an_error_that_names_its_source() {
    // A strapper joined to another phase, with the circuit's own device on.
    let text = changed(
        EXTRACTOR,
        &[
            (
                "circuit = \"fan\"\ndevice = \"Q2\"\npoint = \"fan-box\"",
                "circuit = \"lights\"\ndevice = \"Q4\"\npoint = \"roof-light\"",
            ),
            (
                "switches = [{ id = \"S1\", kind = \"one_way\", label = \"Workshop door\" }]",
                "switches = [{ id = \"S1\", kind = \"two_way\", label = \"Door\" }, { id = \"S2\", kind = \"two_way\", label = \"Gate\" }]",
            ),
        ],
    );
    let joined = "\n[setup]\nplanted = [{ fault = \"joined_strapper\", behind = \"S1\", wire = 1, from = \"fan\" }]\n";
    let bay = bay(&(text + joined));
    let why = readings(&bay, &bay.isolate.point, &State::set_up(&bay)).expect_err("L1 on L3");
    assert!(why.element.starts_with("supply L") && why.says.contains("short circuit"), "{why}");
    assert!(readings(&bay, &bay.isolate.point, &with_off(&bay, &["Q4"])).is_ok());
}
