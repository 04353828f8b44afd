//! The criteria library over HTTP.

use super::{Served, location};
use baywitness::marking::{Decided, Fails, Rule};
use baywitness::store::criteria;
use reqwest::StatusCode;

/// The form of a criterion by eye, with these fields instead.
fn form<'a>(with: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut form = vec![
        ("step", "about"),
        ("says", "Keeps calm"),
        ("stage", "Manner"),
        ("source", "common practice"),
        ("weight", "2"),
        ("fails", "must"),
        ("when_met", "You kept calm."),
        ("when_not_met", "Keep calm: take a breath."),
        ("decided", "by_eye"),
    ];
    for (name, value) in with {
        form.retain(|(there, _)| there != name);
        form.push((name, value));
    }
    form
}

async fn own(served: &Served) -> Vec<criteria::Own> {
    let mut tx = served.fixture.begin().await;
    criteria::list(&mut tx, &served.fixture.centre).await.unwrap()
}

#[tokio::test]
async fn a_starter_criterion_is_taken_changed_retired_and_brought_back() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    // Unless told, the library is that of the centre's own scheme, whatever its tasks say.
    assert!(served.get("/criteria", &mine).await.1.contains("Starter library, GB"));
    let mut tx = served.fixture.begin().await;
    sqlx::query("UPDATE centres SET scheme = 'ie'").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    assert!(served.get("/criteria", &mine).await.1.contains("Starter library, IE"));
    let (_, page) = served.get("/criteria?scheme=US&q=key", &mine).await;
    assert!(page.contains("Starter library, US") && page.contains("None yet"), "{page}");
    let id = page.split("name=\"criterion\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let taken = [("scheme", "US"), ("criterion", id.as_str())];
    for _ in 0..2 {
        // Twice is once.
        let answer = served.post("/criteria/take", &mine, &taken).await;
        assert_eq!(location(&answer), "/criteria?scheme=US&done=taken");
    }
    let now = own(&served).await;
    assert_eq!(now.len(), 1);
    assert!(served.get("/criteria?scheme=US", &mine).await.1.contains("in your criteria"));

    let at = format!("/criteria/own/{id}");
    let (_, page) = served.get(&at, &mine).await;
    let seen = page.split("name=\"seen\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let answer = served.post(&at, &mine, &form(&[("seen", &seen)])).await;
    assert_eq!(location(&answer), format!("{at}?done=saved"));
    let changed = &own(&served).await[0];
    assert_eq!((changed.criterion.says.as_str(), changed.criterion.id.as_str()), ("Keeps calm", id.as_str()));
    assert_eq!((changed.criterion.weight, changed.criterion.fails, changed.stage.as_str()), (2, Fails::Must, "Manner"));

    // The page that was made before that change would overwrite it: refused, with what was typed kept.
    let late = served.post(&at, &mine, &form(&[("seen", &seen), ("says", "Something else")])).await;
    assert_eq!(late.status(), StatusCode::CONFLICT);
    let page = late.text().await.unwrap();
    assert!(page.contains("Somebody changed this criterion") && page.contains("Something else"), "{page}");
    assert_eq!(own(&served).await[0].criterion.says, "Keeps calm");

    served.post(&format!("{at}/retire"), &mine, &[]).await;
    assert!(own(&served).await[0].retired_at.is_some());
    assert!(served.get("/criteria", &mine).await.1.contains("Bring back"));
    served.post(&format!("{at}/bring-back"), &mine, &[]).await;
    assert!(own(&served).await[0].retired_at.is_none());
}

#[tokio::test]
async fn a_criterion_with_a_rule_is_written_in_steps() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    assert_eq!(served.get("/criteria/new", &mine).await.0, StatusCode::OK);
    let first = form(&[("decided", "never")]);
    let answer = served.post("/criteria/new", &mine, &first).await;
    let page = answer.text().await.unwrap();
    assert!(page.contains("The act that must never be seen") && page.contains("value=\"Keeps calm\""), "{page}");
    let second = form(&[("decided", "never"), ("step", "parameters"), ("act.kind", "switched")]);
    let page = served.post("/criteria/new", &mine, &second).await.text().await.unwrap();
    assert!(page.contains("name=\"act.device\"") && page.contains("<option value=\"Q2\">"), "{page}");
    let third = form(&[("decided", "never"), ("step", "fields"), ("act.kind", "switched"), ("act.to", "on")]);
    let answer = served.post("/criteria/new", &mine, &third).await;
    assert_eq!(location(&answer), "/criteria/own/keeps-calm?done=saved");
    // Another of the same words gets a name of its own.
    let answer = served.post("/criteria/new", &mine, &form(&[])).await;
    assert_eq!(location(&answer), "/criteria/own/keeps-calm-2?done=saved");
    let named = served.post("/criteria/new", &mine, &form(&[("id", "keeps-calm")])).await;
    assert_eq!(named.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(named.text().await.unwrap().contains("Another criterion has this short name"));
    let own = own(&served).await;
    let Decided::Rule(Rule::Never { act }) = &own[0].criterion.decided else { panic!("{own:?}") };
    assert_eq!((act.kind.as_str(), act.fields["to"].as_str()), ("switched", Some("on")));
}

#[tokio::test]
async fn faults_stand_beside_their_fields_and_nothing_is_written() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let long = "x".repeat(2_001);
    let bad = form(&[("weight", "0"), ("says", &long), ("id", "no name")]);
    let answer = served.post("/criteria/new", &mine, &bad).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let page = answer.text().await.unwrap();
    for fault in ["weight-fault", "says-fault", "id-fault", "value=\"no name\""] {
        assert!(page.contains(fault), "{fault}");
    }
    assert!(own(&served).await.is_empty());
}

#[tokio::test]
async fn feedback_is_advised_about_once_it_is_saved() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let long = format!("Keep calm{}.", " and breathe".repeat(20));
    let answer = served.post("/criteria/new", &mine, &form(&[("when_not_met", &long), ("when_met", "Well.")])).await;
    let (_, page) = served.get(&location(&answer), &mine).await;
    assert!(page.contains("has 42 words") && page.contains("does not name the act"), "{page}");
}

#[tokio::test]
async fn a_verifier_reads_and_writes_nothing() {
    let served = Served::new().await;
    let theirs = served.signed_in(served.verifier).await;
    let (status, page) = served.get("/criteria", &theirs).await;
    assert_eq!(status, StatusCode::OK);
    assert!(!page.contains("Write a criterion") && !page.contains("action=\"/criteria/take\""));
    assert_eq!(served.post("/criteria/new", &theirs, &form(&[])).await.status(), StatusCode::FORBIDDEN);
}
