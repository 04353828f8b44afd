//! Candidates.

use super::{CandidateId, CentreId, StoreError};
use crate::candidates::{Adjustments, Details, fold};
use crate::marking::ExtraTime;
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// A candidate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    pub id: CandidateId,
    /// 1 to 200 characters in any script, kept as typed.
    pub name: String,
    /// What to call them, where that is not the name.
    pub called: Option<String>,
    /// What they are sorted by, where that is not the name.
    pub sort_name: Option<String>,
    /// The centre's own reference, distinct within the centre.
    pub reference: String,
    /// What was agreed for them. A session keeps the extra time that it was planned with.
    pub adjustments: Adjustments,
    pub added_at: OffsetDateTime,
    /// When their details were erased. Name and reference then say so, and nothing of them may change.
    pub erased_at: Option<OffsetDateTime>,
}

impl Candidate {
    /// The details as a form or a file gives them.
    pub fn details(&self) -> Details {
        Details {
            name: self.name.clone(),
            called: self.called.clone(),
            sort_name: self.sort_name.clone(),
            reference: self.reference.clone(),
            adjustments: self.adjustments.clone(),
        }
    }
}

/// What became of a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Changed {
    Done,
    /// Another candidate has that reference. Nothing was changed.
    Taken,
    /// There is no such candidate, or their details were erased. Nothing was changed.
    Missing,
}

/// Adds a candidate. `false`, and nothing changed, where the reference is taken.
pub async fn add(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: CandidateId,
    details: &Details,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let adjustments = &details.adjustments;
    let done = sqlx::query!(
        "INSERT INTO candidates (centre_id, candidate_id, name, called, sort_name, reference, extra_percent,
                                 extra_minutes, reader, other_adjustment, added_at, sort_key)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)
         ON CONFLICT (centre_id, reference) DO NOTHING",
        centre.as_str(),
        id.0,
        details.name,
        details.called,
        details.sort_name,
        details.reference,
        i32::from(adjustments.extra.percent),
        i32::from(adjustments.extra.minutes),
        adjustments.reader,
        adjustments.other,
        now,
        sort_key(details),
    )
    .execute(&mut *tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    add_words(tx, centre, id, details).await?;
    Ok(true)
}

/// Adds many candidates at once. `false` where a reference is taken, or stands twice among them: some may have been
/// added, so that the caller gives the transaction up.
pub async fn add_all(
    tx: &mut PgConnection,
    centre: &CentreId,
    all: &[(CandidateId, Details)],
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let of = |text: fn(&Details) -> Option<String>| -> Vec<Option<String>> {
        all.iter().map(|(_, details)| text(details)).collect()
    };
    let number = |number: fn(&Adjustments) -> u16| -> Vec<i32> {
        all.iter().map(|(_, details)| i32::from(number(&details.adjustments))).collect()
    };
    let ids: Vec<Uuid> = all.iter().map(|(id, _)| id.0).collect();
    let readers: Vec<bool> = all.iter().map(|(_, details)| details.adjustments.reader).collect();
    let done = sqlx::query!(
        "INSERT INTO candidates (centre_id, added_at, candidate_id, name, called, sort_name, reference, extra_percent,
                                 extra_minutes, reader, other_adjustment, sort_key)
         SELECT $1, $2, * FROM unnest($3::uuid[], $4::text[], $5::text[], $6::text[], $7::text[], $8::integer[],
                                      $9::integer[], $10::boolean[], $11::text[], $12::text[])
         ON CONFLICT (centre_id, reference) DO NOTHING",
        centre.as_str(),
        now,
        &ids,
        &of(|details| Some(details.name.clone())) as &[Option<String>],
        &of(|details| details.called.clone()) as &[Option<String>],
        &of(|details| details.sort_name.clone()) as &[Option<String>],
        &of(|details| Some(details.reference.clone())) as &[Option<String>],
        &number(|adjustments| adjustments.extra.percent),
        &number(|adjustments| adjustments.extra.minutes),
        &readers,
        &of(|details| details.adjustments.other.clone()) as &[Option<String>],
        &of(|details| Some(sort_key(details))) as &[Option<String>],
    )
    .execute(&mut *tx)
    .await?;
    if done.rows_affected() != all.len() as u64 {
        return Ok(false);
    }
    let pairs = all.iter().flat_map(|(id, details)| words(details).into_iter().map(|word| (word, id.0)));
    let (words, whose): (Vec<String>, Vec<Uuid>) = pairs.unzip();
    sqlx::query!(
        "INSERT INTO candidate_words (centre_id, word, candidate_id) SELECT $1, * FROM unnest($2::text[], $3::uuid[])",
        centre.as_str(),
        &words,
        &whose,
    )
    .execute(tx)
    .await?;
    Ok(true)
}

