//! A candidate's private way to the feedback on one session: a link, a code, and visits.
//!
//! Unknown, expired, revoked and locked links look alike. Only hashes of tokens are stored.

use super::{CentreId, SessionId, StoreError};
use sqlx::PgConnection;
use subtle::ConstantTimeEq;
use time::{Duration, OffsetDateTime};

/// Wrong codes after which a link locks.
pub const WRONG_CODES: i32 = 5;
/// Days a link lives.
pub const LINK_DAYS: i64 = 180;
/// Minutes a visit lasts.
pub const VISIT_MINUTES: i64 = 30;

/// Makes a link to the feedback on a session. `code_hash` is the SHA-256 of token and code together.
pub async fn make_link(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    token_hash: &[u8; 32],
    code_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO feedback_links (centre_id, token_hash, session_id, code_hash, made_at, expires_at)
         VALUES ($1, $2, $3, $4, $5, $6)",
        centre.as_str(),
        token_hash.as_slice(),
        session.0,
        code_hash.as_slice(),
        now,
        now + Duration::days(LINK_DAYS),
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Tries a code on a link. With the right one, starts a visit under `visit_hash` and answers the session; with a wrong
/// one counts it; [`WRONG_CODES`] in a row lock the link. `None` for a wrong code and for a link that is unknown, expired, revoked or locked.
pub async fn visit(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    code_hash: &[u8; 32],
    visit_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<SessionId>, StoreError> {
    let link = sqlx::query!(
        "SELECT session_id, code_hash FROM feedback_links
         WHERE centre_id = $1 AND token_hash = $2
           AND revoked_at IS NULL AND expires_at > $3 AND wrong_codes < $4
         FOR UPDATE",
        centre.as_str(),
        token_hash.as_slice(),
        now,
        WRONG_CODES,
    )
    .fetch_optional(&mut *tx)
    .await?;
    let Some(link) = link else { return Ok(None) };
    let right = bool::from(link.code_hash.as_slice().ct_eq(code_hash.as_slice()));
    sqlx::query!(
        "UPDATE feedback_links SET wrong_codes = CASE WHEN $3 THEN 0 ELSE wrong_codes + 1 END
         WHERE centre_id = $1 AND token_hash = $2",
        centre.as_str(),
        token_hash.as_slice(),
        right,
    )
    .execute(&mut *tx)
    .await?;
    if !right {
        return Ok(None);
    }
    sqlx::query!(
        "INSERT INTO feedback_visits (centre_id, visit_hash, token_hash, ends_at) VALUES ($1, $2, $3, $4)",
        centre.as_str(),
        visit_hash.as_slice(),
        token_hash.as_slice(),
        now + Duration::minutes(VISIT_MINUTES),
    )
    .execute(tx)
    .await?;
    Ok(Some(SessionId(link.session_id)))
}

/// The session a visit may read, while it lasts and its link is not revoked.
pub async fn visited(
    tx: &mut PgConnection,
    centre: &CentreId,
    visit_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<SessionId>, StoreError> {
    let session = sqlx::query_scalar!(
        "SELECT session_id FROM feedback_visits JOIN feedback_links USING (centre_id, token_hash)
         WHERE centre_id = $1 AND visit_hash = $2 AND ends_at > $3 AND expires_at > $3 AND revoked_at IS NULL",
        centre.as_str(),
        visit_hash.as_slice(),
        now,
    )
    .fetch_optional(tx)
    .await?;
    Ok(session.map(SessionId))
}

/// As [`visited`], with the moment from which the link opens nothing any more.
pub async fn visited_until(
    tx: &mut PgConnection,
    centre: &CentreId,
    visit_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<(SessionId, OffsetDateTime)>, StoreError> {
    let row = sqlx::query!(
        "SELECT session_id, expires_at FROM feedback_visits JOIN feedback_links USING (centre_id, token_hash)
         WHERE centre_id = $1 AND visit_hash = $2 AND ends_at > $3 AND expires_at > $3 AND revoked_at IS NULL",
        centre.as_str(),
        visit_hash.as_slice(),
        now,
    )
    .fetch_optional(tx)
    .await?;
    Ok(row.map(|row| (SessionId(row.session_id), row.expires_at)))
}

/// A link that was made to the feedback on a session. What opens it is stored nowhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    pub made_at: OffsetDateTime,
    pub expires_at: OffsetDateTime,
    pub revoked_at: Option<OffsetDateTime>,
    /// How often the right code was given.
    pub visits: i64,
}

/// The links that were made to the feedback on a session, in the order in which they were.
pub async fn made(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Vec<Made>, StoreError> {
    let rows = sqlx::query_as!(
        Made,
        r#"SELECT made_at, expires_at, revoked_at,
                  (SELECT count(*) FROM feedback_visits v
                   WHERE v.centre_id = l.centre_id AND v.token_hash = l.token_hash) AS "visits!"
           FROM feedback_links l WHERE centre_id = $1 AND session_id = $2 ORDER BY made_at, token_hash"#,
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    Ok(rows)
}
