//! Reviews of signed results: a candidate asks once, a second person upholds or amends. Nothing is replaced: the first
//! verdict and the amended one both stay.

use super::chain::{Chain, unix_ms};
use super::entries::SERVER;
use super::results::{self, SignedResult};
use super::{CentreId, SessionId, StaffNo, StoreError, decisions, ids};
use crate::marking::decision::Decision;
use crate::marking::{CriterionId, Outcome, Verdict};
use crate::seal::{Content, Entry, Origin};
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// Longest text of a candidate or a verifier, in characters.
pub const LONGEST_TEXT: usize = 2_000;

/// Why a finding is amended. A closed set: the word goes into the evidence, where no free text may stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Code {
    /// The record shows something else than was decided.
    RecordShowsOtherwise,
    /// The rule, or the criterion, was applied wrongly.
    RuleMisapplied,
    /// Something came to light that was not in the record.
    NewEvidence,
    /// Bay, equipment or briefing were not as they should have been.
    UnfairConditions,
    /// A slip of the hand that was signed.
    RecordedWrongly,
}

impl Code {
    pub const ALL: [Self; 5] = [
        Self::RecordShowsOtherwise,
        Self::RuleMisapplied,
        Self::NewEvidence,
        Self::UnfairConditions,
        Self::RecordedWrongly,
    ];

    /// The spelling in the evidence, the database and forms.
    pub fn word(self) -> &'static str {
        match self {
            Self::RecordShowsOtherwise => "record_shows_otherwise",
            Self::RuleMisapplied => "rule_misapplied",
            Self::NewEvidence => "new_evidence",
            Self::UnfairConditions => "unfair_conditions",
            Self::RecordedWrongly => "recorded_wrongly",
        }
    }

    /// The code that is spelled so.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|code| code.word() == word)
    }
}

/// One finding as a second person decided it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Amendment {
    pub criterion: CriterionId,
    /// Met, not met or not applicable.
    pub outcome: Outcome,
    pub code: Code,
    pub words: String,
}

impl Amendment {
    /// As a decision that comes after those of the assessor.
    pub fn decision(&self) -> Decision {
        Decision { criterion: self.criterion.clone(), outcome: self.outcome, reason: Some(self.words.clone()) }
    }
}

/// A verdict that took the place of the one before.
#[derive(Debug, Clone, PartialEq)]
pub struct Amended {
    pub result: SignedResult,
    pub by_name: String,
    pub changes: Vec<Amendment>,
}

/// How a review ended.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// What the candidate is told.
    pub words: String,
    pub by: StaffNo,
    pub by_name: String,
    pub at: OffsetDateTime,
    /// The new verdict; `None` where the first was upheld.
    pub amended: Option<Amended>,
}

/// A review that was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    pub asked_at: OffsetDateTime,
    pub reason: String,
    pub end: Option<End>,
}

