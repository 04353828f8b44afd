//! Appending to sessions that are held: what becomes of each observation, for one session or for many at once.

use super::chain::{self, Chain};
use super::entries::{Arrival, Head, MOST_ENTRIES, Receipt, origin, read};
use super::{CentreId, SessionId, StaffNo, StoreError};
use crate::marking::observation::Act;
use crate::marking::{Observation, ObservationId, Task};
use crate::seal::{Content, Entry, Salt};
use sqlx::PgConnection;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use uuid::Uuid;

/// Observations that a device sends for one session.
#[derive(Debug, Clone)]
pub struct Batch {
    pub session: SessionId,
    /// The session's task.
    pub task: Arc<Task>,
    pub arrival: Arrival,
    /// The highest number that the device has made on this session, where it says so.
    pub high: Option<u32>,
    pub observations: Vec<Observation>,
}

/// What became of a batch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// One for each observation, in order.
    pub receipts: Vec<Receipt>,
    /// Where the chain stood after this batch.
    pub head: Head,
}

/// What became of a batch among others.
#[derive(Debug)]
pub(super) enum Outcome {
    Taken(Taken),
    /// Somebody else holds the session.
    Held,
    /// There is no such session.
    Nowhere,
}

/// Whether what arrives after the signature may still stand, beside what was signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum AfterSigning {
    /// It was made in time on a device and came late.
    Late,
    /// It is made here and now.
    Refused,
}

/// Takes batches of one centre in one transaction, whichever sessions they are for. Sessions whose row is held by
/// somebody else are passed over.
pub(super) async fn append_all(
    tx: &mut PgConnection,
    centre: &CentreId,
    batches: &[&Batch],
) -> Result<Vec<Outcome>, StoreError> {
    let mut chains = hold_free(tx, centre, batches).await?;
    let held = held_by_others(tx, centre, batches, &chains).await?;
    let mut known = Known::find(tx, centre, batches).await?;
    let mut outcomes = Vec::with_capacity(batches.len());
    for batch in batches {
        let outcome = match chains.get_mut(&batch.session.0) {
            Some(chain) => {
                chain.signed_if(known.signed.contains(&batch.session.0));
                Outcome::Taken(take(chain, &mut known, batch, AfterSigning::Late))
            }
            None if held.contains(&batch.session.0) => Outcome::Held,
            None => Outcome::Nowhere,
        };
        outcomes.push(outcome);
    }
    chain::write_all(tx, centre, chains.into_values().collect(), None).await?;
    Ok(outcomes)
}

/// Of the sessions that could not be held, those that are there.
async fn held_by_others(
    tx: &mut PgConnection,
    centre: &CentreId,
    batches: &[&Batch],
    ours: &BTreeMap<Uuid, Chain>,
) -> Result<Vec<Uuid>, StoreError> {
    let others = batches.iter().map(|batch| batch.session.0).filter(|session| !ours.contains_key(session));
    let others: Vec<Uuid> = others.collect();
    if others.is_empty() {
        return Ok(others);
    }
    let there = sqlx::query_scalar!(
        "SELECT session_id FROM sessions WHERE centre_id = $1 AND session_id = ANY($2)",
        centre.as_str(),
        &others,
    );
    Ok(there.fetch_all(tx).await?)
}

/// Takes one batch for a session that the caller holds.
pub(super) async fn append_one(
    tx: &mut PgConnection,
    centre: &CentreId,
    batch: &Batch,
    after: AfterSigning,
) -> Result<Option<Taken>, StoreError> {
    let Some(mut chain) = Chain::of_session(tx, centre, batch.session).await? else { return Ok(None) };
    let mut known = Known::find(tx, centre, &[batch]).await?;
    let taken = take(&mut chain, &mut known, batch, after);
    chain.write(tx, centre, None).await?;
    Ok(Some(taken))
}

