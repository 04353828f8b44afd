use super::{STAIRWELL, lines, stairwell};
use crate::bay::equipment::NoticeKind;
use crate::bay::{Conductor, SwitchKind, Thing};
use crate::marking::{Decided, Rounds, Rule, Task};

#[test]
fn the_worked_example_is_read() {
    let task = stairwell();
    assert_eq!((task.minutes, task.pass_percent, task.checklist.criteria().count()), (25, 70, 23));
    let stairs = task.bay.circuit(&task.bay.isolate.circuit).unwrap();
    let kinds: Vec<_> = stairs.switches.iter().map(|switch| switch.kind).collect();
    assert_eq!(kinds, [SwitchKind::TwoWay, SwitchKind::Intermediate, SwitchKind::TwoWay]);
    assert_eq!(stairs.points[0].conductors, [Conductor::Sl, Conductor::N, Conductor::E]);
    let notice = task.bay.table.iter().find(|item| item.id.as_str() == "no-a").unwrap();
    assert_eq!(notice.thing, Thing::Notice { notice: NoticeKind::DoNotSwitchOn });
    let rule = |id: &str| task.checklist.criteria().find(|one| one.id.as_str() == id).map(|one| one.decided.clone());
    assert_eq!(rule("tidy"), Some(Decided::ByEye));
    assert_eq!(rule("rounds"), Some(Decided::Rule(Rule::AllRoundsTested { rounds: Rounds::EachSwitch })));
}

const DEMOS: [&str; 3] = [
    include_str!("../../../demo/tasks/stairwell.toml"),
    include_str!("../../../demo/tasks/extractor.toml"),
    include_str!("../../../demo/tasks/rose.toml"),
];

#[test]
fn every_demo_task_is_read_and_marked_as_invented() {
    for text in DEMOS {
        let first = text.lines().next().unwrap();
        assert!(first.starts_with('#') && first.contains("Invented"), "{first}");
        assert_eq!(lines(Task::read_toml(text)), [""; 0], "{first}");
        assert!((18..=25).contains(&Task::read_toml(text).unwrap().checklist.criteria().count()), "{first}");
    }
}

#[test]
fn every_demo_criterion_says_why_in_short_sentences() {
    for text in DEMOS {
        let task = Task::read_toml(text).unwrap();
        let texts = task.checklist.criteria().flat_map(|one| [one.when_met.clone(), one.when_not_met.clone()]);
        let texts: Vec<String> = texts.map(|text| text.unwrap()).collect();
        let words: usize = texts.iter().map(|text| text.split_whitespace().count()).sum();
        let sentences: usize = texts.iter().map(|text| text.matches(['.', '?', '!']).count()).sum();
        assert!(words <= 15 * sentences, "{}: {words} words in {sentences} sentences", task.title);
    }
}

#[test]
fn the_demo_stairwell_is_the_worked_example_with_feedback_and_short_forms() {
    let ours = |line: &&str| !line.starts_with("when_") && !line.starts_with("short ");
    let demo: Vec<&str> = DEMOS[0].lines().filter(ours).collect();
    assert_eq!(demo, STAIRWELL.lines().collect::<Vec<_>>());
}

/// The same document in JSON, one key on a line.
fn in_json(text: &str) -> String {
    let value: toml::Value = toml::from_str(text).unwrap();
    serde_json::to_string_pretty(&value).unwrap()
}

#[test]
fn json_of_the_same_structure_reads_to_the_same_task() {
    for text in DEMOS.into_iter().chain([STAIRWELL]) {
        assert_eq!(Task::read_json(&in_json(text)).unwrap(), Task::read_toml(text).unwrap());
    }
}

#[test]
fn faults_in_json_name_their_lines() {
    let json =
        in_json(STAIRWELL).replace("\"minutes\": 25", "\"minutes\": 0").replace("\"volts\": 230", "\"volts\": []");
    let line = |key: &str| json.lines().position(|line| line.contains(key)).unwrap() + 1;
    let minutes = format!("line {}, minutes: expected a whole number from 1 to 600, found 0", line("\"minutes\""));
    let volts =
        format!("line {}, supply.volts: expected a whole number from 50 to 1000, found a list", line("\"volts\""));
    assert_eq!(lines(Task::read_json(&json)), [minutes, volts]);
}

