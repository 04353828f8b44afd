use super::*;
use crate::marking::{Log, Observation};
use serde_json::{Value, json};

const TASK: &str = include_str!("../../../tests/reference/examples/stairwell.toml");
const FLAWLESS: &str = include_str!("../../../tests/reference/examples/stairwell-flawless.ndjson");

fn task() -> Task {
    Task::read_toml(TASK).unwrap()
}

/// A log of these acts, one a second.
fn log(acts: &[Value]) -> Log {
    let seen = |(at, act): (usize, &Value)| {
        let id = uuid::Uuid::from_u128(0x0193_8c1e_0000_7000_8000_0000_0000_0000 | at as u128);
        let text =
            json!({"id": id, "seq": at + 1, "at_ms": at * 1_000, "wall": "2027-02-03T10:00:00.000Z", "act": act});
        Observation::read_json(&text.to_string()).unwrap()
    };
    Log::of_stored(acts.iter().enumerate().map(seen).collect())
}

fn state(acts: &[Value]) -> State {
    State::of(&log(acts), &task())
}

fn named<'a>(tiles: &'a [Tile], label: &str) -> &'a Tile {
    tiles.iter().find(|tile| tile.label == label).unwrap_or_else(|| panic!("no tile {label}"))
}

fn recorded(tile: &Tile) -> Value {
    serde_json::from_str(&tile.acts).unwrap()
}

#[test]
fn a_device_tile_records_the_switch_to_the_other_position() {
    let before = devices(&task(), &state(&[]));
    assert_eq!(recorded(&before[2]), json!([{"kind": "switched", "device": "Q2", "to": "off"}]));
    assert_eq!(before[2].state, "ON");
    let after = devices(&task(), &state(&[json!({"kind": "switched", "device": "Q2", "to": "off"})]));
    assert_eq!(recorded(&after[2]), json!([{"kind": "switched", "device": "Q2", "to": "on"}]));
    assert_eq!((after[2].state.as_str(), after[2].marked), ("OFF", true));
}

#[test]
fn the_less_dangerous_conductor_leads_in_every_left_half() {
    for pair in pairs(&task(), &state(&[]), 4) {
        let act = &recorded(&pair.less_dangerous_first)[0];
        let danger = |field: &str| serde_json::from_value::<Conductor>(act[field].clone()).unwrap().danger();
        assert!(danger("first") < danger("second"), "{}", pair.name);
        let other = &recorded(&pair.more_dangerous_first)[0];
        assert_eq!((&act["first"], &act["second"]), (&other["second"], &other["first"]));
    }
}

#[test]
fn a_pair_tile_takes_the_open_point_and_a_dead_reading_for_granted() {
    let pairs = pairs(&task(), &state(&[json!({"kind": "opened", "point": "flood"})]), 4);
    let want = json!([{"kind": "tested", "point": "flood", "first": "E", "second": "N", "reading": "none"}]);
    assert_eq!(recorded(&pairs[0].less_dangerous_first), want);
}

#[test]
fn what_needs_an_item_says_so_until_one_is_taken() {
    let waiting = acts(&task(), &state(&[]));
    assert!(named(&waiting, "Locks").acts.is_empty());
    let ready = acts(&task(), &state(&[json!({"kind": "picked", "item": "pl-a"})]));
    let want = json!([{"kind": "locked", "item": "pl-a", "device": "Q2", "holds": true}]);
    assert_eq!(recorded(named(&ready, "Locks")), want);
    assert_eq!(recorded(named(&ready, "Key kept")), json!([{"kind": "key", "item": "key-a", "place": "kept"}]));
}

#[test]
fn what_is_secured_is_the_device_last_switched_off() {
    let seen = [json!({"kind": "picked", "item": "lo-a"}), json!({"kind": "switched", "device": "Q1", "to": "off"})];
    let fits = acts(&task(), &state(&seen));
    assert_eq!(recorded(named(&fits, "Fits lock-off")), json!([{"kind": "fitted", "item": "lo-a", "device": "Q1"}]));
}

#[test]
fn looking_over_records_the_parts_that_the_checklist_asks_for() {
    let seen = state(&[json!({"kind": "picked", "item": "vi-a"})]);
    let want = json!([
        {"kind": "inspected", "item": "vi-a", "part": "tips"},
        {"kind": "inspected", "item": "vi-a", "part": "leads"},
    ]);
    assert_eq!(recorded(named(&acts(&task(), &seen), "Looks over")), want);
}

#[test]
fn taking_off_starts_with_what_was_put_on_last() {
    let on = [
        json!({"kind": "fitted", "item": "lo-a", "device": "Q2"}),
        json!({"kind": "locked", "item": "pl-a", "device": "Q2", "holds": true}),
    ];
    let off = json!({"kind": "removed", "item": "pl-a", "device": "Q2"});
    assert_eq!(recorded(named(&acts(&task(), &state(&on)), "Takes off")), json!([off]));
    let after = state(&[on[0].clone(), on[1].clone(), off]);
    let next = json!([{"kind": "removed", "item": "lo-a", "device": "Q2"}]);
    assert_eq!(recorded(named(&acts(&task(), &after), "Takes off")), next);
}

