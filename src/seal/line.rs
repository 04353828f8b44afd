//! The bytes of one entry: one JSON object, keys in the order of their bytes, no spaces, and values that need no
//! escaping. Written so, it equals what RFC 8785 makes of it, and holds no line feed.

use serde_json::{Map, Value as Json};
use std::collections::BTreeMap;

/// Integers stay under this, so that every reader of JSON keeps them exact (RFC 7493, section 2.2).
const LIMIT: i64 = 1 << 53;

/// Why a line is not an entry.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LineFault {
    #[error("an entry is one JSON object")]
    NotAnObject,
    #[error("the bytes are not the canonical ones")]
    NotCanonical,
    #[error("{field} is missing")]
    Missing { field: &'static str },
    #[error("{field} is not a field of this kind of entry")]
    Unexpected { field: String },
    #[error("{field}: expected {expected}")]
    Wrong { field: String, expected: &'static str },
    #[error("the line has {bytes} bytes; at most {most} fit")]
    TooLong { bytes: usize, most: usize },
    #[error("the text behind the commitment is missing")]
    Text,
    #[error("the act cannot be read: {0}")]
    Act(String),
}

/// One value of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Value {
    Integer(i64),
    Bool(bool),
    /// 1 to 64 of `A-Z a-z 0-9 . _ : -`.
    Word(String),
}

/// Fields without nesting, in the order of their bytes.
pub(super) type Flat = BTreeMap<String, Value>;

/// The fields of an entry; only `act` is nested.
#[derive(Debug, Default)]
pub(super) struct Fields {
    pub flat: Flat,
    pub act: Option<Flat>,
}

impl Value {
    pub(super) fn of_json(field: &str, json: &Json) -> Result<Self, LineFault> {
        let wrong = |expected| LineFault::Wrong { field: field.to_owned(), expected };
        match json {
            Json::Bool(is) => Ok(Self::Bool(*is)),
            Json::Number(number) => number
                .as_i64()
                .filter(|n| (-LIMIT < *n) && (*n < LIMIT))
                .map(Self::Integer)
                .ok_or_else(|| wrong("an integer under 2^53")),
            Json::String(word) if crate::bay::ids::well_formed(word) => Ok(Self::Word(word.clone())),
            Json::String(_) => Err(wrong("1 to 64 of A-Z a-z 0-9 . _ : -")),
            Json::Null | Json::Array(_) | Json::Object(_) => Err(wrong("an integer, true, false or a word")),
        }
    }

    pub(super) fn to_json(&self) -> Json {
        match self {
            Self::Integer(n) => Json::from(*n),
            Self::Bool(is) => Json::from(*is),
            Self::Word(word) => Json::from(word.as_str()),
        }
    }

    fn write(&self, line: &mut String) {
        match self {
            Self::Integer(n) => line.push_str(&n.to_string()),
            Self::Bool(is) => line.push_str(if *is { "true" } else { "false" }),
            Self::Word(word) => write_word(word, line),
        }
    }
}

fn write_word(word: &str, line: &mut String) {
    line.push('"');
    line.push_str(word);
    line.push('"');
}

/// Reads an object whose values are plain.
pub(super) fn flat_of_json(object: &Map<String, Json>) -> Result<Flat, LineFault> {
    object.iter().map(|(field, json)| Ok((field.clone(), Value::of_json(field, json)?))).collect()
}

fn write_flat(flat: &Flat, line: &mut String) {
    line.push('{');
    for (at, (field, value)) in flat.iter().enumerate() {
        if at > 0 {
            line.push(',');
        }
        write_word(field, line);
        line.push(':');
        value.write(line);
    }
    line.push('}');
}

impl Fields {
    /// Reads a line. What it accepts is exactly what [`Fields::write`] writes: the line is written again and compared,
    /// so that doubled fields, spaces, escapes and other spellings of a number are refused.
    pub(super) fn read(line: &str) -> Result<Self, LineFault> {
        let Ok(Json::Object(mut object)) = serde_json::from_str::<Json>(line) else {
            return Err(LineFault::NotAnObject);
        };
        let act = match object.remove("act") {
            None => None,
            Some(Json::Object(act)) => Some(flat_of_json(&act)?),
            Some(_) => return Err(LineFault::Wrong { field: "act".to_owned(), expected: "an object" }),
        };
        let fields = Self { flat: flat_of_json(&object)?, act };
        if fields.write() == line { Ok(fields) } else { Err(LineFault::NotCanonical) }
    }

    /// Writes the line. `act` sorts before every other field an entry has, so it stands first.
    pub(super) fn write(&self) -> String {
        let mut flat = String::with_capacity(512);
        write_flat(&self.flat, &mut flat);
        let Some(act) = &self.act else {
            return flat;
        };
        let mut line = String::with_capacity(512);
        line.push_str("{\"act\":");
        write_flat(act, &mut line);
        line.push(',');
        line.push_str(&flat[1..]);
        line
    }

    pub(super) fn put(&mut self, field: &str, value: Value) {
        self.flat.insert(field.to_owned(), value);
    }

    /// Takes out an integer of a type that holds less than `i64`.
    pub(super) fn take_integer<N: TryFrom<i64>>(&mut self, field: &'static str) -> Result<N, LineFault> {
        let wrong = || LineFault::Wrong { field: field.to_owned(), expected: "an integer in range" };
        match self.flat.remove(field) {
            Some(Value::Integer(n)) => N::try_from(n).map_err(|_| wrong()),
            Some(_) => Err(wrong()),
            None => Err(LineFault::Missing { field }),
        }
    }

    /// Takes out a word.
    pub(super) fn take_word(&mut self, field: &'static str) -> Result<String, LineFault> {
        match self.flat.remove(field) {
            Some(Value::Word(word)) => Ok(word),
            Some(_) => Err(LineFault::Wrong { field: field.to_owned(), expected: "a word" }),
            None => Err(LineFault::Missing { field }),
        }
    }

    /// Refuses whatever has not been taken out.
    pub(super) fn finish(self) -> Result<(), LineFault> {
        let left = self.flat.into_keys().next().or(self.act.map(|_| "act".to_owned()));
        left.map_or(Ok(()), |field| Err(LineFault::Unexpected { field }))
    }
}
