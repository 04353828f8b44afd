//! The entries endpoint: a batch of observations in, one answer for each, the head of the chain and the fresh record.

use super::Fragment;
use super::record::Record;
use crate::marking::Observation;
use crate::store::devices;
use crate::store::entries::{self, Arrival, Receipt};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Json, Path, SignedIn};
use crate::web::sessions::load_to_mark;
use askama::Template;
use axum::extract::State;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::sync::Arc;
use uuid::Uuid;

/// Most observations in a batch.
const MOST: usize = 100;
/// Longest observation, in bytes; a note of 2,000 characters may take more, so notes are measured by characters.
const LONGEST: usize = 12 * 1024;

/// Names that entries bear which the service made itself.
const OUR_OWN: [&str; 2] = ["server", "page"];

/// What a tablet sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// The device, as it names itself.
    dev: String,
    /// The page load.
    run: String,
    /// The device's wall clock when it sent this, in milliseconds since 1970.
    sent: i64,
    /// How long the last exchange took there and back, in milliseconds, where there was one. Pages of an earlier version
    /// call it `trip`.
    #[serde(default, alias = "trip")]
    rtt: u32,
    /// The highest number that the device has made on this session, sent or not.
    #[serde(default)]
    high: Option<u32>,
    observations: Vec<Box<RawValue>>,
}

/// What became of one observation.
#[derive(Debug, Serialize, PartialEq, Eq)]
pub struct Answer {
    /// The observation's name, as far as it could be read.
    id: Option<String>,
    #[serde(flatten)]
    outcome: Outcome,
}

/// See [`Receipt`].
#[derive(Debug, Serialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
enum Outcome {
    Accepted(i64),
    Duplicate(i64),
    Conflict(bool),
    Refused(String),
}

/// The reply to a batch.
#[derive(Serialize)]
pub struct Reply {
    answers: Vec<Answer>,
    head: Head,
    /// The service's clock, in milliseconds since 1970.
    now: i64,
    /// The highest number that this device has ever stated, so that one whose storage was wiped counts on from there.
    high: Option<u32>,
    /// Whether the session is signed: what arrives from now on stands beside the verdict, which is to be reviewed.
    signed: bool,
    fragment: String,
}

/// Where the chain stands.
#[derive(Serialize)]
struct Head {
    count: i64,
    hash: String,
}

/// Takes a batch: each observation is answered for itself, and a bad one never blocks its neighbours.
pub async fn receive(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Json(batch): Json<Batch>,
) -> Result<axum::Json<Reply>, WebError> {
    let arrival = arrival(&app, &who, &batch)?;
    let read: Vec<_> = batch.observations.iter().map(|raw| read(raw.get())).collect();
    let good: Vec<Observation> = read.iter().filter_map(|one| one.as_ref().ok().cloned()).collect();
    let centre = who.centre();
    let mut tx = app.store.begin(centre).await?;
    let loaded = load_to_mark(&mut tx, &who, id).await?;
    tx.commit().await?;
    let session = loaded.session.id;
    let sent = arrival.clone();
    // A device that sends a number has made it, whatever else it says.
    let high = batch.high.map(|high| good.iter().map(|seen| seen.seq).fold(high, u32::max));
    let batch = entries::Batch { session, task: Arc::new(loaded.task.clone()), arrival, high, observations: good };
    let taken = app.store.take(centre, batch).await?.ok_or(WebError::Missing("session"))?;

    let mut tx = app.store.begin(centre).await?;
    // With nothing to send, the batch says that the device is in contact.
    if let (true, Some(high)) = (read.is_empty(), high) {
        devices::keep_contact(&mut tx, centre, session, &sent, high).await?;
    }
    let head = entries::head(&mut tx, centre, session).await?;
    let marked = loaded.marked(&mut tx, centre).await?;
    let high = devices::highest(&mut tx, centre, session).await?.remove(&sent.device);
    tx.commit().await?;
    let now = app.clock.now_ms();
    let record = Record::of(&loaded, &marked.log, &marked.marking, &head, now);
    let fragment = Fragment { record: &record }.render()?;
    let head = Head { count: head.count, hash: head.hash };
    let signed = loaded.result.is_some();
    Ok(axum::Json(Reply { answers: answers(read, taken.receipts), head, now, high, signed, fragment }))
}

