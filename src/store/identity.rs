//! How the assessor knew a candidate, beside the evidence: one of three words, and no number or copy of any document. Who
//! confirmed it and when is in the evidence as well, as whoever opened the session.

use super::{CentreId, SessionId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// How the assessor knew that the candidate is who they say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Identity {
    /// The assessor knows them.
    Known,
    /// They showed a document with a photograph; nothing of it is kept.
    Photo,
    /// They showed the centre's own card.
    Card,
}

impl Identity {
    /// All, in the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Known, Self::Photo, Self::Card];

    /// The spelling in the database and in forms.
    pub fn word(self) -> &'static str {
        match self {
            Self::Known => "known",
            Self::Photo => "photo",
            Self::Card => "card",
        }
    }

    /// Reads the spelling.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|how| how.word() == word)
    }
}

/// Keeps how the candidate's identity was confirmed, once for each session; whoever comes second changes nothing.
pub async fn confirm(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    how: Identity,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO identity_checks (centre_id, session_id, how, confirmed_by, confirmed_at) VALUES ($1, $2, $3, $4, $5)
         ON CONFLICT (centre_id, session_id) DO NOTHING",
        centre.as_str(),
        session.0,
        how.word(),
        by.0,
        now,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// How the candidate's identity was confirmed, and by whom; `None` before, and for sessions that are older than the
/// question.
pub async fn find(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<(Identity, String)>, StoreError> {
    let row = sqlx::query!(
        "SELECT how, name FROM identity_checks i
         JOIN staff s ON s.centre_id = i.centre_id AND s.number = i.confirmed_by
         WHERE i.centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
    )
    .fetch_optional(tx)
    .await?;
    let read = |how: String, name| {
        let how = Identity::of_word(&how).ok_or_else(|| StoreError::unreadable("identity_checks", session.0, how))?;
        Ok((how, name))
    };
    row.map(|row| read(row.how, row.name)).transpose()
}
