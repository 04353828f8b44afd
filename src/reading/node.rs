//! A document as a tree that remembers its lines.

/// One value of a document and the line it begins on.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Counted from 1.
    pub line: usize,
    pub value: Value,
}

/// What a value is, in the terms that TOML and JSON share.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Bool(bool),
    Int(i64),
    /// Always finite.
    Float(f64),
    Text(String),
    List(Vec<Node>),
    /// Keys are distinct.
    Table(Vec<Entry>),
    /// A value that no field of ours takes, such as null or a date, by the name a person would give it.
    Unusable(&'static str),
}

/// One key of a table with its value.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    pub key: String,
    /// Line of the key, counted from 1.
    pub line: usize,
    pub node: Node,
}

impl Node {
    /// The value under a key; `None` where this is no table or has no such key.
    pub fn get(&self, key: &str) -> Option<&Self> {
        let Value::Table(entries) = &self.value else { return None };
        entries.iter().find(|entry| entry.key == key).map(|entry| &entry.node)
    }

    /// The values of a list; none where this is no list.
    pub fn items(&self) -> &[Self] {
        match &self.value {
            Value::List(items) => items,
            _ => &[],
        }
    }

    /// The text, where this is one.
    pub fn as_text(&self) -> Option<&str> {
        match &self.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// What this is, as a person would name it.
    pub fn what(&self) -> &'static str {
        match &self.value {
            Value::Bool(_) => "true or false",
            Value::Int(_) => "a whole number",
            Value::Float(_) => "a number with a fraction",
            Value::Text(_) => "text",
            Value::List(_) => "a list",
            Value::Table(_) => "a table",
            Value::Unusable(what) => what,
        }
    }
}

/// Where the lines of a text begin, to turn offsets into line numbers.
pub(crate) struct Lines {
    /// Offsets of the newlines.
    ends: Vec<usize>,
    first: usize,
}

impl Lines {
    /// The lines of `text`, counted from `first`.
    pub fn of(text: &str, first: usize) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at).collect();
        Self { ends, first }
    }

    /// The line that holds the byte at `offset`.
    pub fn at(&self, offset: usize) -> usize {
        self.place(offset).0
    }

    /// The line that holds the byte at `offset`, and how many bytes of the line stand before it.
    pub fn place(&self, offset: usize) -> (usize, usize) {
        let before = self.ends.partition_point(|end| *end < offset);
        let begins = if before == 0 { 0 } else { self.ends[before - 1] + 1 };
        (self.first + before, offset.saturating_sub(begins))
    }
}

/// Deepest nesting of lists and tables that is read, in both formats.
pub(crate) const DEEPEST: usize = 32;
