use super::{FLAWLESS, lines, stairwell};
use crate::marking::observation::{Control, EndReason, OrderOff, Reading, Text};
use crate::marking::read::act::KINDS;
use crate::marking::{Act, Log, Outcome};
use serde_json::{Value, json};

/// A name of version 7 that no other number has.
pub(super) fn id(number: usize) -> String {
    format!("01a2dcc1-8600-7000-8000-{number:012x}")
}

/// One line of a log.
pub(super) fn line(seq: usize, act: &Value) -> String {
    json!({"id": id(seq), "seq": seq, "at_ms": (seq - 1) * 1_000, "wall": "2027-01-03T18:13:20Z", "act": act})
        .to_string()
}

/// A log that starts and then holds these acts.
fn log(acts: &[Value]) -> String {
    let started = [json!({"kind": "started"})];
    let lines: Vec<String> = started.iter().chain(acts).enumerate().map(|(at, act)| line(at + 1, act)).collect();
    lines.join("\n") + "\n"
}

fn read(text: &str) -> Result<Log, crate::reading::Faults> {
    Log::read(text.as_bytes(), &stairwell())
}

/// The one fault of the second line, an act.
fn fault_of(act: Value) -> String {
    let faults = lines(read(&log(std::slice::from_ref(&act))));
    assert_eq!(faults.len(), 1, "{act}: {faults:?}");
    faults[0].clone()
}

#[test]
fn every_worked_log_is_read() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/examples");
    let logs = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let logs: Vec<_> = logs.filter(|path| path.extension().is_some_and(|kind| kind == "ndjson")).collect();
    assert_eq!(logs.len(), 10);
    for path in logs {
        let bytes = std::fs::read(&path).unwrap();
        let log = Log::read(&bytes, &stairwell());
        assert_eq!(lines(log.clone()), [""; 0], "{path:?}");
        assert_eq!(log.unwrap().observations().len(), bytes.split(|byte| *byte == b'\n').count() - 1);
    }
}

#[test]
fn a_log_written_again_reads_to_the_same_log() {
    let log = read(FLAWLESS).unwrap();
    let text: Vec<String> = log.observations().iter().map(|one| serde_json::to_string(one).unwrap()).collect();
    assert_eq!(read(&text.join("\n")).unwrap(), log);
}

/// Every kind with all of its fields; each act is valid in the worked example.
fn every_act() -> Vec<Value> {
    vec![
        json!({"kind": "paused", "reason": "alarm", "text": "Fire bell"}),
        json!({"kind": "resumed"}),
        json!({"kind": "identified", "circuit": "stairs", "device": "Q2"}),
        json!({"kind": "permission_asked", "circuit": "stairs"}),
        json!({"kind": "permission_given", "circuit": "stairs"}),
        json!({"kind": "picked", "item": "nc-a"}),
        json!({"kind": "returned", "item": "nc-a"}),
        json!({"kind": "inspected", "item": "vi-a", "part": "rating"}),
        json!({"kind": "load_off", "circuit": "stairs"}),
        json!({"kind": "switched", "device": "Q2", "to": "off"}),
        json!({"kind": "fitted", "item": "lo-b", "device": "Q2"}),
        json!({"kind": "locked", "item": "pl-a", "device": "Q2", "holds": false}),
        json!({"kind": "posted", "item": "no-a", "device": "Q2", "filled": true}),
        json!({"kind": "key", "item": "key-a", "place": "in_lock"}),
        json!({"kind": "removed", "item": "no-a", "device": "Q2"}),
        json!({"kind": "control_tried", "device": "Q2", "result": "nothing"}),
        json!({"kind": "control_tried", "switch": "S3", "result": "started"}),
        json!({"kind": "proved", "item": "mm-a", "on": "tips_together", "shows": "some"}),
        json!({"kind": "opened", "point": "lamp"}),
        json!({"kind": "lamp_out", "point": "lamp"}),
        json!({"kind": "lamp_in", "point": "lamp"}),
        json!({"kind": "operated", "switch": "S1"}),
        json!({"kind": "tested", "point": "lamp", "first": "E", "second": "SL", "reading": "tripped", "order_off": "first_first", "item": "vi-a"}),
        json!({"kind": "touched", "point": "lamp"}),
        json!({"kind": "closed", "point": "lamp"}),
        json!({"kind": "declared", "circuit": "stairs"}),
        json!({"kind": "ticked", "criterion": "tidy", "outcome": "not_applicable", "text": "Seen by nobody"}),
        json!({"kind": "remark", "text": " ", "criterion": "key"}),
        json!({"kind": "prompted", "text": "Told to look up"}),
        json!({"kind": "stepped_in", "reason": "wrong_device", "text": "Hand on the yard's breaker"}),
        json!({"kind": "unsure", "observation": id(3)}),
        json!({"kind": "view_blocked"}),
        json!({"kind": "view_clear"}),
        json!({"kind": "struck", "observation": id(4), "reason": "mis_tap", "text": "Wrong tile"}),
        json!({"kind": "ended", "reason": "unsafe"}),
    ]
}

