//! Task files and logs as a tree that remembers its lines, and every fault found in it.
//!
//! Serde stops at the first fault; a person who mends a file wants all of them at once. So a document is first read by
//! a well-kept parser into [`Node`]s with line numbers, and then walked; each value that makes no sense is one
//! [`Fault`] and the walk goes on.

pub mod at;
pub mod collected;
pub mod fields;
pub mod from_json;
pub mod from_toml;
pub mod node;
pub mod to_toml;
pub mod words;

pub use at::At;
pub use collected::Collected;
pub use fields::Fields;
pub use node::{Entry, Node, Value};

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
    /// Most faults that are listed; a person mends the first of them before reading on.
    pub const LISTED: usize = 200;

    /// The faults, or `None` where there are none.
    pub fn of(faults: Vec<Fault>) -> Option<Self> {
        Self::with_more(faults, 0)
    }

    /// The faults and the number of those that were only counted. Beyond [`Faults::LISTED`] a last one says how many
    /// more there are.
    pub(crate) fn with_more(mut faults: Vec<Fault>, more: usize) -> Option<Self> {
        faults.sort();
        faults.dedup();
        let more = more + faults.len().saturating_sub(Self::LISTED);
        faults.truncate(Self::LISTED);
        if let (Some(last), true) = (faults.last(), more > 0) {
            let line = last.line;
            faults.push(Fault { line, path: String::new(), says: format!("and {more} more faults") });
        }
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
