//! Watching a running session.

use super::tablet::{Tablet, blocked};
use super::{Served, location};
use reqwest::{Method, Response, StatusCode};
use serde_json::json;
use std::time::Duration;

async fn watch(served: &Served, cookie: &str) -> Response {
    served.ask(Method::GET, &served.at("live/events")).header("cookie", cookie).send().await.unwrap()
}

/// What the stream says next; `None` where it ends, or says nothing for two seconds.
async fn next(stream: &mut Response) -> Option<String> {
    let chunk = tokio::time::timeout(Duration::from_secs(2), stream.chunk()).await.ok()?.ok()??;
    Some(String::from_utf8(chunk.to_vec()).unwrap())
}

#[tokio::test]
async fn a_verifier_is_told_of_each_change_and_sees_it() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let verifier = served.signed_in(served.verifier).await;
    served.open(&mine).await;
    let mut stream = watch(&served, &verifier).await;
    assert_eq!(stream.headers()["content-type"], "text/event-stream");
    assert!(!stream.headers().contains_key("content-encoding"));
    // At once, and again when the listener has come up.
    assert!(next(&mut stream).await.unwrap().contains("event: change"));
    assert!(next(&mut stream).await.unwrap().contains("event: change"));
    let mut tablet = Tablet::new("tablet-1");
    let said = [tablet.seen(0, &json!({"kind": "started"})), tablet.seen(4_000, &blocked())];
    tablet.tell(&served, &mine, &said).await;
    let told = next(&mut stream).await.expect("it is told within two seconds");
    assert!(told.contains("event: change") && !told.contains("blocked"), "{told}");
    let (status, page) = served.get(&served.at("live"), &verifier).await;
    assert_eq!(status, StatusCode::OK);
    for part in ["Running", "00:04", "kim (invented)", "Zoë Invented", "live.js", "Reload"] {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert!(!page.contains("<button class=\"tile\""), "nothing to tap");
    // Another session of the centre says nothing here.
    let before = tokio::time::timeout(Duration::from_millis(300), stream.chunk()).await;
    assert!(before.is_err(), "{before:?}");
}

#[tokio::test]
async fn who_may_not_watch_gets_no_page_and_no_stream() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let other = served.signed_in(served.other).await;
    for (cookie, status) in [(&mine, StatusCode::FORBIDDEN), (&other, StatusCode::NOT_FOUND)] {
        assert_eq!(watch(&served, cookie).await.status(), status);
        assert_eq!(served.get(&served.at("live"), cookie).await.0, status);
    }
    assert!(location(&watch(&served, "").await).starts_with("/sign-in"));
}

#[tokio::test]
async fn one_person_has_four_streams_at_most_and_gets_a_place_back() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let verifier = served.signed_in(served.verifier).await;
    served.open(&mine).await;
    let mut streams = Vec::new();
    for _ in 0..4 {
        streams.push(watch(&served, &verifier).await);
    }
    assert!(streams.iter().all(|stream| stream.status() == StatusCode::OK));
    let fifth = watch(&served, &verifier).await;
    assert_eq!(fifth.status(), StatusCode::TOO_MANY_REQUESTS);
    assert!(fifth.headers().contains_key("retry-after"));
    drop(streams);
    for _ in 0..50 {
        if watch(&served, &verifier).await.status() == StatusCode::OK {
            return;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("no place came back");
}

#[tokio::test]
async fn a_lost_connection_is_made_again_and_everybody_looks_afresh() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let verifier = served.signed_in(served.verifier).await;
    served.open(&mine).await;
    let mut stream = watch(&served, &verifier).await;
    next(&mut stream).await.unwrap();
    next(&mut stream).await.unwrap();
    let mut owner = served.fixture.db.owner().await;
    let ended: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM (SELECT pg_terminate_backend(pid) FROM pg_stat_activity
         WHERE datname = current_database() AND query LIKE 'LISTEN%') AS ended",
    )
    .fetch_one(&mut owner)
    .await
    .unwrap();
    assert_eq!(ended, 1, "one listener for all who watch");
    assert!(next(&mut stream).await.expect("told to look afresh").contains("change"));
    let mut tablet = Tablet::new("tablet-1");
    let said = tablet.seen(0, &json!({"kind": "started"}));
    tablet.tell(&served, &mine, &[said]).await;
    assert!(next(&mut stream).await.expect("told of what came after").contains("change"));
}

#[tokio::test]
async fn a_service_that_is_told_to_stop_does_not_wait_for_those_who_watch() {
    let (served, stop, ended) = Served::stoppable().await;
    let mine = served.signed_in(served.assessor).await;
    let verifier = served.signed_in(served.verifier).await;
    served.open(&mine).await;
    let mut stream = watch(&served, &verifier).await;
    next(&mut stream).await.unwrap();
    next(&mut stream).await.unwrap();
    stop.send(()).unwrap();
    tokio::time::timeout(Duration::from_secs(2), ended).await.expect("it ends in two seconds").unwrap().unwrap();
    assert_eq!(next(&mut stream).await, None);
    tokio::time::timeout(Duration::from_secs(2), served.fixture.db.store.close()).await.expect("the pool closes");
}
