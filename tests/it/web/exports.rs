//! Exports over the pages: asked for, made, fetched, listed, refused.

use super::{PASSWORD, Served, location, read};
use crate::exports::{FLAWLESS, signed};
use crate::support::centre::NOW;
use baywitness::store::exports::{self, Depth, End, Filter, Listed};
use reqwest::header::{CONTENT_DISPOSITION, CONTENT_RANGE, CONTENT_TYPE, COOKIE, RANGE};
use reqwest::{Method, StatusCode};
use std::time::Duration;
use time::macros::date;

const ASKED: [(&str, &str); 5] = [
    ("format", "csv-data"),
    ("from", "2027-02-01"),
    ("to", "2027-02-28"),
    ("column-candidate_ref", "on"),
    ("column-verdict", "on"),
];

/// With two passes signed.
async fn served() -> (Served, String) {
    let served = Served::new().await;
    for name in ["=1+1", "Zażółć"] {
        signed(&served.fixture, name, FLAWLESS, NOW).await;
    }
    let cookie = served.signed_in(served.verifier).await;
    (served, cookie)
}

async fn listed(served: &Served) -> Vec<Listed> {
    let mut tx = served.fixture.begin().await;
    exports::list(&mut tx, &served.fixture.centre, None, 10).await.unwrap()
}

