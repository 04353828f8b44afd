//! Links that let somebody set a password once: a new person their first, somebody known a new one. Only the SHA-256 of
//! the token is stored; used, withdrawn, expired and unknown links look alike.

use super::staff::Role;
use super::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};

/// Hours an invitation lasts.
pub const INVITATION_HOURS: i64 = 24;
/// Minutes a link to a new password lasts.
pub const RESET_MINUTES: i64 = 60;

/// A link to make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invitation {
    /// Whom it is for, in the manager's words; 1 to 200 characters.
    pub whom: String,
    /// The roles a new person gets.
    pub roles: Vec<Role>,
    /// Whose password it sets anew; `None` invites a new person.
    pub resets: Option<StaffNo>,
    pub made_by: StaffNo,
}

/// A link that can still be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiting {
    /// Tells it from the others; opens nothing.
    pub token_hash: Vec<u8>,
    pub invitation: Invitation,
    pub expires_at: OffsetDateTime,
}

/// Makes a link. One that sets a person's password anew takes the place of those that were made for them before.
pub async fn make(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    invitation: &Invitation,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let lasts = match invitation.resets {
        Some(_) => Duration::minutes(RESET_MINUTES),
        None => Duration::hours(INVITATION_HOURS),
    };
    if let Some(who) = invitation.resets {
        sqlx::query!(
            "UPDATE invitations SET withdrawn_at = $3
             WHERE centre_id = $1 AND staff_number = $2 AND used_at IS NULL AND withdrawn_at IS NULL",
            centre.as_str(),
            who.0,
            now,
        )
        .execute(&mut *tx)
        .await?;
    }
    let roles: Vec<String> = invitation.roles.iter().map(|role| role.word().to_owned()).collect();
    sqlx::query!(
        "INSERT INTO invitations (centre_id, token_hash, whom, roles, staff_number, made_by, made_at, expires_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
        centre.as_str(),
        token_hash.as_slice(),
        invitation.whom,
        &roles,
        invitation.resets.map(|who| who.0),
        invitation.made_by.0,
        now,
        now + lasts,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Uses a link up: of several who do so at once, one gets it. `resets` says for what it is used; a link for the other
/// thing, and one that is used, withdrawn, expired or unknown, answers `None`, as does one whose owner is disabled.
pub async fn take(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    resets: bool,
    now: OffsetDateTime,
) -> Result<Option<Invitation>, StoreError> {
    let row = sqlx::query!(
        "UPDATE invitations SET used_at = $4
         WHERE centre_id = $1 AND token_hash = $2 AND (staff_number IS NOT NULL) = $3
           AND used_at IS NULL AND withdrawn_at IS NULL AND expires_at > $4
           AND NOT EXISTS (SELECT FROM staff s WHERE s.centre_id = $1 AND s.number = staff_number
                           AND s.disabled_at IS NOT NULL)
         RETURNING whom, roles, staff_number, made_by",
        centre.as_str(),
        token_hash.as_slice(),
        resets,
        now,
    )
    .fetch_optional(tx)
    .await?;
    row.map(|row| invitation(row.whom, &row.roles, row.staff_number, row.made_by)).transpose()
}

/// Links that can still be used, those that expire last first.
pub async fn waiting(
    tx: &mut PgConnection,
    centre: &CentreId,
    now: OffsetDateTime,
) -> Result<Vec<Waiting>, StoreError> {
    let rows = sqlx::query!(
        "SELECT token_hash, whom, roles, staff_number, made_by, expires_at FROM invitations
         WHERE centre_id = $1 AND used_at IS NULL AND withdrawn_at IS NULL AND expires_at > $2
         ORDER BY expires_at DESC, token_hash",
        centre.as_str(),
        now,
    )
    .fetch_all(tx)
    .await?;
    let waiting = rows.into_iter().map(|row| {
        let invitation = invitation(row.whom, &row.roles, row.staff_number, row.made_by)?;
        Ok(Waiting { token_hash: row.token_hash, invitation, expires_at: row.expires_at })
    });
    waiting.collect()
}

/// Withdraws a link. Answers whether there was one to withdraw.
pub async fn withdraw(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8],
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE invitations SET withdrawn_at = $3
         WHERE centre_id = $1 AND token_hash = $2 AND used_at IS NULL AND withdrawn_at IS NULL",
        centre.as_str(),
        token_hash,
        now,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

fn invitation(whom: String, roles: &[String], resets: Option<i32>, made_by: i32) -> Result<Invitation, StoreError> {
    let role = |word: &String| {
        Role::of_word(word)
            .ok_or_else(|| StoreError::unreadable("invitations", &whom, format!("no role is called {word}")))
    };
    let roles = roles.iter().map(role).collect::<Result<_, _>>()?;
    Ok(Invitation { whom, roles, resets: resets.map(StaffNo), made_by: StaffNo(made_by) })
}
