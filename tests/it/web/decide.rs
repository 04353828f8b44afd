//! Deciding: findings by what they need, words for what was recorded with one tap, overruling, and signing.

use super::tablet::{Tablet, blocked};
use super::{PASSWORD, Served, location, read};
use baywitness::marking::Act;
use reqwest::StatusCode;
use serde_json::json;

impl Served {
    /// An ended attempt of kim's, with nothing decided.
    pub async fn ended() -> (Self, String) {
        let served = Self::new().await;
        let mine = served.signed_in(served.assessor).await;
        served.short_attempt(&mine).await;
        (served, mine)
    }

    /// Decides on one finding.
    pub async fn say(&self, cookie: &str, criterion: &str, outcome: &str, reason: &str) -> (StatusCode, String) {
        let form = [("criterion", criterion), ("outcome", outcome), ("reason", reason)];
        read(self.post(&self.at("decisions"), cookie, &form).await).await
    }

    /// Signs what the page shows.
    pub async fn sign(&self, cookie: &str) -> StatusCode {
        let head = self.shown_head(cookie).await;
        self.post(&self.at("signature"), cookie, &[("password", PASSWORD), ("head", &head)]).await.status()
    }

    /// Decides whatever is open, and signs.
    pub async fn settle(&self, cookie: &str) {
        self.decide_all(cookie).await;
        assert_eq!(self.sign(cookie).await, StatusCode::OK);
    }

    async fn acts(&self, cookie: &str, acts: &str) {
        let answer = self.post(&self.at("acts"), cookie, &[("acts", acts)]).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{acts}");
    }

    async fn page(&self, cookie: &str) -> String {
        self.get(&self.at("decide"), cookie).await.1
    }

    /// Puts an act into words.
    async fn put(&self, cookie: &str, act: &str, words: &str) -> (StatusCode, String) {
        let answer = self.post(&self.at("words"), cookie, &[("act", act), ("words", words)]).await;
        let to = location(&answer);
        let (status, page) = read(answer).await;
        (status, if status == StatusCode::SEE_OTHER { to } else { page })
    }
}

/// The acts without words that a page asks about.
fn wordless(page: &str) -> Vec<String> {
    let after = page.split("name=\"act\" value=\"").skip(1);
    after.map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

/// The card of a criterion.
fn card<'p>(page: &'p str, criterion: &str) -> &'p str {
    let begin = format!("id=\"c-{criterion}\"");
    page.split("<article").find(|one| one.contains(&begin)).unwrap_or_else(|| panic!("no card of {criterion}"))
}

#[tokio::test]
async fn findings_stand_by_what_needs_the_assessor_each_with_its_neighbours_and_its_rule() {
    let (served, mine) = Served::ended().await;
    let page = served.page(&mine).await;
    let at = |what: &str| page.find(what).unwrap_or_else(|| panic!("{what} is missing"));
    let order =
        ["Proposed automatic fails", "For you to judge", "Worked out from the record", "<h2>Timeline", "<h2>Sign"];
    let order: Vec<_> = order.into_iter().map(at).collect();
    assert!(order.is_sorted(), "{order:?}");
    // The key lay in the lock at 00:20; the padlock was closed just before, and the attempt ended just after.
    let key = card(&page, "key");
    for part in ["needs you", "The rule:", "Just before and after", "rests on this", "00:20"] {
        assert!(key.contains(part), "{part}: {key}");
    }
    let near = key.split("Just before and after").nth(1).unwrap();
    let near = near.split("</details>").next().unwrap();
    assert!(near.contains("Closed ") && near.contains("Ended"), "{near}");
    assert!(!near.contains("Asked for leave"), "not a neighbour: {near}");
    // The picture has words, and the same stands in a table beside it.
    assert!(page.contains("role=\"img\"") && page.contains("The timeline as a table"));
}