fn arrival(app: &App, who: &SignedIn, batch: &Batch) -> Result<Arrival, WebError> {
    if batch.observations.len() > MOST {
        return Err(WebError::Unreadable(format!("A batch holds at most {MOST} observations.")));
    }
    for (name, text) in [("dev", &batch.dev), ("run", &batch.run)] {
        if !crate::bay::ids::well_formed(text) {
            return Err(WebError::Unreadable(format!("{name} is 1 to 64 of A-Z a-z 0-9 . _ : -")));
        }
    }
    if OUR_OWN.contains(&batch.dev.as_str()) {
        return Err(WebError::Unreadable("dev is a name that the service keeps for itself.".into()));
    }
    let now = app.clock.now_ms();
    Ok(Arrival {
        by: who.staff.number,
        device: batch.dev.clone(),
        run: batch.run.clone(),
        received_at: app.clock.now(),
        offset_ms: now.saturating_sub(batch.sent),
        error_ms: i64::from(batch.rtt / 2),
    })
}

/// An observation, or its name as far as it can be read and why it makes no sense.
fn read(text: &str) -> Result<Observation, (Option<String>, String)> {
    #[derive(Deserialize)]
    struct Named {
        id: String,
    }
    let named = || serde_json::from_str::<Named>(text).ok().map(|named| named.id).filter(|id| id.len() <= 64);
    if text.len() > LONGEST {
        return Err((named(), format!("longer than {LONGEST} bytes")));
    }
    Observation::read_json(text).map_err(|faults| (named(), faults.to_string()))
}

/// One answer for each that was sent, in its place.
fn answers(read: Vec<Result<Observation, (Option<String>, String)>>, receipts: Vec<Receipt>) -> Vec<Answer> {
    let mut receipts = receipts.into_iter();
    let answer = |one| match one {
        Err((id, why)) => Answer { id, outcome: Outcome::Refused(why) },
        Ok(Observation { id, .. }) => {
            let outcome = match receipts.next() {
                Some(Receipt::Accepted(n)) => Outcome::Accepted(n),
                Some(Receipt::Duplicate(n)) => Outcome::Duplicate(n),
                Some(Receipt::Conflict) => Outcome::Conflict(true),
                Some(Receipt::Refused(why)) => Outcome::Refused(why),
                None => Outcome::Refused("it was not looked at; send it again".into()),
            };
            Answer { id: Some(id.0.to_string()), outcome }
        }
    };
    read.into_iter().map(answer).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::ObservationId;
    use crate::marking::observation::Wall;

    fn seen(id: Uuid) -> Observation {
        Observation { id: ObservationId(id), seq: 1, at_ms: 0, wall: Wall(0), act: crate::marking::Act::Started }
    }

    #[test]
    fn a_bad_one_keeps_its_place_and_its_neighbours_keep_theirs() {
        let (one, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let read = vec![Ok(seen(one)), Err((None, "no act".into())), Ok(seen(other))];
        let got = serde_json::to_value(answers(read, vec![Receipt::Accepted(4), Receipt::Conflict])).unwrap();
        let want = serde_json::json!([
            { "id": one.to_string(), "accepted": 4 },
            { "id": null, "refused": "no act" },
            { "id": other.to_string(), "conflict": true },
        ]);
        assert_eq!(got, want);
    }

    #[test]
    fn a_batch_with_a_field_of_its_own_is_refused() {
        let with = |more: &str| {
            serde_json::from_str::<Batch>(&format!(r#"{{"dev":"a","run":"b","sent":1,"observations":[]{more}}}"#))
        };
        assert!(with("").is_ok());
        for more in [r#","centre_id":"x""#, r#","by":3"#, r#","recv":1"#, r#","role":"manager""#] {
            assert!(with(more).is_err(), "{more}");
        }
    }
}
