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
    let _ = (tx, centre, person);
    todo!()
}

/// The person and the password hash for a sign-in name; `None` for unknown and disabled ones alike.
pub async fn for_sign_in(
    tx: &mut PgConnection,
    centre: &CentreId,
    sign_in_name: &str,
) -> Result<Option<(Staff, String)>, StoreError> {
    let _ = (tx, centre, sign_in_name);
    todo!()
}

/// The person with this number, disabled or not.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, number: StaffNo) -> Result<Option<Staff>, StoreError> {
    let _ = (tx, centre, number);
    todo!()
}
