//! The one way into the evidence: entries are pushed on their sessions' chains in memory and written in one statement.

use super::entries::{Head, MOST_LINE_BYTES};
use super::{CentreId, SessionId, StoreError};
use crate::seal::{Digest, Entry, LineFault, Salt, chain};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// The chain of a session that the caller holds, with the entries that are not written yet.
pub(super) struct Chain {
    session: SessionId,
    open: bool,
    signed: bool,
    count: i64,
    head: Digest,
    new: Vec<New>,
    highs: Vec<(String, i64)>,
}

/// One entry to write.
struct New {
    n: i64,
    id: Uuid,
    kind: &'static str,
    marker: i32,
    line: String,
    head: String,
    text: Option<(Salt, String)>,
}

impl Chain {
    /// A chain as the session's row tells.
    pub(super) fn new(
        session: SessionId,
        count: i64,
        head: &str,
        is_open: bool,
        is_signed: bool,
    ) -> Result<Self, StoreError> {
        let head = Digest::new(head)
            .ok_or_else(|| StoreError::unreadable("sessions", session.0, "the head is not 64 hex digits"))?;
        Ok(Self { session, open: is_open, signed: is_signed, count, head, new: Vec::new(), highs: Vec::new() })
    }

    /// Where the chain of a session stands; `None` where there is no such session.
    pub(super) async fn of_session(
        tx: &mut PgConnection,
        centre: &CentreId,
        session: SessionId,
    ) -> Result<Option<Self>, StoreError> {
        let row = sqlx::query!(
            r#"SELECT count, head, opened_at IS NOT NULL AS "open!",
                      EXISTS (SELECT FROM results r WHERE r.centre_id = s.centre_id AND r.session_id = s.session_id)
                      AS "signed!"
               FROM sessions s WHERE centre_id = $1 AND session_id = $2"#,
            centre.as_str(),
            session.0,
        )
        .fetch_optional(tx)
        .await?;
        row.map(|row| Self::new(session, row.count, &row.head, row.open, row.signed)).transpose()
    }

    pub(super) fn is_open(&self) -> bool {
        self.open
    }

    pub(super) fn is_signed(&self) -> bool {
        self.signed
    }

    /// Says whether it is signed, where that is known only now.
    pub(super) fn signed_if(&mut self, is_signed: bool) {
        self.signed = is_signed;
    }

    /// Entries in the chain, the new ones included.
    pub(super) fn count(&self) -> i64 {
        self.count
    }

    /// The hash of the last entry, the new ones included.
    pub(super) fn head(&self) -> &Digest {
        &self.head
    }

    /// Where the chain stands, the new entries included.
    pub(super) fn stands(&self) -> Head {
        Head { count: self.count, hash: self.head.to_string() }
    }

    /// Notes the highest number that a device says it has made.
    pub(super) fn note_high(&mut self, device: &str, high: u32) {
        match self.highs.iter_mut().find(|(known, _)| known == device) {
            Some((_, known)) => *known = (*known).max(i64::from(high)),
            None => self.highs.push((device.to_owned(), i64::from(high))),
        }
    }

    /// Puts an entry at the end, with the text that its commitment stands for. Answers its place.
    ///
    /// # Errors
    /// Where the entry does not fit a line, or the line is too long; the chain is as before.
    pub(super) fn push(&mut self, entry: &Entry, text: Option<(Salt, String)>) -> Result<i64, LineFault> {
        let line = entry.line()?;
        if line.len() > MOST_LINE_BYTES {
            return Err(LineFault::TooLong { bytes: line.len(), most: MOST_LINE_BYTES });
        }
        self.count += 1;
        self.head = chain::next(&self.head, &line);
        self.new.push(New {
            n: self.count,
            id: entry.id,
            kind: entry.kind(),
            marker: entry.origin.by,
            line,
            head: self.head.to_string(),
            text,
        });
        Ok(self.count)
    }

    /// Writes the new entries and moves the session's count and head. With `opened_at`, the session is open from then
    /// on.
    pub(super) async fn write(
        self,
        tx: &mut PgConnection,
        centre: &CentreId,
        opened_at: Option<OffsetDateTime>,
    ) -> Result<(), StoreError> {
        write_all(tx, centre, vec![self], opened_at).await
    }
}

