//! The keys of one table: those asked for, those missing and those that nobody asked for.

use super::words::not_one_of;
use super::{At, Entry};
use serde::de::DeserializeOwned;
use std::ops::RangeInclusive;

/// A table whose keys are read one by one.
///
/// Ask for every key that may stand in it, then [`Fields::finish`]: what was not asked for is a fault.
#[derive(Debug)]
pub struct Fields<'a> {
    at: At<'a>,
    entries: &'a [Entry],
    asked: Vec<&'static str>,
    may_lack: bool,
}

impl<'a> Fields<'a> {
    pub(crate) fn new(at: At<'a>, entries: &'a [Entry]) -> Self {
        Self { at, entries, asked: Vec::new(), may_lack: false }
    }

    /// The same table, in which no key is required: for patterns that name only what they ask for.
    pub fn partial(mut self) -> Self {
        self.may_lack = true;
        self
    }

    /// Whether keys may be missing.
    pub fn is_partial(&self) -> bool {
        self.may_lack
    }

    /// The table.
    pub fn at(&self) -> &At<'a> {
        &self.at
    }

    /// The value under a key that may be missing.
    pub fn optional(&mut self, key: &'static str) -> Option<At<'a>> {
        self.asked.push(key);
        self.entries.iter().find(|entry| entry.key == key).map(|entry| self.at.entry(entry))
    }

    /// The value under a key that must be there.
    pub fn required(&mut self, key: &'static str) -> Option<At<'a>> {
        let there = self.optional(key);
        if there.is_none() && !self.may_lack {
            self.at.found.add(self.at.node.line, self.at.path_of(key), format!("`{key}` is missing"));
        }
        there
    }

    /// Required text of 1 to `longest` characters.
    pub fn text(&mut self, key: &'static str, longest: usize) -> Option<String> {
        self.required(key)?.text(longest)
    }

    /// A required word of a closed set.
    pub fn word<T: DeserializeOwned>(&mut self, key: &'static str) -> Option<T> {
        self.required(key)?.word()
    }

    /// A required identifier.
    pub fn id<T: DeserializeOwned>(&mut self, key: &'static str) -> Option<T> {
        self.required(key)?.id()
    }

    /// A required whole number in a range.
    pub fn whole<T: TryFrom<i64>>(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<T> {
        self.required(key)?.whole(range)
    }

    /// A required number in a range.
    pub fn number(&mut self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        self.required(key)?.number(range)
    }

    /// Required true or false.
    pub fn bool(&mut self, key: &'static str) -> Option<bool> {
        self.required(key)?.bool()
    }

    /// The values of a required list, at most `most` and at least one of them.
    pub fn some(&mut self, key: &'static str, most: usize) -> Option<Vec<At<'a>>> {
        let at = self.required(key)?;
        let list = at.list(most)?;
        if list.is_empty() {
            at.fault("expected at least one in this list, found none");
        }
        Some(list)
    }

    /// Reads a value that may be missing. `None` is a fault in it; `Some(None)` says that it is not there.
    pub fn maybe<T>(&mut self, key: &'static str, read: impl FnOnce(At<'a>) -> Option<T>) -> Option<Option<T>> {
        match self.optional(key) {
            None => Some(None),
            Some(at) => read(at).map(Some),
        }
    }

    /// Adds a fault for each key that was not asked for.
    pub fn finish(self) {
        for entry in self.entries.iter().filter(|entry| !self.asked.contains(&entry.key.as_str())) {
            let says = not_one_of(&entry.key, self.asked.iter().copied());
            self.at.found.add(entry.line, self.at.path_of(&entry.key), says);
        }
    }
}
