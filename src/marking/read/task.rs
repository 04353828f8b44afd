//! Task files, in TOML and in JSON.

use super::checklist;
use crate::bay::Bay;
use crate::bay::read::{Known, LABEL};
use crate::marking::{ExtraTime, Task};
use crate::reading::{At, Collected, Faults, Node, from_json, from_toml};

/// Longest briefing, in characters.
const BRIEFING: usize = 8_000;

impl Task {
    /// The first line of every task file; a later format gets another number.
    pub const FORMAT: &str = "baywitness task 1";

    /// Reads a task file in TOML; every fault at once.
    pub fn read_toml(text: &str) -> Result<Self, Faults> {
        let found = Collected::default();
        let document = from_toml::read(text, &found);
        Self::read(document, found)
    }

    /// Reads a task file in JSON, of the same structure; every fault at once.
    pub fn read_json(text: &str) -> Result<Self, Faults> {
        let found = Collected::default();
        let document = from_json::read(text, 1, &found);
        Self::read(document, found)
    }

    fn read(document: Option<Node>, found: Collected) -> Result<Self, Faults> {
        let task = document.as_ref().and_then(|node| read(&At::root(node, &found)));
        found.or_faults(task)
    }
}

fn read(at: &At<'_>) -> Option<Task> {
    let mut fields = at.fields()?;
    let known = Known::gather(at);
    let format = fields.required("format").and_then(|at| format(&at, Task::FORMAT));
    let title = fields.text("title", LABEL);
    let briefing = fields.text("briefing", BRIEFING);
    let minutes = fields.whole("minutes", 1..=600);
    let pass_percent = fields.whole("pass_percent", 0..=100);
    let bay = Bay::read(&mut fields, &known);
    let checklist = fields.required("checklist").and_then(|at| checklist::read(&at, Some(&known)));
    fields.finish();
    format?;
    Some(Task {
        title: title?,
        briefing: briefing?,
        minutes: minutes?,
        pass_percent: pass_percent?,
        bay: bay?,
        checklist: checklist?,
        extra: ExtraTime::default(),
    })
}

/// Reads the line that says which format this is.
pub(super) fn format(at: &At<'_>, expected: &str) -> Option<()> {
    let format = at.text(LABEL)?;
    if format != expected {
        at.fault(format!("expected `{expected}`, found `{}`", crate::reading::words::shown(&format)));
        return None;
    }
    Some(())
}
