//! Records kept: the periods, what is due, holds and the report of runs, as a manager sees them.

use super::{PASSWORD, Served, location, read};
use baywitness::clock::Clock;
use baywitness::keeper::{self, Ran};
use baywitness::store::keeping::{self, Begin, Kind};
use baywitness::store::{erasures, feedback};
use reqwest::{Response, StatusCode};
use time::macros::datetime;
use time::{Duration, OffsetDateTime};

const PERIODS: [(&str, &str); 9] = [
    ("passes", "36"),
    ("fails", "24"),
    ("words", "12"),
    ("candidates", "48"),
    ("links", "6"),
    ("invitations", "3"),
    ("sign_ins", "1"),
    ("exports", "24"),
    ("deeds", "72"),
];

impl Served {
    async fn confirm(&self, cookie: &str, changed: &[(&str, &str)]) -> Response {
        let mut form = PERIODS.to_vec();
        for (field, value) in changed {
            form.retain(|(name, _)| name != field);
            form.push((field, value));
        }
        self.post("/centre/records/periods", cookie, &form).await
    }

    async fn keep_run(&self, at: OffsetDateTime) -> Ran {
        let clock = Clock::told(move || at);
        keeper::run(&self.fixture.db.store, &clock, &self.fixture.centre, Begin::Asked).await.unwrap()
    }

    fn hold_page(&self) -> String {
        format!("/candidates/{}/hold", self.fixture.candidate.0)
    }
}

async fn managed() -> (Served, String) {
    let served = Served::new().await;
    let manager = served.manager().await;
    let cookie = served.signed_in(manager).await;
    (served, cookie)
}

#[tokio::test]
async fn nothing_is_erased_until_a_manager_has_confirmed_the_periods() {
    let (served, mine) = managed().await;
    let (status, page) = served.get("/centre/records", &mine).await;
    assert_eq!(status, StatusCode::OK);
    for says in ["Nothing is erased by itself yet", "No hold is set", "There has been no run yet", "Sessions passed"] {
        assert!(page.contains(says), "{says} in {page}");
    }
    let (_, page) = served.get("/centre/records/periods", &mine).await;
    assert!(page.contains("name=\"fails\" type=\"number\" value=\"24\"") && page.contains("3 to 240."), "{page}");
    let answer = served.confirm(&mine, &[]).await;
    assert_eq!(location(&answer), "/centre/records?saved=yes");
    let (_, page) = served.get("/centre/records?saved=yes", &mine).await;
    assert!(page.contains("The periods are confirmed") && page.contains("mona (invented)"), "{page}");
    assert!(page.contains("12 months from the signature") && page.contains("1 month from their end"), "{page}");
    // What changed is noted, and that they were confirmed even where nothing changed.
    let noted = served.deeds().await;
    for about in ["months of words: 24 → 12", "months of candidates: 36 → 48"] {
        assert!(noted.iter().any(|(what, said)| what == "setting_changed" && said == about), "{about} in {noted:?}");
    }
    assert_eq!(noted.iter().filter(|(what, _)| what == "setting_changed").count(), 2);
    served.confirm(&mine, &[]).await;
    let noted = served.deeds().await;
    assert_eq!(noted.iter().filter(|(what, _)| what == "periods_confirmed").count(), 2);
    assert_eq!(noted.iter().filter(|(what, _)| what == "setting_changed").count(), 2);
}

