//! Entries: what the evidence holds, as typed parts, and their way into a line and back.

use super::commitment::{self, Salt};
use super::digest::Digest;
use super::line::{Fields, Flat, LineFault, Value, flat_of_json};
use crate::marking::observation::Wall;
use crate::marking::{Observation, ObservationId, VerdictOutcome};
use serde_json::Value as Json;
use uuid::Uuid;

/// The version of the form of entries.
const VERSION: i64 = 1;

/// One immutable line of a session's evidence, in its parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Distinct within the session.
    pub id: Uuid,
    /// The device's own count from 1; 0 where the server made the entry.
    pub seq: u32,
    /// The device's wall clock, milliseconds since 1970.
    pub wall: i64,
    /// Session time on the device's steady clock, milliseconds.
    pub mono: u64,
    pub origin: Origin,
    pub content: Content,
}

/// Who sent an entry, from where, and when it was received.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// Staff number; written `u-17`.
    pub by: i32,
    /// The device: 1 to 64 of `A-Z a-z 0-9 . _ : -`.
    pub device: String,
    /// The page load on that device, likewise.
    pub run: String,
    /// The server's clock at receipt, milliseconds since 1970.
    pub received: i64,
    /// Milliseconds to add to the device's wall clock.
    pub offset: i64,
    /// Half the round trip, in milliseconds.
    pub error: i64,
}

/// What an entry says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Content {
    /// The first entry: whom and which published task it is about.
    Opened {
        /// The commitment to the candidate's details.
        candidate: Digest,
        /// The digest of the task version.
        task: Digest,
    },
    /// An observation; its `id`, `seq` and clocks are the entry's.
    Observed { act: CommittedAct },
    /// An observation that was received only after the outcome was signed: the signed log does not hold it.
    Late { act: CommittedAct },
    /// From here on the candidate's details are erased: so many texts behind commitments of this session were deleted
    /// with their salts.
    Erasure { texts: u32 },
    /// Numbers of a device, from `first` to `last`, that never arrived, and the commitment to the reason that was given.
    Gap { device: String, first: u32, last: u32, reason: Digest },
    /// The outcome that was signed.
    Outcome { outcome: VerdictOutcome, marks: u32, of: u32 },
}

impl Content {
    /// The act of an observation, in time or late.
    pub(super) fn act(&self) -> Option<&CommittedAct> {
        match self {
            Self::Observed { act } | Self::Late { act } => Some(act),
            Self::Opened { .. } | Self::Gap { .. } | Self::Outcome { .. } | Self::Erasure { .. } => None,
        }
    }
}

/// An act with the commitment to its text where the text stood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CommittedAct(Flat);

impl CommittedAct {
    /// Commits to an act. Answers the text as well, for keeping apart with the salt.
    fn new(observation: &Observation, salt: &Salt) -> Result<(Self, Option<String>), LineFault> {
        let unreadable = || LineFault::Wrong { field: "act".to_owned(), expected: "an object" };
        let Ok(Json::Object(mut act)) = serde_json::to_value(&observation.act) else {
            return Err(unreadable());
        };
        let text = match act.get_mut("text") {
            None => None,
            Some(place @ Json::String(_)) => {
                let commitment = place.as_str().map(|text| commitment::note(salt, text)).ok_or_else(unreadable)?;
                let Json::String(text) = std::mem::replace(place, Json::from(commitment.as_str())) else {
                    return Err(unreadable());
                };
                Some(text)
            }
            Some(_) => return Err(LineFault::Wrong { field: "text".to_owned(), expected: "a string" }),
        };
        Ok((Self(flat_of_json(&act)?), text))
    }

    /// The name of the observation that this act strikes, where it strikes one.
    pub fn strikes(&self) -> Option<&str> {
        match (self.0.get("kind"), self.0.get("observation")) {
            (Some(Value::Word(kind)), Some(Value::Word(struck))) if kind == "struck" => Some(struck),
            _ => None,
        }
    }

    /// The commitment to the act's text, where it has one.
    pub fn commitment(&self) -> Option<&str> {
        match self.0.get("text") {
            Some(Value::Word(commitment)) => Some(commitment),
            _ => None,
        }
    }
}