#[test]
fn a_flawless_log_fills_every_cell_of_every_round() {
    let log = Log::read(FLAWLESS.as_bytes(), &task()).unwrap();
    let rounds = rounds(&task(), &State::of(&log, &task()), 4);
    assert_eq!(rounds.heads.len(), 4);
    assert!(rounds.rows.iter().all(|row| row.cells.iter().all(|cell| *cell == ("✓", "dead"))), "{rounds:?}");
}

#[test]
fn a_cell_tells_live_order_and_doubt_apart() {
    let test = |first: &str, second: &str, reading: &str| json!({"kind": "tested", "point": "lamp", "first": first, "second": second, "reading": reading});
    let doubt = json!({"kind": "unsure", "observation": "01938c1e-0000-7000-8000-000000000002"});
    let seen = state(&[test("E", "N", "live"), test("SL", "E", "none"), test("N", "SL", "none"), doubt]);
    let rounds = rounds(&task(), &seen, 4);
    let first: Vec<_> = rounds.rows.iter().map(|row| row.cells[0].1).collect();
    assert_eq!(first, ["live", "other order", "not seen"]);
    assert_eq!(rounds.rows[0].cells[1].1, "not tested");
}

#[test]
fn no_tile_says_whether_it_would_be_right() {
    let all = state(&[]);
    let task = task();
    for tile in [items(&task, &all), devices(&task, &all), switches(&task, &all), acts(&task, &all)].concat() {
        for word in ["right", "wrong", "correct", "suitable", "unsuitable", "good", "bad"] {
            let said = format!("{} {}", tile.label, tile.state).to_lowercase();
            assert!(!said.split_whitespace().any(|one| one == word), "{said}");
        }
    }
}

#[test]
fn a_strike_that_is_struck_takes_nothing_back() {
    let id = |at: u128| uuid::Uuid::from_u128(0x0193_8c1e_0000_7000_8000_0000_0000_0000 | at).to_string();
    let off = json!({"kind": "switched", "device": "Q1", "to": "off"});
    let strike = json!({"kind": "struck", "observation": id(0), "reason": "mis_tap"});
    let back = json!({"kind": "struck", "observation": id(1), "reason": "other"});
    assert!(state(&[off.clone(), strike.clone()]).off.is_empty());
    assert_eq!(state(&[off, strike, back]).off.len(), 1);
}

#[test]
fn strike_takes_back_all_that_one_tap_recorded() {
    let at = |seq: u32, act: Value| {
        let id = uuid::Uuid::from_u128(0x0193_8c1e_0000_7000_8000_0000_0000_0000 | u128::from(seq));
        let text = json!({"id": id, "seq": seq, "at_ms": 4_000, "wall": "2027-02-03T10:00:00.000Z", "act": act});
        Observation::read_json(&text.to_string()).unwrap()
    };
    let asked = at(1, json!({"kind": "permission_asked", "circuit": "stairs"}));
    let given = at(2, json!({"kind": "permission_given", "circuit": "stairs"}));
    let last = super::super::chips::last(&Log::of_stored(vec![asked, given]), &task()).unwrap();
    let strikes: Vec<Value> = serde_json::from_str(&last.strike.acts).unwrap();
    assert_eq!(strikes.len(), 2);
    let not_given: Vec<Value> = serde_json::from_str(&last.chips[0].acts).unwrap();
    assert_eq!(not_given[0]["reason"], "corrected");
}

#[test]
fn a_correction_takes_the_time_of_what_it_corrects() {
    let seen = log(&[
        json!({"kind": "started"}),
        json!({"kind": "tested", "point": "lamp", "first": "E", "second": "N", "reading": "none"}),
    ]);
    let last = super::super::chips::last(&seen, &task()).unwrap();
    let live = last.chips.iter().find(|chip| chip.label == "Reads live").unwrap();
    assert_eq!(live.at_ms, Some(1_000));
    let acts: Vec<Value> = serde_json::from_str(&live.acts).unwrap();
    assert_eq!(
        (&acts[0]["kind"], &acts[0]["reason"], &acts[1]["reading"]),
        (&json!("struck"), &json!("corrected"), &json!("live"))
    );
}

#[test]
fn long_words_may_break_in_their_middle_and_short_ones_nowhere() {
    for (label, want) in [
        ("Q1 Yard floodlight", "Q1 Yard flood\u{ad}light"),
        ("Compressor feed", "Compres\u{ad}sor feed"),
        ("Transformer", "Trans\u{ad}former"),
        ("Stairwell lights", "Stairwell lights"),
        ("", ""),
        ("aaaaaaaaaaaa", "aaaaaaaaaaaa"),
    ] {
        assert_eq!(breakable(label), want);
    }
}

#[test]
fn a_device_that_is_set_up_off_is_shown_off() {
    let task = Task::read_toml(&format!("{TASK}\n[setup]\noff = [\"Q3\"]\n")).unwrap();
    let tiles = devices(&task, &State::of(&log(&[]), &task));
    assert_eq!((tiles[2].state.as_str(), tiles[3].state.as_str()), ("ON", "OFF"));
    assert_eq!(recorded(&tiles[3]), json!([{"kind": "switched", "device": "Q3", "to": "on"}]));
}
