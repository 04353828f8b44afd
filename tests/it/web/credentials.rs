//! Lists of the credentials that are called back: W3C Bitstring Status List 1.0, read by a program made by others.

use super::exports::{ended, link};
use super::{Served, location, read};
use crate::exports::amended::{all_met, amend};
use crate::exports::{FLAWLESS, LONG_TIPS, signed};
use crate::support::centre::NOW;
use crate::support::outside::{node, python};
use baywitness::export::row::moment;
use baywitness::marking::decision::Standing;
use baywitness::marking::{Fails, Outcome, VerdictOutcome};
use reqwest::header::{CACHE_CONTROL, CONTENT_TYPE, COOKIE};
use reqwest::{Method, StatusCode};
use std::path::PathBuf;
use time::Duration;

/// Where the service is for everybody outside.
const HERE: &str = "https://bay.test";

impl Served {
    /// The credentials that are exported now, one a line, in a file.
    async fn credentials(&self, cookie: &str) -> PathBuf {
        let asked = [("format", "badges"), ("from", "2027-02-01"), ("to", "2027-02-28")];
        let page = location(&self.post("/exports", cookie, &asked).await);
        let text = ended(self, cookie, &page).await;
        let file = self.ask(Method::GET, &link(&text, "/file?key=")).header(COOKIE, cookie).send().await.unwrap();
        let path = self.data.join("credentials.jwt.txt");
        std::fs::write(&path, file.text().await.unwrap()).unwrap();
        path
    }

    /// The first list, as anybody gets it, in a file.
    async fn called_back(&self) -> PathBuf {
        let answer = self.ask_from_outside(Method::GET, "/credentials/northgate/0").send().await.unwrap();
        assert_eq!(answer.status(), StatusCode::OK);
        assert_eq!(answer.headers()[CONTENT_TYPE], "application/vc+jwt");
        assert_eq!(answer.headers()[CACHE_CONTROL], "public, max-age=300");
        let path = self.data.join("list.jwt");
        std::fs::write(&path, answer.text().await.unwrap()).unwrap();
        path
    }

    /// What a verifier says of each credential, with the list as it is now.
    async fn said(&self, credentials: &str) -> Vec<String> {
        let list = self.called_back().await;
        let list = list.to_str().unwrap();
        let address = format!("{HERE}/credentials/northgate/0");
        let said = python("called_back.py", &[&moment(self.now()), credentials, &address, list]);
        assert_eq!(node("credentials.mjs", &[list]).trim(), "1", "its terms are those of the context");
        said.lines().map(str::to_owned).collect()
    }
}

#[tokio::test]
async fn a_credential_is_called_back_once_a_review_changed_the_verdict_and_the_others_stand() {
    let served = Served::behind(HERE).await;
    let mut sessions = Vec::new();
    for (at, log) in [FLAWLESS, LONG_TIPS, FLAWLESS, FLAWLESS].into_iter().enumerate() {
        sessions.push(signed(&served.fixture, "Ng", log, NOW + Duration::hours(at as i64)).await);
    }
    served.wait(4 * 86_400);
    let cookie = served.signed_in(served.verifier).await;
    let credentials = served.credentials(&cookie).await;
    let credentials = credentials.to_str().unwrap();
    assert_eq!(served.said(credentials).await, ["stands"; 3]);

    let outcome = amend(&served.fixture, sessions[2], served.verifier, |_| Some(Outcome::NotMet)).await;
    assert_eq!(outcome, VerdictOutcome::AutomaticFail);
    assert_eq!(served.said(credentials).await, ["stands", "called back", "stands"]);

    // A verdict that became a pass has a credential of its own; what was called back is not made again.
    amend(&served.fixture, sessions[1], served.verifier, all_met).await;
    let before = std::fs::read_to_string(credentials).unwrap();
    let before: Vec<&str> = before.lines().collect();
    let credentials = served.credentials(&cookie).await;
    let now = std::fs::read_to_string(&credentials).unwrap();
    let now: Vec<&str> = now.lines().collect();
    assert_eq!((now.len(), now[0], now[1]), (3, before[0], before[2]), "those that stand are the same");
    assert_eq!(served.said(credentials.to_str().unwrap()).await, ["stands"; 3]);
}

#[tokio::test]
async fn a_pass_that_stays_one_after_a_review_has_a_new_credential_and_the_old_one_is_called_back() {
    let served = Served::behind(HERE).await;
    let session = signed(&served.fixture, "Ng", FLAWLESS, NOW).await;
    served.wait(4 * 86_400);
    let cookie = served.signed_in(served.verifier).await;
    let first = std::fs::read_to_string(served.credentials(&cookie).await).unwrap();
    let ordinary = |one: &Standing| (one.proposed.fails == Fails::Ordinary).then_some(Outcome::NotApplicable);
    assert_eq!(amend(&served.fixture, session, served.verifier, ordinary).await, VerdictOutcome::Pass);
    let second = std::fs::read_to_string(served.credentials(&cookie).await).unwrap();
    let both = served.data.join("both.txt");
    std::fs::write(&both, format!("{first}{second}")).unwrap();
    assert_eq!(served.said(both.to_str().unwrap()).await, ["called back", "stands"]);
}

#[tokio::test]
async fn lists_that_are_not_there_and_centres_that_are_not_there_look_alike() {
    let served = Served::new().await;
    assert_eq!(served.get("/credentials/northgate/0", "").await.0, StatusCode::NOT_FOUND, "no pass yet");
    signed(&served.fixture, "Ng", FLAWLESS, NOW).await;
    assert_eq!(served.get("/credentials/northgate/0", "").await.0, StatusCode::OK);
    let wrong = ["northgate/1", "northgate/00", "northgate/+0", "northgate/-1", "northgate/4294967295", "elsewhere/0"];
    for wrong in wrong {
        let answer = served.ask_from_outside(Method::GET, &format!("/credentials/{wrong}")).send().await.unwrap();
        let (status, page) = read(answer).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{wrong}");
        assert!(page.contains("There is no such"), "{wrong}: {page}");
    }
}

#[tokio::test]
async fn a_credential_names_no_list_where_nobody_outside_could_fetch_it() {
    let served = Served::new().await;
    signed(&served.fixture, "Ng", FLAWLESS, NOW).await;
    let cookie = served.signed_in(served.verifier).await;
    let credentials = served.credentials(&cookie).await;
    let claims = python("credentials.py", &[credentials.to_str().unwrap()]);
    assert!(claims.contains("\"achievement\"") && !claims.contains("credentialStatus"), "{claims}");
}
