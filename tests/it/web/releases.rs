//! When the candidate may read the result, through the pages.

use super::{Served, location, read};
use reqwest::StatusCode;

impl Served {
    /// Takes a step; answers the status and the page.
    async fn step(&self, cookie: &str, form: &[(&str, &str)]) -> (StatusCode, String) {
        read(self.post(&self.at("release"), cookie, form).await).await
    }

    /// What the candidate sees.
    async fn candidates_page(&self, link: &(String, String)) -> String {
        self.get("/feedback", &self.visit(link).await).await.1
    }
}

const OUTCOME: &str = "You did not pass this time.";

#[tokio::test]
async fn withdrawn_feedback_says_so_plainly_and_comes_back_with_its_history() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    let mine = served.signed_in(served.assessor).await;
    let visit = served.visit(&link).await;
    assert!(served.get("/feedback", &visit).await.1.contains(OUTCOME));

    let done = served.post(&served.at("release"), &mine, &[("step", "withdraw"), ("reason", "wrong bay")]).await;
    assert_eq!((done.status(), location(&done)), (StatusCode::SEE_OTHER, served.at("release")));
    // The visit that was open, and a new one with the same link and code.
    for page in [served.get("/feedback", &visit).await.1, served.candidates_page(&link).await] {
        assert!(page.contains("<h1>Your feedback was withdrawn</h1>"), "{page}");
        assert!(page.contains("Your centre withdrew your feedback on 3 February 2027."));
        for part in [OUTCOME, "fail", "wrong bay", "Zoë", "Every point"] {
            assert!(!page.contains(part), "{part}");
        }
    }
    let polish = served.get("/feedback?lang=pl", &visit).await.1;
    assert!(polish.contains("Twoja informacja zwrotna została wycofana"));
    // Nor can a review be asked for then.
    served.post("/feedback/review", &visit, &[("reason", "the key")]).await;
    let vera = served.signed_in(served.verifier).await;
    assert!(served.get("/reviews", &vera).await.1.contains("Nobody has asked for a review"));

    let (status, _) = served.step(&mine, &[("step", "release")]).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert!(served.candidates_page(&link).await.contains(OUTCOME));
    let (_, history) = served.get(&served.at("release"), &mine).await;
    for part in ["By the centre&#39;s rule", "Withdrawn", "wrong bay", "Opened", "kim (invented)"] {
        assert!(history.contains(part), "{part} in {history}");
    }
    let deeds: Vec<String> = served.deeds().await.into_iter().map(|(what, _)| what).collect();
    assert!(deeds.starts_with(&["feedback_opened".into(), "feedback_withdrawn".into()]), "{deeds:?}");
}

#[tokio::test]
async fn held_and_waiting_feedback_says_nothing_of_the_result() {
    let served = Served::new().await;
    let mut tx = served.fixture.begin().await;
    sqlx::query("UPDATE centres SET release = 'told'").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    let link = served.signed_link().await;
    let mine = served.signed_in(served.assessor).await;
    let waiting = served.candidates_page(&link).await;
    assert!(waiting.contains("Your feedback is not here yet") && waiting.contains("tell you in person first"));
    assert_eq!(served.step(&mine, &[("step", "hold"), ("reason", "doubts")]).await.0, StatusCode::SEE_OTHER);
    let held = served.candidates_page(&link).await;
    assert!(held.contains("Your centre has not opened it yet"));
    for page in [waiting, held] {
        assert!(!page.contains(OUTCOME) && !page.contains("doubts") && !page.contains("fail"), "{page}");
    }
    assert_eq!(served.step(&mine, &[("step", "told")]).await.0, StatusCode::SEE_OTHER);
    assert!(served.candidates_page(&link).await.contains(OUTCOME));
}

#[tokio::test]
async fn a_set_time_opens_it_by_itself() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    let mine = served.signed_in(served.assessor).await;
    served.step(&mine, &[("step", "withdraw"), ("reason", "so")]).await;
    let at = [("step", "at"), ("day", "2027-02-03"), ("time", "16:30")];
    assert_eq!(served.step(&mine, &at).await.0, StatusCode::SEE_OTHER);
    assert!(
        served.candidates_page(&link).await.contains("It opens on 3 February 2027 at <bdi dir=\"ltr\">16:30</bdi>.")
    );
    assert!(served.get(&served.at("release"), &mine).await.1.contains("from 3 February 2027, 16:30 on"));
    served.wait(7 * 60 * 60);
    assert!(served.candidates_page(&link).await.contains(OUTCOME));
}

#[tokio::test]
async fn what_a_step_lacks_is_said_beside_its_field_and_nothing_changes() {
    let served = Served::new().await;
    served.signed_link().await;
    let mine = served.signed_in(served.assessor).await;
    let long = "é".repeat(2_001);
    for (reason, says) in
        [(" ", "Please say why."), (long.as_str(), "at most 2,000"), ("a\u{7}b", "control characters")]
    {
        let (status, page) = served.step(&mine, &[("step", "withdraw"), ("reason", reason)]).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.contains("id=\"reason-fault\"") && page.contains(says), "{says}");
        assert!(page.contains(reason.trim()), "what was typed stays");
    }
    let emoji = "😀".repeat(2_000);
    assert_eq!(served.step(&mine, &[("step", "withdraw"), ("reason", &emoji)]).await.0, StatusCode::SEE_OTHER);
    for (day, time, field, says) in [
        ("2027-02-30", "09:00", "day", "Please give a day"),
        ("2027-02-01", "09:00", "day", "That is over"),
        ("2027-02-09", "9 sharp", "time", "Please give a time of day"),
        ("2027-03-28", "01:30", "time", "there is no 01:30"),
        ("2027-10-31", "01:30", "which", "twice"),
    ] {
        let (status, page) = served.step(&mine, &[("step", "at"), ("day", day), ("time", time)]).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{day}");
        assert!(page.contains(&format!("id=\"{field}-fault\"")) && page.contains(says), "{says}: {page}");
        assert!(page.contains(&format!("value=\"{day}\"")));
    }
    let (status, _) = served.step(&mine, &[("step", "dance")]).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    // Two of the rule and of the withdrawal, and no more.
    assert_eq!(served.get(&served.at("release"), &mine).await.1.matches("<li><b>").count(), 2);
    let stale = served.step(&mine, &[("step", "withdraw"), ("reason", "again")]).await;
    assert_eq!(stale.0, StatusCode::CONFLICT);
}

#[tokio::test]
async fn only_the_sessions_assessor_and_managers_take_steps() {
    let served = Served::new().await;
    served.signed_link().await;
    let form = [("step", "withdraw"), ("reason", "so")];
    let other = served.signed_in(served.other).await;
    assert_eq!(served.step(&other, &form).await.0, StatusCode::NOT_FOUND);
    let verifier = served.signed_in(served.verifier).await;
    assert_eq!(served.step(&verifier, &form).await.0, StatusCode::FORBIDDEN);
    let (status, page) = served.get(&served.at("release"), &verifier).await;
    assert!(status == StatusCode::OK && !page.contains("<form method=\"post\" action=\"/sessions"), "{page}");
    let manager = served.signed_in(served.manager().await).await;
    assert_eq!(served.step(&manager, &form).await.0, StatusCode::SEE_OTHER);
}
