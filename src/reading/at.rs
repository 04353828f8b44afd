//! One value with the way to it, and what can be read from it.

use super::words::{not_one_of, shown, word};
use super::{Collected, Entry, Fields, Node, Value};
use serde::de::DeserializeOwned;
use std::collections::HashSet;
use std::hash::Hash;
use std::ops::RangeInclusive;

/// One value of a document, where it stands, and where its faults go.
///
/// Every reader answers `None` once it has added a fault, so that the walk goes on.
#[derive(Debug, Clone)]
pub struct At<'a> {
    pub node: &'a Node,
    /// The way to it, such as `board.devices[1].feeds`; empty for the document.
    pub path: String,
    pub found: &'a Collected,
}

impl<'a> At<'a> {
    /// The document itself.
    pub fn root(node: &'a Node, found: &'a Collected) -> Self {
        Self { node, path: String::new(), found }
    }

    /// Adds a fault about this value.
    pub fn fault(&self, says: impl Into<String>) {
        self.found.add(self.node.line, self.path.clone(), says);
    }

    /// Adds a fault: it is not what was expected.
    fn wrong<T>(&self, expected: &str) -> Option<T> {
        self.fault(format!("expected {expected}, found {}", self.node.what()));
        None
    }

    /// The way to a key of this table.
    pub(crate) fn path_of(&self, key: &str) -> String {
        match self.path.as_str() {
            "" => shown(key),
            path => format!("{path}.{}", shown(key)),
        }
    }

    /// Text of 1 to `longest` characters without NUL, which Postgres refuses; not all of it blank.
    pub fn text(&self, longest: usize) -> Option<String> {
        let text = self.free_text(longest)?;
        if text.trim().is_empty() {
            self.fault("expected text, found only blanks");
            return None;
        }
        Some(text)
    }

    /// What somebody noted: any text of 1 to `longest` characters without NUL.
    pub fn free_text(&self, longest: usize) -> Option<String> {
        let Some(text) = self.node.as_text() else { return self.wrong("text") };
        let length = text.chars().count();
        if text.is_empty() {
            self.fault("expected text, found nothing between the quotes");
        } else if length > longest {
            self.fault(format!("expected at most {longest} characters, found {length}"));
        } else if text.contains('\0') {
            self.fault("the character NUL cannot be kept; take it out");
        } else {
            return Some(text.to_owned());
        }
        None
    }

    /// An identifier, or any other type that reads itself from text and says what it expects.
    pub fn id<T: DeserializeOwned>(&self) -> Option<T> {
        let Some(text) = self.node.as_text() else { return self.wrong("text") };
        word(text).map_err(|says| self.fault(format!("`{}`: {says}", shown(text)))).ok()
    }

    /// A word of a closed set.
    pub fn word<T: DeserializeOwned>(&self) -> Option<T> {
        let Some(text) = self.node.as_text() else { return self.wrong("a word") };
        word(text).map_err(|says| self.fault(says)).ok()
    }

    /// A word of `words`.
    pub fn word_of(&self, words: &[&str]) -> Option<&'a str> {
        let Some(text) = self.node.as_text() else { return self.wrong("a word") };
        if !words.contains(&text) {
            self.fault(not_one_of(text, words.iter().copied()));
            return None;
        }
        Some(text)
    }

    /// A whole number in a range.
    pub fn whole<T: TryFrom<i64>>(&self, range: RangeInclusive<i64>) -> Option<T> {
        let (least, most) = (range.start(), range.end());
        let Value::Int(number) = self.node.value else {
            return self.wrong(&format!("a whole number from {least} to {most}"));
        };
        let fits = T::try_from(number).ok().filter(|_| range.contains(&number));
        if fits.is_none() {
            self.fault(format!("expected a whole number from {least} to {most}, found {number}"));
        }
        fits
    }

    /// A number in a range, with or without a fraction.
    pub fn number(&self, range: RangeInclusive<f64>) -> Option<f64> {
        let (least, most) = (range.start(), range.end());
        let number = match self.node.value {
            Value::Float(number) => number,
            // A whole number that is out of every range of ours may lose digits here; it is refused all the same.
            Value::Int(number) => number as f64,
            _ => return self.wrong(&format!("a number from {least} to {most}")),
        };
        if !range.contains(&number) {
            self.fault(format!("expected a number from {least} to {most}, found {number}"));
            return None;
        }
        Some(number)
    }

    /// True or false.
    pub fn bool(&self) -> Option<bool> {
        match self.node.value {
            Value::Bool(value) => Some(value),
            _ => self.wrong("true or false"),
        }
    }

    /// The values of a list, at most `most` of them.
    pub fn list(&self, most: usize) -> Option<Vec<At<'a>>> {
        let Value::List(items) = &self.node.value else { return self.wrong("a list") };
        if items.len() > most {
            self.fault(format!("expected at most {most} in this list, found {}", items.len()));
            return None;
        }
        let item = |(at, node)| At { node, path: format!("{}[{at}]", self.path), found: self.found };
        Some(items.iter().enumerate().map(item).collect())
    }

    /// The values of a list of words or identifiers, each different.
    pub fn distinct<T: PartialEq + Eq + Hash + Clone>(
        &self,
        most: usize,
        read: impl Fn(&At<'a>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let mut seen = HashSet::new();
        let mut all = Vec::new();
        let mut whole = true;
        for at in self.list(most)? {
            match read(&at) {
                Some(value) if seen.insert(value.clone()) => all.push(value),
                Some(_) => at.fault(format!("`{}` stands here twice", shown(at.node.as_text().unwrap_or_default()))),
                None => whole = false,
            }
        }
        whole.then_some(all)
    }

    /// The keys of a table.
    pub fn fields(&self) -> Option<Fields<'a>> {
        match &self.node.value {
            Value::Table(entries) => Some(Fields::new(self.clone(), entries)),
            _ => self.wrong("a table"),
        }
    }

    /// The value of one entry of this table.
    pub(crate) fn entry(&self, entry: &'a Entry) -> At<'a> {
        At { node: &entry.node, path: self.path_of(&entry.key), found: self.found }
    }
}
