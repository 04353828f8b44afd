//! What shows one-time codes for a person, and the recovery codes that stand in for it.

use super::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// A secret shared with what shows the codes, and the time step of the last code that was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shared {
    pub secret: [u8; 20],
    /// No code of this step or one before is taken again.
    pub last_step: i64,
}

/// Whether this person has set up one-time codes.
pub async fn is_set_up(tx: &mut PgConnection, centre: &CentreId, who: StaffNo) -> Result<bool, StoreError> {
    let there = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM one_time_secrets WHERE centre_id = $1 AND staff_number = $2) AS "there!""#,
        centre.as_str(),
        who.0,
    );
    Ok(there.fetch_one(tx).await?)
}

/// This person's secret, its row held so that no code is taken twice.
pub async fn hold(tx: &mut PgConnection, centre: &CentreId, who: StaffNo) -> Result<Option<Shared>, StoreError> {
    let row = sqlx::query!(
        "SELECT secret, last_step FROM one_time_secrets WHERE centre_id = $1 AND staff_number = $2 FOR UPDATE",
        centre.as_str(),
        who.0,
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let unfit = |bytes: Vec<u8>| StoreError::unreadable("one_time_secrets", who.0, format!("{} bytes", bytes.len()));
    Ok(Some(Shared { secret: row.secret.try_into().map_err(unfit)?, last_step: row.last_step }))
}

/// Sets up one-time codes, in the place of any before. `shared.last_step` is the step of the code that proved the set-up.
pub async fn set_up(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    shared: &Shared,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO one_time_secrets (centre_id, staff_number, secret, set_up_at, last_step) VALUES ($1, $2, $3, $4, $5)
         ON CONFLICT (centre_id, staff_number) DO UPDATE SET secret = $3, set_up_at = $4, last_step = $5",
        centre.as_str(),
        who.0,
        shared.secret.as_slice(),
        now,
        shared.last_step,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Notes that the code of this step was taken.
pub async fn use_step(tx: &mut PgConnection, centre: &CentreId, who: StaffNo, step: i64) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE one_time_secrets SET last_step = $3 WHERE centre_id = $1 AND staff_number = $2",
        centre.as_str(),
        who.0,
        step,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Forgets a person's one-time codes and recovery codes. Answers whether there were any.
pub async fn forget(tx: &mut PgConnection, centre: &CentreId, who: StaffNo) -> Result<bool, StoreError> {
    sqlx::query!("DELETE FROM recovery_codes WHERE centre_id = $1 AND staff_number = $2", centre.as_str(), who.0)
        .execute(&mut *tx)
        .await?;
    let done =
        sqlx::query!("DELETE FROM one_time_secrets WHERE centre_id = $1 AND staff_number = $2", centre.as_str(), who.0)
            .execute(tx)
            .await?;
    Ok(done.rows_affected() > 0)
}

/// Puts new recovery codes, of which only the hashes are stored, in the place of any before.
pub async fn set_recovery(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    hashes: &[[u8; 32]],
) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM recovery_codes WHERE centre_id = $1 AND staff_number = $2", centre.as_str(), who.0)
        .execute(&mut *tx)
        .await?;
    let hashes: Vec<Vec<u8>> = hashes.iter().map(|hash| hash.to_vec()).collect();
    sqlx::query!(
        "INSERT INTO recovery_codes (centre_id, staff_number, code_hash) SELECT $1, $2, unnest($3::bytea[])",
        centre.as_str(),
        who.0,
        &hashes,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Uses a recovery code up. `false` where there is none like it, or it was used before.
pub async fn use_recovery(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE recovery_codes SET used_at = $4
         WHERE centre_id = $1 AND staff_number = $2 AND code_hash = $3 AND used_at IS NULL",
        centre.as_str(),
        who.0,
        hash.as_slice(),
        now,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// How many recovery codes are left.
pub async fn recovery_left(tx: &mut PgConnection, centre: &CentreId, who: StaffNo) -> Result<i64, StoreError> {
    let left = sqlx::query_scalar!(
        r#"SELECT count(*) AS "left!" FROM recovery_codes
           WHERE centre_id = $1 AND staff_number = $2 AND used_at IS NULL"#,
        centre.as_str(),
        who.0,
    );
    Ok(left.fetch_one(tx).await?)
}
