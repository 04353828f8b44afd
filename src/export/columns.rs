//! The columns of tables: what each is called, what kind of value it holds, and how it is read off a row.

use super::row::{Found, Row, assessor_ref, fails_word, outcome_word, verdict_word};
use crate::marking::Observation;
use std::borrow::Cow;
use time::OffsetDateTime;

/// One line of a table: a result, or a finding or an observation of it.
#[derive(Debug, Clone, Copy)]
pub struct Line<'r> {
    pub row: &'r Row,
    pub found: Option<&'r Found>,
    pub seen: Option<&'r Observation>,
}

/// What a cell holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value<'r> {
    Text(Cow<'r, str>),
    Whole(i64),
    Number(f64),
    Moment(OffsetDateTime),
    Flag(bool),
    Nothing,
}

/// What kind of value a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Text,
    Whole,
    Number,
    Moment,
    Flag,
}

/// A column.
#[derive(Clone, Copy)]
pub struct Column {
    /// Its name in the head of the table.
    pub name: &'static str,
    /// What it holds, in a few words.
    pub about: &'static str,
    pub kind: Kind,
    /// How it is read off a line.
    pub value: for<'r> fn(&Line<'r>) -> Value<'r>,
}

impl std::fmt::Debug for Column {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name)
    }
}

impl PartialEq for Column {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

/// The column that holds candidates' names: there only where names were asked for.
pub const NAME: &str = "candidate_name";

const fn column(
    name: &'static str,
    kind: Kind,
    about: &'static str,
    value: for<'r> fn(&Line<'r>) -> Value<'r>,
) -> Column {
    Column { name, about, kind, value }
}

fn text(text: &str) -> Value<'_> {
    Value::Text(Cow::Borrowed(text))
}

fn made(text: String) -> Value<'static> {
    Value::Text(Cow::Owned(text))
}

fn moment(at: Option<OffsetDateTime>) -> Value<'static> {
    at.map_or(Value::Nothing, Value::Moment)
}

fn found<'r>(line: &Line<'r>, read: impl Fn(&'r Found) -> Value<'r>) -> Value<'r> {
    line.found.map_or(Value::Nothing, read)
}

fn seen<'r>(line: &Line<'r>, read: impl Fn(&'r Observation) -> Value<'r>) -> Value<'r> {
    line.seen.map_or(Value::Nothing, read)
}

/// The columns of a table of results.
pub const RESULTS: [Column; 23] = [
    column("session_id", Kind::Text, "The session", |line| made(line.row.session.to_string())),
    column("candidate_ref", Kind::Text, "The centre's own reference", |line| text(&line.row.candidate_ref)),
    column(NAME, Kind::Text, "The candidate's name", |line| {
        line.row.candidate_name.as_deref().map_or(Value::Nothing, text)
    }),
    column("task", Kind::Text, "Title of the task", |line| text(&line.row.task_title)),
    column("task_version", Kind::Whole, "Published version of the task", |line| {
        Value::Whole(line.row.task_version.into())
    }),
    column("bay", Kind::Text, "Where", |line| text(&line.row.bay)),
    column("assessor_ref", Kind::Text, "The assessor, by number", |line| made(assessor_ref(line.row.assessor))),
    column("planned_at", Kind::Moment, "Planned for (UTC)", |line| Value::Moment(line.row.planned_at)),
    column("started_at", Kind::Moment, "Started (UTC)", |line| moment(line.row.started_at)),
    column("ended_at", Kind::Moment, "Ended (UTC)", |line| moment(line.row.ended_at())),
    column("duration_s", Kind::Number, "Length in seconds by the steady clock, pauses included", |line| {
        line.row.lasted.map_or(Value::Nothing, |lasted| Value::Number(lasted.whole_milliseconds() as f64 / 1_000.0))
    }),
    column("verdict", Kind::Text, "pass, fail, automatic_fail or unfinished", |line| {
        text(verdict_word(line.row.outcome))
    }),
    column("marks", Kind::Whole, "Marks", |line| Value::Whole(line.row.marks.into())),
    column("out_of", Kind::Whole, "Marks there were", |line| Value::Whole(line.row.out_of.into())),
    column("percent", Kind::Number, "Marks as a percentage", |line| Value::Number(line.row.percent)),
    column("automatic_fails", Kind::Text, "Criteria that ended the matter", |line| {
        made(line.row.automatic_fails().join(";"))
    }),
    column("reasons", Kind::Text, "Criteria that decided the verdict", |line| made(line.row.reasons.join(";"))),
    column("to_review", Kind::Flag, "Whether something arrived after the signature", |line| {
        Value::Flag(line.row.to_review)
    }),
    column("signed_at", Kind::Moment, "Signed (UTC)", |line| Value::Moment(line.row.signed_at)),
    column("evidence_code", Kind::Text, "The code on the result sheet", |line| text(&line.row.evidence_code)),
    column("task_id", Kind::Text, "The task through all its versions", |line| made(line.row.task.to_string())),
    column("result_id", Kind::Text, "This verdict", |line| made(line.row.result_id().to_string())),
    column("supersedes", Kind::Text, "The verdict that this one takes the place of", |line| {
        line.row.supersedes().map_or(Value::Nothing, |id| made(id.to_string()))
    }),
];

