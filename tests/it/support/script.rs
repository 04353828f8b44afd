//! Logs for tests, written as acts with their seconds and read through the program's own reading.

use baywitness::marking::{self, Log, Marking, Outcome, Task};
use serde_json::{Value, json};
use uuid::Uuid;

pub const STAIRWELL: &str = include_str!("../../reference/examples/stairwell.toml");
pub const FLAWLESS: &str = include_str!("../../reference/examples/stairwell-flawless.ndjson");

/// The stairwell task of the worked examples.
pub fn stairwell() -> Task {
    Task::read_toml(STAIRWELL).expect("the example task is valid")
}

/// The stairwell task with its text changed first, to ask for other rules.
pub fn stairwell_with(from: &str, to: &str) -> Task {
    assert!(STAIRWELL.contains(from), "the example task no longer holds {from}");
    Task::read_toml(&STAIRWELL.replacen(from, to, 1)).expect("the changed task is valid")
}

/// Acts in the order of recording: session milliseconds and the act.
#[derive(Debug, Clone)]
pub struct Script(pub Vec<(u64, Value)>);

impl Script {
    /// A flawless session at the stairwell.
    pub fn flawless() -> Self {
        Self::of(FLAWLESS)
    }

    /// The acts of a log. Observations get the names of their places here; what names another follows it.
    pub fn of(log: &str) -> Self {
        let lines: Vec<Value> = log.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
        let place = |id: &Value| lines.iter().position(|line| line["id"] == *id).expect("an observation of the log");
        let read = |line: &Value| {
            let mut act = line["act"].clone();
            if let Some(named) = act.get_mut("observation") {
                *named = json!(Self::id(place(named)));
            }
            (line["at_ms"].as_u64().expect("a time"), act)
        };
        Self(lines.iter().map(read).collect())
    }

    /// Just started.
    pub fn started() -> Self {
        Self(vec![(0, json!({"kind": "started"}))])
    }

    /// Adds an act at the end of the recording.
    pub fn then(mut self, at_ms: u64, act: Value) -> Self {
        self.0.push((at_ms, act));
        self
    }

    /// Leaves out the acts that hold all of `fields`.
    pub fn without(mut self, fields: &Value) -> Self {
        let before = self.0.len();
        self.0.retain(|(_, act)| !holds(act, fields));
        assert!(self.0.len() < before, "nothing matches {fields}");
        self
    }

    /// Puts `change` into the `nth` act (from 0) that holds all of `fields`.
    pub fn change(mut self, fields: &Value, nth: usize, change: &Value) -> Self {
        let found = self.0.iter_mut().filter(|(_, act)| holds(act, fields)).nth(nth);
        let (_, act) = found.unwrap_or_else(|| panic!("no {nth}th act matches {fields}"));
        for (field, value) in change.as_object().expect("a change is an object") {
            act[field] = value.clone();
        }
        self
    }

    /// Leaves out the first act that holds all of `fields` from the `nth` on.
    pub fn drop_nth(mut self, fields: &Value, nth: usize) -> Self {
        let found: Vec<usize> = (0..self.0.len()).filter(|&at| holds(&self.0[at].1, fields)).collect();
        self.0.remove(*found.get(nth).unwrap_or_else(|| panic!("no {nth}th act matches {fields}")));
        self
    }

    /// Leaves out everything recorded from the first act that holds all of `fields`.
    pub fn until(mut self, fields: &Value) -> Self {
        let at = self.0.iter().position(|(_, act)| holds(act, fields));
        self.0.truncate(at.unwrap_or_else(|| panic!("nothing matches {fields}")));
        self
    }

    /// When the `nth` act that holds all of `fields` was done.
    pub fn time_of(&self, fields: &Value, nth: usize) -> u64 {
        self.0.iter().filter(|(_, act)| holds(act, fields)).nth(nth).unwrap_or_else(|| panic!("no act {fields}")).0
    }

    /// The name of the `at`th recorded observation.
    pub fn id(at: usize) -> Uuid {
        // A UUID of version 7 needs only its version and variant bits; the rest here is the place in the recording.
        Uuid::from_u128(0x0193_8c1e_0000_7000_8000_0000_0000_0000 | at as u128)
    }

    /// The place in the recording of the `nth` act that holds all of `fields`.
    pub fn place(&self, fields: &Value, nth: usize) -> usize {
        let mut found = (0..self.0.len()).filter(|&at| holds(&self.0[at].1, fields));
        found.nth(nth).unwrap_or_else(|| panic!("no {nth}th act matches {fields}"))
    }

    /// One observation a line.
    pub fn ndjson(&self) -> String {
        let line = |(at, (at_ms, act)): (usize, &(u64, Value))| {
            let seen = json!({"id": Self::id(at), "seq": at + 1, "at_ms": at_ms, "wall": "2027-02-03T10:00:00.000Z", "act": act});
            format!("{seen}\n")
        };
        self.0.iter().enumerate().map(line).collect()
    }

    /// The log, read and checked.
    pub fn log(&self, task: &Task) -> Log {
        Log::read(self.ndjson().as_bytes(), task).unwrap_or_else(|faults| panic!("{faults}"))
    }

    /// The marking of the log.
    pub fn mark(&self, task: &Task) -> Marking {
        marking::mark(task, &self.log(task))
    }
}

fn holds(act: &Value, fields: &Value) -> bool {
    fields.as_object().is_some_and(|fields| fields.iter().all(|(field, value)| act.get(field) == Some(value)))
}

/// The criteria that came out so.
pub fn with_outcome(marking: &Marking, outcome: Outcome) -> Vec<&str> {
    marking.findings.iter().filter(|finding| finding.outcome == outcome).map(|f| f.criterion.as_str()).collect()
}

/// What became of one criterion.
pub fn outcome_of(marking: &Marking, criterion: &str) -> Outcome {
    finding_of(marking, criterion).outcome
}

/// The finding on one criterion.
pub fn finding_of<'m>(marking: &'m Marking, criterion: &str) -> &'m marking::Finding {
    let found = marking.findings.iter().find(|finding| finding.criterion.as_str() == criterion);
    found.unwrap_or_else(|| panic!("no finding on {criterion}"))
}
