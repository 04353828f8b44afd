//! The one way into a session's evidence: entries are pushed on the chain in memory and written in one statement.

use super::entries::MOST_LINE_BYTES;
use super::{CentreId, SessionId, StoreError};
use crate::seal::{Digest, Entry, LineFault, Salt, chain};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// The chain of a session that the caller holds, with the entries that are not written yet.
pub(super) struct Chain {
    centre: CentreId,
    session: SessionId,
    open: bool,
    signed: bool,
    count: i64,
    head: Digest,
    new: NewRows,
}

/// Rows to write, column by column, as `unnest` takes them.
#[derive(Default)]
struct NewRows {
    n: Vec<i64>,
    id: Vec<Uuid>,
    kind: Vec<String>,
    marker: Vec<i32>,
    line: Vec<String>,
    head: Vec<String>,
    text_n: Vec<i64>,
    text_salt: Vec<Vec<u8>>,
    text_body: Vec<String>,
}

impl Chain {
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
        let Some(row) = row else { return Ok(None) };
        let head = Digest::new(&row.head)
            .ok_or_else(|| StoreError::unreadable("sessions", session.0, "the head is not 64 hex digits"))?;
        let (open, signed, count) = (row.open, row.signed, row.count);
        Ok(Some(Self { centre: centre.clone(), session, open, signed, count, head, new: NewRows::default() }))
    }

    pub(super) fn is_open(&self) -> bool {
        self.open
    }

    pub(super) fn is_signed(&self) -> bool {
        self.signed
    }

    /// Entries in the chain, the new ones included.
    pub(super) fn count(&self) -> i64 {
        self.count
    }

    /// The hash of the last entry, the new ones included.
    pub(super) fn head(&self) -> &Digest {
        &self.head
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
        self.new.n.push(self.count);
        self.new.id.push(entry.id);
        self.new.kind.push(entry.kind().to_owned());
        self.new.marker.push(entry.origin.by);
        self.new.line.push(line);
        self.new.head.push(self.head.to_string());
        if let Some((salt, body)) = text {
            self.new.text_n.push(self.count);
            self.new.text_salt.push(salt.bytes().to_vec());
            self.new.text_body.push(body);
        }
        Ok(self.count)
    }

    /// Writes the new entries and moves the session's count and head, in one statement. With `opened_at`, the session
    /// is open from then on.
    pub(super) async fn write(
        self,
        tx: &mut PgConnection,
        opened_at: Option<OffsetDateTime>,
    ) -> Result<(), StoreError> {
        if self.new.n.is_empty() {
            return Ok(());
        }
        sqlx::query!(
            "WITH line AS (
                 INSERT INTO entries (centre_id, session_id, n, entry_id, kind, marker, line, head)
                 SELECT $1, $2, * FROM unnest($3::bigint[], $4::uuid[], $5::text[], $6::integer[], $7::text[], $8::text[])
                     AS new (n, entry_id, kind, marker, line, head)
                 ORDER BY n
             ), body AS (
                 INSERT INTO texts (centre_id, session_id, n, salt, body)
                 SELECT $1, $2, * FROM unnest($9::bigint[], $10::bytea[], $11::text[])
             )
             UPDATE sessions SET count = $12, head = $13, opened_at = coalesce(opened_at, $14)
             WHERE centre_id = $1 AND session_id = $2",
            self.centre.as_str(),
            self.session.0,
            &self.new.n,
            &self.new.id,
            &self.new.kind,
            &self.new.marker,
            &self.new.line,
            &self.new.head,
            &self.new.text_n,
            &self.new.text_salt,
            &self.new.text_body,
            self.count,
            self.head.as_str(),
            opened_at,
        )
        .execute(tx)
        .await?;
        Ok(())
    }
}

/// Milliseconds since 1970, as the evidence writes instants.
pub(super) fn unix_ms(at: OffsetDateTime) -> i64 {
    i64::try_from(at.unix_timestamp_nanos() / 1_000_000).unwrap_or(i64::MAX)
}
