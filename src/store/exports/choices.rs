//! Whom and what an export can be narrowed to.

use crate::store::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;

/// Everybody who has assessed, or may: number and name, by name.
pub async fn assessors(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<(StaffNo, String)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT number, name FROM staff s WHERE centre_id = $1
           AND ('assessor' = ANY(roles)
                OR EXISTS (SELECT FROM sessions x WHERE x.centre_id = s.centre_id AND x.assessor = s.number))
         ORDER BY name, number",
        centre.as_str(),
    )
    .fetch_all(tx)
    .await?;
    Ok(rows.into_iter().map(|row| (StaffNo(row.number), row.name)).collect())
}
