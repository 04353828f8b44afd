//! Reviews: a candidate asks, a second person answers, and both results stay to be read.

use super::matrix::{stranger, stranger_signed_in};
use super::{PASSWORD, Served, read};
use baywitness::store::StaffNo;
use baywitness::store::staff::Role;
use reqwest::StatusCode;

const WHY: &str = "Key: it was in my hand <b>all</b> the time";

impl Served {
    async fn asks(&self, visit: &str, reason: &str) -> (StatusCode, String) {
        read(self.post("/feedback/review", visit, &[("reason", reason)]).await).await
    }

    /// A signed session of which a review was asked for; the candidate's visit.
    async fn asked(&self) -> String {
        let link = self.signed_link().await;
        let visit = self.visit(&link).await;
        assert_eq!(self.asks(&visit, WHY).await.0, StatusCode::SEE_OTHER);
        visit
    }

    fn review(&self) -> String {
        format!("/reviews/{}", self.session.0)
    }

    async fn ends(&self, cookie: &str, form: &[(&str, &str)]) -> (StatusCode, String) {
        let mut sent = vec![("own_password", PASSWORD)];
        sent.extend_from_slice(form);
        read(self.post(&self.review(), cookie, &sent).await).await
    }

    /// Gives somebody other roles.
    async fn roles(&self, who: StaffNo, roles: &str) {
        let mut tx = self.fixture.begin().await;
        let sql = "UPDATE staff SET roles = $2::text[] WHERE number = $1";
        sqlx::query(sql).bind(who.0).bind(roles).execute(&mut *tx).await.unwrap();
        tx.commit().await.unwrap();
    }
}

#[tokio::test]
async fn a_candidate_asks_once_and_waits_in_the_list_of_the_verifier() {
    let served = Served::new().await;
    let visit = served.asked().await;
    let (_, page) = served.get("/feedback", &visit).await;
    assert!(page.contains("You asked for a review on 3 February 2027."), "{page}");
    assert!(page.contains("all&#60;/b&#62;") && !page.contains("<b>all"), "what was typed, and no markup");
    assert!(!page.contains("name=\"reason\""), "it is asked for once");
    served.asks(&visit, "another reason").await;
    let vera = served.signed_in(served.verifier).await;
    let (_, list) = served.get("/reviews", &vera).await;
    assert!(list.contains("waits for a verifier") && list.contains("REG-0042"));
    let (_, review) = served.get(&served.review(), &vera).await;
    assert!(review.contains("all&#60;/b&#62;") && !review.contains("another reason"));
    // The evidence and both markings: what stands, what was worked out, and what both rest on.
    for part in ["First marking", "Every finding", "left in the lock", "automatic fail"] {
        assert!(review.contains(part), "{part}");
    }
    assert_eq!(served.deeds().await[0].0, "review_asked");
}

#[tokio::test]
async fn a_reason_is_needed_and_what_was_typed_stays() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    let visit = served.visit(&link).await;
    let long = "é".repeat(2_001);
    for (reason, says) in [(" \n ", "Say which point you mean and why."), (long.as_str(), "That is too long.")] {
        let (status, page) = served.asks(&visit, reason).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.contains(says) && page.contains("id=\"reason-fault\""), "{says}");
        assert!(page.contains(reason.trim()));
    }
    let emoji = "😀".repeat(2_000);
    assert_eq!(served.asks(&visit, &emoji).await.0, StatusCode::SEE_OTHER);
    assert!(served.get("/feedback", &visit).await.1.contains(&emoji));
}

