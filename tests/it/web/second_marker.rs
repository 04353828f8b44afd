//! A second marker: a log of their own in the same chain, blind to the first.

use super::tablet::{Tablet, blocked};
use super::{PASSWORD, Served, location};
use baywitness::store::second_markers;
use reqwest::StatusCode;
use serde_json::json;

/// A session of kim's with lou as second marker, open. Answers their cookies.
async fn two() -> (Served, String, String) {
    let served = Served::new().await;
    let (mine, theirs) = (served.signed_in(served.assessor).await, served.signed_in(served.other).await);
    let mut tx = served.fixture.begin().await;
    let centre = &served.fixture.centre;
    assert!(!second_markers::plan(&mut tx, centre, served.session, served.assessor).await.unwrap(), "not the assessor");
    assert!(second_markers::plan(&mut tx, centre, served.session, served.other).await.unwrap());
    assert!(!second_markers::plan(&mut tx, centre, served.session, served.verifier).await.unwrap(), "only one");
    tx.commit().await.unwrap();
    (served, mine, theirs)
}

const KNOCK: &str = "Switched";

#[tokio::test]
async fn each_sees_and_writes_their_own_log_only() {
    let (served, mine, theirs) = two().await;
    assert!(served.get("/", &theirs).await.1.contains("Second marking"));
    let ticks = [("bay", "on"), ("candidate", "known"), ("briefing", "on")];
    assert_eq!(served.post(&served.at("check"), &theirs, &ticks).await.status(), StatusCode::FORBIDDEN);
    served.open(&mine).await;
    let (mut one, mut other) = (Tablet::new("tablet-1"), Tablet::new("tablet-2"));
    let start = json!({"kind": "started"});
    let knock = json!({"kind": "switched", "device": "Q1", "to": "off"});
    let said = one.seen(0, &start);
    let knocked = one.seen(7_000, &knock);
    let reply = one.tell(&served, &mine, &[said, knocked.clone()]).await;
    assert!(reply["fragment"].as_str().unwrap().contains("Proposed 2"), "{reply}");
    assert!(served.get(&served.at("marking"), &mine).await.1.contains(KNOCK));
    let said = other.seen(0, &start);
    let reply = other.tell(&served, &theirs, &[said]).await;
    let fragment = reply["fragment"].as_str().unwrap();
    assert!(fragment.contains("Proposed 0"), "{fragment}");
    assert!(served.get(&served.at("marking"), &theirs).await.1.contains("lou (invented)"));
    for page in ["marking", "decide"] {
        let (status, text) = served.get(&served.at(page), &theirs).await;
        assert_eq!(status, StatusCode::OK, "{page}");
        assert!(!text.contains("Q1 off") && !text.contains(KNOCK), "{page}");
    }
    // Nor can they strike it, nor take its name.
    let strike = json!({"kind": "struck", "observation": knocked["id"], "reason": "mis_tap"});
    let strike = other.seen(8_000, &strike);
    let (_, reply) = other.send(&served, &theirs, &[strike, knocked]).await;
    assert!(reply["answers"][0]["refused"].is_string() && reply["answers"][1]["conflict"] == true, "{reply}");
    assert_eq!(served.count().await, 4);
}

#[tokio::test]
async fn only_the_assessor_decides_and_signs_and_the_second_stays_blind_until_they_end() {
    let (served, mine, theirs) = two().await;
    served.short_attempt(&mine).await;
    let mut other = Tablet::new("tablet-2");
    let said = other.seen(0, &json!({"kind": "started"}));
    other.tell(&served, &theirs, &[said]).await;
    for (page, form) in [
        ("decisions", vec![("criterion", "key"), ("outcome", "met"), ("reason", "so")]),
        ("gaps", vec![("device", "tablet-2"), ("reason", "so")]),
        ("signature", vec![("password", PASSWORD), ("head", "0")]),
    ] {
        assert_eq!(served.post(&served.at(page), &theirs, &form).await.status(), StatusCode::FORBIDDEN, "{page}");
    }
    served.decide_all(&mine).await;
    let head = served.shown_head(&mine).await;
    let signed = served.post(&served.at("signature"), &mine, &[("password", PASSWORD), ("head", &head)]).await;
    assert_eq!(signed.status(), StatusCode::OK);
    assert_eq!(served.post(&served.at("links"), &theirs, &[]).await.status(), StatusCode::FORBIDDEN);

    // Signed, but not for the eyes of whoever still marks.
    assert!(!served.get("/", &theirs).await.1.contains("automatic fail"));
    let sheet = served.ask(reqwest::Method::GET, &served.at("sheet")).header("cookie", &theirs).send().await.unwrap();
    assert_eq!(sheet.status(), StatusCode::SEE_OTHER);
    assert_eq!(served.get(&served.at("marking"), &theirs).await.0, StatusCode::OK);
    let verifier = served.signed_in(served.verifier).await;
    assert!(!served.get(&served.at("sheet"), &verifier).await.1.contains("Second marking"));

    let said = other.seen(9_000, &json!({"kind": "ended"}));
    other.tell(&served, &theirs, &[said]).await;
    assert_eq!(served.get(&served.at("marking"), &theirs).await.0, StatusCode::SEE_OTHER, "their own log has ended");
    let (_, sheet) = served.get(&served.at("sheet"), &verifier).await;
    assert!(sheet.contains("Second marking") && sheet.contains("lou (invented)"), "{sheet}");
    assert!(sheet.contains("Where the two records differ"), "one saw a key left in the lock, the other nothing");
    assert!(!sheet.contains("to be reviewed"), "a second log is no part of what was signed");
    assert!(!served.get(&served.at("sheet"), &mine).await.1.contains("Second marking"), "nor for the assessor");
    assert_eq!(served.get(&served.at("sheet"), &theirs).await.0, StatusCode::OK, "and now they may look");
}

