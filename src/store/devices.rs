//! The devices that record a session: how many observations each says it has made, and what is said of those that
//! never arrived.

use super::chain::{Chain, unix_ms};
use super::entries::{self, Arrival, MOST_ENTRIES, SERVER};
use super::{CentreId, SessionId, StaffNo, StoreError, ids};
use crate::seal::clocks::Contact;
use crate::seal::numbers::{self, Missing};
use crate::seal::{Content, Entry, Origin, Salt, commitment};
use sqlx::PgConnection;
use std::collections::BTreeMap;
use time::OffsetDateTime;

/// Closer to the last than this a contact is not kept: two pages of one tablet say the same. In seconds.
const APART_S: f64 = 30.0;

/// Keeps that a device was in contact, by what it sent, and had made no number above `high` by then. Of each device one
/// in half a minute is kept, and of a session no more than it may have entries.
pub async fn keep_contact(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    arrival: &Arrival,
    high: u32,
) -> Result<(), StoreError> {
    sqlx::query!(
        r#"INSERT INTO contacts (centre_id, session_id, marker, device, at, high)
           SELECT $1, $2, $3, $4, $5, $6
           WHERE NOT EXISTS (
               SELECT FROM contacts
               WHERE centre_id = $1 AND session_id = $2 AND marker = $3 AND device = $4
                 AND at > $5::timestamptz - make_interval(secs => $7))
             AND (SELECT count(*) FROM contacts WHERE centre_id = $1 AND session_id = $2) < $8
           ON CONFLICT DO NOTHING"#,
        centre.as_str(),
        session.0,
        arrival.by.0,
        arrival.device,
        arrival.received_at,
        i64::from(high),
        APART_S,
        MOST_ENTRIES,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The contacts of a session in which nothing was sent.
pub async fn contacts(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Vec<Contact>, StoreError> {
    let rows = sqlx::query!(
        "SELECT marker, device, at, high FROM contacts WHERE centre_id = $1 AND session_id = $2 ORDER BY at",
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter()
        .map(|row| {
            let high = u32::try_from(row.high).map_err(|why| StoreError::unreadable("contacts", &row.device, why))?;
            Ok(Contact { by: row.marker, at: unix_ms(row.at), device: row.device, high })
        })
        .collect()
}

/// The highest number that each device has stated for a session.
pub async fn highest(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<BTreeMap<String, u32>, StoreError> {
    let rows = sqlx::query!(
        "SELECT device, high FROM devices WHERE centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    let read = |device: String, high: i64| {
        let high = u32::try_from(high).map_err(|why| StoreError::unreadable("devices", &device, why))?;
        Ok((device, high))
    };
    rows.into_iter().map(|row| read(row.device, row.high)).collect()
}

/// The numbers of this session that have not arrived and that no reason was given for.
pub async fn missing(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Vec<Missing>, StoreError> {
    let highest = highest(tx, centre, session).await?;
    if highest.is_empty() {
        return Ok(Vec::new());
    }
    let entries = entries::of_session(tx, centre, session).await?;
    Ok(numbers::missing(&highest, &entries))
}

/// Gives a reason for every number that is missing from one device of a session that the caller holds: a `gap` entry
/// for each run of numbers, with the commitment to the reason. Answers how many runs there were.
pub async fn state_gap(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    device: &str,
    reason: &str,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<usize, StoreError> {
    let missing = missing(tx, centre, session).await?;
    let Some(mut chain) = Chain::of_session(tx, centre, session).await? else { return Ok(0) };
    if !chain.is_open() || chain.is_signed() {
        return Ok(0);
    }
    let mut stated = 0;
    for run in missing.into_iter().filter(|run| run.device == device) {
        let salt = Salt::new(rand::random());
        let content = Content::Gap {
            device: run.device,
            first: run.first,
            last: run.last,
            reason: commitment::note(&salt, reason),
        };
        let at = unix_ms(now);
        let origin =
            Origin { by: by.0, device: SERVER.to_owned(), run: SERVER.to_owned(), received: at, offset: 0, error: 0 };
        let entry = Entry { id: ids::of_server(now), seq: 0, wall: at, mono: 0, origin, content };
        chain.push(&entry, Some((salt, reason.to_owned())))?;
        stated += 1;
    }
    chain.write(tx, centre, None).await?;
    Ok(stated)
}

/// A gap that a reason was given for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stated {
    pub missing: Missing,
    pub reason: String,
}

/// The gaps of a session that a reason was given for, in the order in which they were.
pub async fn stated(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Vec<Stated>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT n, line, body AS "body?"
           FROM entries LEFT JOIN texts USING (centre_id, session_id, n)
           WHERE centre_id = $1 AND session_id = $2 AND kind = 'gap'
           ORDER BY n"#,
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    let mut stated = Vec::with_capacity(rows.len());
    for row in rows {
        if let Content::Gap { device, first, last, .. } = entries::read(session, row.n, &row.line)?.content {
            let reason = row.body.unwrap_or_else(|| entries::ERASED.to_owned());
            stated.push(Stated { missing: Missing { device, first, last }, reason });
        }
    }
    Ok(stated)
}
