//! The part of the candidate's page about a review: asking for one, and what came of it.

use super::words::{Arg, Key, Piece, Words};
use crate::marking::Task;
use crate::store::results::SignedResult;
use crate::store::reviews::{Amended, LONGEST_TEXT, Review};
use crate::store::{CentreId, sessions as stored};
use crate::web::error::WebError;
use crate::web::show::Sign;
use sqlx::PgConnection;
use time::OffsetDateTime;

/// What the page shows about a review.
#[derive(Default)]
pub struct ReviewPart {
    /// Until when one can be asked for; `None` where it no longer can, or was.
    pub until: Option<Vec<Piece>>,
    /// That the days are over.
    pub over: Option<Vec<Piece>>,
    pub fault: Option<&'static str>,
    pub typed: String,
    pub asked: Option<Asked>,
}

/// A review that was asked for.
pub struct Asked {
    pub on: Vec<Piece>,
    pub reason: String,
    pub answer: Option<Answer>,
}

/// How it ended.
pub struct Answer {
    pub says: Key,
    pub by: Vec<Piece>,
    pub words: String,
    /// The first result, where another stands now.
    pub first: Option<Vec<Piece>>,
    pub changes: Vec<Changed>,
}

/// One finding that was changed.
pub struct Changed {
    pub says: String,
    pub to: Sign,
    pub because: &'static str,
    pub words: String,
}

/// What a review is shown from.
pub struct Asking<'a> {
    pub task: &'a Task,
    pub first: &'a SignedResult,
    pub assessor: &'a str,
    pub review: Option<&'a Review>,
    /// The last instant in which one can be asked for.
    pub until: OffsetDateTime,
    pub now: OffsetDateTime,
}

impl ReviewPart {
    /// As it stands.
    pub async fn of(tx: &mut PgConnection, centre: &CentreId, w: Words, asking: &Asking<'_>) -> Result<Self, WebError> {
        let mut part = Self::default();
        let Some(review) = asking.review else {
            let until = w.day(stored::local_time(tx, centre, asking.until).await?);
            let day = [("day", Arg::Plain(&until))];
            if asking.now <= asking.until {
                part.until = Some(w.with(Key::ReviewUntil, &day));
            } else {
                part.over = Some(w.with(Key::ReviewOver, &day));
            }
            return Ok(part);
        };
        let on = w.day(stored::local_time(tx, centre, review.asked_at).await?);
        let answer = match &review.end {
            None => None,
            Some(end) => {
                let day = w.day(stored::local_time(tx, centre, end.at).await?);
                let by = [("name", Arg::Name(&end.by_name)), ("day", Arg::Plain(&day))];
                let signed = w.day(stored::local_time(tx, centre, asking.first.at).await?);
                let word = w.verdict(asking.first.verdict.outcome).word;
                let first =
                    [("word", Arg::Plain(word)), ("name", Arg::Name(asking.assessor)), ("day", Arg::Plain(&signed))];
                Some(Answer {
                    says: match &end.amended {
                        None => Key::ReviewUpheld,
                        Some(now) if now.result.verdict.outcome == asking.first.verdict.outcome => Key::ReviewPoints,
                        Some(_) => Key::ReviewAmended,
                    },
                    by: w.with(Key::ReviewBy, &by),
                    words: end.words.clone(),
                    first: end.amended.as_ref().map(|_| w.with(Key::ReviewFirst, &first)),
                    changes: end.amended.as_ref().map(|amended| changed(asking.task, w, amended)).unwrap_or_default(),
                })
            }
        };
        let on = w.with(Key::ReviewAsked, &[("day", Arg::Plain(&on))]);
        part.asked = Some(Asked { on, reason: review.reason.clone(), answer });
        Ok(part)
    }
}

fn changed(task: &Task, w: Words, amended: &Amended) -> Vec<Changed> {
    let one = |change: &crate::store::reviews::Amendment| Changed {
        says: task.checklist.criterion(&change.criterion).map_or(change.criterion.as_str(), |one| &one.says).to_owned(),
        to: w.outcome(change.outcome),
        because: w.code(change.code),
        words: change.words.clone(),
    };
    amended.changes.iter().map(one).collect()
}

/// What is wrong with a reason that was typed, if anything.
pub fn refuse(typed: &str) -> Option<Key> {
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if typed.is_empty() {
        Some(Key::ReviewEmpty)
    } else if typed.chars().count() > LONGEST_TEXT || typed.chars().any(odd) {
        Some(Key::ReviewLong)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_has_1_to_2000_characters() {
        assert_eq!(refuse(""), Some(Key::ReviewEmpty));
        assert_eq!(refuse(&"é".repeat(2_000)), None);
        assert_eq!(refuse(&"😀".repeat(2_000)), None);
        assert_eq!(refuse(&"é".repeat(2_001)), Some(Key::ReviewLong));
        assert_eq!(refuse("a\u{0}b"), Some(Key::ReviewLong));
        assert_eq!(refuse("two\r\nlines"), None);
    }
}