impl Entry {
    /// The entry of an observation, and the text that stays outside it.
    ///
    /// # Errors
    /// Where a value does not fit an entry, such as a time of 2^53 ms.
    pub fn observed(
        observation: &Observation,
        origin: Origin,
        salt: &Salt,
    ) -> Result<(Self, Option<String>), LineFault> {
        let (act, text) = CommittedAct::new(observation, salt)?;
        let entry = Self {
            id: observation.id.0,
            seq: observation.seq,
            wall: observation.wall.0,
            mono: observation.at_ms,
            origin,
            content: Content::Observed { act },
        };
        Ok((entry, text))
    }

    /// The observation in this entry, or `None` in an entry of another kind. `text` is what the act's commitment
    /// stands for.
    ///
    /// # Errors
    /// Where the text is missing though the act has one, or the act cannot be read.
    pub fn observation(&self, text: Option<&str>) -> Result<Option<Observation>, LineFault> {
        let Some(act) = self.content.act() else { return Ok(None) };
        let mut fields: serde_json::Map<_, _> =
            act.0.iter().map(|(field, value)| (field.clone(), value.to_json())).collect();
        if act.commitment().is_some() {
            fields.insert("text".to_owned(), Json::from(text.ok_or(LineFault::Text)?));
        }
        let json = serde_json::json!({
            "id": self.id,
            "seq": self.seq,
            "at_ms": self.mono,
            "wall": Wall(self.wall).rfc3339(),
            "act": fields,
        });
        let observation = Observation::read_json(&json.to_string()).map_err(|why| LineFault::Act(why.to_string()))?;
        Ok(Some(observation))
    }

    /// Whether this entry holds just that observation, whoever sent it and whenever it was received. `salt` is the
    /// one kept with the act's text; once it is erased the text can no longer be compared and counts as the same.
    pub fn holds(&self, observation: &Observation, salt: Option<&Salt>) -> bool {
        let blank = Salt::new([0; 32]);
        let Ok((mut sent, _)) = Self::observed(observation, self.origin.clone(), salt.unwrap_or(&blank)) else {
            return false;
        };
        let (Some(kept), Content::Observed { act }) = (self.content.act(), &mut sent.content) else { return false };
        if let (None, Some(kept), Some(place)) = (salt, kept.0.get("text"), act.0.get_mut("text")) {
            *place = kept.clone();
        }
        // In time or late, it is the same observation.
        kept == act && Self { content: self.content.clone(), ..sent } == *self
    }

    /// The same observation, as one that was received after the signature.
    pub fn late(self) -> Self {
        match self.content {
            Content::Observed { act } => Self { content: Content::Late { act }, ..self },
            content => Self { content, ..self },
        }
    }

    /// The id as observations write it.
    pub fn observation_id(&self) -> ObservationId {
        ObservationId(self.id)
    }

