//! Signed results, a page at a time.

use super::Bounds;
use crate::export::row::Row;
use crate::seal::Entry;
use crate::store::entries;
use crate::store::{CentreId, SessionId, StoreError, results};
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// How many there are.
pub(super) async fn count(tx: &mut PgConnection, centre: &CentreId, bounds: &Bounds) -> Result<u64, StoreError> {
    let rows = sqlx::query_scalar!(
        r#"SELECT count(*) AS "rows!" FROM (
               SELECT centre_id, session_id, signed_at, outcome FROM results
               UNION ALL SELECT centre_id, session_id, signed_at, outcome FROM amended_results) r
           JOIN sessions s ON s.centre_id = r.centre_id AND s.session_id = r.session_id
           WHERE r.centre_id = $1 AND r.signed_at >= $2 AND r.signed_at < $3
             AND ($4::uuid IS NULL OR s.task_id = $4) AND ($5::integer IS NULL OR s.assessor = $5)
             AND ($6::text IS NULL OR r.outcome = $6)"#,
        centre.as_str(),
        bounds.from,
        bounds.to,
        bounds.task,
        bounds.assessor,
        bounds.outcome,
    )
    .fetch_one(tx)
    .await?;
    Ok(u64::try_from(rows).unwrap_or(0))
}

/// The next of them, in the order of signing.
pub(super) async fn page(
    tx: &mut PgConnection,
    centre: &CentreId,
    bounds: &Bounds,
    after: (OffsetDateTime, Uuid),
    most: i64,
) -> Result<Vec<Row>, StoreError> {
    // The entries that begin and end the log are looked for by their text: identifiers hold no quotation mark and free
    // text stands elsewhere, so that nothing else can look like them.
    let rows = sqlx::query_as!(
        Stored,
        r#"SELECT r.session_id AS "session_id!", c.reference, CASE WHEN $7::boolean THEN c.name END AS name, s.task_id,
                  s.task_version, t.title, s.bay, s.assessor, s.planned_at, r.signed_at AS "signed_at!",
                  r.outcome AS "outcome!", r.marks AS "marks!", r.out_of AS "out_of!", r.percent AS "percent!",
                  r.reasons AS "reasons!", r.head AS "head!", r.ordinal AS "ordinal!", r.signed_by AS "signed_by!",
                  EXISTS (SELECT FROM amended_results l WHERE l.centre_id = r.centre_id AND l.session_id = r.session_id
                          AND l.ordinal > r.ordinal) AS "superseded!",
                  ARRAY(SELECT m.criterion || ':' || m.outcome || ':' || m.code FROM amendments m
                        WHERE m.centre_id = r.centre_id AND m.session_id = r.session_id AND m.ordinal = r.ordinal
                        ORDER BY m.criterion) AS "amendments!",
                  (SELECT e.line FROM entries e WHERE e.centre_id = r.centre_id AND e.session_id = r.session_id
                   AND e.n <= r.count AND e.kind = 'observation' AND e.marker = s.assessor
                   AND e.line LIKE '%"kind":"started"%' ORDER BY e.n LIMIT 1) AS started,
                  (SELECT e.line FROM entries e WHERE e.centre_id = r.centre_id AND e.session_id = r.session_id
                   AND e.n <= r.count AND e.kind = 'observation' AND e.marker = s.assessor
                   AND e.line LIKE '%"kind":"ended"%' ORDER BY e.n DESC LIMIT 1) AS ended,
                  (s.count > r.count AND EXISTS (
                      SELECT FROM entries e WHERE e.centre_id = s.centre_id AND e.session_id = s.session_id
                      AND e.n > r.count AND e.kind = 'late' AND e.marker = s.assessor)) AS "to_review!"
           FROM (SELECT centre_id, session_id, 0 AS ordinal, outcome, marks, out_of, percent, reasons, count, head,
                        signed_by, signed_at FROM results
                 UNION ALL
                 SELECT centre_id, session_id, ordinal, outcome, marks, out_of, percent, reasons, count, head, signed_by,
                        signed_at FROM amended_results) r
           JOIN sessions s ON s.centre_id = r.centre_id AND s.session_id = r.session_id
           JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
           WHERE r.centre_id = $1 AND r.signed_at >= $2 AND r.signed_at < $3
             AND ($4::uuid IS NULL OR s.task_id = $4) AND ($5::integer IS NULL OR s.assessor = $5)
             AND ($6::text IS NULL OR r.outcome = $6)
             AND (r.signed_at, r.session_id) > ($8, $9)
           ORDER BY r.signed_at, r.session_id LIMIT $10"#,
        centre.as_str(),
        bounds.from,
        bounds.to,
        bounds.task,
        bounds.assessor,
        bounds.outcome,
        bounds.names,
        after.0,
        after.1,
        most,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(Stored::read).collect()
}

struct Stored {
    session_id: Uuid,
    reference: String,
    name: Option<String>,
    task_id: Uuid,
    task_version: i32,
    title: String,
    bay: String,
    assessor: i32,
    planned_at: OffsetDateTime,
    signed_at: OffsetDateTime,
    outcome: String,
    marks: i32,
    out_of: i32,
    percent: f64,
    reasons: Vec<String>,
    head: String,
    ordinal: i32,
    signed_by: i32,
    superseded: bool,
    amendments: Vec<String>,
    started: Option<String>,
    ended: Option<String>,
    to_review: bool,
}

impl Stored {
    fn read(self) -> Result<Row, StoreError> {
        let id = self.session_id;
        let number = |number: i32| u32::try_from(number).map_err(|why| StoreError::unreadable("results", id, why));
        let entry = |line: Option<String>| line.map(|line| entries::read(SessionId(id), 0, &line)).transpose();
        let (started, ended) = (entry(self.started)?, entry(self.ended)?);
        Ok(Row {
            session: id,
            ordinal: number(self.ordinal)?,
            signed_by: self.signed_by,
            superseded: self.superseded,
            amendments: self.amendments,
            candidate_ref: self.reference,
            candidate_name: self.name,
            task: self.task_id,
            task_title: self.title,
            task_version: self.task_version,
            bay: self.bay,
            assessor: self.assessor,
            planned_at: self.planned_at,
            started_at: started.as_ref().and_then(instant),
            lasted: started.zip(ended).and_then(|(started, ended)| between(&started, &ended)),
            signed_at: self.signed_at,
            outcome: results::outcome_of(&self.outcome, id)?,
            marks: number(self.marks)?,
            out_of: number(self.out_of)?,
            percent: self.percent,
            reasons: self.reasons,
            to_review: self.to_review,
            evidence_code: self.head,
            place: None,
            marked: None,
        })
    }
}

/// When an entry was made, by the device's wall clock put right by what the service knew of it then.
fn instant(entry: &Entry) -> Option<OffsetDateTime> {
    let ms = i128::from(entry.wall) + i128::from(entry.origin.offset);
    OffsetDateTime::from_unix_timestamp_nanos(ms * 1_000_000).ok()
}

/// How long it was from one entry to another, by the steady clock.
fn between(started: &Entry, ended: &Entry) -> Option<Duration> {
    let ms = ended.mono.checked_sub(started.mono)?;
    i64::try_from(ms).ok().map(Duration::milliseconds)
}