#[tokio::test]
async fn asking_over_and_over_is_slowed_down() {
    let served = Served::new().await;
    let visit = served.visit(&served.signed_link().await).await;
    for _ in 0..5 {
        assert_eq!(served.asks(&visit, "").await.0, StatusCode::UNPROCESSABLE_ENTITY);
    }
    assert_eq!(served.asks(&visit, "the key").await.0, StatusCode::TOO_MANY_REQUESTS);
    served.wait(21);
    assert_eq!(served.asks(&visit, "the key").await.0, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn after_the_last_day_nothing_is_taken_and_the_page_says_so() {
    let served = Served::new().await;
    let link = served.signed_link().await;
    // The last instant of the last day by the centre's clocks, which are at UTC then.
    served.wait((time::macros::datetime!(2027-03-03 23:59:59 UTC) - served.now()).whole_seconds());
    let (_, page) = served.get("/feedback", &served.visit(&link).await).await;
    assert!(page.contains("until 3 March 2027") && page.contains("name=\"reason\""));
    served.wait(1);
    let visit = served.visit(&link).await;
    let (_, page) = served.get("/feedback", &visit).await;
    assert!(page.contains("The last day to ask for a review was 3 March 2027.") && !page.contains("name=\"reason\""));
    served.asks(&visit, "too late").await;
    let vera = served.signed_in(served.verifier).await;
    assert!(served.get("/reviews", &vera).await.1.contains("Nobody has asked for a review"));
    assert_eq!(served.get(&served.review(), &vera).await.0, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn without_a_visit_nothing_can_be_asked_for() {
    let served = Served::new().await;
    served.signed_link().await;
    assert_eq!(served.asks("", "the key").await.0, StatusCode::UNAUTHORIZED);
    let made_up = format!("__Host-feedback=northgate.{}", "0".repeat(64));
    assert_eq!(served.asks(&made_up, "the key").await.0, StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn an_upheld_result_is_told_in_words() {
    let served = Served::new().await;
    let visit = served.asked().await;
    let vera = served.signed_in(served.verifier).await;
    let (status, page) = served.ends(&vera, &[("words", " ")]).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("id=\"words-fault\""));
    let (status, _) = served.ends(&vera, &[("words", "The key is in the lock\nat minute 1.")]).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let (_, page) = served.get("/feedback", &visit).await;
    for part in ["Your result stays as it was.", "at minute 1.", "vera (invented)", "You did not pass this time."] {
        assert!(page.contains(part), "{part}");
    }
    let (_, sheet) = served.get(&served.at("sheet"), &vera).await;
    assert!(sheet.contains("Upheld") && sheet.contains("at minute 1."));
    assert_eq!(served.ends(&vera, &[("words", "again")]).await.0, StatusCode::CONFLICT);
}

/// A form that changes every finding which is not met to met.
fn all_met(page: &str) -> Vec<(String, String)> {
    let mut form = Vec::new();
    for finding in page.split("<details class=\"fold\"").skip(1).filter(|one| one.contains("not met</span>")) {
        let id = finding.split("name=\"outcome-").nth(1).unwrap().split('"').next().unwrap();
        form.push((format!("outcome-{id}"), "met".to_owned()));
        form.push((format!("code-{id}"), "record_shows_otherwise".to_owned()));
        form.push((format!("words-{id}"), format!("The film shows it <i>{id}</i>.")));
    }
    form
}

#[tokio::test]
async fn an_amended_result_stands_beside_the_first_on_page_sheet_and_exports() {
    let served = Served::new().await;
    let visit = served.asked().await;
    let vera = served.signed_in(served.verifier).await;
    let (_, review) = served.get(&served.review(), &vera).await;
    let form = all_met(&review);
    assert!(form.len() >= 6, "{review}");
    let mut form: Vec<(&str, &str)> = form.iter().map(|(field, typed)| (field.as_str(), typed.as_str())).collect();
    form.push(("words", "You were right about the key."));
    let before = served.count().await;
    let (status, _) = served.ends(&vera, &form).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let changes = i64::try_from(form.len() / 3).unwrap();
    assert_eq!(served.count().await, before + changes + 1, "one entry for each change and one for the outcome");

    let (_, page) = served.get("/feedback", &visit).await;
    for part in ["It changed your result.", "Your first result was: automatic fail.", "You were right about the key."] {
        assert!(page.contains(part), "{part}");
    }
    assert!(!page.contains("<h1>You did not pass") && !page.contains("<i>"), "the outcome that stands comes first");
    let (_, sheet) = served.get(&served.at("sheet"), &vera).await;
    for part in ["The candidate did not pass: an automatic fail stands.", "Amended", "The film shows it &#60;i&#62;"] {
        assert!(sheet.contains(part), "{part}");
    }
    let (_, list) = served.get("/reviews", &vera).await;
    assert!(list.contains("Amended"));
    assert_eq!(served.deeds().await[0].0, "result_amended");

    // Lists and the copy of the candidate's data say what stands.
    let mona = served.signed_in(served.manager().await).await;
    let (_, held) = served.get(&format!("/candidates/{}/data", served.fixture.candidate.0), &mona).await;
    assert!(held.contains("Asked for a review") && held.contains("You were right about the key."), "{held}");
    let (_, list) = served.get("/sessions/all", &mona).await;
    assert!(!list.contains("</span> automatic fail</span>"), "{list}");
}

#[tokio::test]
async fn a_change_needs_another_outcome_and_words() {
    let served = Served::new().await;
    served.asked().await;
    let vera = served.signed_in(served.verifier).await;
    let (told, code) = (("words", "Told."), ("code-key", "new_evidence"));
    for (form, says) in [
        (vec![told, ("outcome-key", "met"), code], "Please write what the candidate is to read."),
        (vec![told, ("outcome-key", "not_met"), code, ("words-key", "so")], "That is what stands already."),
        (vec![told, ("outcome-key", "superb"), code, ("words-key", "so")], "Choose an outcome and why."),
        (vec![told, ("outcome-key", "met"), ("code-key", "mood"), ("words-key", "so")], "Choose an outcome and why."),
    ] {
        let (status, page) = served.ends(&vera, &form).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{form:?}");
        assert!(page.contains("id=\"words-key-fault\"") && page.contains(says), "{form:?}: {page}");
        assert!(page.contains(">Told.</textarea>"), "what was typed stays");
    }
    served.wait(6 * 60);
    let wrong = [("own_password", "a guess"), ("words", "Told.")];
    let (status, page) = read(served.post(&served.review(), &vera, &wrong).await).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(page.contains("id=\"own_password-fault\"") && page.contains(">Told.</textarea>"));
    assert!(served.get("/reviews", &vera).await.1.contains("waits for a verifier"));
}

#[tokio::test]
async fn whoever_signed_cannot_end_the_review_whatever_their_roles() {
    let served = Served::new().await;
    served.asked().await;
    served.roles(served.assessor, "{assessor,verifier,manager}").await;
    let kim = served.signed_in(served.assessor).await;
    let (_, page) = served.get(&served.review(), &kim).await;
    assert!(page.contains("You signed this result yourself.") && !page.contains("End the review"));
    let before = served.count().await;
    for form in [
        vec![("words", "so")],
        vec![("words", "so"), ("outcome-key", "met"), ("code-key", "new_evidence"), ("words-key", "so")],
    ] {
        assert_eq!(served.ends(&kim, &form).await.0, StatusCode::FORBIDDEN);
    }
    assert_eq!(served.count().await, before);
    // A manager reads, and does not end.
    served.roles(served.other, "{manager}").await;
    let lou = served.signed_in(served.other).await;
    assert_eq!(served.get(&served.review(), &lou).await.0, StatusCode::OK);
    assert_eq!(served.ends(&lou, &[("words", "so")]).await.0, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn another_centre_sees_no_review_and_no_release() {
    let served = Served::new().await;
    served.asked().await;
    let theirs = stranger(&served, Role::Verifier).await;
    let cookie = stranger_signed_in(&served, theirs).await;
    assert!(served.get("/reviews", &cookie).await.1.contains("Nobody has asked for a review"));
    for path in [served.review(), served.at("release")] {
        assert_eq!(served.get(&path, &cookie).await.0, StatusCode::NOT_FOUND, "{path}");
    }
    assert_eq!(served.ends(&cookie, &[("words", "so")]).await.0, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_paper_of_an_amended_result_tells_both_outcomes() {
    let served = Served::new().await;
    served.asked().await;
    let vera = served.signed_in(served.verifier).await;
    let waiting = served.paper(&vera).await;
    assert!(waiting.contains("waits for a verifier") && !waiting.contains("Amended"), "{waiting}");
    let form = [("words", "Seen."), ("outcome-key", "met"), ("code-key", "new_evidence"), ("words-key", "On film.")];
    assert_eq!(served.ends(&vera, &form).await.0, StatusCode::SEE_OTHER);
    let paper = served.paper(&vera).await;
    for part in ["automatic fail stands", "Amended on review", "On film.", "Something new came to light", "Seen."] {
        assert!(paper.contains(part), "{part} in {paper}");
    }
}
