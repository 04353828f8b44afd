//! Holds: what must not be erased for now, and why. A manager sets and lifts them; both stay to be read.

use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Why something is held. A closed set: a reason in free words could name the person, and stays for good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// An appeal or a complaint goes on.
    Appeal,
    /// Somebody makes a legal claim, or an insurer asks.
    Claim,
    /// An awarding or a public body looks into it.
    Inquiry,
    /// An accident or a near miss is looked into.
    Accident,
    /// The candidate asks to keep them (UK GDPR, article 18).
    Asked,
}

impl Why {
    pub const ALL: [Self; 5] = [Self::Appeal, Self::Claim, Self::Inquiry, Self::Accident, Self::Asked];

    /// The spelling in the database and in forms.
    pub fn word(self) -> &'static str {
        match self {
            Self::Appeal => "appeal",
            Self::Claim => "claim",
            Self::Inquiry => "inquiry",
            Self::Accident => "accident",
            Self::Asked => "asked",
        }
    }

    /// What a person reads.
    pub fn label(self) -> &'static str {
        match self {
            Self::Appeal => "An appeal or a complaint goes on",
            Self::Claim => "A legal claim, or an insurer asks",
            Self::Inquiry => "An awarding or a public body looks into it",
            Self::Accident => "An accident or a near miss is looked into",
            Self::Asked => "The candidate asks for them to be kept",
        }
    }

    /// The reason that is spelled so.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|why| why.word() == word)
    }
}

/// A hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hold {
    /// Its number in the centre, from 1.
    pub n: i32,
    pub candidate: CandidateId,
    /// The candidate's name now.
    pub name: String,
    /// The one session that is held, with its title and when it was planned for; everything of the candidate where there
    /// is none.
    pub session: Option<(SessionId, String, OffsetDateTime)>,
    pub why: Why,
    pub set_at: OffsetDateTime,
    /// Who set it.
    pub set_by: String,
    /// When it was lifted, and by whom.
    pub lifted: Option<(OffsetDateTime, String)>,
}

/// What became of setting a hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Set {
    /// It is set, under this number.
    Done(i32),
    /// The same is held already. Nothing was changed.
    Already,
    /// There is no such candidate, they are erased, or the session is not theirs.
    Missing,
}

/// Holds a session of a candidate, or everything of them.
pub async fn set(
    tx: &mut PgConnection,
    centre: &CentreId,
    (candidate, session): (CandidateId, Option<SessionId>),
    why: Why,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<Set, StoreError> {
    // Held, so that a run which erases waits for the hold, or the hold for the run.
    let there = sqlx::query_scalar!(
        "SELECT candidate_id FROM candidates WHERE centre_id = $1 AND candidate_id = $2 AND erased_at IS NULL FOR UPDATE",
        centre.as_str(),
        candidate.0,
    )
    .fetch_optional(&mut *tx)
    .await?;
    let session = session.map(|session| session.0);
    let about = sqlx::query!(
        r#"SELECT ($3::uuid IS NULL OR EXISTS (SELECT FROM sessions s WHERE s.centre_id = $1 AND s.session_id = $3
                                               AND s.candidate_id = $2)) AS "theirs!",
                  EXISTS (SELECT FROM holds h WHERE h.centre_id = $1 AND h.candidate_id = $2 AND lifted_at IS NULL
                          AND (h.session_id IS NULL OR h.session_id = $3)) AS "held!""#,
        centre.as_str(),
        candidate.0,
        session,
    )
    .fetch_one(&mut *tx)
    .await?;
    if there.is_none() || !about.theirs {
        return Ok(Set::Missing);
    }
    if about.held {
        return Ok(Set::Already);
    }
    sqlx::query!("SELECT pg_advisory_xact_lock(hashtextextended('holds ' || $1, 0))", centre.as_str())
        .execute(&mut *tx)
        .await?;
    let n = sqlx::query_scalar!(
        "INSERT INTO holds (centre_id, n, candidate_id, session_id, reason, set_at, set_by)
         SELECT $1, coalesce(max(n), 0) + 1, $2, $3, $4, $5, $6 FROM holds WHERE centre_id = $1 RETURNING n",
        centre.as_str(),
        candidate.0,
        session,
        why.word(),
        now,
        by.0,
    )
    .fetch_one(tx)
    .await?;
    Ok(Set::Done(n))
}

/// Lifts a hold. `false`, and nothing changed, where there is none of that number or it is lifted already.
pub async fn lift(
    tx: &mut PgConnection,
    centre: &CentreId,
    n: i32,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE holds SET lifted_at = $3, lifted_by = $4 WHERE centre_id = $1 AND n = $2 AND lifted_at IS NULL",
        centre.as_str(),
        n,
        now,
        by.0,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The hold of this number.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, n: i32) -> Result<Option<Hold>, StoreError> {
    Ok(some(tx, centre, None, Some(n), 1).await?.pop())
}

/// Holds of the centre, those that stand first, the newest first: of one candidate, where that is told, and at most `most`.
pub async fn list(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: Option<CandidateId>,
    most: i64,
) -> Result<Vec<Hold>, StoreError> {
    some(tx, centre, candidate, None, most).await
}

async fn some(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: Option<CandidateId>,
    n: Option<i32>,
    most: i64,
) -> Result<Vec<Hold>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT h.n, h.candidate_id, c.name, h.session_id, t.title AS "title?", s.planned_at AS "planned_at?", h.reason,
                  h.set_at, a.name AS set_by, h.lifted_at, b.name AS "lifted_by?"
           FROM holds h
           JOIN candidates c ON c.centre_id = h.centre_id AND c.candidate_id = h.candidate_id
           JOIN staff a ON a.centre_id = h.centre_id AND a.number = h.set_by
           LEFT JOIN staff b ON b.centre_id = h.centre_id AND b.number = h.lifted_by
           LEFT JOIN sessions s ON s.centre_id = h.centre_id AND s.session_id = h.session_id
           LEFT JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           WHERE h.centre_id = $1 AND ($2::uuid IS NULL OR h.candidate_id = $2) AND ($3::integer IS NULL OR h.n = $3)
           ORDER BY h.lifted_at IS NULL DESC, h.n DESC LIMIT $4"#,
        centre.as_str(),
        candidate.map(|candidate| candidate.0),
        n,
        most,
    )
    .fetch_all(tx)
    .await?;
    let hold = rows.into_iter().map(|row| {
        let why = Why::of_word(&row.reason)
            .ok_or_else(|| StoreError::unreadable("holds", row.n, format!("no reason is called {}", row.reason)))?;
        let session = row.session_id.zip(row.title).zip(row.planned_at);
        Ok(Hold {
            n: row.n,
            candidate: CandidateId(row.candidate_id),
            name: row.name,
            session: session.map(|((id, title), at)| (SessionId(id), title, at)),
            why,
            set_at: row.set_at,
            set_by: row.set_by,
            lifted: row.lifted_at.zip(row.lifted_by),
        })
    });
    hold.collect()
}
