//! Where the centre says whether it calls a credential back. A place is given when a pass is signed; a credential is
//! called back when a later verdict takes the place of the one that it is for.

use super::{CentreId, StoreError};
use crate::export::status_list::{PLACES, Place};
use sqlx::PgConnection;
use std::collections::HashMap;
use uuid::Uuid;

/// The places of the verdicts on these sessions, by session and by how many verdicts came before; none for one that is no
/// pass.
pub async fn of_sessions(
    tx: &mut PgConnection,
    centre: &CentreId,
    sessions: &[Uuid],
) -> Result<HashMap<(Uuid, u32), Place>, StoreError> {
    let rows = sqlx::query!(
        "SELECT session_id, ordinal, place FROM credential_places WHERE centre_id = $1 AND session_id = ANY($2)",
        centre.as_str(),
        sessions,
    )
    .fetch_all(tx)
    .await?;
    let placed = rows.into_iter().map(|row| {
        let id = row.session_id;
        let ordinal = u32::try_from(row.ordinal).map_err(|why| StoreError::unreadable("credential_places", id, why))?;
        Ok(((id, ordinal), read(id, row.place)?))
    });
    placed.collect()
}

/// The places of a list that are called back, in no order; `None` where the list has no place yet.
pub async fn called_back(
    tx: &mut PgConnection,
    centre: &CentreId,
    list: u32,
) -> Result<Option<Vec<Place>>, StoreError> {
    let first = i64::from(list) * i64::from(PLACES);
    let after = first + i64::from(PLACES);
    let begun = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM credential_places
                          WHERE centre_id = $1 AND place::bigint >= $2 AND place::bigint < $3) AS "begun!""#,
        centre.as_str(),
        first,
        after,
    )
    .fetch_one(&mut *tx)
    .await?;
    if !begun {
        return Ok(None);
    }
    // From the few verdicts that took the place of another, not from the many that stand.
    let rows = sqlx::query!(
        "SELECT DISTINCT p.session_id, p.place FROM amended_results a
         JOIN credential_places p ON p.centre_id = a.centre_id AND p.session_id = a.session_id AND p.ordinal < a.ordinal
         WHERE a.centre_id = $1 AND p.place::bigint >= $2 AND p.place::bigint < $3",
        centre.as_str(),
        first,
        after,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(|row| read(row.session_id, row.place)).collect::<Result<_, _>>().map(Some)
}

fn read(session: Uuid, place: i32) -> Result<Place, StoreError> {
    u32::try_from(place).map(Place).map_err(|why| StoreError::unreadable("credential_places", session, why))
}
