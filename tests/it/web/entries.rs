//! The entries endpoint.

use super::Served;
use crate::support::centre::{flawless, new_id};
use reqwest::{Method, StatusCode};
use serde_json::{Value, json};

async fn send(served: &Served, cookie: &str, observations: &[Value]) -> (StatusCode, Value) {
    let batch = json!({"dev": "tablet-1", "run": "r-1", "sent": 1_801_648_800_000_i64, "observations": observations});
    let request = served.ask(Method::POST, &served.at("entries")).header("cookie", cookie).json(&batch);
    let answer = request.send().await.unwrap();
    (answer.status(), answer.json().await.unwrap())
}

fn started() -> Value {
    json!({"id": new_id(), "seq": 1, "at_ms": 0, "wall": "2027-02-03T10:00:00.000Z", "act": {"kind": "started"}})
}

async fn opened() -> (Served, String) {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    (served, mine)
}

#[tokio::test]
async fn an_observation_sent_twice_is_stored_once() {
    let (served, mine) = opened().await;
    let seen = started();
    let (status, first) = send(&served, &mine, std::slice::from_ref(&seen)).await;
    assert_eq!((status, &first["answers"]), (StatusCode::OK, &json!([{"id": seen["id"], "accepted": 2}])));
    let (_, again) = send(&served, &mine, std::slice::from_ref(&seen)).await;
    assert_eq!(again["answers"], json!([{"id": seen["id"], "duplicate": 2}]));
    assert_eq!(again["head"], first["head"]);
    assert_eq!(first["head"]["count"], 2);
    assert!(first["fragment"].as_str().unwrap().contains("id=\"record\""));
}

#[tokio::test]
async fn a_name_with_other_content_is_a_conflict() {
    let (served, mine) = opened().await;
    let seen = started();
    send(&served, &mine, std::slice::from_ref(&seen)).await;
    let mut other = seen.clone();
    other["act"] = json!({"kind": "view_blocked"});
    let (_, reply) = send(&served, &mine, &[other]).await;
    assert_eq!(reply["answers"], json!([{"id": seen["id"], "conflict": true}]));
    assert_eq!(served.count().await, 2);
}

#[tokio::test]
async fn a_bad_one_never_blocks_its_neighbours() {
    let (served, mine) = opened().await;
    let mut unknown = started();
    unknown["act"] = json!({"kind": "switched", "device": "Q99", "to": "off"});
    unknown["seq"] = json!(2);
    let mut last = started();
    last["act"] = json!({"kind": "view_blocked"});
    last["seq"] = json!(3);
    let (status, reply) = send(&served, &mine, &[started(), json!({"id": "x"}), unknown, last]).await;
    assert_eq!(status, StatusCode::OK);
    let answers = reply["answers"].as_array().unwrap();
    assert_eq!((&answers[0]["accepted"], &answers[3]["accepted"]), (&json!(2), &json!(3)));
    assert!(answers[1]["refused"].is_string() && answers[1]["id"] == "x", "{answers:?}");
    assert!(answers[2]["refused"].as_str().unwrap().contains("Q99"), "{answers:?}");
}

#[tokio::test]
async fn the_flawless_example_leaves_nothing_owed() {
    let (served, mine) = opened().await;
    let log: Vec<Value> =
        flawless(&served.fixture.task).iter().map(|seen| serde_json::to_value(seen).unwrap()).collect();
    let (_, reply) = send(&served, &mine, &log).await;
    let answers = reply["answers"].as_array().unwrap();
    assert_eq!(answers.len(), 48);
    assert!(answers.iter().all(|answer| answer["accepted"].is_i64()), "{answers:?}");
    let fragment = reply["fragment"].as_str().unwrap();
    assert!(fragment.contains("Owed 0") && fragment.contains("Proposed 0"));
}

#[tokio::test]
async fn what_is_no_batch_is_refused_whole() {
    let (served, mine) = opened().await;
    let post = |kind: &'static str, body: String| {
        let path = served.at("entries");
        served.ask(Method::POST, &path).header("cookie", &mine).header("content-type", kind).body(body)
    };
    let good = json!({"dev": "d", "run": "r", "sent": 0, "observations": []});
    let with = |name: &str, value: Value| {
        let mut batch = good.clone();
        batch[name] = value;
        batch.to_string()
    };
    let many: Vec<Value> = (0..101).map(|_| started()).collect();
    for (kind, body, status) in [
        ("text/plain", good.to_string(), 415),
        ("application/json", "{".to_owned(), 422),
        ("application/json", with("centre_id", json!("other")), 422),
        ("application/json", with("by", json!(1)), 422),
        ("application/json", with("dev", json!("not an identifier")), 422),
        ("application/json", with("observations", json!(many)), 422),
        ("application/json", "[".repeat(10_000), 422),
    ] {
        let answer = post(kind, body.clone()).send().await.unwrap();
        assert_eq!(answer.status().as_u16(), status, "{kind} {}", &body[..body.len().min(80)]);
        assert!(answer.json::<Value>().await.unwrap()["error"].is_string());
    }
    assert_eq!(served.count().await, 1);
}

#[tokio::test]
async fn before_the_bay_check_everything_is_refused() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let (status, reply) = send(&served, &mine, &[started()]).await;
    assert_eq!(status, StatusCode::OK);
    assert!(reply["answers"][0]["refused"].is_string());
    assert_eq!(served.count().await, 0);
}

#[tokio::test]
async fn a_foreign_session_does_not_exist_and_a_verifier_may_not() {
    let (served, _) = opened().await;
    let theirs = served.signed_in(served.other).await;
    assert_eq!(send(&served, &theirs, &[started()]).await.0, StatusCode::NOT_FOUND);
    let verifier = served.signed_in(served.verifier).await;
    assert_eq!(send(&served, &verifier, &[started()]).await.0, StatusCode::FORBIDDEN);
    assert_eq!(served.count().await, 1);
}
