//! The pages of candidates: listed, found, added, changed.

use super::{Served, location, read};
use crate::support::centre::{NOW, new_id};
use baywitness::candidates::Details;
use baywitness::store::CandidateId;
use baywitness::store::candidates;
use reqwest::StatusCode;

impl Served {
    /// A manager of the centre, signed in.
    pub async fn managing(&self) -> String {
        self.signed_in(self.fixture.assessor).await
    }

    /// How many candidates the centre has.
    pub async fn candidates(&self) -> usize {
        let mut tx = self.fixture.begin().await;
        candidates::search(&mut tx, &self.fixture.centre, "", None, 100_000).await.unwrap().len()
    }
}

/// What the form sends, with this name and reference.
fn form<'f>(name: &'f str, reference: &'f str, more: &[(&'f str, &'f str)]) -> Vec<(&'f str, &'f str)> {
    [("name", name), ("reference", reference)].into_iter().chain(more.iter().copied()).collect()
}

#[tokio::test]
async fn a_candidate_is_added_found_shown_and_changed() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let more = [("extra_percent", "25"), ("reader", "on"), ("called", "Máire"), ("other", "a stool")];
    let answer = served.post("/candidates", &mine, &form(" O’Brien-Ní Dhomhnaill ", "R-1", &more)).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    let page = location(&answer);
    let (status, shown) = served.get(&page, &mine).await;
    assert_eq!(status, StatusCode::OK);
    for part in ["<bdi>O’Brien-Ní Dhomhnaill</bdi>", "R-1", "25 % more time", "a reader", "a stool", "Máire"] {
        assert!(shown.contains(part), "{part}");
    }
    for find in ["dhom", "OBRIEN", "r-1", "maire"] {
        let (_, list) = served.get(&format!("/candidates?find={find}"), &mine).await;
        assert!(list.contains(&page) && !list.contains("REG-0042"), "{find}");
    }
    let (_, change) = served.get(&format!("{page}/change"), &mine).await;
    assert!(change.contains("value=\"O’Brien-Ní Dhomhnaill\"") && change.contains("value=\"25\""));
    let answer = served.post(&page, &mine, &form("Sukarno", "R-2", &[])).await;
    assert_eq!((answer.status(), location(&answer)), (StatusCode::SEE_OTHER, page.clone()));
    let (_, shown) = served.get(&page, &mine).await;
    assert!(shown.contains("Sukarno") && shown.contains("none agreed") && !shown.contains("Dhomhnaill"));
}

#[tokio::test]
async fn bad_input_is_told_beside_its_field_keeps_what_was_typed_and_adds_nothing() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let before = served.candidates().await;
    let long = "é".repeat(201);
    let cases: [(&[(&str, &str)], &str); 5] = [
        (&[("name", ""), ("reference", "kept-typed")], "name"),
        (&[("name", &long), ("reference", "kept-typed")], "name"),
        (&[("name", "A"), ("reference", "kept-typed"), ("extra_percent", "a quarter")], "extra_percent"),
        (&[("name", "A"), ("reference", "kept-typed"), ("extra_minutes", "601")], "extra_minutes"),
        (&[("name", "A\u{7}"), ("reference", "kept-typed")], "name"),
    ];
    for (form, field) in cases {
        let (status, page) = read(served.post("/candidates", &mine, form).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{form:?}");
        assert!(page.contains(&format!("id=\"{field}-fault\"")) && page.contains("value=\"kept-typed\""), "{form:?}");
    }
    let (status, page) = read(served.post("/candidates", &mine, &form("Twin", "REG-0042", &[])).await).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(page.contains("id=\"reference-fault\"") && page.contains("value=\"Twin\""));
    let (status, _) = read(served.post("/candidates", &mine, &form("A", "B", &[("centre_id", "x")])).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(served.candidates().await, before);
}

#[tokio::test]
async fn a_change_to_a_reference_that_is_taken_is_refused_beside_the_field() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let page = location(&served.post("/candidates", &mine, &form("A", "R-1", &[])).await);
    let (status, shown) = read(served.post(&page, &mine, &form("Anders", "REG-0042", &[])).await).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(shown.contains("id=\"reference-fault\"") && shown.contains("value=\"Anders\""));
    assert!(!served.get(&page, &mine).await.1.contains("Anders"));
}

