//! Batches that come twice, in part, or out of order, from two devices at once: the same record in the end.

use crate::support::centre::{Fixture, NOW, new_id, observation};
use baywitness::marking::Observation;
use baywitness::store::SessionId;
use baywitness::store::entries::{self, Arrival, Batch, Receipt};
use baywitness::store::sessions::{self, NewSession};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::collections::BTreeSet;
use std::sync::Arc;

const CASES: u32 = 150;
/// Observations of each device.
const EACH: usize = 6;

/// What one device records: a throw, a remark, a strike of the throw, and more throws, at times that the other device
/// does not use.
fn recorded(device: u32) -> Vec<Observation> {
    let first = new_id();
    let strike = format!(r#"{{"kind":"struck","observation":"{first}","reason":"mis_tap"}}"#);
    let throw = r#"{"kind":"operated","switch":"S1"}"#;
    let acts = [throw, r#"{"kind":"remark","text":"seen"}"#, &strike, throw, throw, throw];
    let seen = |(at, act): (usize, &&str)| {
        let seq = u32::try_from(at).unwrap() + 1;
        let mut seen = observation(if at == 0 { first } else { new_id() }, seq, act);
        seen.at_ms += u64::from(device) * 500;
        seen
    };
    acts.iter().enumerate().map(seen).collect()
}

/// Which device sends, and which of its observations, repeats included.
fn deliveries() -> impl Strategy<Value = Vec<(usize, Vec<usize>)>> {
    prop::collection::vec((0usize..2, prop::collection::vec(0..EACH, 0..8)), 0..6)
}

/// A new open session of the fixture.
async fn session(fixture: &Fixture) -> SessionId {
    let mut tx = fixture.begin().await;
    let planned = NewSession {
        id: SessionId(new_id()),
        task: fixture.task_id,
        task_version: 1,
        candidate: fixture.candidate,
        assessor: fixture.assessor,
        bay: "Bay 1".into(),
        planned_at: NOW,
        extra: Default::default(),
    };
    sessions::plan(&mut tx, &fixture.centre, &planned).await.unwrap();
    entries::open(&mut tx, &fixture.centre, planned.id, &fixture.arrival()).await.unwrap();
    tx.commit().await.unwrap();
    planned.id
}

async fn send(fixture: &Fixture, session: SessionId, device: usize, observations: Vec<Observation>) -> Vec<Receipt> {
    let arrival = Arrival { device: format!("d-{device}"), ..fixture.arrival() };
    let task = Arc::new(fixture.task.clone());
    let batch = Batch { session, task, arrival, high: Some(6), observations };
    fixture.db.store.take(&fixture.centre, batch).await.unwrap().unwrap().receipts
}

async fn delivered(fixture: &Fixture, deliveries: &[(usize, Vec<usize>)]) -> Result<(), TestCaseError> {
    let session = session(fixture).await;
    let devices = [recorded(0), recorded(1)];
    for pair in deliveries.chunks(2) {
        // Two at a time, so that they meet in the database as well.
        let send = |(device, which): &(usize, Vec<usize>)| {
            let chosen = which.iter().map(|at| devices[*device][*at].clone()).collect();
            send(fixture, session, *device, chosen)
        };
        futures_util::future::join_all(pair.iter().map(send)).await;
    }
    // At last each outbox is emptied in its order, as a tablet does.
    for (device, all) in devices.iter().enumerate() {
        let receipts = send(fixture, session, device, all.clone()).await;
        prop_assert!(receipts.iter().all(|one| matches!(one, Receipt::Accepted(_) | Receipt::Duplicate(_))));
    }
    let mut tx = fixture.begin().await;
    let stored = entries::of_session(&mut tx, &fixture.centre, session).await.unwrap();
    prop_assert_eq!(stored.len(), 1 + 2 * EACH, "one row for each, and the opened entry");
    let missing = baywitness::store::devices::missing(&mut tx, &fixture.centre, session).await.unwrap();
    prop_assert_eq!(missing, vec![]);
    let log = entries::log_of(&mut tx, &fixture.centre, session, fixture.assessor, &fixture.task).await.unwrap();
    let got: BTreeSet<_> = log.observations().iter().map(|seen| serde_json::to_string(seen).unwrap()).collect();
    let want: BTreeSet<_> = devices.iter().flatten().map(|seen| serde_json::to_string(seen).unwrap()).collect();
    prop_assert_eq!(got, want, "the same set, each as it was made");
    let standing = baywitness::web::marking::state::standing(&log);
    let order: Vec<_> = standing.iter().map(|seen| seen.id).collect();
    let mut expected: Vec<_> = devices.iter().flat_map(|all| &all[1..]).collect();
    expected.sort_by_key(|seen| (seen.at_ms, seen.seq));
    prop_assert_eq!(order, expected.iter().map(|seen| seen.id).collect::<Vec<_>>(), "in the order of session time");
    Ok(())
}

#[test]
fn whatever_comes_twice_in_part_or_out_of_order_makes_the_same_record() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let fixture = runtime.block_on(Fixture::new());
    let mut runner = TestRunner::new(Config { cases: CASES, failure_persistence: None, ..Config::default() });
    let outcome = runner.run(&deliveries(), |deliveries| runtime.block_on(delivered(&fixture, &deliveries)));
    outcome.unwrap();
}
