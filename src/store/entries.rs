//! The evidence: each session's chain of entries. Nothing here is ever changed or removed.

use super::chain::{Chain, unix_ms};
use super::{CentreId, SessionId, StaffNo, StoreError, ids};
use crate::marking::observation::Act;
use crate::marking::{Log, Observation, ObservationId, Task};
use crate::seal::{Content, Digest, Entry, Origin, Salt, commitment};
use sqlx::PgConnection;
use std::collections::{HashMap, HashSet};
use time::OffsetDateTime;
use uuid::Uuid;

/// Most entries in one session, the signed outcome apart.
pub const MOST_ENTRIES: i64 = 2_000;

/// Longest line of an entry, in bytes.
pub const MOST_LINE_BYTES: usize = 2_048;

/// What is read in place of a text that was erased.
const ERASED: &str = "[erased]";

/// Where a batch came from and when it arrived.
#[derive(Debug, Clone)]
pub struct Arrival {
    pub by: StaffNo,
    /// The device, as it names itself: an identifier.
    pub device: String,
    /// The page load on that device: an identifier.
    pub run: String,
    pub received_at: OffsetDateTime,
    /// Milliseconds to add to the device's wall clock.
    pub offset_ms: i64,
    /// Half the round trip, in milliseconds.
    pub error_ms: i64,
}

/// What became of one observation that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Receipt {
    /// Stored as entry `n`.
    Accepted(i64),
    /// Already there, with the same content, as entry `n`.
    Duplicate(i64),
    /// The name is taken by other content. Nothing was written.
    Conflict,
    /// It makes no sense in this session: why. Nothing was written.
    Refused(String),
}

/// Where the chain of a session stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    pub count: i64,
    /// 64 lower-case hex digits.
    pub hash: String,
}

/// Opens the evidence of a session that the caller holds: writes the `opened` entry with the commitment to the
/// candidate and the digest of the task version. `false` where it is open already.
pub async fn open(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    arrival: &Arrival,
) -> Result<bool, StoreError> {
    let Some(mut chain) = Chain::of_session(tx, centre, session).await? else { return Ok(false) };
    if chain.is_open() {
        return Ok(false);
    }
    let facts = sqlx::query!(
        "SELECT candidates.name, candidates.reference, tasks.digest
         FROM sessions
         JOIN candidates USING (centre_id, candidate_id)
         JOIN tasks ON tasks.centre_id = sessions.centre_id AND tasks.task_id = sessions.task_id
                   AND tasks.version = sessions.task_version
         WHERE sessions.centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
    )
    .fetch_one(&mut *tx)
    .await?;
    let task = Digest::new(&facts.digest)
        .ok_or_else(|| StoreError::unreadable("tasks", session.0, "the digest is not 64 hex digits"))?;
    let details = format!("{}|{}", facts.name, facts.reference);
    let salt = Salt::new(rand::random());
    let entry = Entry {
        id: ids::of_server(arrival.received_at),
        seq: 0,
        wall: unix_ms(arrival.received_at),
        mono: 0,
        origin: origin(arrival),
        content: Content::Opened { candidate: commitment::candidate(&salt, &details), task },
    };
    chain.push(&entry, Some((salt, details)))?;
    chain.write(tx, Some(arrival.received_at)).await?;
    Ok(true)
}

/// Appends a batch to a session that the caller holds and answers for each observation, in order. One bad observation
/// never blocks its neighbours. Everything new is refused while the session is not open, and once it is signed; what is
/// there already is a duplicate even then, so that a tablet whose answer was lost comes to rest.
pub async fn append(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    task: &Task,
    arrival: &Arrival,
    batch: &[Observation],
) -> Result<Vec<Receipt>, StoreError> {
    let Some(mut chain) = Chain::of_session(tx, centre, session).await? else {
        return Ok(vec![Receipt::Refused("there is no such session".to_owned()); batch.len()]);
    };
    let mut there = Known::find(tx, centre, session, batch).await?;
    let mut receipts = Vec::with_capacity(batch.len());
    for observation in batch {
        receipts.push(receive(&mut chain, &mut there, task, arrival, observation));
    }
    chain.write(tx, None).await?;
    Ok(receipts)
}

/// Answers for one observation; pushes it on the chain where it is new and makes sense.
fn receive(chain: &mut Chain, known: &mut Known, task: &Task, arrival: &Arrival, observation: &Observation) -> Receipt {
    if let Some(kept) = known.0.get(&observation.id) {
        let same = kept.entry.origin.by == arrival.by.0 && kept.entry.holds(observation, kept.salt.as_ref());
        return if same { Receipt::Duplicate(kept.n) } else { Receipt::Conflict };
    }
    if let Some(why) = closed(chain) {
        return Receipt::Refused(why.to_owned());
    }
    let faults = observation.check(task, |id| known.is_of(id, arrival.by));
    if !faults.is_empty() {
        let says: Vec<_> = faults.iter().map(|fault| format!("{}: {}", fault.path, fault.says)).collect();
        return Receipt::Refused(says.join("; "));
    }
    let salt = Salt::new(rand::random());
    let pushed = Entry::observed(observation, origin(arrival), &salt).and_then(|(entry, text)| {
        let text = text.map(|text| (salt.clone(), text));
        let salt = text.as_ref().map(|(salt, _)| salt.clone());
        let n = chain.push(&entry, text)?;
        Ok(Kept { n, entry, salt })
    });
    match pushed {
        Ok(kept) => {
            let n = kept.n;
            known.0.insert(observation.id, kept);
            Receipt::Accepted(n)
        }
        Err(why) => Receipt::Refused(why.to_string()),
    }
}