    /// The kind, as the line writes it.
    pub fn kind(&self) -> &'static str {
        match self.content {
            Content::Opened { .. } => "opened",
            Content::Observed { .. } => "observation",
            Content::Late { .. } => "late",
            Content::Gap { .. } => "gap",
            Content::Outcome { .. } => "outcome",
            Content::Erasure { .. } => "erasure",
        }
    }

    /// Writes the canonical line, without its line feed.
    ///
    /// # Errors
    /// Where a value does not fit: an integer of 2^53 or more, a device that is not an identifier.
    pub fn line(&self) -> Result<String, LineFault> {
        let mut fields = Fields::default();
        let mut put = |field: &str, json: Json| -> Result<(), LineFault> {
            fields.put(field, Value::of_json(field, &json)?);
            Ok(())
        };
        put("v", Json::from(VERSION))?;
        put("id", Json::from(self.id.hyphenated().to_string()))?;
        put("kind", Json::from(self.kind()))?;
        put("seq", Json::from(self.seq))?;
        put("wall", Json::from(self.wall))?;
        put("mono", Json::from(self.mono))?;
        put("by", Json::from(format!("u-{}", self.origin.by)))?;
        put("dev", Json::from(self.origin.device.as_str()))?;
        put("run", Json::from(self.origin.run.as_str()))?;
        put("recv", Json::from(self.origin.received))?;
        put("off", Json::from(self.origin.offset))?;
        put("err", Json::from(self.origin.error))?;
        match &self.content {
            Content::Opened { candidate, task } => {
                put("cand", Json::from(candidate.as_str()))?;
                put("task", Json::from(task.as_str()))?;
            }
            Content::Outcome { outcome, marks, of } => {
                put("outcome", serde_json::to_value(outcome).unwrap_or(Json::Null))?;
                put("marks", Json::from(*marks))?;
                put("of", Json::from(*of))?;
            }
            Content::Erasure { texts } => put("texts", Json::from(*texts))?,
            Content::Gap { device, first, last, reason } => {
                put("device", Json::from(device.as_str()))?;
                put("first", Json::from(*first))?;
                put("last", Json::from(*last))?;
                put("text", Json::from(reason.as_str()))?;
            }
            Content::Observed { act } | Content::Late { act } => fields.act = Some(act.0.clone()),
        }
        Ok(fields.write())
    }

    /// Reads a line back into its parts.
    ///
    /// # Errors
    /// Where the bytes are not exactly those that [`Entry::line`] writes for some entry.
    pub fn read(line: &str) -> Result<Self, LineFault> {
        let mut fields = Fields::read(line)?;
        if fields.take_integer::<i64>("v")? != VERSION {
            return Err(LineFault::Wrong { field: "v".to_owned(), expected: "1" });
        }
        let entry = Self {
            id: read_id(&fields.take_word("id")?)?,
            seq: fields.take_integer("seq")?,
            wall: fields.take_integer("wall")?,
            mono: fields.take_integer("mono")?,
            origin: Origin {
                by: read_by(&fields.take_word("by")?)?,
                device: fields.take_word("dev")?,
                run: fields.take_word("run")?,
                received: fields.take_integer("recv")?,
                offset: fields.take_integer("off")?,
                error: fields.take_integer("err")?,
            },
            content: read_content(&mut fields)?,
        };
        fields.finish()?;
        Ok(entry)
    }
}

fn read_content(fields: &mut Fields) -> Result<Content, LineFault> {
    match fields.take_word("kind")?.as_str() {
        "opened" => Ok(Content::Opened { candidate: read_digest(fields, "cand")?, task: read_digest(fields, "task")? }),
        "observation" => Ok(Content::Observed { act: read_act(fields)? }),
        "late" => Ok(Content::Late { act: read_act(fields)? }),
        "gap" => Ok(Content::Gap {
            device: fields.take_word("device")?,
            first: fields.take_integer("first")?,
            last: fields.take_integer("last")?,
            reason: read_digest(fields, "text")?,
        }),
        "outcome" => {
            let outcome = serde_json::from_value(Json::from(fields.take_word("outcome")?));
            let expected = "pass, fail, automatic_fail or unfinished";
            let outcome = outcome.map_err(|_| LineFault::Wrong { field: "outcome".to_owned(), expected })?;
            Ok(Content::Outcome { outcome, marks: fields.take_integer("marks")?, of: fields.take_integer("of")? })
        }
        "erasure" => Ok(Content::Erasure { texts: fields.take_integer("texts")? }),
        _ => {
            let expected = "opened, observation, late, gap, outcome or erasure";
            Err(LineFault::Wrong { field: "kind".to_owned(), expected })
        }
    }
}

fn read_act(fields: &mut Fields) -> Result<CommittedAct, LineFault> {
    fields.act.take().map(CommittedAct).ok_or(LineFault::Missing { field: "act" })
}

fn read_digest(fields: &mut Fields, field: &'static str) -> Result<Digest, LineFault> {
    let expected = "64 lower-case hex digits";
    Digest::new(&fields.take_word(field)?).ok_or(LineFault::Wrong { field: field.to_owned(), expected })
}

/// Only the usual spelling: 36 lower-case characters.
fn read_id(word: &str) -> Result<Uuid, LineFault> {
    let id = Uuid::try_parse(word).ok().filter(|id| id.hyphenated().to_string() == word);
    id.ok_or(LineFault::Wrong { field: "id".to_owned(), expected: "a UUID in lower case" })
}

fn read_by(word: &str) -> Result<i32, LineFault> {
    let number = word.strip_prefix("u-").and_then(|digits| digits.parse::<i32>().ok());
    let number = number.filter(|number| *number > 0 && format!("u-{number}") == word);
    number.ok_or(LineFault::Wrong { field: "by".to_owned(), expected: "u- and a staff number" })
}
