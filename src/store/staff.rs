//! Staff of a centre and their roles.

use super::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;

/// What a member of staff may do. One person may hold several.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    Assessor,
    Verifier,
    Manager,
}

impl Role {
    /// The spelling in the database and on pages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Assessor => "assessor",
            Self::Verifier => "verifier",
            Self::Manager => "manager",
        }
    }

    /// Every role.
    pub const ALL: [Self; 3] = [Self::Assessor, Self::Verifier, Self::Manager];

    /// The role with this spelling.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

/// A member of staff.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Staff {
    pub centre: CentreId,
    pub number: StaffNo,
    /// The part of the sign-in name before the `@`: lower case.
    pub sign_in_name: String,
    pub name: String,
    pub roles: Vec<Role>,
}

impl Staff {
    /// Whether this person holds `role`.
    pub fn is(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }
}

/// A person to add. `password_hash` is an argon2id PHC string.
#[derive(Debug, Clone)]
pub struct NewStaff {
    pub sign_in_name: String,
    pub name: String,
    pub roles: Vec<Role>,
    pub password_hash: String,
}

/// Adds a member of staff under the centre's next number. `None` where the sign-in name is taken.
pub async fn add(tx: &mut PgConnection, centre: &CentreId, person: &NewStaff) -> Result<Option<StaffNo>, StoreError> {
    // Two people added at once take turns: each needs the number after the other's.
    sqlx::query!("SELECT pg_advisory_xact_lock(hashtextextended('staff ' || $1, 0))", centre.as_str())
        .execute(&mut *tx)
        .await?;
    let roles: Vec<String> = person.roles.iter().map(|role| role.word().to_owned()).collect();
    let number = sqlx::query_scalar!(
        "INSERT INTO staff (centre_id, number, sign_in_name, name, roles, password_hash)
         SELECT $1, coalesce(max(number), 0) + 1, $2, $3, $4, $5 FROM staff WHERE centre_id = $1
         ON CONFLICT (centre_id, sign_in_name) DO NOTHING
         RETURNING number",
        centre.as_str(),
        person.sign_in_name,
        person.name,
        &roles,
        person.password_hash,
    )
    .fetch_optional(tx)
    .await?;
    Ok(number.map(StaffNo))
}

/// The person and the password hash for a sign-in name; `None` for unknown and disabled ones alike.
pub async fn for_sign_in(
    tx: &mut PgConnection,
    centre: &CentreId,
    sign_in_name: &str,
) -> Result<Option<(Staff, String)>, StoreError> {
    let row = sqlx::query!(
        "SELECT number, sign_in_name, name, roles, password_hash FROM staff
         WHERE centre_id = $1 AND sign_in_name = $2 AND disabled_at IS NULL",
        centre.as_str(),
        sign_in_name,
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let staff = of_row(centre, row.number, row.sign_in_name, row.name, &row.roles)?;
    Ok(Some((staff, row.password_hash)))
}

/// The person with this number, disabled or not.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, number: StaffNo) -> Result<Option<Staff>, StoreError> {
    let row = sqlx::query!(
        "SELECT sign_in_name, name, roles FROM staff WHERE centre_id = $1 AND number = $2",
        centre.as_str(),
        number.0,
    )
    .fetch_optional(tx)
    .await?;
    row.map(|row| of_row(centre, number.0, row.sign_in_name, row.name, &row.roles)).transpose()
}

/// A person as their row tells.
pub(super) fn of_row(
    centre: &CentreId,
    number: i32,
    sign_in_name: String,
    name: String,
    roles: &[String],
) -> Result<Staff, StoreError> {
    let role = |word: &String| {
        Role::of_word(word).ok_or_else(|| StoreError::unreadable("staff", number, format!("no role is called {word}")))
    };
    let roles = roles.iter().map(role).collect::<Result<_, _>>()?;
    Ok(Staff { centre: centre.clone(), number: StaffNo(number), sign_in_name, name, roles })
}
