//! Many at once on one session.

use crate::support::centre::{Fixture, new_id, observation};
use baywitness::seal::chain;
use baywitness::store::entries::Receipt;
use std::collections::BTreeSet;
use std::sync::Arc;

#[tokio::test]
async fn thirty_two_at_once_make_one_unbroken_chain() {
    let fixture = Arc::new(Fixture::open().await);
    let shared = observation(new_id(), 999, r#"{"kind":"operated","switch":"S2"}"#);
    let mut tasks = tokio::task::JoinSet::new();
    for one in 0..32u32 {
        let (fixture, shared) = (Arc::clone(&fixture), shared.clone());
        tasks.spawn(async move {
            let mut receipts = Vec::new();
            for turn in 0..5 {
                let own = observation(new_id(), one * 10 + turn + 1, r#"{"kind":"operated","switch":"S1"}"#);
                receipts.extend(fixture.append(&[own, shared.clone()]).await);
            }
            receipts
        });
    }
    let receipts: Vec<_> = tasks.join_all().await.into_iter().flatten().collect();
    let accepted: Vec<i64> =
        receipts.iter().filter_map(|one| if let Receipt::Accepted(n) = one { Some(*n) } else { None }).collect();
    assert_eq!(accepted.len(), 32 * 5 + 1, "every own observation once, the shared one once");
    let places: BTreeSet<i64> = accepted.into_iter().collect();
    assert_eq!(places, (2..=162).collect());
    let duplicates: BTreeSet<i64> =
        receipts.iter().filter_map(|one| if let Receipt::Duplicate(n) = one { Some(*n) } else { None }).collect();
    assert_eq!(duplicates.len(), 1, "the shared one is always answered with the same place");
    let (count, head, lines) = fixture.chain().await;
    assert_eq!((count, lines.len()), (162, 162));
    assert_eq!(chain::head(fixture.session.0, lines.iter().map(String::as_str)).as_str(), head);
}

#[tokio::test]
async fn what_is_rolled_back_leaves_no_trace() {
    let fixture = Fixture::open().await;
    let before = fixture.chain().await;
    let mut tx = fixture.begin().await;
    let sent = observation(new_id(), 1, r#"{"kind":"started"}"#);
    let (centre, session) = (&fixture.centre, fixture.session);
    let batch = std::slice::from_ref(&sent);
    let arrival = fixture.arrival();
    let receipts = baywitness::store::entries::append(&mut tx, centre, session, &fixture.task, &arrival, batch).await;
    assert_eq!(receipts.unwrap(), [Receipt::Accepted(2)]);
    tx.rollback().await.unwrap();
    assert_eq!(fixture.chain().await, before);
    assert_eq!(fixture.append(batch).await, [Receipt::Accepted(2)]);
}