/// Holds the rows of those sessions that nobody else holds, in one order for all, so that no two wait for each other.
async fn hold_free(
    tx: &mut PgConnection,
    centre: &CentreId,
    batches: &[&Batch],
) -> Result<BTreeMap<Uuid, Chain>, StoreError> {
    let sessions: Vec<Uuid> = batches.iter().map(|batch| batch.session.0).collect();
    // Whether it is signed is asked only once the row is held: what this statement sees beside the row may be older.
    let rows = sqlx::query!(
        r#"SELECT session_id, count, head, opened_at IS NOT NULL AS "open!"
           FROM sessions WHERE centre_id = $1 AND session_id = ANY($2)
           ORDER BY session_id FOR NO KEY UPDATE SKIP LOCKED"#,
        centre.as_str(),
        &sessions,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter()
        .map(|row| {
            let chain = Chain::new(SessionId(row.session_id), row.count, &row.head, row.open, false)?;
            Ok((row.session_id, chain))
        })
        .collect()
}

fn take(chain: &mut Chain, known: &mut Known, batch: &Batch, after: AfterSigning) -> Taken {
    if let Some(high) = batch.high {
        chain.note_high(&batch.arrival.device, high);
    }
    let receipts = batch.observations.iter().map(|seen| receive(chain, known, batch, seen, after)).collect();
    Taken { receipts, head: chain.stands() }
}

/// Answers for one observation; pushes it on the chain where it is new and makes sense.
fn receive(chain: &mut Chain, known: &mut Known, batch: &Batch, seen: &Observation, after: AfterSigning) -> Receipt {
    let (session, arrival) = (batch.session, &batch.arrival);
    if let Some(kept) = known.there.get(&(session.0, seen.id)) {
        let same = kept.entry.origin.by == arrival.by.0 && kept.entry.holds(seen, kept.salt.as_ref());
        return if same { Receipt::Duplicate(kept.n) } else { Receipt::Conflict };
    }
    if let Some(why) = closed(chain, after) {
        return Receipt::Refused(why.to_owned());
    }
    let faults = seen.check(&batch.task, |id| known.is_of(session, id, arrival.by));
    if !faults.is_empty() {
        let says: Vec<_> = faults.iter().map(|fault| format!("{}: {}", fault.path, fault.says)).collect();
        return Receipt::Refused(says.join("; "));
    }
    let salt = Salt::new(rand::random());
    let pushed = Entry::observed(seen, origin(arrival), &salt).and_then(|(entry, text)| {
        let entry = if chain.is_signed() { entry.late() } else { entry };
        let text = text.map(|text| (salt.clone(), text));
        let salt = text.as_ref().map(|(salt, _)| salt.clone());
        let n = chain.push(&entry, text)?;
        Ok(Kept { n, entry, salt })
    });
    match pushed {
        Ok(kept) => {
            let n = kept.n;
            known.there.insert((session.0, seen.id), kept);
            Receipt::Accepted(n)
        }
        Err(why) => Receipt::Refused(why.to_string()),
    }
}

/// Why nothing new may be appended.
fn closed(chain: &Chain, after: AfterSigning) -> Option<&'static str> {
    let outcome = i64::from(chain.is_signed());
    match () {
        () if !chain.is_open() => Some("the session is not open yet"),
        () if chain.is_signed() && after == AfterSigning::Refused => Some("the session is signed"),
        () if chain.count() - outcome >= MOST_ENTRIES => Some("a session holds at most 2,000 entries"),
        () => None,
    }
}

/// An entry that is there already.
struct Kept {
    n: i64,
    entry: Entry,
    salt: Option<Salt>,
}

/// What is known of the sessions that batches are for, once they are held: of the entries that are there, those that
/// the batches name (as their own, as struck or as doubted), and which sessions are signed.
struct Known {
    there: HashMap<(Uuid, ObservationId), Kept>,
    signed: Vec<Uuid>,
}

impl Known {
    async fn find(tx: &mut PgConnection, centre: &CentreId, batches: &[&Batch]) -> Result<Self, StoreError> {
        let (sessions, named): (Vec<Uuid>, Vec<Uuid>) = batches
            .iter()
            .flat_map(|batch| named(&batch.observations).into_iter().map(|id| (batch.session.0, id)))
            .unzip();
        let all: Vec<Uuid> = batches.iter().map(|batch| batch.session.0).collect();
        // The first from there on, and not the equal one: a planner without statistics takes any index that begins with
        // centre and session for as good, and each append would read the whole session.
        let rows = sqlx::query!(
            r#"SELECT asked.session_id AS "session_id!", e.n AS "n?", e.line AS "line?", salt AS "salt?"
               FROM unnest($2::uuid[], $3::uuid[]) AS asked (session_id, entry_id)
               CROSS JOIN LATERAL (
                   SELECT n, entry_id, line FROM entries
                   WHERE centre_id = $1 AND session_id = asked.session_id AND entry_id >= asked.entry_id
                   ORDER BY entry_id LIMIT 1) AS e
               LEFT JOIN texts t ON t.centre_id = $1 AND t.session_id = asked.session_id AND t.n = e.n
               WHERE e.entry_id = asked.entry_id
               UNION ALL
               SELECT session_id, NULL, NULL, NULL FROM results WHERE centre_id = $1 AND session_id = ANY($4)"#,
            centre.as_str(),
            &sessions,
            &named,
            &all,
        )
        .fetch_all(tx)
        .await?;
        let mut known = Self { there: HashMap::with_capacity(rows.len() + named.len()), signed: Vec::new() };
        for row in rows {
            let (Some(n), Some(line)) = (row.n, row.line) else {
                known.signed.push(row.session_id);
                continue;
            };
            let entry = read(SessionId(row.session_id), n, &line)?;
            let salt = row.salt.and_then(|salt| salt.try_into().ok()).map(Salt::new);
            known.there.insert((row.session_id, entry.observation_id()), Kept { n, entry, salt });
        }
        Ok(known)
    }

    /// Whether there is such an observation in this marker's log: two markers write two logs.
    fn is_of(&self, session: SessionId, id: &ObservationId, marker: StaffNo) -> bool {
        self.there.get(&(session.0, *id)).is_some_and(|kept| {
            let seen = matches!(kept.entry.content, Content::Observed { .. } | Content::Late { .. });
            kept.entry.origin.by == marker.0 && seen
        })
    }
}

/// Every identifier that observations name.
fn named(observations: &[Observation]) -> Vec<Uuid> {
    let referred = observations.iter().filter_map(|observation| match &observation.act {
        Act::Struck { observation, .. } | Act::Unsure { observation } => Some(observation.0),
        _ => None,
    });
    observations.iter().map(|observation| observation.id.0).chain(referred).collect()
}
