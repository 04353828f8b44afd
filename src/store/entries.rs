//! The evidence: each session's chain of entries. Nothing here is ever changed or removed.

use super::append::{self, AfterSigning};
use super::chain::{Chain, unix_ms};
use super::{CentreId, SessionId, StaffNo, StoreError, ids};
use crate::marking::{Log, Observation, Task};
use crate::seal::{Content, Digest, Entry, Origin, Salt, commitment};
use sqlx::PgConnection;
use std::collections::HashSet;
use std::sync::Arc;
use time::OffsetDateTime;

pub use super::append::{Batch, Taken};

/// Most entries in one session, the signed outcome apart.
pub const MOST_ENTRIES: i64 = 2_000;

/// Longest line of an entry, in bytes.
pub const MOST_LINE_BYTES: usize = 2_048;

/// What the evidence names as the device, and as the page load, of an entry that the server made itself.
pub(super) const SERVER: &str = "server";

/// What is read in place of a text that was erased.
pub(super) const ERASED: &str = "[erased]";

/// Where a batch came from and when it arrived.
#[derive(Debug, Clone)]
pub struct Arrival {
    pub by: StaffNo,
    /// The device, as it names itself: an identifier.
    pub device: String,
    /// The page load on that device: an identifier.
    pub run: String,
    pub received_at: OffsetDateTime,
    /// Milliseconds to add to the device's wall clock.
    pub offset_ms: i64,
    /// Half the round trip, in milliseconds.
    pub error_ms: i64,
}

/// What became of one observation that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Receipt {
    /// Stored as entry `n`.
    Accepted(i64),
    /// Already there, with the same content, as entry `n`.
    Duplicate(i64),
    /// The name is taken by other content. Nothing was written.
    Conflict,
    /// It makes no sense in this session: why. Nothing was written.
    Refused(String),
}

/// Where the chain of a session stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    pub count: i64,
    /// 64 lower-case hex digits.
    pub hash: String,
}

/// Opens the evidence of a session that the caller holds: writes the `opened` entry with the commitment to the
/// candidate and the digest of the task version. `false` where it is open already.
pub async fn open(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    arrival: &Arrival,
) -> Result<bool, StoreError> {
    let Some(mut chain) = Chain::of_session(tx, centre, session).await? else { return Ok(false) };
    if chain.is_open() {
        return Ok(false);
    }
    let facts = sqlx::query!(
        r#"SELECT candidates.name, candidates.reference, tasks.digest, given_up IS NOT NULL AS "given_up!"
         FROM sessions
         JOIN candidates USING (centre_id, candidate_id)
         JOIN tasks ON tasks.centre_id = sessions.centre_id AND tasks.task_id = sessions.task_id
                   AND tasks.version = sessions.task_version
         WHERE sessions.centre_id = $1 AND session_id = $2"#,
        centre.as_str(),
        session.0,
    )
    .fetch_one(&mut *tx)
    .await?;
    if facts.given_up {
        return Ok(false);
    }
    let task = Digest::new(&facts.digest)
        .ok_or_else(|| StoreError::unreadable("tasks", session.0, "the digest is not 64 hex digits"))?;
    let details = format!("{}|{}", facts.name, facts.reference);
    let salt = Salt::new(rand::random());
    let entry = Entry {
        id: ids::of_server(arrival.received_at),
        seq: 0,
        wall: unix_ms(arrival.received_at),
        mono: 0,
        origin: origin(arrival),
        content: Content::Opened { candidate: commitment::candidate(&salt, &details), task },
    };
    chain.push(&entry, Some((salt, details)))?;
    chain.write(tx, centre, Some(arrival.received_at)).await?;
    Ok(true)
}

/// Appends observations that are made here and now to a session that the caller holds, and answers for each, in order.
/// One bad observation never blocks its neighbours. Everything new is refused while the session is not open, and once it
/// is signed; what is there already is a duplicate even then.
pub async fn append(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    task: &Task,
    arrival: &Arrival,
    observations: &[Observation],
) -> Result<Vec<Receipt>, StoreError> {
    let batch = Batch {
        session,
        task: Arc::new(task.clone()),
        arrival: arrival.clone(),
        high: None,
        observations: observations.to_vec(),
    };
    let taken = append::append_one(tx, centre, &batch, AfterSigning::Refused).await?;
    let nowhere = || vec![Receipt::Refused("there is no such session".to_owned()); observations.len()];
    Ok(taken.map_or_else(nowhere, |taken| taken.receipts))
}