/// Rows to write, column by column, as `unnest` takes them.
#[derive(Default)]
struct Columns {
    session: Vec<Uuid>,
    n: Vec<i64>,
    id: Vec<Uuid>,
    kind: Vec<String>,
    marker: Vec<i32>,
    line: Vec<String>,
    head: Vec<String>,
    text_session: Vec<Uuid>,
    text_n: Vec<i64>,
    text_salt: Vec<Vec<u8>>,
    text_body: Vec<String>,
    moved: Vec<Uuid>,
    moved_count: Vec<i64>,
    moved_head: Vec<String>,
    device_session: Vec<Uuid>,
    device: Vec<String>,
    device_high: Vec<i64>,
}

impl Columns {
    fn take(&mut self, chain: Chain) {
        let session = chain.session.0;
        if !chain.new.is_empty() {
            self.moved.push(session);
            self.moved_count.push(chain.count);
            self.moved_head.push(chain.head.to_string());
        }
        for new in chain.new {
            self.session.push(session);
            self.n.push(new.n);
            self.id.push(new.id);
            self.kind.push(new.kind.to_owned());
            self.marker.push(new.marker);
            self.line.push(new.line);
            self.head.push(new.head);
            if let Some((salt, body)) = new.text {
                self.text_session.push(session);
                self.text_n.push(new.n);
                self.text_salt.push(salt.bytes().to_vec());
                self.text_body.push(body);
            }
        }
        for (device, high) in chain.highs {
            self.device_session.push(session);
            self.device.push(device);
            self.device_high.push(high);
        }
    }
}

/// Writes what is new on all these chains, moves their sessions' counts and heads and tells those who watch, in one
/// statement.
pub(super) async fn write_all(
    tx: &mut PgConnection,
    centre: &CentreId,
    chains: Vec<Chain>,
    opened_at: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let mut new = Columns::default();
    chains.into_iter().for_each(|chain| new.take(chain));
    if new.moved.is_empty() && new.device.is_empty() {
        return Ok(());
    }
    sqlx::query!(
        r#"WITH line AS (
             INSERT INTO entries (centre_id, session_id, n, entry_id, kind, marker, line, head)
             SELECT $1, * FROM unnest($2::uuid[], $3::bigint[], $4::uuid[], $5::text[], $6::integer[], $7::text[],
                                      $8::text[]) AS new (session_id, n, entry_id, kind, marker, line, head)
             ORDER BY session_id, n
         ), body AS (
             INSERT INTO texts (centre_id, session_id, n, salt, body)
             SELECT $1, * FROM unnest($9::uuid[], $10::bigint[], $11::bytea[], $12::text[])
         ), device AS (
             INSERT INTO devices (centre_id, session_id, device, high)
             SELECT $1, * FROM unnest($13::uuid[], $14::text[], $15::bigint[])
             ON CONFLICT (centre_id, session_id, device) DO UPDATE SET high = EXCLUDED.high
             WHERE devices.high < EXCLUDED.high
         ), moved AS (
             UPDATE sessions SET count = new.count, head = new.head, opened_at = coalesce(opened_at, $19)
             FROM unnest($16::uuid[], $17::bigint[], $18::text[]) AS new (session_id, count, head)
             WHERE sessions.centre_id = $1 AND sessions.session_id = new.session_id
             RETURNING sessions.session_id
         )
         SELECT pg_notify('baywitness_sessions', $1 || ' ' || session_id) AS "told?" FROM moved"#,
        centre.as_str(),
        &new.session,
        &new.n,
        &new.id,
        &new.kind,
        &new.marker,
        &new.line,
        &new.head,
        &new.text_session,
        &new.text_n,
        &new.text_salt,
        &new.text_body,
        &new.device_session,
        &new.device,
        &new.device_high,
        &new.moved,
        &new.moved_count,
        &new.moved_head,
        opened_at,
    )
    .fetch_all(tx)
    .await?;
    Ok(())
}

/// Milliseconds since 1970, as the evidence writes instants.
pub(super) fn unix_ms(at: OffsetDateTime) -> i64 {
    i64::try_from(at.unix_timestamp_nanos() / 1_000_000).unwrap_or(i64::MAX)
}
