//! Candidates.

use super::{CandidateId, CentreId, StoreError};
use sqlx::PgConnection;

/// A candidate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    pub id: CandidateId,
    /// 1 to 200 characters in any script, kept as typed.
    pub name: String,
    /// The centre's own reference, distinct within the centre.
    pub reference: String,
}

/// Adds a candidate. `false`, and nothing changed, where the reference is taken.
pub async fn add(tx: &mut PgConnection, centre: &CentreId, candidate: &Candidate) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO candidates (centre_id, candidate_id, name, reference) VALUES ($1, $2, $3, $4)
         ON CONFLICT (centre_id, reference) DO NOTHING",
        centre.as_str(),
        candidate.id.0,
        candidate.name,
        candidate.reference,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The candidate with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: CandidateId) -> Result<Option<Candidate>, StoreError> {
    let row = sqlx::query!(
        "SELECT name, reference FROM candidates WHERE centre_id = $1 AND candidate_id = $2",
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    Ok(row.map(|row| Candidate { id, name: row.name, reference: row.reference }))
}

/// The candidate with this reference.
pub async fn by_reference(
    tx: &mut PgConnection,
    centre: &CentreId,
    reference: &str,
) -> Result<Option<Candidate>, StoreError> {
    let row = sqlx::query!(
        "SELECT candidate_id, name FROM candidates WHERE centre_id = $1 AND reference = $2",
        centre.as_str(),
        reference,
    )
    .fetch_optional(tx)
    .await?;
    Ok(row.map(|row| Candidate { id: CandidateId(row.candidate_id), name: row.name, reference: reference.to_owned() }))
}
