//! The page of a task: the circuit as a picture, and why each test is needed.

use super::Served;
use crate::support::centre::{NOW, TASK, new_id};
use baywitness::store::{TaskId, tasks};
use reqwest::StatusCode;

#[tokio::test]
async fn pairs_throws_and_the_circuit_are_shown() {
    let served = Served::new().await;
    let vera = served.signed_in(served.verifier).await;
    let (status, page) = served.get(&format!("/tasks/{}/1", served.fixture.task_id.0), &vera).await;
    assert_eq!(status, StatusCode::OK);
    for part in [
        "3 pairs in 4 rounds",
        "With healthy switches, throw S1, or S2, or S3.",
        "If one contact may be broken, throw S1 then S3 then S1, or S3 then S1 then S3.",
        "<svg",
        "<title id=\"circuit-t\">",
    ] {
        assert!(page.contains(part), "{part} is missing");
    }
}

#[tokio::test]
async fn markup_in_a_label_stays_text_in_the_picture_too() {
    let served = Served::new().await;
    let hostile = "<script>alert(1)</script>\\\" onload=\\\"x&y";
    let source = TASK
        .replace("label = \"Top landing lamp holder\"", &format!("label = \"{hostile}\""))
        .replace("label = \"Stairwell lights\"", &format!("label = \"{hostile}\""))
        .replace("label = \"DB-W, workshop stair core\"", &format!("label = \"{hostile}\""));
    let id = TaskId(new_id());
    let mut tx = served.fixture.begin().await;
    tasks::publish(&mut tx, &served.fixture.centre, id, "Hostile", &source, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let vera = served.signed_in(served.verifier).await;
    let (status, page) = served.get(&format!("/tasks/{}/1", id.0), &vera).await;
    assert_eq!(status, StatusCode::OK);
    assert!(!page.contains("<script>alert") && !page.contains("\" onload=\""), "{page}");
    assert!(page.contains("alert(1)"), "the label is shown as text");
}