#[test]
fn every_kind_and_field_of_the_contract_is_read_and_written_alike() {
    let acts = every_act();
    let log = read(&log(&acts)).unwrap();
    for (observation, act) in log.observations().iter().skip(1).zip(&acts) {
        assert_eq!(serde_json::to_value(&observation.act).unwrap(), *act);
    }
    let mut kinds: Vec<&str> = acts.iter().filter_map(|act| act["kind"].as_str()).collect();
    kinds.extend(["started", "source_listed"]);
    let missing: Vec<_> = KINDS.iter().filter(|kind| !kinds.contains(kind)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn each_field_is_required_or_has_the_default_of_the_contract() {
    let optional = |kind: &str, key: &str| {
        matches!((kind, key), (_, "text") | (_, "order_off") | ("tested", "item") | ("ended", "reason"))
            && (kind, key) != ("remark", "text")
            || (kind, key) == ("remark", "criterion")
    };
    for (at, act) in every_act().iter().enumerate() {
        for key in act.as_object().unwrap().keys() {
            let mut acts = every_act();
            acts[at].as_object_mut().unwrap().remove(key);
            let faults = lines(read(&log(&acts)));
            let here = format!("line {}, act", at + 2);
            let wanted = !optional(act["kind"].as_str().unwrap(), key);
            assert_eq!(faults.len(), usize::from(wanted), "{act} without {key}: {faults:?}");
            assert!(faults.iter().all(|fault| fault.starts_with(&here) && fault.contains("is missing")), "{faults:?}");
        }
    }
    let log = read(&log(&[
        json!({"kind": "tested", "point": "lamp", "first": "E", "second": "N", "reading": "none"}),
        json!({"kind": "ended"}),
    ]));
    let log = log.unwrap();
    let Act::Tested { reading, order_off, item, .. } = &log.observations()[1].act else { panic!("a test was written") };
    assert_eq!((*reading, *order_off, item), (Reading::None, OrderOff::SecondFirst, &None));
    assert_eq!(log.observations()[2].act, Act::Ended { reason: EndReason::Finished });
}

#[test]
fn an_act_that_does_not_fit_the_task_is_one_fault() {
    let cases = [
        (json!({"kind": "tuned"}), "act.kind: `tuned` is not known here, expected one of started, "),
        (
            json!({"kind": "opened", "point": "lamp", "colour": 3}),
            "act.colour: `colour` is not known here, expected one of kind or point",
        ),
        (json!({"kind": "opened", "point": 3}), "act.point: expected text, found a whole number"),
        (json!({"kind": "opened", "point": null}), "act.point: expected text, found null"),
        (
            json!({"kind": "opened", "point": "a b"}),
            "act.point: `a b`: an identifier is 1 to 64 of A-Z a-z 0-9 . _ : -",
        ),
        (
            json!({"kind": "opened", "point": "lump"}),
            "act.point: the task has no point `lump`, expected one of lamp, flood or socket; did you mean `lamp`?",
        ),
        (
            json!({"kind": "identified", "circuit": "moon", "device": "Q1"}),
            "act.circuit: the task has no circuit `moon`",
        ),
        (
            json!({"kind": "switched", "device": "Q7", "to": "on"}),
            "act.device: the task has no device `Q7`, expected one of Q0, Q1, Q2 or Q3",
        ),
        (
            json!({"kind": "switched", "device": "Q1", "to": "up"}),
            "act.to: `up` is not known here, expected one of off or on",
        ),
        (json!({"kind": "operated", "switch": "S9"}), "act.switch: the task has no switch `S9`"),
        (
            json!({"kind": "source_listed", "source": "grid"}),
            "act.source: the task has no source `grid`, expected none",
        ),
        (json!({"kind": "picked", "item": "spoon"}), "act.item: the task has no item `spoon`"),
        (
            json!({"kind": "fitted", "item": "pl-a", "device": "Q2"}),
            "act.item: `pl-a` is of kind padlock, expected lock_off",
        ),
        (
            json!({"kind": "locked", "item": "lo-a", "device": "Q2", "holds": true}),
            "act.item: `lo-a` is of kind lock_off, expected padlock",
        ),
        (
            json!({"kind": "posted", "item": "key-a", "device": "Q2", "filled": true}),
            "act.item: `key-a` is of kind key, expected notice",
        ),
        (json!({"kind": "key", "item": "no-a", "place": "kept"}), "act.item: `no-a` is of kind notice, expected key"),
        (
            json!({"kind": "removed", "item": "key-a", "device": "Q2"}),
            "act.item: `key-a` is of kind key, expected lock_off or padlock or notice",
        ),
        (
            json!({"kind": "proved", "item": "pu-a", "on": "known_live", "shows": "all"}),
            "act.item: `pu-a` is of kind proving_unit, expected voltage_indicator or multimeter or non_contact_indicator",
        ),
        (
            json!({"kind": "tested", "point": "lamp", "first": "E", "second": "L", "reading": "none"}),
            "act.second: there is no L at `lamp`, expected one of SL, N or E",
        ),
        (
            json!({"kind": "tested", "point": "lamp", "first": "E", "second": "E", "reading": "none"}),
            "act.second: the same conductor twice, expected another than `first`",
        ),
        (
            json!({"kind": "tested", "point": "lamp", "first": "E", "second": "N", "reading": "none", "item": "lo-a"}),
            "act.item: `lo-a` is of kind lock_off",
        ),
        (
            json!({"kind": "control_tried", "device": "Q1", "switch": "S1", "result": "nothing"}),
            "act.switch: expected `device` or `switch`, found both",
        ),
        (
            json!({"kind": "ticked", "criterion": "tidy", "outcome": "not_seen"}),
            "act.outcome: `not_seen` is not known here, expected one of met, not_met or not_applicable",
        ),
        (
            json!({"kind": "ticked", "criterion": "key", "outcome": "met"}),
            "act.criterion: `key` is worked out by a rule, expected a criterion decided by_eye",
        ),
        (
            json!({"kind": "ticked", "criterion": "tydi", "outcome": "met"}),
            "act.criterion: the task has no criterion `tydi`",
        ),
        (json!({"kind": "remark", "text": ""}), "act.text: expected text, found nothing between the quotes"),
        (json!({"kind": "remark", "text": "a\u{0}b"}), "act.text: the character NUL cannot be kept; take it out"),
        (
            json!({"kind": "remark", "text": "é".repeat(2_001)}),
            "act.text: expected at most 2000 characters, found 2001",
        ),
        (
            json!({"kind": "struck", "observation": id(7), "reason": "twice"}),
            "act.observation: no observation `01a2dcc1-8600-7000-8000-000000000007` was recorded before this one",
        ),
        (
            json!({"kind": "struck", "observation": id(2), "reason": "twice"}),
            "act.observation: no observation `01a2dcc1-8600-7000-8000-000000000002` was recorded before this one",
        ),
        (
            json!({"kind": "unsure", "observation": "soon"}),
            "act.observation: expected a UUID, such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f, found `soon`",
        ),
        (json!({"kind": "started"}), "at_ms: expected 0, where the session starts, found 1000"),
        (json!("started"), "act: expected a table, found text"),
    ];
    for (act, expected) in cases {
        let faults = lines(read(&log(std::slice::from_ref(&act))));
        // A second start is wrong in two ways.
        let few = if act["kind"] == "started" { 2 } else { 1 };
        assert_eq!(faults.len(), few, "{act}: {faults:?}");
        assert!(faults.iter().any(|fault| fault.starts_with(&format!("line 2, {expected}"))), "{faults:?}\n{expected}");
    }
}

#[test]
fn the_longest_text_is_kept_whole() {
    let text = "é".repeat(Text::LONGEST);
    let log = read(&log(&[json!({"kind": "remark", "text": text})])).unwrap();
    assert_eq!(serde_json::to_value(&log.observations()[1].act).unwrap()["text"], text);
}

#[test]
fn an_unknown_kind_is_answered_with_the_kinds_there_are() {
    let fault = fault_of(json!({"kind": "teste", "point": "lamp"}));
    assert!(KINDS.iter().all(|kind| fault.contains(kind)), "{fault}");
    assert!(fault.ends_with("did you mean `tested`?"), "{fault}");
}

#[test]
fn a_key_that_stands_twice_is_refused() {
    let twice = log(&[]).replace("\"seq\":1", "\"seq\":1,\"seq\":1");
    assert_eq!(lines(read(&twice)), ["line 1: the key `seq` stands here twice"]);
}

#[test]
fn depth_is_limited_and_a_deep_line_costs_no_stack() {
    let deep = |depth: usize| log(&[]).replace(r#""started""#, &format!("{}{}", "[".repeat(depth), "]".repeat(depth)));
    assert_eq!(lines(read(&deep(30))), ["line 1, act.kind: expected a word, found a list"]);
    for depth in [31, 100_000, 500_000] {
        assert_eq!(lines(read(&deep(depth))), ["line 1: nested deeper than 32 lists and tables"], "{depth}");
    }
}

#[test]
fn marks_and_ends_of_lines_are_passed_over() {
    let plain = log(&every_act());
    let expected = read(&plain).unwrap();
    for text in [
        format!("\u{feff}{plain}"),
        plain.replace('\n', "\r\n"),
        plain.trim_end().to_owned(),
        format!("{plain}\n"),
        format!("{}\r\n \t\r\n", plain.trim_end()),
    ] {
        assert_eq!(read(&text).unwrap(), expected);
    }
}

#[test]
fn other_blank_lines_are_faults() {
    let plain = log(&[json!({"kind": "ended"})]);
    assert_eq!(lines(read(&format!("{plain}\n\n"))), ["line 3: a blank line, expected an observation"]);
    let faults = lines(read(&plain.replacen('\n', "\n\n", 1)));
    assert_eq!(faults[0], "line 2: a blank line, expected an observation");
}

#[test]
fn a_log_with_nothing_in_it_is_refused() {
    for text in ["", "\n", "\r\n", "\u{feff}"] {
        let expected = "line 1: nothing recorded, expected an observation of kind `started` first";
        assert_eq!(lines(read(text)), [expected], "{text:?}");
    }
}

#[test]
fn a_gap_in_seq_is_one_fault() {
    let acts = every_act();
    let text = log(&acts);
    let gap: String =
        text.lines().enumerate().filter(|(at, _)| *at != 1).map(|(_, line)| format!("{line}\n")).collect();
    assert_eq!(lines(read(&gap)), ["line 2, seq: expected 2, for `seq` counts the lines from 1, found 3"]);
    let twice = text.replacen("\"seq\":3", "\"seq\":2", 1);
    assert_eq!(lines(read(&twice)).len(), 2);
}

#[test]
fn an_id_that_stands_twice_names_both_lines() {
    let text = log(&[json!({"kind": "view_blocked"}), json!({"kind": "view_clear"})]).replacen(&id(3), &id(2), 1);
    assert_eq!(lines(read(&text)), [format!("line 3, id: `{}` is already the id of line 2", id(2))]);
    // The spelling of a UUID does not matter (RFC 9562, section 4).
    let text = text.replacen(&id(2), &id(2).to_uppercase(), 1);
    assert_eq!(lines(read(&text)).len(), 1);
}

#[test]
fn a_session_starts_once_and_first() {
    let text = log(&[]).replace("started", "resumed");
    let expected = "line 1, act.kind: expected `started`, for a session starts with its first observation";
    assert_eq!(lines(read(&text)), [expected]);
    let text = log(&[]).replace("\"at_ms\":0", "\"at_ms\":5");
    assert_eq!(lines(read(&text)), ["line 1, at_ms: expected 0, where the session starts, found 5"]);
    let again = log(&[json!({"kind": "started"})]).replace("\"at_ms\":1000", "\"at_ms\":0");
    let expected = "line 2, act.kind: started already on line 1; strike one of the two, or record `resumed`";
    assert_eq!(lines(read(&again)), [expected]);
    let struck = log(&[json!({"kind": "started"}), json!({"kind": "struck", "observation": id(2), "reason": "twice"})]);
    assert_eq!(lines(read(&struck.replace("\"at_ms\":1000", "\"at_ms\":0"))), [""; 0]);
}

#[test]
fn a_broken_line_does_not_make_the_ones_after_it_look_wrong() {
    let acts = every_act();
    let text = log(&acts).replacen("\"kind\":\"identified\"", "\"kind\":\"identifed\"", 1);
    let faults = lines(read(&text));
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(faults[0].starts_with("line 4, act.kind: "), "{faults:?}");
}

#[test]
fn faults_of_many_lines_are_reported_at_once_and_cut_short() {
    let acts = vec![json!({"kind": "opened", "point": "moon"}); 250];
    let faults = lines(read(&log(&acts)));
    assert_eq!(faults.len(), 201);
    assert!(faults[0].starts_with("line 2, act.point: ") && faults[199].starts_with("line 201, "));
    assert_eq!(faults[200], "line 201: and 50 more faults");
    let acts = vec![json!({"kind": "opened", "point": "moon"}); 5_000];
    assert_eq!(lines(read(&log(&acts)))[200], "line 201: and 4800 more faults");
}

#[test]
fn too_long_a_line_and_too_many_lines_are_refused() {
    let long = log(&[json!({"kind": "remark", "text": "x".repeat(1_048_576)})]);
    let faults = lines(read(&long));
    assert_eq!(faults.len(), 1);
    assert!(faults[0].starts_with("line 2: expected at most 1048576 bytes in a line, found 1048"), "{faults:?}");
    let many = "{}\n".repeat(100_001);
    assert_eq!(lines(read(&many)), ["line 100001: expected at most 100000 lines, found 100001"]);
}

#[test]
fn invalid_utf_8_is_refused_with_its_place() {
    let mut bytes = log(&[json!({"kind": "remark", "text": "caf#"})]).into_bytes();
    let at = bytes.iter().position(|byte| *byte == b'#').unwrap();
    bytes[at] = 0xe9;
    let faults = lines(Log::read(&bytes, &stairwell()));
    assert_eq!(faults.len(), 1);
    assert!(faults[0].starts_with("line 2: not valid UTF-8 from byte "), "{faults:?}");
}

#[test]
fn ticks_and_controls_are_read_into_their_types() {
    let log = read(&log(&[
        json!({"kind": "ticked", "criterion": "tidy", "outcome": "not_met"}),
        json!({"kind": "control_tried", "switch": "S1", "result": "nothing"}),
    ]));
    let log = log.unwrap();
    assert!(matches!(log.observations()[1].act, Act::Ticked { outcome: Outcome::NotMet, text: None, .. }));
    assert!(matches!(log.observations()[2].act, Act::ControlTried { control: Control::Switch(_), .. }));
}