#[tokio::test]
async fn what_was_not_seen_is_a_group_of_its_own_and_judging_it_overrules_nothing() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    for acts in [r#"[{"kind":"started"}]"#, r#"[{"kind":"view_blocked"}]"#, r#"[{"kind":"ended"}]"#] {
        served.wait(5);
        served.acts(&mine, acts).await;
    }
    let page = served.page(&mine).await;
    let group = page.split("<h2>Not seen</h2>").nth(1).expect("a group of what was not seen");
    let first = group.split("<article").nth(1).unwrap();
    assert!(first.contains("needs you") && first.contains("not seen"), "{first}");
    let criterion = first.split("id=\"c-").nth(1).unwrap().split('"').next().unwrap();
    assert_eq!(served.say(&mine, criterion, "met", " ").await.0, StatusCode::UNPROCESSABLE_ENTITY, "without a reason");
    for _ in 0..60 {
        let page = served.page(&mine).await;
        let Some(open) = page.split("<article").find(|card| card.contains("needs you")) else { break };
        let criterion = open.split("name=\"criterion\" value=\"").nth(1).unwrap().split('"').next().unwrap();
        let to = if open.contains("/ticks") { "ticks" } else { "decisions" };
        let outcome = if open.contains("Confirm: not met") { "not_met" } else { "met" };
        let form = [("criterion", criterion), ("outcome", outcome), ("reason", "I stood on the other side")];
        assert_eq!(served.post(&served.at(to), &mine, &form).await.status(), StatusCode::SEE_OTHER, "{criterion}");
    }
    assert_eq!(served.sign(&mine).await, StatusCode::OK);
    let verifier = served.signed_in(served.verifier).await;
    assert!(!served.get("/", &verifier).await.1.contains("to be sampled"));
}

#[tokio::test]
async fn no_automatic_outcome_stands_before_a_person_has_confirmed_it() {
    let (served, mine) = Served::ended().await;
    loop {
        let page = served.page(&mine).await;
        let left = page.matches("Confirm: not met").count();
        let head = {
            let mut tx = served.fixture.begin().await;
            baywitness::store::entries::head(&mut tx, &served.fixture.centre, served.session).await.unwrap().hash
        };
        let form = [("password", PASSWORD), ("head", head.as_str())];
        if left == 0 {
            break;
        }
        let (status, page) = read(served.post(&served.at("signature"), &mine, &form).await).await;
        assert_eq!(status, StatusCode::CONFLICT, "{left} are not confirmed");
        assert!(page.contains("Nothing was signed"), "{page}");
        let open = page.split("<article").find(|card| card.contains("Confirm: not met")).unwrap();
        let criterion = open.split("name=\"criterion\" value=\"").nth(1).unwrap().split('"').next().unwrap();
        let (status, page) = served.say(&mine, criterion, "not_met", "").await;
        assert_eq!(status, StatusCode::SEE_OTHER, "confirming needs no reason: {page}");
    }
    served.settle(&mine).await;
}

#[tokio::test]
async fn overruling_needs_a_reason_and_marks_the_session_for_sampling() {
    let (served, mine) = Served::ended().await;
    let long = format!("{}x", "y".repeat(2_000));
    let (status, page) = served.say(&mine, "key", "met", &long).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(card(&page, "key").contains(&long), "what was typed is kept");
    assert_eq!(served.say(&mine, "key", "met", "").await.0, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(served.say(&mine, "key", "met", "It hung on their belt").await.0, StatusCode::SEE_OTHER);
    let verifier = served.signed_in(served.verifier).await;
    assert!(!served.get("/", &verifier).await.1.contains("to be sampled"), "not before the signature");
    served.settle(&mine).await;

    for page in ["/", "/sessions/all", &served.at("sheet")] {
        assert!(served.get(page, &verifier).await.1.contains("to be sampled"), "{page}");
    }
    for page in ["/", &served.at("sheet")] {
        assert!(!served.get(page, &mine).await.1.contains("to be sampled"), "the assessor is not told: {page}");
    }
    let (_, sheet) = served.get(&served.at("sheet"), &mine).await;
    let changed = sheet.split("Decided otherwise than worked out").nth(1).unwrap();
    let changed = changed.split("</section>").next().unwrap();
    assert!(changed.contains("instead of not met") && changed.contains("It hung on their belt"), "{changed}");
    let mut tx = served.fixture.begin().await;
    let gone = sqlx::query("DELETE FROM samples").execute(&mut *tx).await;
    assert!(gone.is_err(), "nobody takes the mark away");
}

#[tokio::test]
async fn without_overruling_nothing_is_sampled() {
    let (served, mine) = Served::ended().await;
    served.settle(&mine).await;
    let verifier = served.signed_in(served.verifier).await;
    for page in ["/", "/sessions/all", &served.at("sheet")] {
        assert!(!served.get(page, &verifier).await.1.contains("to be sampled"), "{page}");
    }
}

#[tokio::test]
async fn stepping_in_and_notes_get_their_words_here_and_what_was_tapped_stays() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    for acts in [
        r#"[{"kind":"started"}]"#,
        r#"[{"kind":"stepped_in","reason":"live_part"}]"#,
        r#"[{"kind":"remark","text":"To be put into words"}]"#,
        r#"[{"kind":"ended"}]"#,
    ] {
        served.wait(5);
        served.acts(&mine, acts).await;
    }
    let page = served.page(&mine).await;
    let acts = wordless(&page);
    assert_eq!(acts.len(), 2, "{page}");
    let count = served.count().await;
    for (words, keeps) in [(" ", " "), (&*"😀".repeat(2_001), &*"😀".repeat(2_001))] {
        let (status, page) = served.put(&mine, &acts[1], words).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.contains(&format!("value=\"{keeps}\"")) && page.contains("at most 2,000 characters"));
    }
    let verifier = served.signed_in(served.verifier).await;
    assert_eq!(served.put(&verifier, &acts[0], "no").await.0, StatusCode::FORBIDDEN);
    assert_eq!(served.put(&mine, &served.session.0.to_string(), "no").await.0, StatusCode::CONFLICT, "no such act");
    assert_eq!(served.count().await, count, "nothing of that was written");

    let note = "😀".repeat(2_000);
    assert_eq!(
        served.put(&mine, &acts[0], "Reached <b>behind</b> the cover").await,
        (StatusCode::SEE_OTHER, served.at("decide"))
    );
    assert_eq!(served.put(&mine, &acts[1], &note).await.0, StatusCode::SEE_OTHER);
    assert_eq!(served.put(&mine, &acts[1], "again").await.0, StatusCode::CONFLICT, "the struck one takes no words");
    assert_eq!(served.count().await, count + 4, "each is struck and recorded again");
    let page = served.page(&mine).await;
    assert!(wordless(&page).is_empty() && page.contains(&note));
    assert!(page.contains("Reached &#60;b&#62;behind&#60;/b&#62; the cover") && !page.contains("<b>behind"));
    let log = {
        let mut tx = served.fixture.begin().await;
        let (centre, task) = (&served.fixture.centre, &served.fixture.task);
        baywitness::store::entries::log_of(&mut tx, centre, served.session, served.assessor, task).await.unwrap()
    };
    let seen = log.observations();
    let times: Vec<u64> =
        seen.iter().filter(|one| matches!(one.act, Act::SteppedIn { .. })).map(|one| one.at_ms).collect();
    assert_eq!(times, [5_000, 5_000], "the words have the time of the tap");
    served.settle(&mine).await;
    let (_, sheet) = served.get(&served.at("sheet"), &mine).await;
    assert!(sheet.contains(&note) && sheet.contains("the cover"));
    assert_eq!(served.put(&mine, &acts[0], "late").await.0, StatusCode::CONFLICT, "not after the signature");
}

