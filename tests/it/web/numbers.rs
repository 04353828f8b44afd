//! Every number that a device made has arrived, or somebody says why not; and what comes after the signature.

use super::tablet::{Tablet, blocked};
use super::{PASSWORD, Served, location, read};
use baywitness::seal::{Content, Entry, chain};
use reqwest::StatusCode;
use serde_json::json;

/// An ended and decided session, its assessor's cookie, and a tablet that has made five observations and sent three.
async fn with_a_gap() -> (Served, String, Tablet, Vec<serde_json::Value>) {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    let mut tablet = Tablet::new("tablet-1");
    let made: Vec<_> =
        (0..5).map(|n| tablet.seen(4_000 + n, &json!({"kind": "remark", "text": "seen by the door"}))).collect();
    let sent = [made[0].clone(), made[1].clone(), made[4].clone()];
    let reply = tablet.tell(&served, &mine, &sent).await;
    assert_eq!((&reply["high"], &reply["signed"]), (&json!(5), &json!(false)));
    served.decide_all(&mine).await;
    (served, mine, tablet, made)
}

async fn sign(served: &Served, cookie: &str, head: &str) -> StatusCode {
    served.post(&served.at("signature"), cookie, &[("password", PASSWORD), ("head", head)]).await.status()
}

async fn head(served: &Served) -> String {
    let mut tx = served.fixture.begin().await;
    baywitness::store::entries::head(&mut tx, &served.fixture.centre, served.session).await.unwrap().hash
}

async fn entries(served: &Served) -> Vec<Entry> {
    let mut tx = served.fixture.begin().await;
    baywitness::store::entries::of_session(&mut tx, &served.fixture.centre, served.session).await.unwrap()
}

#[tokio::test]
async fn signing_waits_for_missing_numbers_and_goes_on_when_they_come() {
    let (served, mine, tablet, made) = with_a_gap().await;
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("Wait for numbers 3 to 4 of tablet-1, or say why."), "{page}");
    assert!(!page.contains("Sign the result"));
    assert_eq!(sign(&served, &mine, &head(&served).await).await, StatusCode::CONFLICT);
    tablet.tell(&served, &mine, &made[2..4]).await;
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(!page.contains("Not everything has arrived") && page.contains("Sign the result"), "{page}");
    assert_eq!(sign(&served, &mine, &head(&served).await).await, StatusCode::OK);
}

#[tokio::test]
async fn signing_goes_on_without_them_once_a_reason_stands_in_the_chain() {
    let (served, mine, _, _) = with_a_gap().await;
    let state = |device: &'static str, reason: &'static str| {
        let form = [("device", device), ("reason", reason)];
        let (served, mine) = (&served, &mine);
        async move { served.post(&served.at("gaps"), mine, &form).await }
    };
    let before = served.count().await;
    let (status, page) = read(state("tablet-1", "  ").await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("Say why they are missing") && page.contains("aria-invalid"), "{page}");
    // A device that lacks nothing needs no reason, and a stranger's does not count.
    assert_eq!(state("tablet-9", "lost").await.status(), StatusCode::SEE_OTHER);
    assert_eq!(served.count().await, before);
    let verifier = served.signed_in(served.verifier).await;
    let form = [("device", "tablet-1"), ("reason", "lost")];
    assert_eq!(served.post(&served.at("gaps"), &verifier, &form).await.status(), StatusCode::FORBIDDEN);

    let answer = state("tablet-1", "The tablet <b>fell</b> into the water").await;
    assert_eq!((answer.status(), location(&answer)), (StatusCode::SEE_OTHER, served.at("decide")));
    let last = entries(&served).await.pop().unwrap();
    let Content::Gap { device, first, last, .. } = &last.content else { panic!("{last:?}") };
    assert_eq!((device.as_str(), *first, *last), ("tablet-1", 3, 4));
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("numbers 3 to 4 never arrived. Reason given: The tablet &#60;b&#62;fell"), "{page}");
    assert_eq!(sign(&served, &mine, &head(&served).await).await, StatusCode::OK);
    let (_, sheet) = served.get(&served.at("sheet"), &mine).await;
    assert!(sheet.contains("numbers 3 to 4 never arrived"));
    whole(&served).await;
}

