//! How long marking takes, and that it grows linearly: `cargo bench --bench marking`.
//!
//! The flawless stairwell log, and logs of 100 to 10,000 observations made from it by repeating its tests.

use baywitness::marking::{self, Log, Task};
use divan::Bencher;
use serde_json::{Value, json};

const TASK: &str = include_str!("../reference/examples/stairwell.toml");
const FLAWLESS: &str = include_str!("../reference/examples/stairwell-flawless.ndjson");

fn main() {
    divan::main();
}

fn task() -> Task {
    Task::read_toml(TASK).expect("the example task is valid")
}

/// A log of `length` observations: the flawless one with its rounds repeated before the last proof.
fn log_of(length: usize, task: &Task) -> Log {
    let lines: Vec<Value> = FLAWLESS.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    let (head, tail) = lines.split_at(lines.len() - 4);
    let rounds = &head[22..];
    let repeated = rounds.iter().cycle().take(length.saturating_sub(lines.len()));
    let all = head.iter().chain(repeated).chain(tail).take(length.max(lines.len())).enumerate();
    let text: String = all
        .map(|(at, line)| {
            let id = format!("01938c1e-0000-7000-8000-{at:012x}");
            let wall = "2027-02-03T10:00:00.000Z";
            format!("{}\n", json!({"id": id, "seq": at + 1, "at_ms": at * 100, "wall": wall, "act": line["act"]}))
        })
        .collect();
    Log::read(text.as_bytes(), task).unwrap_or_else(|faults| panic!("{faults}"))
}

#[divan::bench(args = [48, 100, 120, 1_000, 10_000])]
fn mark(bencher: Bencher, observations: usize) {
    let task = task();
    let log = log_of(observations, &task);
    assert_eq!(log.observations().len(), observations);
    bencher.bench(|| marking::mark(divan::black_box(&task), divan::black_box(&log)));
}

#[divan::bench(args = [48, 1_000, 10_000])]
fn read_log(bencher: Bencher, observations: usize) {
    let task = task();
    let log = log_of(observations, &task);
    let text: String =
        log.observations().iter().map(|seen| serde_json::to_string(seen).expect("JSON") + "\n").collect();
    bencher.bench(|| Log::read(divan::black_box(text.as_bytes()), &task).map(|log| log.observations().len()));
}