pub(super) fn origin(arrival: &Arrival) -> Origin {
    Origin {
        by: arrival.by.0,
        device: arrival.device.clone(),
        run: arrival.run.clone(),
        received: unix_ms(arrival.received_at),
        offset: arrival.offset_ms,
        error: arrival.error_ms,
    }
}

pub(super) fn read(session: SessionId, n: i64, line: &str) -> Result<Entry, StoreError> {
    Entry::read(line).map_err(|why| StoreError::unreadable("entries", format!("{} {n}", session.0), why))
}

/// The log that one marker has written on a session, in the order of receipt. What arrived after the signature is left
/// out of the signed log; a second marker's log, which the signature does not rest on, holds it. Fails where an entry no
/// longer fits the task, which cannot happen to a published version.
pub async fn log_of(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    marker: StaffNo,
    task: &Task,
) -> Result<Log, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT n, line, body AS "body?"
           FROM entries LEFT JOIN texts USING (centre_id, session_id, n)
           WHERE centre_id = $1 AND session_id = $2 AND marker = $3
             AND (kind = 'observation'
                  OR kind = 'late' AND EXISTS (SELECT FROM second_markers m WHERE m.centre_id = $1
                                               AND m.session_id = $2 AND m.marker = $3))
           ORDER BY n"#,
        centre.as_str(),
        session.0,
        marker.0,
    )
    .fetch_all(tx)
    .await?;
    let mut known = HashSet::with_capacity(rows.len());
    let mut observations = Vec::with_capacity(rows.len());
    for row in rows {
        let seen = observed(session, row.n, &row.line, row.body.as_deref())?;
        if let Some(fault) = seen.check(task, |id| known.contains(id)).first() {
            return Err(StoreError::unreadable("entries", format!("{} {}", session.0, row.n), fault));
        }
        known.insert(seen.id);
        observations.push(seen);
    }
    Ok(Log::of_stored(observations))
}

/// What this marker recorded before the signature and the service received after it, in the order of receipt.
pub async fn late_of(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    marker: StaffNo,
) -> Result<Vec<Observation>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT n, line, body AS "body?"
           FROM entries LEFT JOIN texts USING (centre_id, session_id, n)
           WHERE centre_id = $1 AND session_id = $2 AND marker = $3 AND kind = 'late'
           ORDER BY n"#,
        centre.as_str(),
        session.0,
        marker.0,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(|row| observed(session, row.n, &row.line, row.body.as_deref())).collect()
}

/// Every entry of the session in the order of the chain, texts left out.
pub async fn of_session(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Vec<Entry>, StoreError> {
    let rows = sqlx::query!(
        "SELECT n, line FROM entries WHERE centre_id = $1 AND session_id = $2 ORDER BY n",
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(|row| read(session, row.n, &row.line)).collect()
}

/// The observation that a stored line holds.
fn observed(session: SessionId, n: i64, line: &str, text: Option<&str>) -> Result<Observation, StoreError> {
    let unreadable = |why: String| StoreError::unreadable("entries", format!("{} {n}", session.0), why);
    let seen = read(session, n, line)?.observation(Some(text.unwrap_or(ERASED)));
    seen.map_err(|why| unreadable(why.to_string()))?.ok_or_else(|| unreadable("it is not an observation".to_owned()))
}

/// Where the chain stands.
pub async fn head(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Head, StoreError> {
    let row = sqlx::query!(
        "SELECT count, head FROM sessions WHERE centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
    )
    .fetch_one(tx)
    .await?;
    Ok(Head { count: row.count, hash: row.head })
}

/// Name and reference as they were kept with the evidence when a session was opened; `None` before, and once erased.
pub async fn details(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<String>, StoreError> {
    let kept = sqlx::query_scalar!(
        "SELECT body FROM texts WHERE centre_id = $1 AND session_id = $2 AND n = 1",
        centre.as_str(),
        session.0,
    );
    Ok(kept.fetch_optional(tx).await?)
}
