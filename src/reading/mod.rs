//! Task files and logs as a tree that remembers its lines, and every fault found in it.
//!
//! Serde stops at the first fault; a person who mends a file wants all of them at once. So a document is first read by
//! a well-kept parser into [`Node`]s with line numbers, and then walked; each value that makes no sense is one
//! [`Fault`] and the walk goes on.

use serde::Serialize;
use std::fmt;

/// One thing wrong with a file: where, and what was expected.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Fault {
    /// Line in the file, counted from 1.
    pub line: usize,
    /// The way to the value, such as `board.devices[1].feeds`; empty where the whole line is meant.
    pub path: String,
    /// What is wrong and what was expected, as a sentence without a full stop.
    pub says: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.path.is_empty() {
            write!(f, "line {}: {}", self.line, self.says)
        } else {
            write!(f, "line {}, {}: {}", self.line, self.path, self.says)
        }
    }
}

/// Everything wrong with a file, in the order of its lines. Never empty.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, thiserror::Error)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// The faults, or `None` where there are none.
    pub fn of(mut faults: Vec<Fault>) -> Option<Self> {
        faults.sort();
        faults.dedup();
        (!faults.is_empty()).then_some(Self(faults))
    }

    /// The faults, in the order of their lines.
    pub fn as_slice(&self) -> &[Fault] {
        &self.0
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.0.iter().enumerate() {
            if at > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}