#[tokio::test]
async fn a_period_that_makes_no_sense_is_said_beside_its_field_and_changes_nothing() {
    let (served, mine) = managed().await;
    let now = async || {
        let mut tx = served.fixture.begin().await;
        keeping::periods(&mut tx, &served.fixture.centre).await.unwrap().unwrap()
    };
    let before = now().await;
    let mut bad = Vec::new();
    for kind in Kind::ALL {
        let (least, most) = kind.bounds();
        bad.extend([(kind, (least - 1).to_string()), (kind, (most + 1).to_string()), (kind, "soon".to_owned())]);
        bad.extend([(kind, String::new()), (kind, "12.5".to_owned())]);
    }
    bad.extend([(Kind::Words, "37".to_owned()), (Kind::Links, "37".to_owned())]);
    for (kind, value) in bad {
        let field = kind.word();
        let (status, page) = read(served.confirm(&mine, &[(field, &value)]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {value}");
        assert!(page.contains(&format!("id=\"{field}-fault\"")), "{field} {value}: {page}");
        assert!(page.contains(&format!("value=\"{value}\"")), "what was typed stays: {field} {value}");
        assert_eq!(page.matches("-fault\"><span").count(), 1, "{field} {value}");
    }
    // Both ends are taken.
    let (status, page) = read(served.confirm(&mine, &[("passes", "x"), ("deeds", "11")]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("id=\"passes-fault\"") && page.contains("id=\"deeds-fault\""), "every fault at once");
    let (status, _) = read(served.confirm(&mine, &[("centre_id", "southgate")]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    served.wait(5 * 60);
    let (status, page) = read(served.confirm(&mine, &[]).await).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(page.contains("own_password") && page.contains("value=\"48\""), "{page}");
    assert_eq!(now().await, before);
    let ends = [("passes", "240"), ("fails", "3"), ("deeds", "12"), ("own_password", PASSWORD)];
    assert_eq!(served.confirm(&mine, &ends).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(now().await.0.of(Kind::Passes), 240);
}

#[tokio::test]
async fn what_is_due_is_told_by_month_listed_and_then_reported() {
    let (served, mine) = managed().await;
    served.signed_session().await;
    served.confirm(&mine, &[("fails", "3"), ("words", "2")]).await;
    let (_, page) = served.get("/centre/records", &mine).await;
    assert!(page.contains("April 2027") && page.contains("Words of sessions: 1"), "{page}");
    let link = "/centre/records/due?kind=fails&#38;month=2027-05";
    assert!(page.contains(link) && page.contains("Sessions not passed: 1"), "{page}");
    let (status, list) = served.get("/centre/records/due?kind=fails&month=2027-05", &mine).await;
    assert_eq!(status, StatusCode::OK);
    for says in ["Zoë Invented, Stairwell", "3 May 2027", "3 February 2027", "will go"] {
        assert!(list.contains(says), "{says} in {list}");
    }
    let (_, list) = served.get("/centre/records/due?kind=fails&month=2027-06", &mine).await;
    assert!(list.contains("Nothing is due"), "{list}");
    for nowhere in ["kind=entries&month=2027-05", "kind=fails&month=May", "kind=fails", "kind=fails&month=now&after=x"]
    {
        let (status, _) = served.get(&format!("/centre/records/due?{nowhere}"), &mine).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{nowhere}");
    }

    let Ran::Done { erased, .. } = served.keep_run(datetime!(2027-05-03 12:00 UTC)).await else { panic!("no run") };
    assert_eq!((erased.get(&Kind::Fails), erased.get(&Kind::Words)), (Some(&1), Some(&1)), "{erased:?}");
    served.wait(Duration::days(100).whole_seconds());
    let mut tx = served.fixture.begin().await;
    let manager: i32 =
        sqlx::query_scalar("SELECT number FROM staff WHERE sign_in_name = 'mona'").fetch_one(&mut *tx).await.unwrap();
    drop(tx);
    let mine = served.signed_in(baywitness::store::StaffNo(manager)).await;
    let (_, page) = served.get("/centre/records", &mine).await;
    let report = page.split("What was erased").nth(1).unwrap();
    assert!(report.contains("3 May 2027, 13:00") && report.contains("Sessions not passed: 1"), "{page}");
    let (_, record) = served.get("/centre/record", &mine).await;
    assert!(record.contains("The service erased what was due"), "{record}");
    // The session is nobody's and its pages still stand.
    let (status, shown) = served.get(&served.at("sheet"), &mine).await;
    assert!(status == StatusCode::OK && !shown.contains("Zoë") && shown.contains("erased"), "{shown}");
    let (status, list) = served.get("/candidates/erasures", &mine).await;
    assert!(status == StatusCode::OK && list.contains("Nobody was erased"), "a session is nobody");
}

#[tokio::test]
async fn a_list_goes_on_page_by_page_without_a_gap() {
    let (served, mine) = managed().await;
    let mut tx = served.fixture.begin().await;
    for n in 0..120u8 {
        // Many of one moment, so that going on must look at more than the time.
        let at = served.now() + Duration::seconds((n / 40).into());
        feedback::make_link(&mut tx, &served.fixture.centre, served.session, &[n; 32], &[1; 32], at).await.unwrap();
    }
    tx.commit().await.unwrap();
    let mut next = "/centre/records/due?kind=links&month=2027-08".to_owned();
    let mut pages = Vec::new();
    loop {
        let (status, page) = served.get(&next, &mine).await;
        assert_eq!(status, StatusCode::OK, "{next}");
        pages.push(page.matches("A feedback link").count());
        let Some((_, rest)) = page.split_once("href=\"/centre/records/due?") else { break };
        next = format!("/centre/records/due?{}", rest.split_once('"').unwrap().0.replace("&#38;", "&"));
    }
    assert_eq!(pages, [50, 50, 20]);
}

#[tokio::test]
async fn a_hold_is_set_and_lifted_by_a_manager_and_both_are_recorded() {
    let (served, mine) = managed().await;
    served.signed_session().await;
    served.confirm(&mine, &[("fails", "3"), ("words", "2"), ("candidates", "3"), ("sign_ins", "24")]).await;
    let path = served.hold_page();
    let (status, page) = served.get(&path, &mine).await;
    assert!(status == StatusCode::OK && page.contains("Zoë Invented") && page.contains("automatic fail"), "{page}");
    for (form, field) in [
        (vec![("what", "all"), ("why", "")], "why"),
        (vec![("what", "all"), ("why", "Zoë asked")], "why"),
        (vec![("what", "none"), ("why", "claim")], "what"),
    ] {
        let (status, page) = read(served.post(&path, &mine, &form).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{form:?}");
        assert!(page.contains(&format!("id=\"{field}-fault\"")), "{form:?}");
    }
    let other = uuid::Uuid::from_u128(7).to_string();
    let (status, page) = read(served.post(&path, &mine, &[("what", &other), ("why", "claim")]).await).await;
    assert!(status == StatusCode::CONFLICT && page.contains("id=\"what-fault\""), "not theirs");
    let session = served.session.0.to_string();
    let form = [("what", session.as_str()), ("why", "accident")];
    assert_eq!(location(&served.post(&path, &mine, &form).await), "/centre/records?held=yes");
    let (status, page) = read(served.post(&path, &mine, &form).await).await;
    assert!(status == StatusCode::CONFLICT && page.contains("held already"), "{page}");
    let (_, page) = served.get("/centre/records", &mine).await;
    assert!(page.contains("An accident or a near miss") && page.contains("/centre/records/holds/1"), "{page}");
    assert!(page.contains("1 held"), "{page}");
    let (_, list) = served.get("/centre/records/due?kind=fails&month=2027-05", &mine).await;
    assert!(list.contains("a hold is set"), "{list}");
    let (_, page) = served.get(&format!("/candidates/{}/erasure", served.fixture.candidate.0), &mine).await;
    assert!(page.contains("Their records are held: an accident"), "{page}");
    let Ran::Done { erased, .. } = served.keep_run(datetime!(2027-06-01 12:00 UTC)).await else { panic!("no run") };
    assert_eq!((erased.get(&Kind::Fails), erased.get(&Kind::Candidates)), (None, None), "{erased:?}");

    served.wait(5 * 60);
    let lift = "/centre/records/holds/1";
    assert!(served.get(lift, &mine).await.1.contains("own_password"));
    assert_eq!(served.post(lift, &mine, &[]).await.status(), StatusCode::FORBIDDEN);
    let wrong = served.post(lift, &mine, &[("own_password", "not the password")]).await;
    assert_eq!(wrong.status(), StatusCode::FORBIDDEN);
    let done = served.post(lift, &mine, &[("own_password", PASSWORD)]).await;
    assert_eq!(location(&done), "/centre/records?lifted=yes");
    assert_eq!(served.post(lift, &mine, &[]).await.status(), StatusCode::NOT_FOUND);
    assert_eq!(served.get(lift, &mine).await.0, StatusCode::NOT_FOUND);
    let noted = served.deeds().await;
    for about in [format!("hold 1, session {session}: accident"), "hold 1".to_owned()] {
        assert!(noted.iter().any(|(_, said)| *said == about), "{about} in {noted:?}");
    }
    let (_, page) = served.get("/centre/records", &mine).await;
    assert!(page.contains("lifted") && page.contains("mona (invented)"), "{page}");
    let Ran::Done { erased, .. } = served.keep_run(datetime!(2027-06-01 12:00 UTC)).await else { panic!("no run") };
    assert_eq!((erased.get(&Kind::Fails), erased.get(&Kind::Candidates)), (Some(&1), Some(&1)), "{erased:?}");
    let (status, _) = served.get(&path, &mine).await;
    assert_eq!(status, StatusCode::CONFLICT, "nobody is left to hold");
    let mut tx = served.fixture.begin().await;
    assert_eq!(erasures::list(&mut tx, &served.fixture.centre).await.unwrap().len(), 1);
}

#[tokio::test]
async fn a_note_that_comes_when_somebody_is_erased_already_goes_with_the_next_run() {
    let (served, mine) = managed().await;
    let assessor = served.signed_in(served.assessor).await;
    served.open(&assessor).await;
    served.confirm(&mine, &[]).await;
    let form = [("password", PASSWORD), ("despite", "unlawful")];
    let erasure = format!("/candidates/{}/erasure", served.fixture.candidate.0);
    assert_eq!(served.post(&erasure, &mine, &form).await.status(), StatusCode::SEE_OTHER);
    let remark = r#"[{"kind":"remark","text":"Zoë Invented asked again"}]"#;
    assert_eq!(served.post(&served.at("acts"), &assessor, &[("acts", remark)]).await.status(), StatusCode::SEE_OTHER);
    let Ran::Done { erased, .. } = served.keep_run(served.now() + Duration::DAY).await else { panic!("no run") };
    assert_eq!(erased, std::collections::HashMap::from([(Kind::Words, 1)]));
    let mut tx = served.fixture.begin().await;
    let texts: i64 = sqlx::query_scalar("SELECT count(*) FROM texts").fetch_one(&mut *tx).await.unwrap();
    assert_eq!(texts, 0);
}

#[tokio::test]
async fn verifiers_and_assessors_see_none_of_it() {
    let (served, mine) = managed().await;
    served.post(&served.hold_page(), &mine, &[("what", "all"), ("why", "claim")]).await;
    for who in [served.verifier, served.assessor] {
        let cookie = served.signed_in(who).await;
        let due = "/centre/records/due?kind=fails&month=now";
        let hold = served.hold_page();
        for page in ["/centre/records", "/centre/records/periods", "/centre/records/holds/1", due, &hold] {
            assert_eq!(served.get(page, &cookie).await.0, StatusCode::FORBIDDEN, "{page}");
        }
        assert_eq!(served.confirm(&cookie, &[]).await.status(), StatusCode::FORBIDDEN);
        assert_eq!(served.post("/centre/records/holds/1", &cookie, &[]).await.status(), StatusCode::FORBIDDEN);
    }
    let (_, page) = served.get("/centre/records", &mine).await;
    assert!(page.contains("Nothing is erased by itself yet") && page.contains("/centre/records/holds/1"));
}
