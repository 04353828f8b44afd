//! What an export is made of: one row for each signed result, and what was found and seen in its session.

use super::status_list::Place;
use crate::marking::observation::Wall;
use crate::marking::{Fails, Observation, Outcome, VerdictOutcome};
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// A signed result with its session.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub session: Uuid,
    /// How many earlier verdicts on this session were amended: 0 for the first.
    pub ordinal: u32,
    /// Staff number of whoever signed this verdict.
    pub signed_by: i32,
    /// Whether a later verdict took the place of this one.
    pub superseded: bool,
    /// What a second person changed from the verdict before, as `criterion:outcome:code`; empty for the first.
    pub amendments: Vec<String>,
    pub candidate_ref: String,
    /// Left out unless it was asked for.
    pub candidate_name: Option<String>,
    pub task: Uuid,
    pub task_title: String,
    pub task_version: i32,
    pub bay: String,
    /// Staff number.
    pub assessor: i32,
    pub planned_at: OffsetDateTime,
    /// The tablet's wall clock at `started`, put right by what the service knew of it.
    pub started_at: Option<OffsetDateTime>,
    /// From `started` to `ended` by the steady clock, pauses included.
    pub lasted: Option<Duration>,
    pub signed_at: OffsetDateTime,
    pub outcome: VerdictOutcome,
    pub marks: u32,
    pub out_of: u32,
    pub percent: f64,
    /// Identifiers of the criteria that decided it.
    pub reasons: Vec<String>,
    /// Whether something the assessor recorded arrived only after the signature.
    pub to_review: bool,
    /// The hash of the last entry that the signature covers.
    pub evidence_code: String,
    /// Where the centre says whether it calls the credential of this verdict back: of a pass, where marking was asked for.
    pub place: Option<Place>,
    /// What marking the session once more says, where it was asked for.
    pub marked: Option<Marked>,
}

/// What was found and seen in a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Marked {
    pub findings: Vec<Found>,
    /// The signed log, in the order of recording.
    pub observations: Vec<Observation>,
    /// From start to end, pauses left out, in milliseconds.
    pub worked_ms: u64,
    /// Allowed, the adjustment included, in milliseconds.
    pub allowed_ms: u64,
}

/// A finding as it stands after the assessor's decisions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    pub criterion: String,
    pub stage: String,
    pub says: String,
    pub fails: Fails,
    pub weight: u16,
    pub outcome: Outcome,
    /// What the rule worked out.
    pub proposed: Outcome,
    /// Session time of what settled it, in milliseconds.
    pub at_ms: Option<u64>,
    /// What it rests on, in a sentence.
    pub because: String,
    /// The assessor's reason, where one was given.
    pub reason: Option<String>,
}

/// A planned session, as a calendar shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    pub session: Uuid,
    pub task_title: String,
    pub bay: String,
    /// Staff number.
    pub assessor: i32,
    pub planned_at: OffsetDateTime,
    /// How long the attempt takes, the adjustment included.
    pub lasts: Duration,
    /// Counts the changes of the plan, its cancelling included.
    pub sequence: u32,
    /// When the plan was made or last changed, where that is known.
    pub changed_at: Option<OffsetDateTime>,
    /// Whether it was cancelled.
    pub cancelled: bool,
}

impl Row {
    /// The name of this verdict, distinct from that of one it amends: a UUID of version 5 (RFC 9562, section 5.5), so that
    /// the same verdict has the same name in every export.
    pub fn result_id(&self) -> Uuid {
        result_id(self.session, self.ordinal)
    }

    /// The name of the verdict that this one takes the place of.
    pub fn supersedes(&self) -> Option<Uuid> {
        self.ordinal.checked_sub(1).map(|before| result_id(self.session, before))
    }

    /// The end: the start and what the steady clock counted, so that a wall clock put forward or back in between changes
    /// nothing. Never after the signature.
    pub fn ended_at(&self) -> Option<OffsetDateTime> {
        let end = self.started_at?.checked_add(self.lasted?)?;
        Some(end.min(self.signed_at))
    }

    /// The automatic fails that stand.
    pub fn automatic_fails(&self) -> &[String] {
        if self.outcome == VerdictOutcome::AutomaticFail { &self.reasons } else { &[] }
    }
}

fn result_id(session: Uuid, ordinal: u32) -> Uuid {
    Uuid::new_v5(&session, format!("baywitness verdict {ordinal}").as_bytes())
}

/// An assessor as everything that leaves the house names them, such as `u-17`.
pub fn assessor_ref(number: i32) -> String {
    format!("u-{number}")
}

/// An instant as ISO 8601 in UTC with milliseconds, such as `2027-02-03T10:03:04.250Z`.
pub fn moment(at: OffsetDateTime) -> String {
    Wall::of(at).rfc3339()
}

/// A verdict in one word, the same in every format.
pub fn verdict_word(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "pass",
        VerdictOutcome::Fail => "fail",
        VerdictOutcome::AutomaticFail => "automatic_fail",
        VerdictOutcome::Unfinished => "unfinished",
    }
}

/// An outcome of a criterion in one word.
pub fn outcome_word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not_met",
        Outcome::NotSeen => "not_seen",
        Outcome::NotApplicable => "not_applicable",
    }
}

/// What a criterion does that is not met, in one word.
pub fn fails_word(fails: Fails) -> &'static str {
    match fails {
        Fails::Ordinary => "ordinary",
        Fails::Must => "must",
        Fails::Automatic => "automatic",
    }
}
