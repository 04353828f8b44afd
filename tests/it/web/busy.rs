//! A database that is slow or away: who is concerned hears so in time, nobody else notices.

use super::Served;
use super::tablet::{Tablet, blocked};
use crate::support::centre::{NOW, new_id};
use baywitness::store::SessionId;
use baywitness::store::entries::{self, Arrival};
use baywitness::store::sessions::{self, NewSession};
use reqwest::{Method, StatusCode};
use serde_json::Value;
use std::time::Duration;
use tokio::time::Instant;

/// Another open session of the same assessor.
async fn another(served: &Served) -> SessionId {
    let fixture = &served.fixture;
    let mut tx = fixture.begin().await;
    let planned = NewSession {
        id: SessionId(new_id()),
        task: fixture.task_id,
        task_version: 1,
        candidate: fixture.candidate,
        assessor: served.assessor,
        bay: "Bay 3".into(),
        planned_at: NOW,
        extra: Default::default(),
    };
    sessions::plan(&mut tx, &fixture.centre, &planned).await.unwrap();
    let arrival = Arrival { by: served.assessor, ..fixture.arrival() };
    entries::open(&mut tx, &fixture.centre, planned.id, &arrival).await.unwrap();
    tx.commit().await.unwrap();
    planned.id
}

async fn post(served: &Served, session: SessionId, cookie: &str, batch: &Value) -> (StatusCode, Option<u64>, Duration) {
    let began = Instant::now();
    let path = format!("/sessions/{}/entries", session.0);
    let answer = served.ask(Method::POST, &path).header("cookie", cookie).json(batch).send().await.unwrap();
    let wait = answer.headers().get("retry-after").map(|wait| wait.to_str().unwrap().parse().unwrap());
    (answer.status(), wait, began.elapsed())
}

#[tokio::test]
async fn a_session_that_is_held_is_told_so_in_five_seconds_while_others_go_on() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let free = another(&served).await;
    let mut owner = served.fixture.db.owner().await;
    let hold = sqlx::AssertSqlSafe(format!(
        "BEGIN; SELECT FROM sessions WHERE session_id = '{}' FOR UPDATE",
        served.session.0
    ));
    sqlx::raw_sql(hold).execute(&mut owner).await.unwrap();

    let mut tablet = Tablet::new("tablet-1");
    let seen = tablet.seen(0, &blocked());
    let batch = tablet.batch(&served, std::slice::from_ref(&seen));
    let others = async {
        let mut tablet = Tablet::new("tablet-2");
        let mut took = Vec::new();
        for at in 0..60 {
            let seen = tablet.seen(at, &blocked());
            let (status, _, time) = post(&served, free, &mine, &tablet.batch(&served, &[seen])).await;
            assert_eq!(status, StatusCode::OK);
            took.push(time);
        }
        took.sort();
        took
    };
    let ((status, wait, time), took) = tokio::join!(post(&served, served.session, &mine, &batch), others);
    assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE);
    assert!(wait.is_some() && time < Duration::from_secs(5), "{wait:?} {time:?}");
    assert!(took[took.len() * 99 / 100] < Duration::from_millis(500), "{:?}", took.last());

    // Many who insist neither get in nor keep anybody else out.
    let insist = (0..12).map(|_| post(&served, served.session, &mine, &batch));
    let (insisted, free_meanwhile) = tokio::join!(futures_util::future::join_all(insist), async {
        let seen = Tablet::new("tablet-3").seen(0, &blocked());
        post(&served, free, &mine, &Tablet::new("tablet-3").batch(&served, &[seen])).await
    });
    assert!(insisted.iter().all(|(status, _, time)| *status == 503 && *time < Duration::from_secs(5)), "{insisted:?}");
    assert!(free_meanwhile.0 == StatusCode::OK && free_meanwhile.2 < Duration::from_secs(1), "{free_meanwhile:?}");

    sqlx::raw_sql("ROLLBACK").execute(&mut owner).await.unwrap();
    tablet.tell(&served, &mine, &[seen]).await;
}