/// Asks for a review. Answers `false`, and changes nothing, where one was asked for already. Whether it can still be
/// asked for is the caller's to check.
pub async fn ask(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    reason: &str,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO reviews (centre_id, session_id, asked_at, reason) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING",
        centre.as_str(),
        session.0,
        now,
        reason,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The review of a session, where one was asked for.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Option<Review>, StoreError> {
    let row = sqlx::query!(
        r#"SELECT v.asked_at, v.reason, e.words AS "words?", e.by AS "by?", e.at AS "at?", s.name AS "name?"
           FROM reviews v
           LEFT JOIN review_ends e ON e.centre_id = v.centre_id AND e.session_id = v.session_id
           LEFT JOIN staff s ON s.centre_id = e.centre_id AND s.number = e.by
           WHERE v.centre_id = $1 AND v.session_id = $2"#,
        centre.as_str(),
        session.0,
    )
    .fetch_optional(&mut *tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let end = match (row.words, row.by, row.at) {
        (Some(words), Some(by), Some(at)) => {
            let amended = amended(tx, centre, session).await?;
            Some(End { words, by: StaffNo(by), by_name: row.name.unwrap_or_default(), at, amended })
        }
        _ => None,
    };
    Ok(Some(Review { asked_at: row.asked_at, reason: row.reason, end }))
}

/// The last amended verdict of a session, where there is one.
pub async fn amended(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<Amended>, StoreError> {
    let row = sqlx::query!(
        "SELECT ordinal, outcome, marks, out_of, percent, reasons, count, head, signed_by, signed_at, name
         FROM amended_results r JOIN staff s ON s.centre_id = r.centre_id AND s.number = r.signed_by
         WHERE r.centre_id = $1 AND r.session_id = $2 ORDER BY ordinal DESC LIMIT 1",
        centre.as_str(),
        session.0,
    )
    .fetch_optional(&mut *tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let verdict = results::verdict_of(session.0, &row.outcome, row.marks, row.out_of, row.percent, &row.reasons)?;
    let result =
        SignedResult { verdict, count: row.count, head: row.head, by: StaffNo(row.signed_by), at: row.signed_at };
    let changes = amendments(tx, centre, session, row.ordinal).await?;
    Ok(Some(Amended { result, by_name: row.name, changes }))
}

/// The verdict of a session that stands: the amended one, else the first. `None` where it is not signed.
pub async fn stands(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<SignedResult>, StoreError> {
    match amended(tx, centre, session).await? {
        Some(amended) => Ok(Some(amended.result)),
        None => results::find(tx, centre, session).await,
    }
}

/// What was changed up to this verdict of a session: nothing for the first, 0.
pub async fn amendments(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    ordinal: i32,
) -> Result<Vec<Amendment>, StoreError> {
    let rows = sqlx::query!(
        "SELECT criterion, outcome, code, words FROM amendments
         WHERE centre_id = $1 AND session_id = $2 AND ordinal <= $3 ORDER BY ordinal, criterion",
        centre.as_str(),
        session.0,
        ordinal,
    )
    .fetch_all(tx)
    .await?;
    let unreadable = |word: &str| StoreError::unreadable("amendments", session.0, format!("nothing is called {word}"));
    rows.into_iter()
        .map(|row| {
            Ok(Amendment {
                criterion: CriterionId::new(&row.criterion).ok_or_else(|| unreadable(&row.criterion))?,
                outcome: decisions::of_word(&row.outcome).ok_or_else(|| unreadable(&row.outcome))?,
                code: Code::of_word(&row.code).ok_or_else(|| unreadable(&row.code))?,
                words: row.words,
            })
        })
        .collect()
}

/// What a second person decides.
#[derive(Debug, Clone)]
pub struct Decided<'a> {
    pub by: StaffNo,
    /// What the candidate is told.
    pub words: &'a str,
    /// What is changed; empty where the result is upheld.
    pub changes: &'a [Amendment],
    /// The verdict with the changes in it.
    pub verdict: &'a Verdict,
}

/// Why a review cannot be ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// None was asked for, or it is ended.
    NotOpen,
    /// The same person signed the result.
    SamePerson,
}

/// Ends the review of a session that the caller holds. Where something is changed, appends an `amendment` entry for each
/// change and the new `outcome` to the chain, and stores the new verdict beside the first.
pub async fn end(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    decided: &Decided<'_>,
    now: OffsetDateTime,
) -> Result<Result<(), Refused>, StoreError> {
    let (Some(first), Some(Review { end: None, .. })) =
        (results::find(tx, centre, session).await?, find(tx, centre, session).await?)
    else {
        return Ok(Err(Refused::NotOpen));
    };
    if first.by == decided.by {
        return Ok(Err(Refused::SamePerson));
    }
    if !decided.changes.is_empty() {
        amend(tx, centre, session, decided, now.max(first.at + Duration::milliseconds(1))).await?;
    }
    sqlx::query!(
        "INSERT INTO review_ends (centre_id, session_id, how, words, by, at) VALUES ($1, $2, $3, $4, $5, $6)",
        centre.as_str(),
        session.0,
        if decided.changes.is_empty() { "upheld" } else { "amended" },
        decided.words,
        decided.by.0,
        now,
    )
    .execute(tx)
    .await?;
    Ok(Ok(()))
}

/// `at` is after the signature of the verdict before, so that exports, which go by time, tell them apart.
async fn amend(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    decided: &Decided<'_>,
    at: OffsetDateTime,
) -> Result<(), StoreError> {
    let missing = || StoreError::unreadable("sessions", session.0, "it is not there");
    let mut chain = Chain::of_session(tx, centre, session).await?.ok_or_else(missing)?;
    for change in decided.changes {
        let content = Content::Amendment {
            criterion: change.criterion.as_str().to_owned(),
            outcome: change.outcome,
            reason: change.code.word().to_owned(),
        };
        chain.push(&entry(decided.by, content, at), None)?;
    }
    let verdict = decided.verdict;
    let content = Content::Outcome { outcome: verdict.outcome, marks: verdict.marks, of: verdict.of };
    chain.push(&entry(decided.by, content, at), None)?;
    let (count, head) = (chain.count(), chain.head().to_string());
    chain.write(tx, centre, None).await?;
    let number = |marks: u32| i32::try_from(marks).unwrap_or(i32::MAX);
    let reasons: Vec<String> = verdict.reasons.iter().map(|reason| reason.as_str().to_owned()).collect();
    let ordinal = sqlx::query_scalar!(
        "INSERT INTO amended_results (centre_id, session_id, ordinal, outcome, marks, out_of, percent, reasons, count,
                                      head, signed_by, signed_at)
         SELECT $1, $2, coalesce(max(ordinal), 0) + 1, $3, $4, $5, $6, $7, $8, $9, $10, $11
         FROM amended_results WHERE centre_id = $1 AND session_id = $2 RETURNING ordinal",
        centre.as_str(),
        session.0,
        results::word(verdict.outcome),
        number(verdict.marks),
        number(verdict.of),
        verdict.percent,
        &reasons,
        count,
        head,
        decided.by.0,
        at,
    )
    .fetch_one(&mut *tx)
    .await?;
    for change in decided.changes {
        sqlx::query!(
            "INSERT INTO amendments (centre_id, session_id, ordinal, criterion, outcome, code, words)
             VALUES ($1, $2, $3, $4, $5, $6, $7)",
            centre.as_str(),
            session.0,
            ordinal,
            change.criterion.as_str(),
            decisions::word(change.outcome),
            change.code.word(),
            change.words,
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}

fn entry(by: StaffNo, content: Content, at: OffsetDateTime) -> Entry {
    let wall = unix_ms(at);
    let (device, run) = (SERVER.to_owned(), SERVER.to_owned());
    let origin = Origin { by: by.0, device, run, received: wall, offset: 0, error: 0 };
    Entry { id: ids::of_server(at), seq: 0, wall, mono: 0, origin, content }
}

/// A review in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub session: Uuid,
    pub candidate: String,
    pub reference: String,
    pub task: String,
    pub assessor: String,
    pub asked_at: OffsetDateTime,
    /// `None` while it is open; else whether the result was amended.
    pub amended: Option<bool>,
    pub by: Option<String>,
    pub at: Option<OffsetDateTime>,
}

/// Most reviews in the list.
pub const MOST_LISTED: i64 = 200;

/// Reviews: those that are open first, the oldest of them first; then those that ended, the newest first.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query_as!(
        Listed,
        r#"SELECT v.session_id AS session, c.name AS candidate, c.reference, t.title AS task, a.name AS assessor,
                  v.asked_at, e.how = 'amended' AS amended, b.name AS "by?", e.at AS "at?"
           FROM reviews v
           JOIN sessions s ON s.centre_id = v.centre_id AND s.session_id = v.session_id
           JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
           JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           JOIN staff a ON a.centre_id = s.centre_id AND a.number = s.assessor
           LEFT JOIN review_ends e ON e.centre_id = v.centre_id AND e.session_id = v.session_id
           LEFT JOIN staff b ON b.centre_id = e.centre_id AND b.number = e.by
           WHERE v.centre_id = $1
           ORDER BY e.at DESC NULLS FIRST, v.asked_at, v.session_id LIMIT $2"#,
        centre.as_str(),
        MOST_LISTED,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows)
}
