//! What the assessor put into words about stepping in, help and what has no tile.

use super::marking::chips::NO_WORDS_YET;
use super::marking::state;
use super::show;
use crate::marking::words::describe;
use crate::marking::{Act, Log, Observation, Task};

/// One act with its words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spoken {
    pub minute: String,
    /// `Note`, `Was given help` and so on.
    pub what: String,
    /// Empty until it is put into words.
    pub words: String,
}

/// Every such act of a log that stands, by time.
pub fn spoken(task: &Task, log: &Log) -> Vec<Spoken> {
    state::standing(log).into_iter().filter_map(|seen| one(task, seen)).collect()
}

fn one(task: &Task, seen: &Observation) -> Option<Spoken> {
    let (what, words) = match &seen.act {
        Act::SteppedIn { text, .. } | Act::Prompted { text } => (describe(&seen.act, task), text.as_ref()),
        Act::Remark { text, .. } => ("Note".into(), Some(text).filter(|text| text.as_str() != NO_WORDS_YET)),
        _ => return None,
    };
    let words = words.map(|words| words.as_str().to_owned()).unwrap_or_default();
    Some(Spoken { minute: show::clock(seen.at_ms), what, words })
}
