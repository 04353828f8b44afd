//! Logs: one observation on each line, valid against the task or refused whole.

use super::{check, observation};
use crate::marking::{Act, Log, Observation, ObservationId, Task};
use crate::reading::from_json::{self, LONGEST};
use crate::reading::{At, Collected, Faults};
use std::collections::{HashMap, HashSet};

/// Most lines of a log.
const MOST_LINES: usize = 100_000;

impl Log {
    /// Reads an NDJSON log and checks it against its task: valid or refused whole, with every fault.
    ///
    /// Lines end with LF or CRLF. A byte-order mark before the first and one blank line after the last are passed over.
    pub fn read(bytes: &[u8], task: &Task) -> Result<Self, Faults> {
        let found = Collected::default();
        let observations = read(bytes, task, &found);
        found.or_faults(Some(Self::of_stored(observations)))
    }
}

fn read(bytes: &[u8], task: &Task, found: &Collected) -> Vec<Observation> {
    let lines = lines(bytes);
    if lines.len() > MOST_LINES {
        found.add(MOST_LINES + 1, "", format!("expected at most {MOST_LINES} lines, found {}", lines.len()));
        return Vec::new();
    }
    if lines.is_empty() {
        found.add(1, "", "nothing recorded, expected an observation of kind `started` first");
    }
    let mut reading = Reading { task, found, known: HashMap::new(), last_seq: 0, log: Vec::new() };
    for (at, line) in lines.into_iter().enumerate() {
        reading.line(at + 1, line);
    }
    reading.starts();
    reading.log.into_iter().map(|(_, observation)| observation).collect()
}

/// The lines, without the mark before the first, the ends of lines and one blank line after the last.
fn lines(bytes: &[u8]) -> Vec<&[u8]> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut lines: Vec<&[u8]> =
        bytes.split(|byte| *byte == b'\n').map(|line| line.strip_suffix(b"\r").unwrap_or(line)).collect();
    // What follows the last newline is no line; the one before it may be blank.
    if lines.last().is_some_and(|line| line.is_empty()) {
        lines.pop();
    }
    if lines.last().is_some_and(|line| line.trim_ascii().is_empty()) {
        lines.pop();
    }
    lines
}

struct Reading<'a> {
    task: &'a Task,
    found: &'a Collected,
    /// The observations recorded so far, with their lines.
    known: HashMap<ObservationId, usize>,
    last_seq: u32,
    log: Vec<(usize, Observation)>,
}

impl Reading<'_> {
    fn line(&mut self, line: usize, bytes: &[u8]) {
        let expected = self.last_seq.saturating_add(1);
        self.last_seq = expected;
        let Some(text) = self.text(line, bytes) else { return };
        let Some(node) = from_json::read(text, line, self.found) else { return };
        let partly = observation::read(&At::root(&node, self.found));
        if let Some(seq) = partly.seq {
            if seq != expected {
                let says = format!("expected {expected}, for `seq` counts the lines from 1, found {seq}");
                self.found.add(line, "seq", says);
            }
            // Counting goes on from what was found, so that one gap is one fault.
            self.last_seq = seq;
        }
        if let Some(observation) = partly.whole {
            for fault in observation.check(self.task, |id| self.known.contains_key(id)) {
                self.found.add(line, fault.path, fault.says);
            }
            self.log.push((line, observation));
        } else if let Some(act) = node.get("act") {
            for fault in check::unknown_names(act, self.task) {
                self.found.add(line, fault.path, fault.says);
            }
        }
        if let Some(id) = partly.id {
            match self.known.get(&id) {
                Some(first) => self.found.add(line, "id", format!("`{}` is already the id of line {first}", id.0)),
                None => _ = self.known.insert(id, line),
            }
        }
    }

    fn text<'b>(&self, line: usize, bytes: &'b [u8]) -> Option<&'b str> {
        let says = match std::str::from_utf8(bytes) {
            _ if bytes.len() > LONGEST => format!("expected at most {LONGEST} bytes in a line, found {}", bytes.len()),
            Err(why) => format!("not valid UTF-8 from byte {} of the line", why.valid_up_to() + 1),
            Ok(text) if text.trim_ascii().is_empty() => "a blank line, expected an observation".into(),
            Ok(text) => return Some(text),
        };
        self.found.add(line, "", says);
        None
    }

    /// The session starts once, with the first observation and at 0.
    fn starts(&self) {
        let is_start = |observation: &Observation| observation.act == Act::Started;
        if self.log.first().is_some_and(|(line, first)| *line == 1 && !is_start(first)) {
            self.found.add(1, "act.kind", "expected `started`, for a session starts with its first observation");
        }
        let struck: HashSet<ObservationId> = self.log.iter().filter_map(|(_, one)| one.struck()).collect();
        let mut standing = None;
        for (line, start) in self.log.iter().filter(|(_, one)| is_start(one)) {
            if start.at_ms != 0 {
                self.found.add(*line, "at_ms", format!("expected 0, where the session starts, found {}", start.at_ms));
            }
            if struck.contains(&start.id) {
                continue;
            }
            match standing {
                None => standing = Some(*line),
                Some(first) => {
                    let says = format!("started already on line {first}; strike one of the two, or record `resumed`");
                    self.found.add(*line, "act.kind", says);
                }
            }
        }
    }
}
