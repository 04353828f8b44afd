//! Clients that hang up in the middle of a request.

use crate::web::Served;
use crate::web::tablet::{Tablet, blocked};
use futures_util::future::join_all;
use reqwest::Method;
use std::time::Duration;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn three_hundred_that_hang_up_leave_no_transaction_open() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let mut tablet = Tablet::new("tablet-1");
    let mut hung_up = 0;
    for _ in 0..15 {
        let batches: Vec<_> = (0..20)
            .map(|at| {
                let seen = tablet.seen(at, &blocked());
                tablet.batch(&served, &[seen])
            })
            .collect();
        let rude = batches.iter().map(|batch| {
            let patience = Duration::from_millis(rand::random_range(0..=50));
            let request = served.ask(Method::POST, &served.at("entries")).header("cookie", &mine).json(batch);
            request.timeout(patience).send()
        });
        hung_up += join_all(rude).await.iter().filter(|answer| answer.is_err()).count();
    }
    assert!(hung_up > 100, "only {hung_up} hung up");
    let mut owner = served.fixture.db.owner().await;
    // What they asked for is still being worked through on a busy machine; one that nobody works on any more stands idle.
    // The database itself would end it after 15 s, which would hide it.
    let mut open: i64 = -1;
    for _ in 0..300 {
        let forgotten: i64;
        (open, forgotten) = sqlx::query_as(
            "SELECT count(*), count(*) FILTER (WHERE state_change < clock_timestamp() - interval '8 s')
             FROM pg_stat_activity
             WHERE datname = current_database() AND state LIKE 'idle in transaction%'",
        )
        .fetch_one(&mut owner)
        .await
        .unwrap();
        assert_eq!(forgotten, 0);
        if open == 0 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(open, 0);
    // And those that follow are served, on each of the connections.
    let after = Tablet::new("tablet-2");
    for _ in 0..10 {
        let polite = (0..10).map(|_| after.send(&served, &mine, &[]));
        assert!(join_all(polite).await.iter().all(|(status, _)| status.is_success()));
    }
}
