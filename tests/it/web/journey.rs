//! One session from the bay check to the result sheet, without a script.

use super::{PASSWORD, Served, location, read};
use reqwest::StatusCode;

impl Served {
    /// One tap on the plain page.
    async fn tap(&self, cookie: &str, acts: &str) {
        self.wait(5);
        let answer = self.post(&self.at("acts"), cookie, &[("acts", acts)]).await;
        let (status, to) = (answer.status(), location(&answer));
        assert_eq!((status, to), (StatusCode::SEE_OTHER, self.at("marking")), "{acts}: {}", read(answer).await.1);
    }

    /// Starts and ends, with the key left in the lock between.
    pub async fn short_attempt(&self, cookie: &str) {
        self.open(cookie).await;
        for acts in [
            r#"[{"kind":"started"}]"#,
            r#"[{"kind":"permission_asked","circuit":"stairs"},{"kind":"permission_given","circuit":"stairs"}]"#,
            r#"[{"kind":"locked","item":"pl-a","device":"Q2","holds":true}]"#,
            r#"[{"kind":"key","item":"key-a","place":"in_lock"}]"#,
            r#"[{"kind":"ended"}]"#,
        ] {
            self.tap(cookie, acts).await;
        }
    }

    /// Confirms every proposed automatic fail and judges what is open.
    pub async fn decide_all(&self, cookie: &str) {
        for _ in 0..40 {
            let (_, page) = self.get(&self.at("decide"), cookie).await;
            let Some(open) = page.split("<article").find(|card| card.contains("needs you")) else { return };
            let criterion = open.split("name=\"criterion\" value=\"").nth(1).unwrap().split('"').next().unwrap();
            let to = if open.contains("/ticks") { "ticks" } else { "decisions" };
            let word = [("criterion", criterion), ("outcome", "not_met"), ("reason", "as I saw it")];
            let answer = self.post(&self.at(to), cookie, &word).await;
            assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{criterion}");
        }
        panic!("something stays open");
    }

    /// The head that the decide page would sign.
    pub async fn shown_head(&self, cookie: &str) -> String {
        let (_, page) = self.get(&self.at("decide"), cookie).await;
        let after = page.split("name=\"head\" value=\"").nth(1).expect("a form to sign");
        after.split('"').next().unwrap().to_owned()
    }
}

#[tokio::test]
async fn the_bay_check_wants_all_three_ticks() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let (_, page) = served.get(&format!("/sessions/{}", served.session.0), &mine).await;
    for part in ["Zoë Invented", "bare tips 14 mm", "Read this out", "not a permit to work"] {
        assert!(page.contains(part), "{part}");
    }
    let answer = served.post(&served.at("check"), &mine, &[("bay", "on"), ("candidate", "known")]).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(served.count().await, 0);
    served.open(&mine).await;
    served.open(&mine).await;
    assert_eq!(served.count().await, 1);
}

#[tokio::test]
async fn a_correction_without_a_script_takes_the_time_of_what_it_corrects() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    served.tap(&mine, r#"[{"kind":"started"}]"#).await;
    served.tap(&mine, r#"[{"kind":"tested","point":"lamp","first":"E","second":"N","reading":"none"}]"#).await;
    let (_, page) = served.get(&served.at("marking"), &mine).await;
    let chip = page.split("<button").find(|one| one.contains("Reads live")).unwrap();
    let acts = chip.split("value=\"").nth(1).unwrap().split('"').next().unwrap().replace("&#34;", "\"");
    served.tap(&mine, &acts).await;
    let (_, page) = served.get(&served.at("marking"), &mine).await;
    let last = page.split("id=\"last-says\"").nth(1).unwrap();
    assert!(last.contains("Tested E then N: live</span> · <bdi dir=\"ltr\">00:05</bdi>"), "{}", &last[..120]);
}

#[tokio::test]
async fn what_makes_no_sense_is_refused_and_nothing_is_written() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    for acts in ["", "{}", "[]", "[1]", r#"[{"kind":"flew"}]"#, r#"[{"kind":"started"},{"kind":"picked","item":"no"}]"#]
    {
        let (status, page) = read(served.post(&served.at("acts"), &mine, &[("acts", acts)]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{acts}");
        assert!(page.contains("Nothing was changed"));
    }
    assert_eq!(served.count().await, 1);
}

#[tokio::test]
async fn signing_wants_the_password_everything_decided_and_the_record_as_shown() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    let head = "0".repeat(64);
    let early = served.post(&served.at("signature"), &mine, &[("password", PASSWORD), ("head", &head)]).await;
    assert_eq!(early.status(), StatusCode::CONFLICT);
    served.decide_all(&mine).await;
    let head = served.shown_head(&mine).await;
    let wrong = served.post(&served.at("signature"), &mine, &[("password", "guess"), ("head", &head)]).await;
    let (status, page) = read(wrong).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(page.contains("That is not your password"));
    let stale = [("password", PASSWORD), ("head", "1111")];
    assert_eq!(served.post(&served.at("signature"), &mine, &stale).await.status(), StatusCode::CONFLICT);
    let answer = served.post(&served.at("signature"), &mine, &[("password", PASSWORD), ("head", &head)]).await;
    assert_eq!(answer.status(), StatusCode::OK);
    let again = served.post(&served.at("signature"), &mine, &[("password", PASSWORD), ("head", &head)]).await;
    assert_eq!(again.status(), StatusCode::CONFLICT);
}

#[tokio::test]
async fn an_overruled_finding_needs_a_reason() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    let bare = [("criterion", "key"), ("outcome", "met"), ("reason", " ")];
    let (status, page) = read(served.post(&served.at("decisions"), &mine, &bare).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("needs a reason"));
    let said = [("criterion", "key"), ("outcome", "met"), ("reason", "<b>It was in their hand</b>")];
    assert_eq!(served.post(&served.at("decisions"), &mine, &said).await.status(), StatusCode::SEE_OTHER);
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(!page.contains("<b>It was") && page.contains("&#60;b&#62;It was in their hand"));
}

#[tokio::test]
async fn the_sheet_says_what_was_signed_and_by_whom() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    served.decide_all(&mine).await;
    let head = served.shown_head(&mine).await;
    served.post(&served.at("signature"), &mine, &[("password", PASSWORD), ("head", &head)]).await;
    let verifier = served.signed_in(served.verifier).await;
    for (who, links) in [(&mine, true), (&verifier, false)] {
        let (status, sheet) = served.get(&served.at("sheet"), who).await;
        assert_eq!(status, StatusCode::OK);
        for part in ["The candidate did not pass", "automatic fail", "Zoë Invented", "kim (invented)", "Evidence code"]
        {
            assert!(sheet.contains(part), "{part}");
        }
        assert_eq!(sheet.contains("Make a new link"), links);
    }
    let late = served.post(&served.at("acts"), &mine, &[("acts", r#"[{"kind":"view_blocked"}]"#)]).await;
    assert_eq!(late.status(), StatusCode::UNPROCESSABLE_ENTITY);
}