#[tokio::test]
async fn a_device_says_how_many_it_has_made_without_sending_any() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let tablet = Tablet { next: 41, ..Tablet::new("tablet-1") };
    assert_eq!(tablet.tell(&served, &mine, &[]).await["high"], 40);
    // Its storage was wiped: it starts anew, and learns where to go on.
    let wiped = Tablet::new("tablet-1");
    assert_eq!(wiped.tell(&served, &mine, &[]).await["high"], 40);
    assert_eq!(served.count().await, 1, "that alone is no entry");
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("numbers 1 to 40"), "{page}");
}

#[tokio::test]
async fn what_comes_after_the_signature_is_kept_beside_it_and_the_verdict_is_to_be_reviewed() {
    let (served, mine, tablet, made) = with_a_gap().await;
    served.post(&served.at("gaps"), &mine, &[("device", "tablet-1"), ("reason", "left in the van")]).await;
    assert_eq!(sign(&served, &mine, &head(&served).await).await, StatusCode::OK);
    let (_, before) = served.get(&served.at("sheet"), &mine).await;
    assert!(!before.contains("to be reviewed"));
    let verdict = |page: &str| page.split("class=\"big\"").nth(1).unwrap().split("</span>").next().unwrap().to_owned();

    let reply = tablet.tell(&served, &mine, &made[2..4]).await;
    assert_eq!(reply["signed"], true);
    let (_, again) = tablet.send(&served, &mine, &made[2..3]).await;
    assert!(again["answers"][0]["duplicate"].is_i64(), "{again}");
    let mut other = made[3].clone();
    other["act"] = blocked();
    let (_, conflict) = tablet.send(&served, &mine, &[other]).await;
    assert_eq!(conflict["answers"][0]["conflict"], true);

    let kinds: Vec<_> = entries(&served).await.iter().map(Entry::kind).collect();
    assert_eq!(kinds[kinds.len() - 4..], ["gap", "outcome", "late", "late"]);
    let (_, sheet) = served.get(&served.at("sheet"), &mine).await;
    assert!(sheet.contains("The verdict is to be reviewed") && sheet.contains("seen by the door"), "{sheet}");
    assert_eq!(verdict(&sheet), verdict(&before), "what was signed stands");
    let verifier = served.signed_in(served.verifier).await;
    assert!(served.get("/", &verifier).await.1.contains("to be reviewed"));
    whole(&served).await;
}

#[tokio::test]
async fn an_end_can_be_taken_back_until_it_is_signed() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    served.decide_all(&mine).await;
    let (_, page) = served.get(&served.at("marking"), &mine).await;
    let back = page.split("<button").find(|one| one.contains("Back to marking")).expect("a way back");
    let acts = back.split("value=\"").nth(1).unwrap().split('"').next().unwrap().replace("&#34;", "\"");
    let tap = |acts: String| {
        let (served, mine) = (&served, &mine);
        async move { served.post(&served.at("acts"), mine, &[("acts", &acts)]).await.status() }
    };
    assert_eq!(tap(acts.clone()).await, StatusCode::SEE_OTHER);
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("The attempt has not been ended") && !page.contains("Sign the result"));
    assert_eq!(sign(&served, &mine, &head(&served).await).await, StatusCode::CONFLICT);
    assert_eq!(tap(r#"[{"kind":"ended"}]"#.into()).await, StatusCode::SEE_OTHER);
    served.decide_all(&mine).await;
    assert_eq!(sign(&served, &mine, &head(&served).await).await, StatusCode::OK);
    assert_eq!(tap(acts).await, StatusCode::UNPROCESSABLE_ENTITY, "not after the signature");
}

/// The chain is unbroken and ends in the head that the session states.
async fn whole(served: &Served) {
    let mut tx = served.fixture.begin().await;
    let lines: Vec<String> = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
        .bind(served.session.0)
        .fetch_all(&mut *tx)
        .await
        .unwrap();
    let stated = head(served).await;
    assert_eq!(chain::head(served.session.0, lines.iter().map(String::as_str)).as_str(), stated);
}