#[tokio::test]
async fn of_two_who_sign_at_once_one_signs() {
    let (served, mine) = Served::ended().await;
    served.decide_all(&mine).await;
    let again = served.signed_in(served.assessor).await;
    let other = served.signed_in(served.other).await;
    let head = served.shown_head(&mine).await;
    let form = [("password", PASSWORD), ("head", head.as_str())];
    let at = served.at("signature");
    let (one, two, three) =
        tokio::join!(served.post(&at, &mine, &form), served.post(&at, &again, &form), served.post(&at, &other, &form));
    let mut both = [one.status().as_u16(), two.status().as_u16()];
    both.sort_unstable();
    assert_eq!(both, [200, 409], "two browsers of the assessor's");
    assert!(matches!(three.status(), StatusCode::FORBIDDEN | StatusCode::NOT_FOUND), "{}", three.status());
    let mut tx = served.fixture.begin().await;
    let lines: Vec<String> = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 AND kind = 'outcome'")
        .bind(served.session.0)
        .fetch_all(&mut *tx)
        .await
        .unwrap();
    assert_eq!(lines.len(), 1);
}

#[tokio::test]
async fn signing_waits_for_what_lies_unsent_on_another_tablet() {
    let (served, mine) = Served::ended().await;
    let (mut here, mut there) = (Tablet::new("tablet-1"), Tablet::new("tablet-2"));
    let seen = here.seen(4_000, &blocked());
    here.tell(&served, &mine, &[seen]).await;
    let unsent = there.seen(5_000, &json!({"kind": "view_clear"}));
    there.tell(&served, &mine, &[]).await;
    served.decide_all(&mine).await;
    let page = served.page(&mine).await;
    assert!(page.contains("Wait for number 1 of tablet-2, or say why.") && !page.contains("Sign the result"), "{page}");
    assert!(!page.contains("of tablet-1, or say why"));
    let head = {
        let mut tx = served.fixture.begin().await;
        baywitness::store::entries::head(&mut tx, &served.fixture.centre, served.session).await.unwrap().hash
    };
    let early = served.post(&served.at("signature"), &mine, &[("password", PASSWORD), ("head", &head)]).await;
    assert_eq!(early.status(), StatusCode::CONFLICT);
    there.tell(&served, &mine, &[unsent]).await;
    served.settle(&mine).await;
}