#[tokio::test]
async fn a_verifier_reads_and_writes_nothing_and_an_assessor_does_neither() {
    let served = Served::new().await;
    let (verifier, assessor) = (served.signed_in(served.verifier).await, served.signed_in(served.assessor).await);
    let page = format!("/candidates/{}", served.fixture.candidate.0);
    let (status, shown) = served.get(&page, &verifier).await;
    assert!(status == StatusCode::OK && shown.contains("Zoë Invented") && !shown.contains("/erasure"));
    let (_, list) = served.get("/candidates", &verifier).await;
    assert!(list.contains("Zoë Invented") && !list.contains("/candidates/new"));
    for (cookie, read_status) in [(&verifier, StatusCode::OK), (&assessor, StatusCode::FORBIDDEN)] {
        assert_eq!(served.get("/candidates", cookie).await.0, read_status);
        let answer = served.post("/candidates", cookie, &form("A", "B", &[])).await;
        assert_eq!(answer.status(), StatusCode::FORBIDDEN);
        assert_eq!(served.post(&page, cookie, &form("A", "B", &[])).await.status(), StatusCode::FORBIDDEN);
    }
}

#[tokio::test]
async fn the_list_goes_on_page_by_page_and_says_what_to_do_when_it_is_empty() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let mut tx = served.fixture.begin().await;
    let many: Vec<_> = (0..120)
        .map(|number| {
            (CandidateId(new_id()), Details::named(&format!("Person {number:03}"), &format!("P-{number:03}")))
        })
        .collect();
    assert!(candidates::add_all(&mut tx, &served.fixture.centre, &many, NOW).await.unwrap());
    tx.commit().await.unwrap();
    let (mut path, mut seen, mut pages) = (Some("/candidates?find=person".to_owned()), 0, 0);
    while let Some(here) = path {
        let (_, page) = served.get(&here, &mine).await;
        seen += page.matches("<bdi>Person ").count();
        pages += 1;
        path = page
            .split("rel=\"next\" href=\"")
            .nth(1)
            .map(|rest| rest.split('"').next().unwrap().replace("&amp;", "&").replace("&#38;", "&"));
    }
    assert_eq!((seen, pages), (120, 3));
    let (_, nobody) = served.get("/candidates?find=zzz", &mine).await;
    assert!(nobody.contains("Nobody is found") && nobody.contains("Show all"));
    let (_, script) = served.get("/candidates?find=%3Cscript%3E", &mine).await;
    assert!(!script.contains("<script>") && script.contains("&#60;script&#62;"));
}

#[tokio::test]
async fn what_was_done_is_noted_without_a_name() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let page = location(&served.post("/candidates", &mine, &form("Anneke", "R-1", &[])).await);
    served.post(&page, &mine, &form("Anneke B", "R-1", &[])).await;
    let mut tx = served.fixture.begin().await;
    let deeds = baywitness::store::deeds::page(&mut tx, &served.fixture.centre, None).await.unwrap();
    let done: Vec<_> = deeds.iter().map(|deed| deed.what.as_str()).collect();
    assert_eq!(done[..2], ["candidate_changed", "candidate_added"]);
    assert!(deeds.iter().all(|deed| !deed.about.contains("Anneke")));
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
    let manager = served.managing().await;
    for (at, name) in NAMES.iter().enumerate() {
        let reference = format!("N-{at}");
        let added = served.post("/candidates", &manager, &form(name, &reference, &[("extra_percent", "25")])).await;
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
