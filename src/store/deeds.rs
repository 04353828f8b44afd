//! Who did what, and when: the centre's record of actions, which is only ever added to.

use super::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Rows on one page of the record.
pub const PAGE: i64 = 50;

/// One action.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Deed {
    /// Its place in the centre's record, from 1 without a gap.
    pub n: i64,
    pub at: OffsetDateTime,
    /// Who did it, with their name now; `None` where it was not known who it was, or the service did it by itself.
    pub by: Option<(StaffNo, String)>,
    /// The word for what was done, such as `role_changed`.
    pub what: String,
    /// Whom or what it was about, as the word says.
    pub about: String,
}

/// Notes an action of this centre, in the transaction that does it, so that neither stands without the other.
///
/// `what` is a word of `a-z` and `_`, at most 40; `about` is at most 300 characters (the rest is cut off) and names
/// people by number (`u-17`) and things by identifier, never a candidate by name: nothing can be erased here.
/// Other actions of the centre wait until the transaction ends, so note it last.
pub async fn note(
    tx: &mut PgConnection,
    centre: &CentreId,
    by: Option<StaffNo>,
    what: &str,
    about: &str,
    at: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!("SELECT pg_advisory_xact_lock(hashtextextended('deeds ' || $1, 0))", centre.as_str())
        .execute(&mut *tx)
        .await?;
    let about: String = about.chars().filter(|c| !c.is_control()).take(300).collect();
    sqlx::query!(
        "INSERT INTO deeds (centre_id, n, at, by, what, about)
         SELECT $1, coalesce((SELECT n FROM deeds WHERE centre_id = $1 ORDER BY n DESC LIMIT 1), 0) + 1, $2, $3, $4, $5",
        centre.as_str(),
        at,
        by.map(|who| who.0),
        what,
        about,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The newest actions before place `before`, or the newest of all: at most [`PAGE`] and one more, which tells whether
/// there are others.
pub async fn page(tx: &mut PgConnection, centre: &CentreId, before: Option<i64>) -> Result<Vec<Deed>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT n, at, by, what, about, name AS "name?"
           FROM deeds LEFT JOIN staff ON staff.centre_id = deeds.centre_id AND number = by
           WHERE deeds.centre_id = $1 AND n < $2 ORDER BY n DESC LIMIT $3"#,
        centre.as_str(),
        before.unwrap_or(i64::MAX),
        PAGE + 1,
    )
    .fetch_all(tx)
    .await?;
    let deed = rows.into_iter().map(|row| Deed {
        n: row.n,
        at: row.at,
        by: row.by.map(|number| (StaffNo(number), row.name.unwrap_or_default())),
        what: row.what,
        about: row.about,
    });
    Ok(deed.collect())
}
