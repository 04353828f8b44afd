//! Sign-ins: who is known to the service on which browser. Only the SHA-256 of the token is stored.

mod steps;

pub use steps::*;

use super::{CentreId, StaffNo, StoreError, staff, staff::Staff};
use crate::seal::Digest;
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};

/// Idle minutes after which a sign-in ends.
pub const IDLE_MINUTES: i64 = 60;
/// Hours after which a sign-in ends whatever happens.
pub const LONGEST_HOURS: i64 = 12;

/// Starts a sign-in for this person that rests on the password alone.
pub async fn start(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    start_with(tx, centre, who, token_hash, &Start::default(), now).await
}

/// The person behind a token, with the roles they hold now; notes that they were seen. `None` where the sign-in is
/// unknown, ended, idle too long, not complete yet, its owner disabled or its tablet revoked. Also answers when the password
/// was last given.
pub async fn resume(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<(Staff, OffsetDateTime)>, StoreError> {
    let row = sqlx::query!(
        "SELECT number, sign_in_name, staff.name, roles, seen_at, password_at
         FROM sign_ins JOIN staff ON staff.centre_id = sign_ins.centre_id AND staff.number = sign_ins.staff_number
         LEFT JOIN tablets ON tablets.centre_id = sign_ins.centre_id AND tablets.tablet_id = sign_ins.tablet_id
         WHERE sign_ins.centre_id = $1 AND sign_ins.token_hash = $2
           AND seen_at > $3 AND started_at > $4 AND disabled_at IS NULL AND revoked_at IS NULL
           AND factor NOT IN ('code_owed', 'set_up_owed')",
        centre.as_str(),
        token_hash.as_slice(),
        now - Duration::minutes(IDLE_MINUTES),
        now - Duration::hours(LONGEST_HOURS),
    )
    .fetch_optional(&mut *tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    // To the minute is enough, and spares most requests a write.
    if now - row.seen_at >= Duration::minutes(1) {
        sqlx::query!(
            "UPDATE sign_ins SET seen_at = $3 WHERE centre_id = $1 AND token_hash = $2",
            centre.as_str(),
            token_hash.as_slice(),
            now,
        )
        .execute(tx)
        .await?;
    }
    let who = staff::of_row(centre, row.number, row.sign_in_name, row.name, &row.roles)?;
    Ok(Some((who, row.password_at)))
}

/// Ends a sign-in.
pub async fn end(tx: &mut PgConnection, centre: &CentreId, token_hash: &[u8; 32]) -> Result<(), StoreError> {
    sqlx::query!(
        "DELETE FROM sign_ins WHERE centre_id = $1 AND token_hash = $2",
        centre.as_str(),
        token_hash.as_slice()
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Counts a try at a sign-in name from an address and says whether it may go on to the password check: 10 at once for
/// a name and 5 for an address, then one more each minute or 20 seconds. Kept in the database, so that several nodes
/// share the count. `None` means go on; otherwise the seconds to wait. A try that may not go on counts for nothing, so that
/// one address cannot use up a name. The caller commits whatever the answer, and before the password is checked.
pub async fn may_try(
    tx: &mut PgConnection,
    centre: &CentreId,
    sign_in_name: &str,
    address: &str,
    now: OffsetDateTime,
) -> Result<Option<i64>, StoreError> {
    // Digests: the same length whatever was typed.
    let name = format!("name:{}", Digest::of(sign_in_name));
    let address = format!("address:{}", Digest::of(address));
    let both = [address.clone(), name.clone()];
    clear_tries(tx, centre, now).await?;
    sqlx::query!(
        "INSERT INTO sign_in_tries (centre_id, counted, full_at)
         SELECT $1, counted, $3 FROM unnest($2::text[]) AS counted ORDER BY counted
         ON CONFLICT DO NOTHING",
        centre.as_str(),
        &both,
        now,
    )
    .execute(&mut *tx)
    .await?;
    let rows = sqlx::query!(
        "SELECT counted, full_at FROM sign_in_tries WHERE centre_id = $1 AND counted = ANY($2)
         ORDER BY counted FOR UPDATE",
        centre.as_str(),
        &both,
    )
    .fetch_all(&mut *tx)
    .await?;
    let full_at = |counted: &str| rows.iter().find(|row| row.counted == counted).map_or(now, |row| row.full_at);
    let taken = (OF_AN_ADDRESS.take(full_at(&address), now), OF_A_NAME.take(full_at(&name), now));
    let (address_full, name_full) = match taken {
        (Ok(address_full), Ok(name_full)) => (address_full, name_full),
        (address_wait, name_wait) => {
            return Ok(Some(address_wait.err().unwrap_or(0).max(name_wait.err().unwrap_or(0))));
        }
    };
    sqlx::query!(
        "UPDATE sign_in_tries SET full_at = CASE counted WHEN $2 THEN $3::timestamptz ELSE $5::timestamptz END
         WHERE centre_id = $1 AND counted IN ($2, $4)",
        centre.as_str(),
        address,
        address_full,
        name,
        name_full,
    )
    .execute(tx)
    .await?;
    Ok(None)
}

/// Gives a try back after the right password, so that the staff of a centre who share an address do not use up each
/// other's tries.
pub async fn give_back(
    tx: &mut PgConnection,
    centre: &CentreId,
    sign_in_name: &str,
    address: &str,
) -> Result<(), StoreError> {
    let name = format!("name:{}", Digest::of(sign_in_name));
    let address = format!("address:{}", Digest::of(address));
    sqlx::query!(
        "UPDATE sign_in_tries SET full_at = full_at - make_interval(secs => CASE counted WHEN $2 THEN $3::float8 ELSE $5::float8 END)
         WHERE centre_id = $1 AND counted IN ($2, $4)",
        centre.as_str(),
        address,
        OF_AN_ADDRESS.one_more_after.as_seconds_f64(),
        name,
        OF_A_NAME.one_more_after.as_seconds_f64(),
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Tries that come back one by one.
struct Tries {
    at_once: i32,
    one_more_after: Duration,
}

const OF_A_NAME: Tries = Tries { at_once: 10, one_more_after: Duration::minutes(1) };
const OF_AN_ADDRESS: Tries = Tries { at_once: 5, one_more_after: Duration::seconds(20) };

impl Tries {
    /// Takes one try where all will have come back at `full_at`. Answers when all will have come back after this one;
    /// where none is left, the seconds until there is.
    fn take(&self, full_at: OffsetDateTime, now: OffsetDateTime) -> Result<OffsetDateTime, i64> {
        let full_at = full_at.max(now) + self.one_more_after;
        let over = (full_at - now) - self.one_more_after * self.at_once;
        if over.is_positive() {
            Err(over.whole_seconds() + i64::from(over.subsec_nanoseconds() > 0))
        } else {
            Ok(full_at)
        }
    }
}

/// Clears a few rows that mean nothing any more, so that guessed names do not fill the table.
async fn clear_tries(tx: &mut PgConnection, centre: &CentreId, now: OffsetDateTime) -> Result<(), StoreError> {
    sqlx::query!(
        "DELETE FROM sign_in_tries WHERE centre_id = $1 AND counted IN (
             SELECT counted FROM sign_in_tries WHERE centre_id = $1 AND full_at < $2
             ORDER BY full_at LIMIT 10 FOR UPDATE SKIP LOCKED)",
        centre.as_str(),
        now,
    )
    .execute(tx)
    .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{OF_A_NAME, OF_AN_ADDRESS};
    use time::{Duration, OffsetDateTime};

    #[test]
    fn tries_run_out_and_come_back_one_by_one() {
        for (tries, at_once, seconds) in [(OF_A_NAME, 10, 60), (OF_AN_ADDRESS, 5, 20)] {
            let start = OffsetDateTime::UNIX_EPOCH;
            let mut full_at = start;
            for _ in 0..at_once {
                full_at = tries.take(full_at, start).unwrap();
            }
            assert_eq!(tries.take(full_at, start), Err(seconds));
            assert_eq!(tries.take(full_at, start + Duration::milliseconds(500)), Err(seconds));
            let later = start + Duration::seconds(seconds);
            let full_at = tries.take(full_at, later).unwrap();
            assert_eq!(tries.take(full_at, later), Err(seconds));
            assert!(tries.take(full_at, start + Duration::hours(1)).is_ok());
        }
    }
}
