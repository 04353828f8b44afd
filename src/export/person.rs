//! Everything that is held about one candidate, as they may ask for it (UK GDPR, article 15): details, sessions, what was
//! recorded, found, decided and written, and the links that were made. No hashes, salts or tokens: they say nothing about
//! the person, and some of them open something.

use crate::marking::{CriterionId, Observation, Outcome, Verdict};
use serde::Serialize;
use time::OffsetDateTime;
use uuid::Uuid;

/// The version of the form of this file.
pub const VERSION: u32 = 1;

/// All that is held about a person.
#[derive(Debug, Serialize)]
pub struct Person {
    /// [`VERSION`].
    pub version: u32,
    #[serde(with = "time::serde::rfc3339")]
    pub made_at: OffsetDateTime,
    pub about: About,
    pub candidate: Candidate,
    /// The oldest first.
    pub sessions: Vec<Session>,
}

/// What article 15(1) wants said beside the data.
#[derive(Debug, Serialize)]
pub struct About {
    /// Whose data it is to answer for.
    pub centre: String,
    pub purposes: &'static str,
    pub recipients: &'static str,
    /// How long each kind is kept, in months, as the centre has set it.
    pub kept_months: KeptMonths,
    pub source: &'static str,
    pub rights: &'static str,
    pub automated_decisions: &'static str,
}

/// Months for which each kind of record is kept.
#[derive(Debug, Serialize)]
pub struct KeptMonths {
    pub details_after_last_session: i16,
    pub evidence_after_signature: i16,
    pub texts_after_signature: i16,
    pub links: i16,
}

/// A candidate's details.
#[derive(Debug, Serialize)]
pub struct Candidate {
    pub id: Uuid,
    pub name: String,
    pub called: Option<String>,
    pub sort_name: Option<String>,
    pub reference: String,
    pub extra_percent: u16,
    pub extra_minutes: u16,
    pub reader: bool,
    pub other_adjustment: Option<String>,
    #[serde(with = "time::serde::rfc3339")]
    pub added_at: OffsetDateTime,
    #[serde(with = "time::serde::rfc3339::option")]
    pub erased_at: Option<OffsetDateTime>,
}

/// One session of theirs.
#[derive(Debug, Serialize)]
pub struct Session {
    pub id: Uuid,
    pub task: String,
    pub task_version: i32,
    pub bay: String,
    pub assessor: String,
    #[serde(with = "time::serde::rfc3339")]
    pub planned_at: OffsetDateTime,
    pub extra_percent: u16,
    pub extra_minutes: u16,
    /// How far it has come, as pages say it.
    pub standing: &'static str,
    pub given_up: Option<GivenUp>,
    pub resit_of: Option<Uuid>,
    /// How the assessor knew who they were: `known`, `photo` or `card`.
    pub identity: Option<&'static str>,
    #[serde(with = "time::serde::rfc3339::option")]
    pub opened_at: Option<OffsetDateTime>,
    /// Name and reference as they were kept with the evidence when it was opened.
    pub details_with_evidence: Option<String>,
    /// One log for each marker.
    pub logs: Vec<Log>,
    /// Why numbers of a device are missing, as the assessor wrote it.
    pub gaps: Vec<String>,
    pub findings: Vec<Finding>,
    /// Every decision of the assessor, later ones on a criterion in the place of earlier ones.
    pub decisions: Vec<Decision>,
    pub result: Option<Result>,
    pub feedback_links: Vec<Link>,
}

/// That a session did not take place.
#[derive(Debug, Serialize)]
pub struct GivenUp {
    /// `cancelled` or `no_show`.
    pub how: &'static str,
    #[serde(with = "time::serde::rfc3339")]
    pub at: OffsetDateTime,
    pub reason: Option<String>,
}

/// What one marker recorded, free texts included.
#[derive(Debug, Serialize)]
pub struct Log {
    pub marker: String,
    pub observations: Vec<Observation>,
    /// What arrived only after the signature.
    pub late: Vec<Observation>,
}

/// What became of one criterion.
#[derive(Debug, Serialize)]
pub struct Finding {
    pub criterion: CriterionId,
    pub asks: String,
    /// As it was worked out.
    pub proposed: Outcome,
    /// As it stands.
    pub outcome: Outcome,
    pub because: String,
}

/// One decision.
#[derive(Debug, Serialize)]
pub struct Decision {
    pub criterion: CriterionId,
    pub outcome: Outcome,
    pub reason: Option<String>,
}

/// What was signed.
#[derive(Debug, Serialize)]
pub struct Result {
    pub verdict: Verdict,
    pub signed_by: String,
    #[serde(with = "time::serde::rfc3339")]
    pub signed_at: OffsetDateTime,
}

/// A link to their feedback that was made.
#[derive(Debug, Serialize)]
pub struct Link {
    #[serde(with = "time::serde::rfc3339")]
    pub made_at: OffsetDateTime,
    #[serde(with = "time::serde::rfc3339")]
    pub expires_at: OffsetDateTime,
    #[serde(with = "time::serde::rfc3339::option")]
    pub revoked_at: Option<OffsetDateTime>,
    /// How often it was opened with the right code.
    pub visits: i64,
}

/// What it is all held for.
pub const PURPOSES: &str =
    "To plan, assess, mark and defend the result of practical isolation tasks, and to tell the person how they did.";
/// Who gets it.
pub const RECIPIENTS: &str = "The centre's assessors, verifiers and managers; whoever the centre passes results on to.";
/// Where it comes from.
pub const SOURCE: &str =
    "Details from the person or whoever entered them at the centre; the rest from the assessors who watched.";
/// What the person may ask for.
pub const RIGHTS: &str = "To have details put right or erased, to have their use restricted, to object, to have a result reviewed, and to complain to the supervisory authority.";
/// Who decides.
pub const AUTOMATED: &str =
    "Findings are worked out from what was recorded by fixed rules; a person decides and signs.";

/// The file, for people to read as well.
///
/// # Errors
/// Where a value cannot be written as JSON, which none of these cannot.
pub fn json(person: &Person) -> serde_json::Result<String> {
    let mut text = serde_json::to_string_pretty(person)?;
    text.push('\n');
    Ok(text)
}
