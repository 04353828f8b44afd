//! Erasing a candidate's details (UK GDPR, article 17), and the list that lets a restored backup be purged again.
//!
//! What names the person goes: their details, the words they are found by, the free texts of their sessions with the
//! salts, the reasons of decisions, and the links to their feedback. The chains stay, and verify: a commitment whose text
//! and salt are gone says nothing. So do marks and outcomes, which are then nobody's.

use super::chain::{Chain, unix_ms};
use super::entries::{ERASED, SERVER};
use super::holds::{self, Why};
use super::sessions::Ended;
use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError, ids, planning};
use crate::seal::{Content, Entry, Origin};
use serde::{Deserialize, Serialize};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// What stands in the place of an erased name.
pub const NAME: &str = "erased";

/// Why a plan of an erased candidate was given up.
const GIVEN_UP: &str = "The candidate's details were erased";

/// Why an erasure should wait: until then the centre may need the details to answer for the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hold {
    /// The session is open and not signed.
    Running(SessionId),
    /// A review of the result can be asked for until then.
    Review(SessionId, OffsetDateTime),
    /// A manager has said why it must be kept for now.
    Set(Why),
}

/// Why it is done all the same. A closed set: a reason in free words could name the person, and stays for good.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Despite {
    /// They give up their attempt and their right to a review.
    Withdrawn,
    /// The details should not have been kept at all.
    Unlawful,
    /// A court or an authority asks for it.
    Ordered,
    /// The same person is there twice.
    EnteredTwice,
}

impl Despite {
    pub const ALL: [Self; 4] = [Self::Withdrawn, Self::Unlawful, Self::Ordered, Self::EnteredTwice];

    /// The spelling in the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::Withdrawn => "withdrawn",
            Self::Unlawful => "unlawful",
            Self::Ordered => "ordered",
            Self::EnteredTwice => "entered_twice",
        }
    }

    /// The reason that is spelled so.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|why| why.word() == word)
    }
}

/// How much is removed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    pub sessions: i32,
    /// Free texts, and details kept with the evidence.
    pub texts: i32,
    /// Reasons of decisions and releases, and what was written in reviews.
    pub reasons: i32,
    /// Links to feedback.
    pub links: i32,
}

/// A row of the list of erasures. It names nobody.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Erasure {
    pub candidate: Uuid,
    #[serde(with = "time::serde::rfc3339")]
    pub erased_at: OffsetDateTime,
    /// Staff number.
    pub erased_by: i32,
    pub despite: Option<Despite>,
    pub counts: Counts,
}

/// What became of a list of erasures on a restored database.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Replayed {
    /// People who were there again and are erased now.
    pub erased: usize,
    /// People who were erased already.
    pub already: usize,
    /// People whom the restored database does not know.
    pub unknown: usize,
}

/// Everything that an erasure should wait for.
pub async fn holds(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: CandidateId,
    now: OffsetDateTime,
) -> Result<Vec<Hold>, StoreError> {
    // The days are counted from when the result was opened last to the end of the last of them by the centre's calendar; a
    // review that is asked for has a month after that.
    let rows = sqlx::query!(
        r#"SELECT s.session_id, s.standing = 'open' AS "running!",
                  ((greatest(r.signed_at, (SELECT max(opens_at) FROM releases l
                                           WHERE l.centre_id = s.centre_id AND l.session_id = s.session_id))
                      AT TIME ZONE z.time_zone)::date + z.review_days + 1
                      + CASE WHEN v.session_id IS NOT NULL AND e.session_id IS NULL THEN 31 ELSE 0 END)::timestamp
                      AT TIME ZONE z.time_zone - interval '1 second' AS "until?"
           FROM sessions s JOIN centres z ON z.centre_id = s.centre_id
           LEFT JOIN results r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
           LEFT JOIN reviews v ON v.centre_id = s.centre_id AND v.session_id = s.session_id
           LEFT JOIN review_ends e ON e.centre_id = s.centre_id AND e.session_id = s.session_id
           WHERE s.centre_id = $1 AND s.candidate_id = $2
           ORDER BY s.planned_at, s.session_id"#,
        centre.as_str(),
        candidate.0,
    )
    .fetch_all(&mut *tx)
    .await?;
    let hold = rows.into_iter().filter_map(|row| {
        let session = SessionId(row.session_id);
        let until = row.until.filter(|until| *until >= now);
        if row.running { Some(Hold::Running(session)) } else { until.map(|until| Hold::Review(session, until)) }
    });
    let mut all: Vec<_> = hold.collect();
    let set = holds::list(tx, centre, Some(candidate), i64::MAX).await?;
    all.extend(set.into_iter().filter(|one| one.lifted.is_none()).map(|one| Hold::Set(one.why)));
    Ok(all)
}