/// Changes a candidate's details.
pub async fn change(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: CandidateId,
    details: &Details,
) -> Result<Changed, StoreError> {
    if let Some(other) = by_reference(tx, centre, &details.reference).await?
        && other.id != id
    {
        return Ok(Changed::Taken);
    }
    let adjustments = &details.adjustments;
    let done = sqlx::query!(
        "UPDATE candidates SET name = $3, called = $4, sort_name = $5, reference = $6, extra_percent = $7,
                extra_minutes = $8, reader = $9, other_adjustment = $10, sort_key = $11
         WHERE centre_id = $1 AND candidate_id = $2 AND erased_at IS NULL",
        centre.as_str(),
        id.0,
        details.name,
        details.called,
        details.sort_name,
        details.reference,
        i32::from(adjustments.extra.percent),
        i32::from(adjustments.extra.minutes),
        adjustments.reader,
        adjustments.other,
        sort_key(details),
    )
    .execute(&mut *tx)
    .await;
    match done {
        Ok(done) if done.rows_affected() == 0 => return Ok(Changed::Missing),
        Ok(_) => {}
        // Somebody took the reference since it was looked for.
        Err(sqlx::Error::Database(why)) if why.is_unique_violation() => return Ok(Changed::Taken),
        Err(why) => return Err(why.into()),
    }
    remove_words(tx, centre, id).await?;
    add_words(tx, centre, id, details).await?;
    Ok(Changed::Done)
}

/// The candidate with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: CandidateId) -> Result<Option<Candidate>, StoreError> {
    let row = sqlx::query_as!(
        CandidateRow,
        "SELECT candidate_id, name, called, sort_name, reference, extra_percent, extra_minutes, reader,
                other_adjustment, added_at, erased_at
         FROM candidates WHERE centre_id = $1 AND candidate_id = $2",
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    row.map(CandidateRow::read).transpose()
}

/// The candidate with this reference.
pub async fn by_reference(
    tx: &mut PgConnection,
    centre: &CentreId,
    reference: &str,
) -> Result<Option<Candidate>, StoreError> {
    let all = by_references(tx, centre, &[reference.to_owned()]).await?;
    Ok(all.into_iter().next())
}

