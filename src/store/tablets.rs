//! Browsers that a centre has enrolled: on them the password is enough. Only the SHA-256 of the token in the cookie is
//! stored.

use super::{CentreId, StaffNo, StoreError, TabletId, ids};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// An enrolled tablet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tablet {
    pub id: TabletId,
    pub name: String,
    pub enrolled_at: OffsetDateTime,
    /// Who enrolled it.
    pub enrolled_by: String,
    pub revoked_at: Option<OffsetDateTime>,
}

/// Enrols the browser that gets the token, under a name of 1 to 80 characters.
pub async fn enrol(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    name: &str,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<TabletId, StoreError> {
    let id = ids::of_server(now);
    sqlx::query!(
        "INSERT INTO tablets (centre_id, tablet_id, token_hash, name, enrolled_at, enrolled_by)
         VALUES ($1, $2, $3, $4, $5, $6)",
        centre.as_str(),
        id,
        token_hash.as_slice(),
        name,
        now,
        by.0,
    )
    .execute(tx)
    .await?;
    Ok(TabletId(id))
}

/// The tablet behind a token and its name, unless it was revoked.
pub async fn of_token(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
) -> Result<Option<(TabletId, String)>, StoreError> {
    let row = sqlx::query!(
        "SELECT tablet_id, name FROM tablets WHERE centre_id = $1 AND token_hash = $2 AND revoked_at IS NULL",
        centre.as_str(),
        token_hash.as_slice(),
    )
    .fetch_optional(tx)
    .await?;
    Ok(row.map(|row| (TabletId(row.tablet_id), row.name)))
}

/// Every tablet: those that are enrolled first, then those that were revoked, each the newest first.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Tablet>, StoreError> {
    let rows = sqlx::query!(
        "SELECT tablet_id, tablets.name, enrolled_at, revoked_at, staff.name AS enrolled_by
         FROM tablets JOIN staff ON staff.centre_id = tablets.centre_id AND staff.number = tablets.enrolled_by
         WHERE tablets.centre_id = $1
         ORDER BY revoked_at IS NOT NULL, enrolled_at DESC, tablet_id",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    let tablet = rows.into_iter().map(|row| Tablet {
        id: TabletId(row.tablet_id),
        name: row.name,
        enrolled_at: row.enrolled_at,
        enrolled_by: row.enrolled_by,
        revoked_at: row.revoked_at,
    });
    Ok(tablet.collect())
}

/// Revokes a tablet and ends every sign-in that was made on it. Answers its name; `None` where there is no such tablet
/// that is enrolled.
pub async fn revoke(
    tx: &mut PgConnection,
    centre: &CentreId,
    tablet: TabletId,
    now: OffsetDateTime,
) -> Result<Option<String>, StoreError> {
    let name = sqlx::query_scalar!(
        "UPDATE tablets SET revoked_at = $3 WHERE centre_id = $1 AND tablet_id = $2 AND revoked_at IS NULL RETURNING name",
        centre.as_str(),
        tablet.0,
        now,
    )
    .fetch_optional(&mut *tx)
    .await?;
    if name.is_some() {
        sqlx::query!("DELETE FROM sign_ins WHERE centre_id = $1 AND tablet_id = $2", centre.as_str(), tablet.0)
            .execute(tx)
            .await?;
    }
    Ok(name)
}