#[test]
fn a_mark_before_the_text_and_crlf_are_passed_over() {
    let text = format!("\u{feff}{}", STAIRWELL.replace('\n', "\r\n"));
    let mut task = Task::read_toml(&text).unwrap();
    task.briefing = task.briefing.replace("\r\n", "\n");
    assert_eq!(task, stairwell());
}

/// Changes the example in one place and tells the faults.
fn changed(from: &str, to: &str) -> Vec<String> {
    assert!(STAIRWELL.contains(from), "{from}");
    lines(Task::read_toml(&STAIRWELL.replacen(from, to, 1)))
}

#[test]
fn one_change_is_one_fault_that_names_line_path_and_what_was_expected() {
    let cases: &[(&str, &str, &str)] = &[
        (
            r#"format = "baywitness task 1""#,
            r#"format = "baywitness task 2""#,
            "line 2, format: expected `baywitness task 1`, found `baywitness task 2`",
        ),
        (
            "pass_percent = 70",
            "pass_percent = 101",
            "line 6, pass_percent: expected a whole number from 0 to 100, found 101",
        ),
        (
            "minutes = 25",
            "minutes = 2.5",
            "line 5, minutes: expected a whole number from 1 to 600, found a number with a fraction",
        ),
        ("minutes = 25\n", "", "line 1, minutes: `minutes` is missing"),
        (
            r#"standards = "GB""#,
            r#"standards = "UK""#,
            "line 4, standards: `UK` is not known here, expected one of GB, IE, EU, US or AU",
        ),
        ("phases = 1", "phases = 2", "line 12, supply.phases: expected 1 or 3 phases, found 2"),
        ("volts = 230", "volts = 24", "line 13, supply.volts: expected a whole number from 50 to 1000, found 24"),
        (
            r#"kind = "main_switch""#,
            r#"kind = "main_swich""#,
            "line 20, board.devices[0].kind: `main_swich` is not known here, expected one of main_switch, isolator, breaker, rcd, rcbo or fuse_switch; did you mean `main_switch`?",
        ),
        (r#"poles = ["L", "N"]"#, r#"poles = ["L", "L"]"#, "line 21, board.devices[0].poles[1]: `L` stands here twice"),
        (
            r#"poles = ["L", "N"]"#,
            r#"poles = ["L1", "N"]"#,
            "line 21, board.devices[0].poles[0]: no L1 here: the supply has one phase, expected L",
        ),
        (
            r#"poles = ["L", "N"]"#,
            r#"poles = ["N"]"#,
            "line 21, board.devices[0].poles: expected a line conductor among the poles",
        ),
        (
            r#"poles = ["L", "N"]"#,
            r#"poles = ["L", "E"]"#,
            "line 21, board.devices[0].poles[1]: a device has no pole for E, expected a line conductor or N",
        ),
        (
            "label = \"Main switch\"",
            "label = \"Main switch\"\nfeeds = \"stairs\"",
            "line 23, board.devices[0].feeds: a main switch feeds the other devices, not a circuit of its own; take `feeds` out",
        ),
        (
            "rating_a = 6",
            "ratings_a = 6",
            "line 28, board.devices[1].ratings_a: `ratings_a` is not known here, expected one of id, kind, poles, rating_a, label, short or feeds; did you mean `rating_a`?",
        ),
        (
            r#"id = "nc-a""#,
            r#"id = "nc a""#,
            "line 124, table[4].id: `nc a`: an identifier is 1 to 64 of A-Z a-z 0-9 . _ : -",
        ),
        (
            "wiring = \"radial\"
switches = []",
            "wiring = \"ring\"
switches = [{ id = \"S4\", kind = \"one_way\", label = \"S\" }]",
            "line 63, circuits[1].switches: radial and ring wiring have no wall switches, expected an empty list",
        ),
        (
            r#"{ id = "S3", kind = "two_way""#,
            r#"{ id = "S3", kind = "intermediate""#,
            "line 52, circuits[0].switches: expected one one_way switch, or two_way, any intermediate, two_way, in the order of the wiring",
        ),
        (
            r#"["SL", "N", "E"]"#,
            r#"["SL", "N"]"#,
            "line 57, circuits[0].points[0].conductors: expected E among the conductors: every point has its earth",
        ),
        (
            r#"["SL", "N", "E"]"#,
            r#"["E"]"#,
            "line 57, circuits[0].points[0].conductors: expected at least two conductors, or there is no pair to test",
        ),
        (
            r#"["SL", "N", "E"]"#,
            r#"["L", "SL", "N", "E"]"#,
            "line 57, circuits[0].points[0].conductors[0]: with the feed at the switch a light has the switched line SL only, no permanent line",
        ),
        (
            r#"conductors = ["L", "N", "E"] }"#,
            r#"conductors = ["SL", "N", "E"] }"#,
            "line 64, circuits[1].points[0].conductors[0]: SL, the switched line, exists only where the wiring is feed_at_switch or loop_in",
        ),
        (
            r#"id = "S3""#,
            r#"id = "S1""#,
            "line 55, circuits[0].switches[2].id: `S1` is already the name of a switch on line 53",
        ),
        (
            r#"id = "flood""#,
            r#"id = "lamp""#,
            "line 64, circuits[1].points[0].id: `lamp` is already the name of a point on line 57",
        ),
        (
            r#"id = "mm-a""#,
            r#"id = "vi-a""#,
            "line 113, table[3].id: `vi-a` is already the name of an item on the table on line 80",
        ),
        (
            r#"device = "Q2""#,
            r#"device = "Q1""#,
            "line 75, isolate.device: this device feeds `yard`, expected the one that feeds `stairs`",
        ),
        (
            r#"device = "Q2""#,
            r#"device = "Q0""#,
            "line 75, isolate.device: this device feeds no circuit, expected the one that feeds `stairs`",
        ),
        (
            r#"device = "Q2""#,
            r#"device = "Q9""#,
            "line 75, isolate.device: no device is called `Q9`, expected one of Q0, Q1, Q2 or Q3",
        ),
        (
            r#"point = "lamp""#,
            r#"point = "socket""#,
            "line 76, isolate.point: this point is on `bench`, expected one of `stairs`",
        ),
        (
            "exposed_tip_mm = 2.0",
            "exposed_tip_mm = nan",
            "line 83, table[0].exposed_tip_mm: expected a number from 0 to 100, found a number that is not finite",
        ),
        (
            "exposed_tip_mm = 2.0",
            "exposed_tip_mm = -1",
            "line 83, table[0].exposed_tip_mm: expected a number from 0 to 100, found -1",
        ),
        (
            "finger_guards = true",
            "finger_guards = 1",
            "line 84, table[0].finger_guards: expected true or false, found a whole number",
        ),
        (
            r#"fits = ["Q0"]"#,
            r#"fits = ["Q7"]"#,
            "line 145, table[7].fits[0]: no device is called `Q7`, expected one of Q0, Q1, Q2 or Q3",
        ),
        (
            r#"key = "key-a""#,
            r#"key = "lo-a""#,
            "line 151, table[8].key: no key is called `lo-a`, expected one of key-a or key-b",
        ),
        (
            "kind = \"notice\"",
            "kind = \"notice\"\nnotice = \"keep_out\"",
            "line 166, table[11].notice: `keep_out` is not known here, expected one of do_not_switch_on, danger or testing",
        ),
        (
            "label = \"Key 7\"",
            "label = \"Key 7\"\nshort = \"Key of the second padlock\"",
            "line 157, table[9].short: expected what fits two lines of 12 characters, found \"Key of the second padlock\"",
        ),
        (
            "weight = 2",
            "weight = 0",
            "line 174, checklist.stages[0].criteria[0].weight: expected a whole number from 1 to 1000, found 0",
        ),
        (
            r#"id = "permission""#,
            r#"id = "identify""#,
            "line 180, checklist.stages[0].criteria[1].id: `identify` is already the name of a criterion on line 172",
        ),
        (
            r#"fails = "must""#,
            r#"fails = "maybe""#,
            "line 175, checklist.stages[0].criteria[0].fails: `maybe` is not known here, expected one of ordinary, must or automatic",
        ),
        (
            r#"decided = "by_eye""#,
            r#"decided = "by_ear""#,
            "line 364, checklist.stages[4].criteria[3].decided: `by_ear` is not known here, expected `by_eye` or a rule such as { rule = \"key_kept\" }",
        ),
    ];
    let wrong = cases.iter().map(|(from, to, expected)| (changed(from, to), *expected));
    let wrong: Vec<_> = wrong.filter(|(says, expected)| says != &[expected.to_string()]).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn a_device_that_feeds_nothing_known_is_a_fault_and_so_is_the_circuit_left_unfed() {
    let faults = changed(r#"feeds = "yard""#, r#"feeds = "yards""#);
    assert_eq!(
        faults,
        [
            "line 30, board.devices[1].feeds: no circuit is called `yards`, expected one of bench, stairs or yard; did you mean `yard`?",
            "line 59, circuits[1]: no device feeds this circuit, expected one with `feeds = \"yard\"`",
        ]
    );
}

#[test]
fn a_padlock_whose_key_is_missing_is_a_fault_and_a_decoy_key_is_none() {
    let faults = changed(r#"key = "key-a""#, r#"key = "key-c""#);
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(
        faults[0].starts_with("line 151, table[8].key: no key is called `key-c`, expected one of key-a or key-b"),
        "{faults:?}"
    );
}

#[test]
fn keys_without_any_padlock_open_nothing() {
    let faults =
        changed("kind = \"padlock\"\nlabel = \"Padlock 7\"\nkey = \"key-a\"", "kind = \"adapter\"\nlabel = \"A\"");
    assert_eq!(faults.len(), 2, "{faults:?}");
    assert!(faults.iter().all(|fault| fault.contains("this key opens nothing")), "{faults:?}");
}

#[test]
fn a_line_at_a_point_comes_through_its_device() {
    let text = STAIRWELL.replace("phases = 1", "phases = 3").replace("\"L\"", "\"L1\"");
    assert_eq!(lines(Task::read_toml(&text)), [""; 0]);
    let text = text
        .replace(r#"label = "Bench socket 1", conductors = ["L1""#, r#"label = "Bench socket 1", conductors = ["L2""#);
    let expected = "line 71, circuits[2].points[0].conductors[0]: no device that feeds `bench` has a pole for L2";
    assert_eq!(lines(Task::read_toml(&text)), [expected]);
}

#[test]
fn faults_all_over_the_file_are_reported_at_once() {
    let text = STAIRWELL
        .replace("minutes = 25", "minutes = 0")
        .replace("volts = 230", "volts = true")
        .replace(r#"key = "key-a""#, r#"key = "nowhere""#)
        .replacen("weight = 2", "weight = -1", 1)
        + "colour = 3\n";
    let lines = lines(Task::read_toml(&text));
    let at: Vec<&str> = lines.iter().filter_map(|line| line.split(&[',', ':'][..]).next()).collect();
    assert_eq!(at, ["line 5", "line 13", "line 151", "line 174", "line 366"], "{lines:#?}");
}

#[test]
fn syntax_faults_of_toml_name_their_lines() {
    let text = STAIRWELL.replace("minutes = 25", "minutes = ").replace("volts = 230", "volts = 23O");
    let lines = lines(Task::read_toml(&text));
    assert!(lines.iter().any(|line| line.starts_with("line 5: not valid TOML: ")), "{lines:?}");
    assert!(lines.iter().any(|line| line.starts_with("line 13: not valid TOML: ")), "{lines:?}");
}

#[test]
fn a_wholly_wrong_document_is_refused_in_few_words() {
    assert_eq!(lines(Task::read_json("[]")), ["line 1: expected a table, found a list"]);
    assert!(lines(Task::read_json("")).iter().any(|line| line.starts_with("line 1: not valid JSON: EOF")));
    assert_eq!(lines(Task::read_toml("")).len(), 12);
    assert_eq!(
        lines(Task::read_toml(&"#".repeat(1_048_577))),
        ["line 1: expected at most 1048576 bytes, found 1048577"]
    );
}

#[test]
fn depth_is_limited_in_both_formats() {
    let deep = |format: fn(usize) -> String, depth| format(depth);
    let json = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
    let toml = |depth: usize| format!("title = {}{}", "[".repeat(depth), "]".repeat(depth));
    let says = |lines: &[String]| lines.iter().any(|line| line.contains("nested deeper than 32 lists and tables"));
    assert!(!says(&lines(Task::read_json(&deep(json, 32)))));
    assert!(says(&lines(Task::read_json(&deep(json, 33)))));
    assert!(says(&lines(Task::read_json(&deep(json, 200_000)))));
    assert!(!says(&lines(Task::read_toml(&deep(toml, 31)))));
    assert!(says(&lines(Task::read_toml(&deep(toml, 32)))));
    assert!(!lines(Task::read_toml(&deep(toml, 200_000))).is_empty());
    for text in [format!("[{}a]", "a.".repeat(200_000)), format!("{}a = 1", "a.".repeat(200_000))] {
        assert!(says(&lines(Task::read_toml(&text))));
    }
}
