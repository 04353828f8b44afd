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
    let _ = (tx, centre, candidate);
    todo!()
}

/// The candidate with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: CandidateId) -> Result<Option<Candidate>, StoreError> {
    let _ = (tx, centre, id);
    todo!()
}