/// The candidates with these references, in no order.
pub async fn by_references(
    tx: &mut PgConnection,
    centre: &CentreId,
    references: &[String],
) -> Result<Vec<Candidate>, StoreError> {
    let rows = sqlx::query_as!(
        CandidateRow,
        "SELECT candidate_id, name, called, sort_name, reference, extra_percent, extra_minutes, reader,
                other_adjustment, added_at, erased_at
         FROM candidates WHERE centre_id = $1 AND reference = ANY($2)",
        centre.as_str(),
        references,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(CandidateRow::read).collect()
}

/// The next `limit` candidates after `after`, in the order of their sorting names, whose details are not erased. With a
/// text, only those of whom every word of it begins some word of name, called, sorting name or reference; case and
/// accents aside ([`fold`]).
///
/// Sorting is by folded code points, which keeps each script together.
pub async fn search(
    tx: &mut PgConnection,
    centre: &CentreId,
    text: &str,
    after: Option<CandidateId>,
    limit: i64,
) -> Result<Vec<Candidate>, StoreError> {
    let asked = fold::beginnings(text);
    match asked.split_first() {
        None if text.trim().is_empty() => all(tx, centre, after, limit).await,
        // Signs alone begin no word.
        None => Ok(Vec::new()),
        Some((first, others)) => found(tx, centre, first, others, after, limit).await,
    }
}

async fn all(
    tx: &mut PgConnection,
    centre: &CentreId,
    after: Option<CandidateId>,
    limit: i64,
) -> Result<Vec<Candidate>, StoreError> {
    let (key, id) = place(tx, centre, after).await?;
    let rows = sqlx::query_as!(
        CandidateRow,
        "SELECT candidate_id, name, called, sort_name, reference, extra_percent, extra_minutes, reader,
                other_adjustment, added_at, erased_at
         FROM candidates
         WHERE centre_id = $1 AND (sort_key, candidate_id) > ($2, $3) AND erased_at IS NULL
         ORDER BY sort_key, candidate_id LIMIT $4",
        centre.as_str(),
        key,
        id,
        limit,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(CandidateRow::read).collect()
}

async fn found(
    tx: &mut PgConnection,
    centre: &CentreId,
    first: &str,
    others: &[String],
    after: Option<CandidateId>,
    limit: i64,
) -> Result<Vec<Candidate>, StoreError> {
    let (key, id) = place(tx, centre, after).await?;
    let ends: Vec<String> = others.iter().map(|word| end_of(word)).collect();
    let rows = sqlx::query_as!(
        CandidateRow,
        "SELECT candidate_id, name, called, sort_name, reference, extra_percent, extra_minutes, reader,
                other_adjustment, added_at, erased_at
         FROM candidates c
         WHERE centre_id = $1 AND (sort_key, candidate_id) > ($2, $3) AND erased_at IS NULL
           AND candidate_id IN (SELECT w.candidate_id FROM candidate_words w
                                WHERE w.centre_id = $1 AND w.word >= $5 AND w.word < $6)
           AND NOT EXISTS (SELECT FROM unnest($7::text[], $8::text[]) AS asked (beginning, past)
                           WHERE NOT EXISTS (SELECT FROM candidate_words w
                                             WHERE w.centre_id = c.centre_id AND w.candidate_id = c.candidate_id
                                               AND w.word >= asked.beginning AND w.word < asked.past))
         ORDER BY sort_key, candidate_id LIMIT $4",
        centre.as_str(),
        key,
        id,
        limit,
        first,
        end_of(first),
        others,
        &ends,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(CandidateRow::read).collect()
}

/// Where a candidate stands in the order; before all others where none is named.
async fn place(
    tx: &mut PgConnection,
    centre: &CentreId,
    after: Option<CandidateId>,
) -> Result<(String, Uuid), StoreError> {
    let first = (String::new(), Uuid::nil());
    let Some(after) = after else { return Ok(first) };
    let key = sqlx::query_scalar!(
        "SELECT sort_key FROM candidates WHERE centre_id = $1 AND candidate_id = $2",
        centre.as_str(),
        after.0,
    )
    .fetch_optional(tx)
    .await?;
    Ok(key.map_or(first, |key| (key, after.0)))
}

/// The first text, in the order of the bytes, that is past everything that begins with `word`.
fn end_of(word: &str) -> String {
    format!("{word}{}", char::MAX)
}

fn sort_key(details: &Details) -> String {
    fold::sort_key(details.sort_name.as_ref().unwrap_or(&details.name))
}

/// What a candidate is found by.
fn words(details: &Details) -> Vec<String> {
    let also = [&details.called, &details.sort_name].into_iter().flatten().map(String::as_str);
    fold::words([details.name.as_str(), details.reference.as_str()].into_iter().chain(also))
}

async fn add_words(
    tx: &mut PgConnection,
    centre: &CentreId,
    id: CandidateId,
    details: &Details,
) -> Result<(), StoreError> {
    let words = words(details);
    sqlx::query!(
        "INSERT INTO candidate_words (centre_id, word, candidate_id) SELECT $1, word, $2 FROM unnest($3::text[]) AS word",
        centre.as_str(),
        id.0,
        &words,
    )
    .execute(tx)
    .await?;
    Ok(())
}

async fn remove_words(tx: &mut PgConnection, centre: &CentreId, id: CandidateId) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM candidate_words WHERE centre_id = $1 AND candidate_id = $2", centre.as_str(), id.0)
        .execute(tx)
        .await?;
    Ok(())
}

/// A candidate as the row tells.
struct CandidateRow {
    candidate_id: Uuid,
    name: String,
    called: Option<String>,
    sort_name: Option<String>,
    reference: String,
    extra_percent: i32,
    extra_minutes: i32,
    reader: bool,
    other_adjustment: Option<String>,
    added_at: OffsetDateTime,
    erased_at: Option<OffsetDateTime>,
}

impl CandidateRow {
    fn read(self) -> Result<Candidate, StoreError> {
        let id = self.candidate_id;
        let small = |number: i32| u16::try_from(number).map_err(|why| StoreError::unreadable("candidates", id, why));
        let extra = ExtraTime { percent: small(self.extra_percent)?, minutes: small(self.extra_minutes)? };
        Ok(Candidate {
            id: CandidateId(id),
            name: self.name,
            called: self.called,
            sort_name: self.sort_name,
            reference: self.reference,
            adjustments: Adjustments { extra, reader: self.reader, other: self.other_adjustment },
            added_at: self.added_at,
            erased_at: self.erased_at,
        })
    }
}
