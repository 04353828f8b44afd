//! Looking after the staff of a centre: the list, roles, disabling, passwords. Whoever changes somebody's standing takes
//! turns with others who do, so that the last manager cannot be lost between two of them.

use super::staff::{self, Role, Staff};
use super::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// A member of staff in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub staff: Staff,
    pub disabled_at: Option<OffsetDateTime>,
    /// Whether they have set up one-time codes.
    pub has_codes: bool,
    /// The last request under one of the sign-ins that are kept: those of the last twelve hours.
    pub seen_at: Option<OffsetDateTime>,
}

/// Why somebody's standing was not changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// The centre would be left without a manager who can sign in.
    LastManager,
    /// There is no such person.
    Unknown,
}

/// Everybody, in the order in which they were added; those who are disabled last.
pub async fn list(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Listed>, StoreError> {
    listed(tx, centre, None).await
}

/// One person as in the list.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, who: StaffNo) -> Result<Option<Listed>, StoreError> {
    Ok(listed(tx, centre, Some(who)).await?.pop())
}

async fn listed(tx: &mut PgConnection, centre: &CentreId, only: Option<StaffNo>) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT number, sign_in_name, name, roles, disabled_at,
                  EXISTS (SELECT FROM one_time_secrets s WHERE s.centre_id = $1 AND s.staff_number = number) AS "has_codes!",
                  (SELECT max(seen_at) FROM sign_ins i WHERE i.centre_id = $1 AND i.staff_number = number) AS seen_at
           FROM staff WHERE centre_id = $1 AND ($2::integer IS NULL OR number = $2)
           ORDER BY disabled_at IS NOT NULL, number"#,
        centre.as_str(),
        only.map(|who| who.0),
    )
    .fetch_all(tx)
    .await?;
    let listed = rows.into_iter().map(|row| {
        let staff = staff::of_row(centre, row.number, row.sign_in_name, row.name, &row.roles)?;
        Ok(Listed { staff, disabled_at: row.disabled_at, has_codes: row.has_codes, seen_at: row.seen_at })
    });
    listed.collect()
}

/// Gives somebody these roles and no others.
pub async fn set_roles(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    roles: &[Role],
) -> Result<Result<(), Kept>, StoreError> {
    take_turns(tx, centre).await?;
    if !roles.contains(&Role::Manager) && !another_manager(tx, centre, who).await? {
        return Ok(Err(Kept::LastManager));
    }
    let roles: Vec<String> = roles.iter().map(|role| role.word().to_owned()).collect();
    let done = sqlx::query!(
        "UPDATE staff SET roles = $3 WHERE centre_id = $1 AND number = $2",
        centre.as_str(),
        who.0,
        &roles,
    )
    .execute(tx)
    .await?;
    Ok(if done.rows_affected() == 1 { Ok(()) } else { Err(Kept::Unknown) })
}

/// Keeps somebody from signing in and ends every sign-in of theirs.
pub async fn disable(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    now: OffsetDateTime,
) -> Result<Result<(), Kept>, StoreError> {
    take_turns(tx, centre).await?;
    if !another_manager(tx, centre, who).await? {
        return Ok(Err(Kept::LastManager));
    }
    let done = sqlx::query!(
        "UPDATE staff SET disabled_at = coalesce(disabled_at, $3) WHERE centre_id = $1 AND number = $2",
        centre.as_str(),
        who.0,
        now,
    )
    .execute(&mut *tx)
    .await?;
    super::sign_ins::end_all(tx, centre, who, None).await?;
    Ok(if done.rows_affected() == 1 { Ok(()) } else { Err(Kept::Unknown) })
}

/// Lets somebody who was disabled sign in again.
pub async fn enable(tx: &mut PgConnection, centre: &CentreId, who: StaffNo) -> Result<Result<(), Kept>, StoreError> {
    take_turns(tx, centre).await?;
    let done = sqlx::query!(
        "UPDATE staff SET disabled_at = NULL WHERE centre_id = $1 AND number = $2",
        centre.as_str(),
        who.0
    )
    .execute(tx)
    .await?;
    Ok(if done.rows_affected() == 1 { Ok(()) } else { Err(Kept::Unknown) })
}

/// Gives somebody a new password, as an argon2id PHC string, and ends their sign-ins but the one under `except`.
pub async fn set_password(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    password_hash: &str,
    except: Option<&[u8; 32]>,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE staff SET password_hash = $3 WHERE centre_id = $1 AND number = $2",
        centre.as_str(),
        who.0,
        password_hash,
    )
    .execute(&mut *tx)
    .await?;
    super::sign_ins::end_all(tx, centre, who, except).await
}

/// Waits for whoever else changes the staff of this centre.
async fn take_turns(tx: &mut PgConnection, centre: &CentreId) -> Result<(), StoreError> {
    sqlx::query!("SELECT pg_advisory_xact_lock(hashtextextended('staff ' || $1, 0))", centre.as_str())
        .execute(tx)
        .await?;
    Ok(())
}

/// Whether somebody else is a manager who can sign in.
async fn another_manager(tx: &mut PgConnection, centre: &CentreId, than: StaffNo) -> Result<bool, StoreError> {
    let other = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM staff WHERE centre_id = $1 AND number <> $2
                          AND disabled_at IS NULL AND 'manager' = ANY(roles)) AS "other!""#,
        centre.as_str(),
        than.0,
    );
    Ok(other.fetch_one(tx).await?)
}
