//! Where the centre says whether it calls a credential back. A place is given when a pass is signed; a credential is
//! called back when a later verdict takes the place of the one that it is for.

use super::{CentreId, SessionId, StoreError};
use crate::export::status_list::{PLACES, Place};
use sqlx::PgConnection;

/// The place of a verdict; `None` where it is no pass. `ordinal` counts the verdicts before it on the session.
pub async fn of(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    ordinal: u32,
) -> Result<Option<Place>, StoreError> {
    let place = sqlx::query_scalar!(
        "SELECT place FROM credential_places WHERE centre_id = $1 AND session_id = $2 AND ordinal::bigint = $3",
        centre.as_str(),
        session.0,
        i64::from(ordinal),
    )
    .fetch_optional(tx)
    .await?;
    place.map(|place| read(session, place)).transpose()
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
    rows.into_iter().map(|row| read(SessionId(row.session_id), row.place)).collect::<Result<_, _>>().map(Some)
}

fn read(session: SessionId, place: i32) -> Result<Place, StoreError> {
    u32::try_from(place).map(Place).map_err(|why| StoreError::unreadable("credential_places", session.0, why))
}
