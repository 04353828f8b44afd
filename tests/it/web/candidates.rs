//! Candidates in the browser: added, found, changed, with names as people write them.

use super::{Served, location};
use reqwest::StatusCode;

fn form<'f>(name: &'f str, reference: &'f str) -> Vec<(&'f str, &'f str)> {
    vec![("name", name), ("reference", reference), ("extra_percent", "25"), ("reader", "on")]
}

/// Names that programs trip over; common practice, no source.
const NAMES: [&str; 8] = [
    "Sukarno",
    "Ng",
    "O’Brien-Ní Dhomhnaill",
    "Zażółć Gęślą",
    "محمد بن عبد الله",
    "李小龍",
    "=1+1",
    "<b>Bold</b> & \"Quoted\"",
];

#[tokio::test]
async fn names_are_kept_as_people_write_them_and_found_by_any_word() {
    let served = Served::new().await;
    let manager = served.signed_in(served.manager().await).await;
    for (at, name) in NAMES.iter().enumerate() {
        let reference = format!("N-{at}");
        let added = served.post("/candidates", &manager, &form(name, &reference)).await;
        assert_eq!(added.status(), StatusCode::SEE_OTHER, "{name}");
        let (status, page) = served.get(&location(&added), &manager).await;
        assert_eq!(status, StatusCode::OK);
        let shown = name.replace('&', "&#38;").replace('<', "&#60;").replace('>', "&#62;").replace('"', "&#34;");
        assert!(page.contains(&format!("<h1><bdi>{shown}</bdi></h1>")), "{name} in {page}");
        assert!(page.contains("25 % more time"), "{page}");
    }
    let (_, found) = served.get("/candidates?find=dhomh", &manager).await;
    assert!(found.contains("O’Brien-Ní Dhomhnaill") && !found.contains("Sukarno"), "{found}");
    let (_, none) = served.get("/candidates?find=nobody-at-all", &manager).await;
    assert!(none.contains("Nobody is found"), "{none}");
}

#[tokio::test]
async fn a_form_with_faults_keeps_what_was_typed_and_adds_nobody() {
    let served = Served::new().await;
    let manager = served.signed_in(served.manager().await).await;
    let long = "é".repeat(201);
    for (name, reference, field) in [("", "R-1", "name"), (long.as_str(), "R-1", "name"), ("Fine", "", "reference")] {
        let refused = served.post("/candidates", &manager, &form(name, reference)).await;
        assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
        let page = refused.text().await.unwrap();
        assert!(page.contains(&format!("id=\"{field}-fault\"")), "{page}");
        assert!(page.contains("value=\"25\""), "what was typed is gone: {page}");
    }
    let taken = served.post("/candidates", &manager, &form("Somebody Else", "REG-0042")).await;
    assert_eq!(taken.status(), StatusCode::CONFLICT);
    assert!(taken.text().await.unwrap().contains("Another candidate has this reference"));
    let (_, list) = served.get("/candidates", &manager).await;
    assert!(!list.contains("Somebody Else") && !list.contains("Fine"), "{list}");
}

#[tokio::test]
async fn details_are_changed_and_the_candidates_sessions_are_listed() {
    let served = Served::new().await;
    let manager = served.signed_in(served.manager().await).await;
    let at = format!("/candidates/{}", served.fixture.candidate.0);
    let (_, before) = served.get(&at, &manager).await;
    assert!(before.contains("Zoë Invented") && before.contains(&format!("/sessions/{}", served.session.0)), "{before}");
    let changed = served.post(&at, &manager, &form("Zoë Married (invented)", "REG-0042")).await;
    assert_eq!(changed.status(), StatusCode::SEE_OTHER);
    let (_, after) = served.get(&at, &manager).await;
    assert!(after.contains("Zoë Married (invented)") && after.contains("a reader"), "{after}");
    assert!(served.deeds().await.iter().any(|(what, _)| what == "candidate_changed"));
}
