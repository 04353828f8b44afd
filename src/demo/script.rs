//! Logs of the demo: seconds of session time and an act on each line.

use super::DemoError;
use crate::clock::Clock;
use crate::marking::Observation;
use serde_json::{Value, json};
use time::{Duration, OffsetDateTime};

/// Passes with a notice left blank and the point once left open.
pub const STAIRWELL_PASS: &str = include_str!("logs/stairwell-pass.log");
/// As far as the second round of tests.
pub const STAIRWELL_RUNNING: &str = include_str!("logs/stairwell-running.log");
/// Knocks a device and does not prove the indicator again: two automatic fails.
pub const EXTRACTOR_FAIL: &str = include_str!("logs/extractor-fail.log");

/// A script as observations of a session that began at `started`.
pub fn observations(script: &str, started: OffsetDateTime, clock: &Clock) -> Result<Vec<Observation>, DemoError> {
    script.lines().enumerate().map(|(at, line)| observation(at, line, started, clock)).collect()
}

fn observation(at: usize, line: &str, started: OffsetDateTime, clock: &Clock) -> Result<Observation, DemoError> {
    let bad = |why: String| DemoError::Material("a log", format!("line {}: {why}", at + 1));
    let (seconds, act) = line.trim_start().split_once(' ').ok_or_else(|| bad("no act".into()))?;
    let seconds: i64 = seconds.parse().map_err(|_| bad("no seconds".into()))?;
    let act: Value = serde_json::from_str(act).map_err(|why| bad(why.to_string()))?;
    let wall = crate::marking::observation::Wall::of(started + Duration::seconds(seconds));
    let seen = json!({"id": clock.new_id(), "seq": at + 1, "at_ms": seconds * 1_000, "wall": wall, "act": act});
    Observation::read_json(&seen.to_string()).map_err(|faults| bad(faults.to_string()))
}
