//! Each limit of the protocol, at the limit and one beyond.

use super::Served;
use super::tablet::{Tablet, blocked, post};
use baywitness::store::entries::MOST_ENTRIES;
use reqwest::{Method, StatusCode};
use serde_json::{Value, json};

async fn opened() -> (Served, String, Tablet) {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    (served, mine, Tablet::new("tablet-1"))
}

#[tokio::test]
async fn a_hundred_observations_in_a_batch() {
    let (served, mine, mut tablet) = opened().await;
    let many: Vec<Value> = (0..101).map(|at| tablet.seen(at, &blocked())).collect();
    let (status, reply) = tablet.send(&served, &mine, &many).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{reply}");
    assert_eq!(served.count().await, 1);
    tablet.tell(&served, &mine, &many[..100]).await;
    assert_eq!(served.count().await, 101);
}

#[tokio::test]
async fn two_hundred_and_fifty_six_kibibytes_in_a_body() {
    let (served, mine, mut tablet) = opened().await;
    let batch = {
        let seen = tablet.seen(0, &blocked());
        tablet.batch(&served, &[seen]).to_string()
    };
    let of_size = |bytes: usize| format!("{batch}{}", " ".repeat(bytes - batch.len()));
    for (bytes, status) in [(256 * 1024 + 1, StatusCode::PAYLOAD_TOO_LARGE), (256 * 1024, StatusCode::OK)] {
        let request = served.ask(Method::POST, &served.at("entries")).header("cookie", &mine);
        let answer = request.header("content-type", "application/json").body(of_size(bytes)).send().await.unwrap();
        assert_eq!(answer.status(), status, "{bytes}");
        assert!(answer.json::<Value>().await.unwrap().is_object(), "in JSON either way");
    }
    assert_eq!(served.count().await, 2);
}

#[tokio::test]
async fn two_thousand_characters_in_a_note() {
    let (served, mine, mut tablet) = opened().await;
    let note = |length: usize| json!({"kind": "remark", "text": "é".repeat(length)});
    let most = tablet.seen(0, &note(2_000));
    tablet.tell(&served, &mine, &[most]).await;
    let beyond = tablet.seen(0, &note(2_001));
    let (_, reply) = tablet.send(&served, &mine, &[beyond]).await;
    assert!(reply["answers"][0]["refused"].as_str().unwrap().contains("2000"), "{reply}");
}

#[tokio::test]
async fn two_thousand_entries_in_a_session() {
    let (served, mine, mut tablet) = opened().await;
    let most = usize::try_from(MOST_ENTRIES).unwrap();
    let many: Vec<Value> = (0..most).map(|at| tablet.seen(i64::try_from(at).unwrap(), &blocked())).collect();
    // The opened entry is one of them.
    for batch in many[..most - 1].chunks(100) {
        tablet.tell(&served, &mine, batch).await;
    }
    assert_eq!(served.count().await, MOST_ENTRIES);
    let (status, reply) = tablet.send(&served, &mine, &many[most - 2..]).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(reply["answers"][0]["duplicate"], MOST_ENTRIES, "what is there is acknowledged still");
    assert!(reply["answers"][1]["refused"].as_str().unwrap().contains("2,000"), "{reply}");
    assert_eq!(served.count().await, MOST_ENTRIES);
}

#[tokio::test]
async fn a_line_of_two_kibibytes() {
    let (served, _, _) = opened().await;
    let mut owner = served.fixture.db.owner().await;
    // No act that the service takes makes so long a line; the table itself has the last word.
    for (bytes, kept) in [(2_048usize, true), (2_049, false)] {
        let done = sqlx::query(
            "WITH made AS (SELECT gen_random_uuid() AS id, n, head FROM entries WHERE session_id = $1 ORDER BY n DESC LIMIT 1),
                  line AS (SELECT id, n + 1 AS n, head AS before,
                                  rpad('{\"by\":\"u-' || $3 || '\",\"id\":\"' || id || '\",\"kind\":\"late\",\"x\":\"', $2 - 2, 'x') || '\"}' AS line
                           FROM made)
             INSERT INTO entries SELECT 'northgate', $1, n, id, 'late', $3, line,
                    encode(sha256(convert_to(before || E'\\n' || line || E'\\n', 'UTF8')), 'hex') FROM line",
        )
        .bind(served.session.0)
        .bind(i32::try_from(bytes).unwrap())
        .bind(served.assessor.0)
        .execute(&mut owner)
        .await;
        assert_eq!(done.is_ok(), kept, "{bytes}: {done:?}");
    }
}

#[tokio::test]
async fn names_that_the_service_keeps_for_itself_are_no_devices() {
    let (served, mine, tablet) = opened().await;
    for dev in ["server", "page"] {
        let mut batch = tablet.batch(&served, &[]);
        batch["dev"] = json!(dev);
        assert_eq!(post(&served, &mine, &batch).await.0, StatusCode::UNPROCESSABLE_ENTITY);
    }
    for high in [json!(-1), json!(4_294_967_296_u64), json!("7")] {
        let mut batch = tablet.batch(&served, &[]);
        batch["high"] = high.clone();
        assert_eq!(post(&served, &mine, &batch).await.0, StatusCode::UNPROCESSABLE_ENTITY, "{high}");
    }
}