/// How much an erasure would remove.
pub async fn counts(tx: &mut PgConnection, centre: &CentreId, candidate: CandidateId) -> Result<Counts, StoreError> {
    let row = sqlx::query!(
        r#"WITH theirs AS (SELECT session_id FROM sessions WHERE centre_id = $1 AND candidate_id = $2)
           SELECT (SELECT count(*)::integer FROM theirs) AS "sessions!",
                  (SELECT count(*)::integer FROM texts JOIN theirs USING (session_id) WHERE centre_id = $1) AS "texts!",
                  (SELECT count(*)::integer FROM decisions JOIN theirs USING (session_id)
                   WHERE centre_id = $1 AND reason <> $3)
                  + (SELECT count(*)::integer FROM releases JOIN theirs USING (session_id)
                     WHERE centre_id = $1 AND reason <> $3)
                  + (SELECT count(*)::integer FROM reviews JOIN theirs USING (session_id)
                     WHERE centre_id = $1 AND reason <> $3)
                  + (SELECT count(*)::integer FROM review_ends JOIN theirs USING (session_id)
                     WHERE centre_id = $1 AND words <> $3)
                  + (SELECT count(*)::integer FROM amendments JOIN theirs USING (session_id)
                     WHERE centre_id = $1 AND words <> $3) AS "reasons!",
                  (SELECT count(*)::integer FROM feedback_links JOIN theirs USING (session_id)
                   WHERE centre_id = $1) AS "links!""#,
        centre.as_str(),
        candidate.0,
        ERASED,
    )
    .fetch_one(tx)
    .await?;
    Ok(Counts { sessions: row.sessions, texts: row.texts, reasons: row.reasons, links: row.links })
}

/// Erases what names a candidate, cancels what is planned for them and says so in the chain of each session that was
/// opened. `None`, and nothing changed, where there is no such candidate or they are erased already. Whether anything
/// stands in the way is the caller's to ask ([`holds()`]).
pub async fn erase(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: CandidateId,
    by: StaffNo,
    despite: Option<Despite>,
    now: OffsetDateTime,
) -> Result<Option<Counts>, StoreError> {
    let there = sqlx::query_scalar!(
        "SELECT erased_at FROM candidates WHERE centre_id = $1 AND candidate_id = $2 FOR UPDATE",
        centre.as_str(),
        candidate.0,
    )
    .fetch_optional(&mut *tx)
    .await?;
    if there != Some(None) {
        return Ok(None);
    }
    let opened = give_up_plans(tx, centre, candidate, by, now).await?;
    let counts = counts(tx, centre, candidate).await?;
    for session in opened {
        note_in_chain(tx, centre, session, by, Which::All, now).await?;
    }
    let erasure = Erasure { candidate: candidate.0, erased_at: now, erased_by: by.0, despite, counts };
    blank(tx, centre, &erasure).await?;
    Ok(Some(counts))
}

/// Holds the candidate's sessions, cancels those that are planned, makes the reasons of those given up unreadable, and
/// answers those that were opened.
async fn give_up_plans(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: CandidateId,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<Vec<SessionId>, StoreError> {
    let sessions = sqlx::query!(
        r#"SELECT session_id, opened_at IS NOT NULL AS "opened!", standing AS "standing!" FROM sessions
           WHERE centre_id = $1 AND candidate_id = $2 ORDER BY session_id FOR NO KEY UPDATE"#,
        centre.as_str(),
        candidate.0,
    )
    .fetch_all(&mut *tx)
    .await?;
    sqlx::query!(
        "UPDATE sessions SET given_up_reason = $3
         WHERE centre_id = $1 AND candidate_id = $2 AND given_up_reason IS NOT NULL",
        centre.as_str(),
        candidate.0,
        ERASED,
    )
    .execute(&mut *tx)
    .await?;
    for session in sessions.iter().filter(|session| session.standing == "planned") {
        let id = SessionId(session.session_id);
        planning::give_up(tx, centre, id, Ended::Cancelled, Some(GIVEN_UP), by, now).await?;
    }
    Ok(sessions.into_iter().filter(|session| session.opened).map(|session| SessionId(session.session_id)).collect())
}

/// Which texts of a session go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Which {
    All,
    /// All but the first entry's, which says who it was.
    Words,
}

