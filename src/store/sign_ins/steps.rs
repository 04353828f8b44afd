//! What a sign-in rests on, the steps to one, and a person's own sign-ins as they look after them.

use super::super::{CentreId, StaffNo, StoreError, TabletId, staff, staff::Staff};
use super::{IDLE_MINUTES, LONGEST_HOURS};
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};

/// Minutes in which the second step of a sign-in has to follow the first.
pub const STEP_MINUTES: i64 = 10;

/// What a sign-in rests on beside the password.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Factor {
    /// Nothing: the centre does not ask for more.
    #[default]
    None,
    /// A link that was handed over: the first sign-in of a person.
    Link,
    /// A tablet that the centre has enrolled.
    Tablet,
    /// A one-time code.
    Code,
    /// A recovery code.
    Recovery,
    /// A one-time code that is still to come; the sign-in opens nothing else.
    CodeOwed,
    /// A second factor that is still to be set up; the sign-in opens nothing else.
    SetUpOwed,
}

impl Factor {
    const ALL: [Self; 7] =
        [Self::None, Self::Link, Self::Tablet, Self::Code, Self::Recovery, Self::CodeOwed, Self::SetUpOwed];

    /// The spelling in the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Link => "link",
            Self::Tablet => "tablet",
            Self::Code => "code",
            Self::Recovery => "recovery",
            Self::CodeOwed => "code_owed",
            Self::SetUpOwed => "set_up_owed",
        }
    }

    /// Whether the sign-in opens nothing yet.
    pub fn is_owed(self) -> bool {
        matches!(self, Self::CodeOwed | Self::SetUpOwed)
    }

    fn of_word(word: &str) -> Result<Self, StoreError> {
        let known = Self::ALL.into_iter().find(|factor| factor.word() == word);
        known.ok_or_else(|| StoreError::unreadable("sign_ins", "factor", format!("nothing is called {word}")))
    }
}

/// What a new sign-in rests on, and where it is made.
#[derive(Debug, Clone, Default)]
pub struct Start {
    pub factor: Factor,
    /// The enrolled tablet that it is made on; revoking that ends it.
    pub tablet: Option<TabletId>,
    /// Words for the device, such as `Safari on an iPad`; at most 100 characters.
    pub device: String,
}

/// Starts a sign-in for this person.
pub async fn start_with(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    token_hash: &[u8; 32],
    start: &Start,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    // Those that have ended by themselves are of no more use to anybody.
    sqlx::query!(
        "DELETE FROM sign_ins WHERE centre_id = $1 AND started_at < $2",
        centre.as_str(),
        now - Duration::hours(LONGEST_HOURS),
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!(
        "INSERT INTO sign_ins (centre_id, token_hash, staff_number, started_at, seen_at, password_at, factor, tablet_id, device)
         VALUES ($1, $2, $3, $4, $4, $4, $5, $6, $7)",
        centre.as_str(),
        token_hash.as_slice(),
        who.0,
        now,
        start.factor.word(),
        start.tablet.map(|tablet| tablet.0),
        start.device,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The person whose password was given and who still owes a second step: a code, or the setting up of one. `None` where
/// nothing is owed under this token, or it has been owed for too long.
pub async fn owing(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<Option<(Staff, Factor)>, StoreError> {
    let row = sqlx::query!(
        "SELECT number, sign_in_name, name, roles, factor
         FROM sign_ins JOIN staff ON staff.centre_id = sign_ins.centre_id AND staff.number = sign_ins.staff_number
         WHERE sign_ins.centre_id = $1 AND token_hash = $2 AND started_at > $3 AND disabled_at IS NULL
           AND factor IN ('code_owed', 'set_up_owed')",
        centre.as_str(),
        token_hash.as_slice(),
        now - Duration::minutes(STEP_MINUTES),
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let factor = Factor::of_word(&row.factor)?;
    Ok(Some((staff::of_row(centre, row.number, row.sign_in_name, row.name, &row.roles)?, factor)))
}

/// Notes that the person behind a sign-in has given their password again.
pub async fn proved(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE sign_ins SET password_at = $3 WHERE centre_id = $1 AND token_hash = $2",
        centre.as_str(),
        token_hash.as_slice(),
        now,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Puts a sign-in under a new token, as from a password just given; the old token opens nothing any more.
pub async fn renew(
    tx: &mut PgConnection,
    centre: &CentreId,
    token_hash: &[u8; 32],
    new_hash: &[u8; 32],
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO sign_ins (centre_id, token_hash, staff_number, started_at, seen_at, password_at, factor, tablet_id, device)
         SELECT centre_id, $3, staff_number, started_at, $4, $4, factor, tablet_id, device FROM sign_ins
         WHERE centre_id = $1 AND token_hash = $2",
        centre.as_str(),
        token_hash.as_slice(),
        new_hash.as_slice(),
        now,
    )
    .execute(&mut *tx)
    .await?;
    super::end(tx, centre, token_hash).await
}

/// A sign-in that still holds, as its owner sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Tells it from the others; opens nothing.
    pub token_hash: Vec<u8>,
    pub started_at: OffsetDateTime,
    /// To the minute.
    pub seen_at: OffsetDateTime,
    pub device: String,
    pub factor: Factor,
    /// The name of the enrolled tablet that it was made on.
    pub tablet: Option<String>,
}

/// The sign-ins of this person that still hold, the last seen first.
pub async fn of_person(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    now: OffsetDateTime,
) -> Result<Vec<Standing>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT sign_ins.token_hash, started_at, seen_at, device, factor, tablets.name AS "tablet?"
           FROM sign_ins
           LEFT JOIN tablets ON tablets.centre_id = sign_ins.centre_id AND tablets.tablet_id = sign_ins.tablet_id
           WHERE sign_ins.centre_id = $1 AND staff_number = $2 AND seen_at > $3 AND started_at > $4
             AND factor NOT IN ('code_owed', 'set_up_owed')
           ORDER BY seen_at DESC, started_at DESC, sign_ins.token_hash"#,
        centre.as_str(),
        who.0,
        now - Duration::minutes(IDLE_MINUTES),
        now - Duration::hours(LONGEST_HOURS),
    )
    .fetch_all(tx)
    .await?;
    let standing = rows.into_iter().map(|row| {
        let (factor, tablet) = (Factor::of_word(&row.factor)?, row.tablet);
        let (token_hash, device) = (row.token_hash, row.device);
        Ok(Standing { token_hash, started_at: row.started_at, seen_at: row.seen_at, device, factor, tablet })
    });
    standing.collect()
}

/// Ends one sign-in of this person; somebody else's is left alone. Answers whether there was one.
pub async fn end_own(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    token_hash: &[u8],
) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "DELETE FROM sign_ins WHERE centre_id = $1 AND staff_number = $2 AND token_hash = $3",
        centre.as_str(),
        who.0,
        token_hash,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() > 0)
}

/// Ends every sign-in of this person but the one under `except`.
pub async fn end_all(
    tx: &mut PgConnection,
    centre: &CentreId,
    who: StaffNo,
    except: Option<&[u8; 32]>,
) -> Result<(), StoreError> {
    let except = except.map(|hash| hash.as_slice());
    sqlx::query!(
        "DELETE FROM sign_ins WHERE centre_id = $1 AND staff_number = $2 AND token_hash IS DISTINCT FROM $3",
        centre.as_str(),
        who.0,
        except,
    )
    .execute(tx)
    .await?;
    Ok(())
}