/// Why nothing new may be appended.
fn closed(chain: &Chain) -> Option<&'static str> {
    match () {
        () if !chain.is_open() => Some("the session is not open yet"),
        () if chain.is_signed() => Some("the session is signed"),
        () if chain.count() >= MOST_ENTRIES => Some("a session holds at most 2,000 entries"),
        () => None,
    }
}

/// An entry that is there already.
struct Kept {
    n: i64,
    entry: Entry,
    salt: Option<Salt>,
}

/// Of the entries that are there, those that a batch names: as its own, as struck or as doubted.
struct Known(HashMap<ObservationId, Kept>);

impl Known {
    async fn find(
        tx: &mut PgConnection,
        centre: &CentreId,
        session: SessionId,
        batch: &[Observation],
    ) -> Result<Self, StoreError> {
        let rows = sqlx::query!(
            r#"SELECT n, line, salt AS "salt?"
               FROM entries LEFT JOIN texts USING (centre_id, session_id, n)
               WHERE centre_id = $1 AND session_id = $2 AND entry_id = ANY($3)"#,
            centre.as_str(),
            session.0,
            &named(batch),
        )
        .fetch_all(tx)
        .await?;
        let mut known = HashMap::with_capacity(rows.len() + batch.len());
        for row in rows {
            let entry = read(session, row.n, &row.line)?;
            let salt = row.salt.and_then(|salt| salt.try_into().ok()).map(Salt::new);
            known.insert(entry.observation_id(), Kept { n: row.n, entry, salt });
        }
        Ok(Self(known))
    }

    /// Whether there is such an observation in this marker's log: two markers write two logs.
    fn is_of(&self, id: &ObservationId, marker: StaffNo) -> bool {
        self.0.get(id).is_some_and(|kept| {
            kept.entry.origin.by == marker.0 && matches!(kept.entry.content, Content::Observed { .. })
        })
    }
}

/// Every identifier that a batch names.
fn named(batch: &[Observation]) -> Vec<Uuid> {
    let referred = batch.iter().filter_map(|observation| match &observation.act {
        Act::Struck { observation, .. } | Act::Unsure { observation } => Some(observation.0),
        _ => None,
    });
    batch.iter().map(|observation| observation.id.0).chain(referred).collect()
}

fn origin(arrival: &Arrival) -> Origin {
    Origin {
        by: arrival.by.0,
        device: arrival.device.clone(),
        run: arrival.run.clone(),
        received: unix_ms(arrival.received_at),
        offset: arrival.offset_ms,
        error: arrival.error_ms,
    }
}

fn read(session: SessionId, n: i64, line: &str) -> Result<Entry, StoreError> {
    Entry::read(line).map_err(|why| StoreError::unreadable("entries", format!("{} {n}", session.0), why))
}

/// The log that one marker has written on a session, in the order of receipt. Fails where an entry no longer fits the
/// task, which cannot happen to a published version.
pub async fn log_of(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    marker: StaffNo,
    task: &Task,
) -> Result<Log, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT n, line, body AS "body?"
           FROM entries LEFT JOIN texts USING (centre_id, session_id, n)
           WHERE centre_id = $1 AND session_id = $2 AND marker = $3 AND kind = 'observation'
           ORDER BY n"#,
        centre.as_str(),
        session.0,
        marker.0,
    )
    .fetch_all(tx)
    .await?;
    let mut known = HashSet::with_capacity(rows.len());
    let mut observations = Vec::with_capacity(rows.len());
    for row in rows {
        let unreadable = |why: String| StoreError::unreadable("entries", format!("{} {}", session.0, row.n), why);
        let seen = read(session, row.n, &row.line)?.observation(Some(row.body.as_deref().unwrap_or(ERASED)));
        let seen = seen.map_err(|why| unreadable(why.to_string()))?;
        let seen = seen.ok_or_else(|| unreadable("it is not an observation".to_owned()))?;
        if let Some(fault) = seen.check(task, |id| known.contains(id)).first() {
            return Err(unreadable(fault.to_string()));
        }
        known.insert(seen.id);
        observations.push(seen);
    }
    Ok(Log::of_stored(observations))
}

/// Where the chain stands.
pub async fn head(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Head, StoreError> {
    let row = sqlx::query!(
        "SELECT count, head FROM sessions WHERE centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
    )
    .fetch_one(tx)
    .await?;
    Ok(Head { count: row.count, hash: row.head })
}