/// Appends the `erasure` entry to the chain of a session that is held, before the texts go. One that was never opened has
/// no chain.
pub(super) async fn note_in_chain(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    by: StaffNo,
    which: Which,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let texts = sqlx::query_scalar!(
        r#"SELECT count(*) AS "count!" FROM texts WHERE centre_id = $1 AND session_id = $2 AND n > $3"#,
        centre.as_str(),
        session.0,
        if which == Which::Words { 1 } else { 0 },
    )
    .fetch_one(&mut *tx)
    .await?;
    let chain = Chain::of_session(tx, centre, session).await?;
    let Some(mut chain) = chain.filter(Chain::is_open) else { return Ok(()) };
    let at = unix_ms(now);
    let entry = Entry {
        id: ids::of_server(now),
        seq: 0,
        wall: at,
        mono: 0,
        origin: Origin {
            by: by.0,
            device: SERVER.to_owned(),
            run: SERVER.to_owned(),
            received: at,
            offset: 0,
            error: 0,
        },
        content: Content::Erasure { texts: u32::try_from(texts).unwrap_or(u32::MAX) },
    };
    chain.push(&entry, None)?;
    chain.write(tx, centre, None).await
}

/// Blanks the candidate's row, puts them on the list and removes the rest.
async fn blank(tx: &mut PgConnection, centre: &CentreId, erasure: &Erasure) -> Result<(), StoreError> {
    let counts = erasure.counts;
    sqlx::query!(
        "UPDATE candidates SET name = $3, called = NULL, sort_name = NULL, reference = $3 || '-' || replace($2::uuid::text, '-', ''),
                extra_percent = 0, extra_minutes = 0, reader = false, other_adjustment = NULL, sort_key = '', erased_at = $4
         WHERE centre_id = $1 AND candidate_id = $2",
        centre.as_str(),
        erasure.candidate,
        NAME,
        erasure.erased_at,
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!(
        "DELETE FROM candidate_words WHERE centre_id = $1 AND candidate_id = $2",
        centre.as_str(),
        erasure.candidate,
    )
    .execute(&mut *tx)
    .await?;
    // On a database that an older backup was restored to, the list itself may hold them although they are back.
    sqlx::query!(
        "INSERT INTO erasures (centre_id, candidate_id, erased_at, erased_by, despite, sessions, texts, reasons, links)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (centre_id, candidate_id) DO NOTHING",
        centre.as_str(),
        erasure.candidate,
        erasure.erased_at,
        erasure.erased_by,
        erasure.despite.map(Despite::word),
        counts.sessions,
        counts.texts,
        counts.reasons,
        counts.links,
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!("SELECT purge_erased($1)", erasure.candidate).execute(tx).await?;
    Ok(())
}

/// Everybody who was erased, the newest first.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Erasure>, StoreError> {
    let rows = sqlx::query!(
        "SELECT candidate_id, erased_at, erased_by, despite, sessions, texts, reasons, links
         FROM erasures WHERE centre_id = $1 AND NOT stand_in ORDER BY erased_at DESC, candidate_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let rows = rows.into_iter().map(|row| Erasure {
        candidate: row.candidate_id,
        erased_at: row.erased_at,
        erased_by: row.erased_by,
        despite: row.despite.as_deref().and_then(Despite::of_word),
        counts: Counts { sessions: row.sessions, texts: row.texts, reasons: row.reasons, links: row.links },
    });
    Ok(rows.collect())
}

/// Erases everybody on a list that was kept outside, after an older backup was restored: whoever is back goes again, and so does what
/// came since about those who are erased. `by` stands for whoever restored it.
pub async fn replay(
    tx: &mut PgConnection,
    centre: &CentreId,
    list: &[Erasure],
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<Replayed, StoreError> {
    let mut replayed = Replayed::default();
    for one in list {
        let candidate = CandidateId(one.candidate);
        let known = sqlx::query_scalar!(
            "SELECT erased_at FROM candidates WHERE centre_id = $1 AND candidate_id = $2",
            centre.as_str(),
            one.candidate,
        )
        .fetch_optional(&mut *tx)
        .await?;
        match known {
            None => replayed.unknown += 1,
            Some(Some(_)) => {
                purge_again(tx, centre, one.candidate).await?;
                replayed.already += 1;
            }
            Some(None) => {
                erase(tx, centre, candidate, by, one.despite, now).await?;
                replayed.erased += 1;
            }
        }
    }
    Ok(replayed)
}

/// Removes what came after somebody was erased: a tablet that was offline may have sent a note since.
async fn purge_again(tx: &mut PgConnection, centre: &CentreId, candidate: Uuid) -> Result<(), StoreError> {
    sqlx::query!(
        "SELECT purge_erased(candidate_id) FROM erasures WHERE centre_id = $1 AND candidate_id = $2",
        centre.as_str(),
        candidate,
    )
    .fetch_optional(tx)
    .await?;
    Ok(())
}
