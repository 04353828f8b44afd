//! Example sessions shipped with the program, to try a checklist on. Everything in them is invented.

use super::{Log, Observation, Task};
use crate::marking::observation::Wall;
use serde_json::json;

/// A task with one log of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Example {
    /// Stands in addresses.
    pub name: &'static str,
    /// What it shows, as a line in a list.
    pub title: &'static str,
    task: &'static str,
    /// Seconds of session time and an act on each line.
    log: &'static str,
}

const STAIRWELL: &str = include_str!("../demo/tasks/stairwell.toml");
const EXTRACTOR: &str = include_str!("../demo/tasks/extractor.toml");

/// Every example.
pub const ALL: [Example; 3] = [
    Example {
        name: "stairwell-sound",
        title: "Stairwell lights: sound, with a notice left blank and the point once left open",
        task: STAIRWELL,
        log: include_str!("../demo/logs/stairwell-pass.log"),
    },
    Example {
        name: "extractor-knock",
        title: "Extractor fan: knocks another device and does not prove the indicator again",
        task: EXTRACTOR,
        log: include_str!("../demo/logs/extractor-fail.log"),
    },
    Example {
        name: "stairwell-running",
        title: "Stairwell lights: still running, in the second round of tests",
        task: STAIRWELL,
        log: include_str!("../demo/logs/stairwell-running.log"),
    },
];

/// The example with this name.
pub fn named(name: &str) -> Option<&'static Example> {
    ALL.iter().find(|example| example.name == name)
}

impl Example {
    /// The task and its log.
    ///
    /// # Errors
    /// What is wrong with the shipped files; a test reads each of them.
    pub fn read(&self) -> Result<(Task, Log), String> {
        let task = Task::read_toml(self.task).map_err(|faults| faults.to_string())?;
        let seen: Result<Vec<Observation>, String> = self.log.lines().enumerate().map(observation).collect();
        Ok((task, Log::of_stored(seen?)))
    }
}

/// When the examples happened, in milliseconds since 1970: 4 March 2030, 10:00 UTC.
const STARTED: i64 = 1_898_848_800_000;

fn observation((at, line): (usize, &str)) -> Result<Observation, String> {
    let bad = |why: String| format!("line {}: {why}", at + 1);
    let (seconds, act) = line.trim_start().split_once(' ').ok_or_else(|| bad("no act".into()))?;
    let seconds: u32 = seconds.parse().map_err(|_| bad("no seconds".into()))?;
    let act: serde_json::Value = serde_json::from_str(act).map_err(|why| bad(why.to_string()))?;
    // Names that are the same each time: only version and variant are asked of them.
    let id = uuid::Uuid::from_u128(0x01ba_1d3d_5000_7000_8000_0000_0000_0000 | at as u128);
    let at_ms = i64::from(seconds) * 1_000;
    let seen = json!({"id": id, "seq": at + 1, "at_ms": at_ms, "wall": Wall(STARTED + at_ms), "act": act});
    Observation::read_json(&seen.to_string()).map_err(|faults| bad(faults.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::{VerdictOutcome, mark_without_coverage};

    /// What each comes to is what its line in the list says.
    #[test]
    fn every_example_is_marked_as_its_title_says() {
        let outcome = |name: &str| {
            let (task, log) = named(name).unwrap().read().unwrap();
            mark_without_coverage(&task, &log).verdict.outcome
        };
        assert_eq!(outcome("stairwell-sound"), VerdictOutcome::Pass);
        assert_eq!(outcome("extractor-knock"), VerdictOutcome::AutomaticFail);
        assert_eq!(outcome("stairwell-running"), VerdictOutcome::Unfinished);
        assert!(named("nowhere").is_none());
        for example in ALL {
            let (task, log) = example.read().unwrap();
            let known: std::collections::HashSet<_> = log.observations().iter().map(|seen| seen.id).collect();
            for seen in log.observations() {
                assert_eq!(seen.check(&task, |id| known.contains(id)), [], "{}", example.name);
            }
        }
    }
}