#[tokio::test]
async fn a_second_marker_judges_by_eye_in_their_own_log() {
    let (served, mine, theirs) = two().await;
    served.short_attempt(&mine).await;
    let (start, end) = (json!({"kind": "started"}), json!({"kind": "ended"}));
    let mut other = Tablet::new("tablet-2");
    let said = [other.seen(0, &start), other.seen(9_000, &end)];
    other.tell(&served, &theirs, &said).await;
    let (_, page) = served.get(&served.at("marking"), &theirs).await;
    assert!(page.contains("Your ticks") && !page.contains("Decide"), "the way on is called by what it leads to");
    let (_, page) = served.get(&served.at("decide"), &theirs).await;
    assert!(page.contains("<h1>Your ticks</h1>") && page.contains("You are the second marker"), "{page}");
    for word in [
        "Decide",
        "Confirm: not met",
        "Overrul",
        "id=\"signature\"",
        "type=\"password\"",
        "Go on without them",
        "confirm it",
    ] {
        assert!(!page.contains(word), "{word}: {page}");
    }
    for card in page.split("<article").skip(1).filter(|card| card.contains("needs you") || card.contains("<form")) {
        assert!(card.contains("by eye"), "only what the eye judges waits for them: {card}");
    }
    assert!(page.contains("/ticks") && !page.contains("/decisions") && !page.contains("Sign the result"), "{page}");
    let card = page.split("<article").find(|card| card.contains("/ticks")).unwrap();
    let criterion = card.split("name=\"criterion\" value=\"").nth(1).unwrap().split('"').next().unwrap();
    let word = [("criterion", criterion), ("outcome", "met"), ("reason", "")];
    let answer = served.post(&served.at("ticks"), &theirs, &word).await;
    assert_eq!((answer.status(), location(&answer)), (StatusCode::SEE_OTHER, served.at("decide")));
    let mut tx = served.fixture.begin().await;
    let (centre, task) = (&served.fixture.centre, &served.fixture.task);
    let log = baywitness::store::entries::log_of(&mut tx, centre, served.session, served.other, task).await.unwrap();
    assert_eq!(log.observations().len(), 3);
}

#[tokio::test]
async fn two_devices_of_one_assessor_make_one_log_in_the_order_of_session_time() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let (mut one, mut other) = (Tablet::new("tablet-1"), Tablet::new("tablet-2"));
    let start = one.seen(0, &json!({"kind": "started"}));
    one.tell(&served, &mine, &[start]).await;
    let throw = |switch: &str| json!({"kind": "operated", "switch": switch});
    let first = [one.seen(10_000, &throw("S1")), one.seen(30_000, &blocked())];
    let second = [other.seen(20_000, &throw("S2")), other.seen(40_000, &json!({"kind": "view_clear"}))];
    // The second tablet was out of contact and comes first or last: it makes no difference.
    other.tell(&served, &mine, &second[1..]).await;
    one.tell(&served, &mine, &first).await;
    other.tell(&served, &mine, &second[..1]).await;
    let mut tx = served.fixture.begin().await;
    let (centre, task) = (&served.fixture.centre, &served.fixture.task);
    let log = baywitness::store::entries::log_of(&mut tx, centre, served.session, served.assessor, task).await.unwrap();
    let order = baywitness::web::marking::state::standing(&log);
    let at: Vec<_> = order.iter().map(|seen| (seen.at_ms, seen.seq)).collect();
    assert_eq!(at, [(0, 1), (10_000, 2), (20_000, 1), (30_000, 3), (40_000, 2)]);
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(!page.contains("Not everything has arrived"));
}

#[tokio::test]
async fn who_only_reads_finds_no_word_of_deciding_either() {
    let (served, mine, _) = two().await;
    served.short_attempt(&mine).await;
    let verifier = served.signed_in(served.verifier).await;
    let (_, page) = served.get(&served.at("decide"), &verifier).await;
    assert!(page.contains("<h1>Findings so far</h1>") && page.contains("For the assessor to judge"), "{page}");
    assert!(!page.contains("needs you") && !page.contains("class=\"decision\""), "{page}");
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("<h1>Decide</h1>") && page.contains("For you to judge") && page.contains("needs you"));
}