/// The columns of a table of findings.
pub const FINDINGS: [Column; 14] = [
    RESULTS[0],
    RESULTS[1],
    RESULTS[2],
    RESULTS[3],
    RESULTS[4],
    column("criterion", Kind::Text, "The criterion", |line| found(line, |one| text(&one.criterion))),
    column("stage", Kind::Text, "Its stage", |line| found(line, |one| text(&one.stage))),
    column("says", Kind::Text, "What it asks", |line| found(line, |one| text(&one.says))),
    column("outcome", Kind::Text, "What stands", |line| found(line, |one| text(outcome_word(one.outcome)))),
    column("proposed", Kind::Text, "What was worked out", |line| found(line, |one| text(outcome_word(one.proposed)))),
    column("fails", Kind::Text, "What it does when not met", |line| found(line, |one| text(fails_word(one.fails)))),
    column("weight", Kind::Whole, "Marks it carries", |line| found(line, |one| Value::Whole(one.weight.into()))),
    column("because", Kind::Text, "What it rests on", |line| found(line, |one| text(&one.because))),
    column("reason", Kind::Text, "The assessor's reason", |line| {
        found(line, |one| one.reason.as_deref().map_or(Value::Nothing, text))
    }),
];

/// The columns of a table of observations.
pub const OBSERVATIONS: [Column; 9] = [
    RESULTS[0],
    RESULTS[1],
    RESULTS[2],
    column("observation_id", Kind::Text, "The observation", |line| seen(line, |one| made(one.id.0.to_string()))),
    column("seq", Kind::Whole, "Its place in the log", |line| seen(line, |one| Value::Whole(one.seq.into()))),
    column("at_ms", Kind::Whole, "Session time in milliseconds", |line| {
        seen(line, |one| i64::try_from(one.at_ms).map_or(Value::Nothing, Value::Whole))
    }),
    column("wall", Kind::Text, "The tablet's own clock, for the record only", |line| {
        seen(line, |one| made(one.wall.rfc3339()))
    }),
    column("kind", Kind::Text, "What kind of act", |line| seen(line, |one| made(act(one).0))),
    column("act", Kind::Text, "The act as JSON", |line| seen(line, |one| made(act(one).1))),
];

/// The kind of an act, and the whole of it as JSON.
fn act(seen: &Observation) -> (String, String) {
    let json = serde_json::to_value(&seen.act).unwrap_or_default();
    (json["kind"].as_str().unwrap_or_default().to_owned(), json.to_string())
}

/// The columns of `all` that were asked for, in the order of the table; all of them where none was. Names stand there
/// where they were asked for, and only then.
pub fn choose(all: &[Column], asked: &[String], names: bool) -> Vec<Column> {
    let wanted = |column: &&Column| match column.name {
        NAME => names,
        name => asked.is_empty() || asked.iter().any(|one| one == name) || !RESULTS.iter().any(|one| one.name == name),
    };
    all.iter().filter(wanted).copied().collect()
}

/// The first of these names that is no column of a table of results.
pub fn unknown(asked: &[String]) -> Option<&String> {
    asked.iter().find(|asked| !RESULTS.iter().any(|column| column.name == asked.as_str()))
}