/// Waits for the export to end, and answers its page.
pub async fn ended(served: &Served, cookie: &str, page: &str) -> String {
    for _ in 0..500 {
        let (status, text) = served.get(page, cookie).await;
        assert_eq!(status, StatusCode::OK);
        if !text.contains("data-running") {
            return text;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("the export does not end");
}

/// The address behind a link that holds this.
pub fn link(page: &str, holds: &str) -> String {
    let at = page.find(holds).unwrap_or_else(|| panic!("{holds} in {page}"));
    let from = page[..at].rfind("href=\"").unwrap() + 6;
    page[from..].split('"').next().unwrap().to_owned()
}

#[tokio::test]
async fn an_export_is_made_fetched_whole_and_in_parts_and_listed() {
    let (served, cookie) = served().await;
    let (status, form) = served.get("/exports", &cookie).await;
    assert_eq!(status, StatusCode::OK);
    assert!(form.contains("Nothing has been exported yet") && !form.contains("type=\"password\""));
    assert!(!form.contains("name=\"names\" type=\"checkbox\" value=\"on\" checked"), "names are off");
    let answer = served.post("/exports", &cookie, &ASKED).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    let page = location(&answer);
    let text = ended(&served, &cookie, &page).await;
    assert!(text.contains("finished") && text.contains("csv") || text.contains("CSV"), "{text}");

    let file = link(&text, "/file?key=");
    let whole =
        served.ask(Method::GET, &file).header(COOKIE, &cookie).header("accept-encoding", "gzip").send().await.unwrap();
    assert_eq!(whole.status(), StatusCode::OK);
    assert_eq!(whole.headers()[CONTENT_TYPE], "text/csv; charset=utf-8");
    let expected = "attachment; filename=\"northgate-2027-02-01-2027-02-28-results-data.csv\"";
    assert_eq!(whole.headers()[CONTENT_DISPOSITION], expected);
    let whole = whole.text().await.unwrap();
    assert!(whole.starts_with("candidate_ref,verdict\r\nREG-") && whole.matches(",pass\r\n").count() == 2, "{whole}");
    let part = served.ask(Method::GET, &file).header(COOKIE, &cookie).header(RANGE, "bytes=10-").send().await.unwrap();
    assert_eq!(part.status(), StatusCode::PARTIAL_CONTENT);
    assert_eq!(part.headers()[CONTENT_RANGE], format!("bytes 10-{}/{}", whole.len() - 1, whole.len()));
    assert_eq!(part.text().await.unwrap(), whole[10..]);
    let (status, schema) = served.get(&link(&text, "/schema?key="), &cookie).await;
    assert!(status == StatusCode::OK && schema.contains("\"verdict\""), "{schema}");

    let (_, list) = served.get("/exports", &cookie).await;
    for part in ["vera (invented)", "Results, CSV for another program", "without names", "finished"] {
        assert!(list.contains(part), "{part} in {list}");
    }
    // The columns are those chosen last.
    assert!(list.contains("name=\"column-verdict\" type=\"checkbox\" value=\"on\" checked"));
    assert!(!list.contains("name=\"column-marks\" type=\"checkbox\" value=\"on\" checked"));
    let [one] = &listed(&served).await[..] else { panic!("one record") };
    assert_eq!((one.by, one.ended.unwrap().how, one.ended.unwrap().rows), (Some(served.verifier), End::Finished, 2));
}

#[tokio::test]
async fn with_an_old_sign_in_the_password_is_asked_for_again_and_nothing_leaves_without_it() {
    let (served, cookie) = served().await;
    served.wait(301);
    assert!(served.get("/exports", &cookie).await.1.contains("type=\"password\""));
    for password in [None, Some("not the right one")] {
        let mut form = ASKED.to_vec();
        form.extend(password.map(|password| ("password", password)));
        let (status, text) = read(served.post("/exports", &cookie, &form).await).await;
        assert_eq!(status, StatusCode::FORBIDDEN);
        assert!(text.contains("That is not your password. Nothing was exported."), "{text}");
        assert!(text.contains("value=\"2027-02-28\""), "what was typed is kept");
    }
    assert!(listed(&served).await.is_empty());
    let mut form = ASKED.to_vec();
    form.push(("password", PASSWORD));
    let answer = served.post("/exports", &cookie, &form).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    let text = ended(&served, &cookie, &location(&answer)).await;
    // Whoever comes to an unlocked screen finds the export, and the way to its file only with the password.
    let bare = location(&answer).split('?').next().unwrap().to_owned();
    let (_, asked) = served.get(&bare, &cookie).await;
    assert!(!asked.contains("/file?key=") && asked.contains("type=\"password\""), "{asked}");
    let key = format!("{bare}/key");
    let (status, text_again) = read(served.post(&key, &cookie, &[("password", "no")]).await).await;
    assert!(status == StatusCode::FORBIDDEN && text_again.contains("That is not your password"), "{text_again}");
    let opened = served.post(&key, &cookie, &[("password", PASSWORD)]).await;
    assert_eq!(location(&opened), location(&answer));
    assert_eq!(served.get(&format!("{bare}/file"), &cookie).await.0, StatusCode::NOT_FOUND);
    assert_eq!(served.get(&format!("{bare}/file?key=00"), &cookie).await.0, StatusCode::NOT_FOUND);
    // Not even with the key does somebody else get it.
    let other = served.fixture.assessor;
    let others = served.signed_in(other).await;
    assert_eq!(served.get(&link(&text, "/file?key="), &others).await.0, StatusCode::NOT_FOUND);
    let (_, page) = served.get(&location(&answer), &others).await;
    assert!(!page.contains("/file?key=") && page.contains("Only the person who made an export"), "{page}");
    assert_eq!(read(served.post(&key, &others, &[]).await).await.0, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn what_makes_no_sense_is_said_beside_the_field_and_noted_nowhere() {
    let (served, cookie) = served().await;
    let cases: [(&[(&str, &str)], &str); 6] = [
        (&[("format", "csv-data"), ("from", "2027-03-01"), ("to", "2027-02-01"), ("column-marks", "on")], "to-fault"),
        (&[("format", "csv-data"), ("from", "2027-02-30"), ("to", "2027-03-01"), ("column-marks", "on")], "from-fault"),
        (&[("format", "parchment"), ("from", "2027-02-01"), ("to", "2027-03-01")], "format-fault"),
        (&[("format", "csv-data"), ("from", "2027-02-01"), ("to", "2027-03-01")], "columns-fault"),
        (&[("format", "ics"), ("from", "2027-02-01"), ("to", "2027-03-01"), ("names", "on")], "names-fault"),
        (&[("format", "json"), ("from", "2027-02-01"), ("to", "2027-03-01"), ("assessor", "99")], "assessor-fault"),
    ];
    for (form, fault) in cases {
        let (status, text) = read(served.post("/exports", &cookie, form).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{fault}");
        assert!(text.contains(&format!("id=\"{fault}\"")), "{fault} in {text}");
        assert!(form.iter().filter(|(name, _)| *name == "to").all(|(_, day)| text.contains(day)), "{fault}");
    }
    assert!(listed(&served).await.is_empty());
    let (status, _) = served.get(&format!("/exports/{}", uuid::Uuid::nil()), &cookie).await;
    assert_eq!(status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn while_one_export_runs_the_next_one_waits_outside_and_cancelling_leaves_no_file() {
    let (served, cookie) = served().await;
    let filter =
        Filter { from: date!(2027 - 02 - 01), to: date!(2027 - 02 - 28), task: None, assessor: None, outcome: None };
    let (store, centre) = (&served.fixture.db.store, &served.fixture.centre);
    let running = store.read_export(centre, &filter, Depth::Row, false).await.unwrap().unwrap();
    let (status, text) = read(served.post("/exports", &cookie, &ASKED).await).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(text.contains("Another export of your centre is running"), "{text}");
    running.end().await;
    let answer = served.post("/exports", &cookie, &ASKED).await;
    let page = location(&answer);
    let id = page.strip_prefix("/exports/").unwrap().split('?').next().unwrap();
    let cancelled = served.post(&format!("/exports/{id}/cancel"), &cookie, &[]).await;
    assert_eq!((cancelled.status(), location(&cancelled)), (StatusCode::SEE_OTHER, format!("/exports/{id}")));
    let text = ended(&served, &cookie, &page).await;
    let [one] = &listed(&served).await[..] else { panic!("one record") };
    let files = std::fs::read_dir(served.data.join("exports")).unwrap().count();
    // It may have ended before it was told to stop; then the file is there, whole.
    match one.ended.unwrap().how {
        End::Cancelled => assert!(files == 0 && text.contains("It was cancelled. No file is left."), "{text}"),
        End::Finished => assert_eq!(files, 1),
        End::Failed => panic!("{text}"),
    }
}

#[tokio::test]
async fn of_many_exports_asked_for_at_once_one_is_made_and_marking_goes_on() {
    let (served, cookie) = served().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let asked = (0..20).map(|_| served.post("/exports", &cookie, &ASKED));
    let marking = async {
        for _ in 0..5 {
            let answer = served.post(&served.at("acts"), &mine, &[("acts", r#"[{"kind":"view_blocked"}]"#)]).await;
            assert!(answer.status().is_success() || answer.status().is_redirection(), "{}", answer.status());
        }
    };
    let (answers, ()) = tokio::join!(futures_util::future::join_all(asked), marking);
    let made = answers.iter().filter(|answer| answer.status() == StatusCode::SEE_OTHER).count();
    let refused = answers.iter().filter(|answer| answer.status() == StatusCode::CONFLICT).count();
    assert!(made >= 1 && made + refused == 20, "{made} made, {refused} refused");
    assert_eq!(listed(&served).await.len(), made, "each has exactly one record");
}
