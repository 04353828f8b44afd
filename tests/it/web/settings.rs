//! The centre's settings and its record.

use super::{PASSWORD, Served, location, read};
use baywitness::store::centres::{self, Language, ReleasedHow, Scheme};
use reqwest::{Response, StatusCode};

async fn managed() -> (Served, String) {
    let served = Served::new().await;
    let manager = served.manager().await;
    let cookie = served.signed_in(manager).await;
    (served, cookie)
}

/// Sends the settings form with some fields changed.
async fn change(served: &Served, cookie: &str, changed: &[(&str, &str)]) -> Response {
    let mut form = vec![
        ("name", "Northgate (invented)"),
        ("sheet_name", ""),
        ("time_zone", "Europe/London"),
        ("scheme", "gb"),
        ("language", "en"),
        ("release", "at_once"),
        ("release_days", "1"),
        ("release_time", "09:00"),
        ("review_days", "28"),
    ];
    for (field, value) in changed {
        form.retain(|(name, _)| name != field);
        form.push((field, value));
    }
    served.post("/centre", cookie, &form).await
}

async fn settings(served: &Served) -> centres::Settings {
    let mut tx = served.fixture.begin().await;
    centres::settings(&mut tx, &served.fixture.centre).await.unwrap().unwrap()
}

#[tokio::test]
async fn each_setting_is_kept_and_each_change_is_noted() {
    let (served, manager) = managed().await;
    assert_eq!(location(&change(&served, &manager, &[]).await), "/centre?saved=yes");
    assert!(served.deeds().await.is_empty(), "what stays as it was is not noted");
    let changed = [
        ("sheet_name", "Northgate Skills Ltd (invented)"),
        ("time_zone", "europe/dublin"),
        ("scheme", "ie"),
        ("language", "cy"),
        ("release", "at_time"),
        ("release_days", "2"),
        ("release_time", "16:30"),
        ("review_days", "14"),
        ("second_factor", "on"),
    ];
    assert_eq!(change(&served, &manager, &changed).await.status(), StatusCode::SEE_OTHER);
    let now = settings(&served).await;
    assert_eq!((now.on_sheet(), now.time_zone.as_str()), ("Northgate Skills Ltd (invented)", "Europe/Dublin"));
    assert_eq!((now.scheme, now.language, now.release.how), (Scheme::Ie, Language::Welsh, ReleasedHow::AtTime));
    assert_eq!((now.release.days, now.release.at), (2, time::macros::time!(16:30)));
    assert_eq!(now.review_days, 14);
    assert!(now.second_factor_asked);
    let noted = served.deeds().await;
    assert_eq!(noted.len(), 9);
    for about in
        ["time zone: Europe/London → Europe/Dublin", "second factor: not asked → asked", "days to release: 1 → 2"]
    {
        assert!(noted.iter().any(|(what, said)| what == "setting_changed" && said == about), "{about} in {noted:?}");
    }
    let (status, page) = served.get("/centre?saved=yes", &manager).await;
    assert_eq!(status, StatusCode::OK);
    assert!(
        page.contains("Saved.") && page.contains("value=\"16:30\"") && page.contains("<option value=\"cy\" selected>")
    );
}

#[tokio::test]
async fn what_makes_no_sense_is_said_beside_its_field_and_changes_nothing() {
    let (served, manager) = managed().await;
    let before = settings(&served).await;
    for (field, bad, says) in [
        ("name", "", "Please fill this in."),
        ("sheet_name", &"x".repeat(201), "longer than 200"),
        ("time_zone", "Mars/Olympus", "choose a place of the list"),
        ("scheme", "de", "Please choose one."),
        ("language", "", "Please choose one."),
        ("release", "never", "Please choose one."),
        ("release_days", "61", "from 0 to 60"),
        ("release_time", "25:00", "a time of day"),
        ("review_days", "-1", "from 1 to 365"),
    ] {
        let (status, page) = read(change(&served, &manager, &[(field, bad)]).await).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {bad}");
        assert!(page.contains(&format!("id=\"{field}-fault\"")) && page.contains(says), "{field}: {page}");
        assert!(bad.is_empty() || page.contains(bad) || field == "scheme" || field == "release", "{field}: kept");
    }
    assert_eq!(settings(&served).await, before);
    served.wait(5 * 60);
    let (status, page) = read(change(&served, &manager, &[("review_days", "20")]).await).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(page.contains("own_password") && page.contains("value=\"20\""));
    assert_eq!(settings(&served).await, before);
    let afresh = [("review_days", "20"), ("own_password", PASSWORD)];
    assert_eq!(change(&served, &manager, &afresh).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn the_record_is_read_page_by_page_newest_first() {
    let (served, manager) = managed().await;
    for turn in 0..60 {
        let days = (turn % 2 + 20).to_string();
        change(&served, &manager, &[("review_days", &days)]).await;
    }
    let (status, page) = served.get("/centre/record", &manager).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("days for a review: 20 → 21") && page.contains("mona (invented)"), "{page}");
    assert!(
        page.contains("<td class=\"number\" data-label=\"No.\">60</td>")
            && page.contains("<td class=\"number\" data-label=\"No.\">11</td>")
    );
    assert!(!page.contains("<td class=\"number\" data-label=\"No.\">10</td>"));
    let older = page.split_once("/centre/record?before=").unwrap().1.split_once('"').unwrap().0.to_owned();
    assert_eq!(older, "11");
    let page = served.get(&format!("/centre/record?before={older}"), &manager).await.1;
    assert!(page.contains("<td class=\"number\" data-label=\"No.\">1</td>") && !page.contains("Older"));
    served.post("/sign-in", "", &[("name", "kim@northgate"), ("password", "guess")]).await;
    let page = served.get("/centre/record", &manager).await.1;
    assert!(page.contains("Sign-in refused") && page.contains("kim (invented) u-2"), "{page}");
    assert!(!page.contains("guess"));
}
