//! What followed a signature, for the result sheet: the release, and the review with both outcomes.

use crate::marking::{Outcome, Task};
use crate::store::results::SignedResult;
use crate::store::reviews::{self, Amendment, Code, Review};
use crate::store::{CentreId, SessionId, sessions as stored};
use crate::web::error::WebError;
use crate::web::releases;
use crate::web::show::{self, Sign};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// What followed the signature of a session.
pub struct After {
    pub session: Uuid,
    pub release: releases::Shown,
    pub review: Option<Told>,
}

/// A review as staff read it.
pub struct Told {
    pub asked: String,
    pub reason: String,
    pub end: Option<Ended>,
}

/// How it ended.
pub struct Ended {
    pub by: String,
    pub at: String,
    pub words: String,
    pub amended: Option<Amended>,
}

/// The verdict that took the place of the first.
pub struct Amended {
    pub verdict: Sign,
    pub marks: String,
    pub changes: Vec<Change>,
    pub code: String,
    pub count: i64,
}

/// One finding that was changed.
pub struct Change {
    pub says: String,
    pub to: Sign,
    pub because: &'static str,
    pub words: String,
}

impl After {
    /// What followed.
    pub async fn of(
        tx: &mut PgConnection,
        centre: &CentreId,
        session: SessionId,
        task: &Task,
        now: OffsetDateTime,
    ) -> Result<Self, WebError> {
        let release = releases::Shown::of(tx, centre, session, now).await?;
        let review = match reviews::find(tx, centre, session).await? {
            Some(review) => Some(told(tx, centre, task, review).await?),
            None => None,
        };
        Ok(Self { session: session.0, release, review })
    }

    /// The verdict that took the place of the one on the sheet.
    pub fn amended(&self) -> Option<Sign> {
        let end = self.review.as_ref()?.end.as_ref()?;
        end.amended.as_ref().map(|amended| amended.verdict)
    }
}

/// A review in words.
pub async fn told(tx: &mut PgConnection, centre: &CentreId, task: &Task, review: Review) -> Result<Told, WebError> {
    let asked = show::moment(stored::local_time(tx, centre, review.asked_at).await?);
    let end = match review.end {
        None => None,
        Some(end) => {
            let at = show::moment(stored::local_time(tx, centre, end.at).await?);
            let amended = end.amended.map(|amended| verdict(task, &amended.result, &amended.changes));
            Some(Ended { by: end.by_name, at, words: end.words, amended })
        }
    };
    Ok(Told { asked, reason: review.reason, end })
}

fn verdict(task: &Task, result: &SignedResult, changes: &[Amendment]) -> Amended {
    let change = |change: &Amendment| Change {
        says: task.checklist.criterion(&change.criterion).map_or(change.criterion.as_str(), |one| &one.says).to_owned(),
        to: show::outcome(change.outcome),
        because: code_words(change.code),
        words: change.words.clone(),
    };
    Amended {
        verdict: show::verdict(result.verdict.outcome),
        marks: show::marks(&result.verdict),
        changes: changes.iter().map(change).collect(),
        code: show::grouped(&result.head),
        count: result.count,
    }
}

/// Why a finding was changed, as staff read it.
pub fn code_words(code: Code) -> &'static str {
    match code {
        Code::RecordShowsOtherwise => "The record shows something else",
        Code::RuleMisapplied => "The criterion was applied wrongly",
        Code::NewEvidence => "Something new came to light",
        Code::UnfairConditions => "Bay, equipment or briefing were not as they should have been",
        Code::RecordedWrongly => "It was recorded wrongly",
    }
}

/// The outcomes that a second person can choose, with the words of forms.
pub const OUTCOMES: [(&str, &str, Outcome); 3] = [
    ("met", "Met", Outcome::Met),
    ("not_met", "Not met", Outcome::NotMet),
    ("not_applicable", "Not applicable", Outcome::NotApplicable),
];
