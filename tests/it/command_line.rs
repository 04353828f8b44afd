//! The commands that read files: what they print, what they refuse, and how they exit.

use crate::support::script::{FLAWLESS, STAIRWELL};
use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output};

/// Files of one test, gone with it.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let folder = std::env::temp_dir().join(format!("bw-command-{:016x}", rand::random::<u64>()));
        std::fs::create_dir(&folder).unwrap();
        Self(folder)
    }

    fn put(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let file = self.0.join(name);
        std::fs::write(&file, bytes).unwrap();
        file.display().to_string()
    }

    fn mark(&self, task: impl AsRef<[u8]>, log: impl AsRef<[u8]>, more: &[&str]) -> Output {
        let (task, log) = (self.put("task.toml", task), self.put("log.ndjson", log));
        run(&[&["mark", "--task", &task, "--log", &log], more].concat())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_baywitness")).args(arguments).env_clear().output().unwrap()
}

fn out(done: &Output) -> String {
    String::from_utf8(done.stdout.clone()).unwrap()
}

fn err(done: &Output) -> String {
    String::from_utf8(done.stderr.clone()).unwrap()
}

#[test]
fn a_marked_log_is_told_in_words_with_its_caution() {
    let done = Folder::new().mark(STAIRWELL, FLAWLESS, &[]);
    assert_eq!(done.status.code(), Some(0));
    let text = out(&done);
    for part in ["PASS", "56 of 56 marks (100.0 %)", "04:34 of 25:00", "Proving dead", "not a permit to work"] {
        assert!(text.contains(part), "{part} is missing from\n{text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
}

#[test]
fn crlf_a_byte_order_mark_and_a_blank_last_line_change_nothing() {
    let folder = Folder::new();
    let plain = folder.mark(STAIRWELL, FLAWLESS, &["--json"]);
    let dressed = format!("\u{feff}{}\r\n", FLAWLESS.replace('\n', "\r\n"));
    let other = folder.mark(STAIRWELL.replace('\n', "\r\n"), dressed, &["--json"]);
    assert_eq!(err(&other), "");
    assert_eq!(out(&plain), out(&other));
}

#[test]
fn a_task_in_json_marks_as_the_same_in_toml() {
    let folder = Folder::new();
    let table: toml::Table = STAIRWELL.parse().unwrap();
    let task = folder.put("task.json", serde_json::to_string(&table).unwrap());
    let log = folder.put("log.ndjson", FLAWLESS);
    let done = run(&["mark", "--task", &task, "--log", &log, "--json"]);
    assert_eq!(out(&done), out(&folder.mark(STAIRWELL, FLAWLESS, &["--json"])));
}

#[test]
fn a_refused_file_exits_with_2_and_every_fault() {
    let folder = Folder::new();
    let task = STAIRWELL.replacen("feeds = \"yard\"", "feeds = \"yrad\"", 1).replacen(
        "pass_percent = 70",
        "pass_percent = 170",
        1,
    );
    let done = folder.mark(&task, FLAWLESS, &[]);
    assert_eq!(done.status.code(), Some(2));
    let says = err(&done);
    for part in ["is refused", "line 6, pass_percent", "board.devices[1].feeds", "`yrad`"] {
        assert!(says.contains(part), "{part} is missing from\n{says}");
    }
    let done = folder.mark(&task, FLAWLESS, &["--json"]);
    assert_eq!(done.status.code(), Some(2));
    let told: Value = serde_json::from_slice(&done.stdout).unwrap();
    assert!(told["faults"].as_array().unwrap().len() >= 2);
    assert!(told["faults"][0]["line"].is_u64() && told["faults"][0]["says"].is_string());
}

#[test]
fn faults_of_a_log_name_line_field_and_what_was_expected() {
    let log = FLAWLESS
        .replacen("\"device\": \"Q2\", \"to\": \"off\"", "\"device\": \"Q9\", \"to\": \"away\"", 1)
        .replacen("\"seq\": 3,", "\"seq\": 7,", 1);
    let done = Folder::new().mark(STAIRWELL, log, &[]);
    assert_eq!(done.status.code(), Some(2));
    let says = err(&done);
    for part in ["line 3", "seq", "line 10", "act.device", "`Q9`", "act.to", "`away`"] {
        assert!(says.contains(part), "{part} is missing from\n{says}");
    }
}

#[test]
fn a_file_that_is_not_there_or_no_text_is_said_in_words() {
    let folder = Folder::new();
    let done = run(&["plan", "--task", "/nowhere/task.toml"]);
    assert_eq!(done.status.code(), Some(2));
    assert!(err(&done).contains("/nowhere/task.toml cannot be read"), "{}", err(&done));
    let done = folder.mark([0xff, 0xfe, 0x00], FLAWLESS, &[]);
    assert_eq!(done.status.code(), Some(2));
    assert!(err(&done).contains("not UTF-8"), "{}", err(&done));
    assert_eq!(folder.mark(STAIRWELL, "", &[]).status.code(), Some(2), "an empty log marks nothing");
}

#[test]
fn the_plan_is_told_in_words_and_as_json() {
    let task = Folder::new();
    let file = task.put("task.toml", STAIRWELL);
    let text = out(&run(&["plan", "--task", &file]));
    assert!(text.contains("3 pairs in 4 rounds, 12 tests in all") && text.contains("S2 (Half landing)"), "{text}");
    let told: Value = serde_json::from_slice(&run(&["plan", "--task", &file, "--json"]).stdout).unwrap();
    assert_eq!((told["rounds"].as_u64(), told["pairs"].as_array().map(Vec::len)), (Some(4), Some(3)));
}

#[test]
fn a_command_that_makes_no_sense_exits_with_2() {
    assert_eq!(run(&["mark"]).status.code(), Some(2));
    assert_eq!(run(&["fly"]).status.code(), Some(2));
}
