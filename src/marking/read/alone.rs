//! Checklists and criteria that stand on their own, outside of a task.
//!
//! There is no bay, so what an act pattern names in one is only checked for its form; the task that takes the checklist in
//! checks the rest.

use super::checklist::{self, Named};
use super::task::format;
use crate::bay::read::LABEL;
use crate::marking::{Checklist, ChecklistFile, Criterion};
use crate::reading::{At, Collected, Faults, Node, from_json, from_toml};

impl ChecklistFile {
    /// The first line of every checklist file; a later format gets another number.
    pub const FORMAT: &'static str = "baywitness checklist 1";

    /// Reads a checklist file in TOML; every fault at once. [`crate::marking::write::checklist_file`] writes one.
    pub fn read_toml(text: &str) -> Result<Self, Faults> {
        toml(text, file)
    }

    /// Reads a checklist file in JSON, of the same structure; every fault at once.
    pub fn read_json(text: &str) -> Result<Self, Faults> {
        json(text, file)
    }
}

impl Checklist {
    /// Reads the checklist of a checklist file in TOML, as [`ChecklistFile::read_toml`] does, without its title and pass
    /// mark.
    pub fn read_toml(text: &str) -> Result<Self, Faults> {
        ChecklistFile::read_toml(text).map(|file| file.checklist)
    }
}

impl Criterion {
    /// Reads one criterion in TOML: the keys of its table and nothing else. [`crate::marking::write::criterion`] writes one.
    /// What its rule names, such as a device or another criterion, need not be there.
    pub fn read_toml(text: &str) -> Result<Self, Faults> {
        toml(text, criterion)
    }

    /// Reads one criterion in JSON, of the same structure, as serde writes it.
    pub fn read_json(text: &str) -> Result<Self, Faults> {
        json(text, criterion)
    }
}

fn toml<T>(text: &str, read: impl Fn(&At<'_>) -> Option<T>) -> Result<T, Faults> {
    let found = Collected::default();
    let document = from_toml::read(text, &found);
    whole(document, found, read)
}

fn json<T>(text: &str, read: impl Fn(&At<'_>) -> Option<T>) -> Result<T, Faults> {
    let found = Collected::default();
    let document = from_json::read(text, 1, &found);
    whole(document, found, read)
}

fn whole<T>(document: Option<Node>, found: Collected, read: impl Fn(&At<'_>) -> Option<T>) -> Result<T, Faults> {
    let value = document.as_ref().and_then(|node| read(&At::root(node, &found)));
    found.or_faults(value)
}

fn file(at: &At<'_>) -> Option<ChecklistFile> {
    let mut fields = at.fields()?;
    let format = fields.required("format").and_then(|at| format(&at, ChecklistFile::FORMAT));
    let title = fields.text("title", LABEL);
    let pass_percent = fields.whole("pass_percent", 0..=100);
    let checklist = fields.required("checklist").and_then(|at| checklist::read(&at, None));
    fields.finish();
    format?;
    Some(ChecklistFile { title: title?, pass_percent: pass_percent?, checklist: checklist? })
}

/// Reads a criterion outside of any checklist.
pub(in crate::marking) fn criterion(at: &At<'_>) -> Option<Criterion> {
    checklist::criterion(at, &Named { bay: None, criteria: None })
}
