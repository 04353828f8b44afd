//! The calendar under a private address, against the package icalendar and the tz database.

use super::planning::{borrowed, form, with};
use super::{Served, location};
use crate::support::outside;
use baywitness::marking::ExtraTime;
use baywitness::store::sessions::Ended;
use baywitness::store::{StaffNo, planning};
use reqwest::{Method, StatusCode};

/// Makes an address as this person and answers its path.
async fn address(served: &Served, who: StaffNo) -> String {
    let cookie = served.signed_in(who).await;
    let text = served.post("/plan/feed", &cookie, &[]).await.text().await.unwrap();
    let from = text.find("/calendar/northgate/").expect("an address on the page");
    text[from..].split('<').next().unwrap().to_owned()
}

/// The file, fetched as a calendar program does: without a sign-in.
async fn fetch(served: &Served, path: &str) -> (StatusCode, reqwest::header::HeaderMap, String) {
    let answer = served.ask_from_outside(Method::GET, path).send().await.unwrap();
    (answer.status(), answer.headers().clone(), answer.text().await.unwrap())
}

async fn plan_at(served: &Served, reference: &str, day: &str, time: &str, which: &str) {
    let somebody = served.add_candidate("Ada Invented", reference, ExtraTime::default()).await;
    let form = with(with(with(form(served, somebody), "day", day), "time", time), "which", which);
    let answer = served.post("/plan/new", &served.planner().await, &borrowed(&form)).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{day} {time}: {}", answer.text().await.unwrap());
}

/// The events that the package icalendar reads: uid, summary, start, end; it also checks what each component requires, and
/// every local time against zoneinfo.
fn read(text: &str) -> Vec<[String; 4]> {
    let path = std::env::temp_dir().join(format!("bw-{}.ics", crate::support::centre::new_id()));
    std::fs::write(&path, text).unwrap();
    let said = outside::python("calendar_file.py", &[path.to_str().unwrap()]);
    std::fs::remove_file(&path).unwrap();
    let events: Vec<[String; 6]> = serde_json::from_str(&said).unwrap();
    events.into_iter().map(|[uid, summary, start, end, ..]| [uid, summary, start, end]).collect()
}

#[tokio::test]
async fn the_calendar_holds_tasks_bays_and_times_across_both_clock_changes_and_no_candidate() {
    let served = Served::new().await;
    // Around 28 March 2027, 01:00 UTC, and 31 October 2027, 01:00 UTC.
    for (number, (day, time, which)) in [
        ("2027-03-28", "00:45", ""),
        ("2027-03-28", "02:45", ""),
        ("2027-10-31", "00:20", ""),
        ("2027-10-31", "01:10", "first"),
        ("2027-10-31", "01:10", "second"),
        ("2027-10-31", "02:30", ""),
    ]
    .into_iter()
    .enumerate()
    {
        plan_at(&served, &format!("REG-{number}"), day, time, which).await;
    }
    let path = address(&served, served.assessor).await;
    let (status, headers, text) = fetch(&served, &path).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(headers["content-type"], "text/calendar; charset=utf-8");
    assert_eq!(headers["cache-control"], "no-store");
    assert_eq!(headers["referrer-policy"], "no-referrer");
    for secret in ["Ada", "Zoë", "REG-", "kim"] {
        assert!(!text.contains(secret), "{secret}");
    }
    assert!(text.contains(&format!("DESCRIPTION:Assessor u-{}", served.assessor.0)), "{text}");
    let events = read(&text);
    let starts: Vec<&str> = events.iter().map(|event| event[2].as_str()).collect();
    assert_eq!(
        starts,
        [
            "2027-02-03T10:00:00Z",
            "2027-03-28T00:45:00Z",
            "2027-03-28T01:45:00Z",
            "2027-10-30T23:20:00Z",
            "2027-10-31T00:10:00Z",
            "2027-10-31T01:10:00Z",
            "2027-10-31T02:30:00Z",
        ]
    );
    assert_eq!(events[1][1], "Stairwell, Bay 7");
    assert_eq!(events[0][0], format!("{}@northgate", served.session.0));
    // What was planned for 01:10 the first time ends, by its true length of 37 minutes, before the clocks go back.
    assert_eq!(events[4][3], "2027-10-31T00:47:00Z");
}

#[tokio::test]
async fn everybody_has_their_own_and_a_change_is_numbered() {
    let served = Served::new().await;
    let mine = fetch(&served, &address(&served, served.assessor).await).await.2;
    assert!(mine.contains(&served.session.0.to_string()) && !mine.contains(&served.fixture.session.0.to_string()));
    let other = fetch(&served, &address(&served, served.other).await).await.2;
    assert_eq!(read(&other), Vec::<[String; 4]>::new());
    let path = address(&served, served.fixture.assessor).await;
    let all = fetch(&served, &path).await.2;
    assert!(all.contains("SEQUENCE:0") && read(&all).len() == 2, "{all}");
    let moved = with(form(&served, served.fixture.candidate), "second_marker", served.other.0.to_string());
    let answer = served.post(&served.at("plan"), &served.planner().await, &borrowed(&moved)).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    assert!(fetch(&served, &path).await.2.contains("SEQUENCE:1\r\nSTATUS:CONFIRMED"));
    let theirs = fetch(&served, &address(&served, served.other).await).await.2;
    assert_eq!(read(&theirs).len(), 1, "the second marker's own");
    let mut tx = served.fixture.begin().await;
    let (centre, by) = (&served.fixture.centre, served.fixture.assessor);
    let now = served.now();
    planning::give_up(&mut tx, centre, served.session, Ended::Cancelled, Some("so"), by, now).await.unwrap();
    tx.commit().await.unwrap();
    assert!(fetch(&served, &path).await.2.contains("SEQUENCE:2\r\nSTATUS:CANCELLED"));
}

#[tokio::test]
async fn an_address_that_was_revoked_looks_like_one_that_never_was() {
    let served = Served::new().await;
    let cookie = served.signed_in(served.assessor).await;
    let first = address(&served, served.assessor).await;
    let second = address(&served, served.assessor).await;
    assert_ne!(first, second);
    let gone = fetch(&served, &first).await;
    assert_eq!(gone.0, StatusCode::NOT_FOUND);
    assert_eq!(fetch(&served, &second).await.0, StatusCode::OK);
    assert!(served.get("/plan/feed", &cookie).await.1.contains("You have an address since"));
    let answer = served.post("/plan/feed/revoke", &cookie, &[]).await;
    assert_eq!((answer.status(), location(&answer).as_str()), (StatusCode::SEE_OTHER, "/plan/feed"));
    assert!(served.get("/plan/feed", &cookie).await.1.contains("You have no address yet"));
    let zeros = "0".repeat(64);
    let unknown = format!("/calendar/northgate/{zeros}.ics");
    let elsewhere = second.replace("northgate", "southgate");
    let cut = second.replace(".ics", "");
    let said = |text: &str| text.replace(|one: char| one.is_ascii_hexdigit() || one == '-', "");
    for path in [&second, &unknown, &elsewhere, &cut] {
        let (status, _, text) = fetch(&served, path).await;
        assert_eq!((status, said(&text)), (StatusCode::NOT_FOUND, said(&gone.2)), "{path}");
    }
}

#[tokio::test]
async fn the_address_is_kept_nowhere() {
    let served = Served::new().await;
    let path = address(&served, served.assessor).await;
    let token = path.rsplit('/').next().unwrap().trim_end_matches(".ics").to_owned();
    let mut owner = served.fixture.db.owner().await;
    let rows: Vec<String> =
        sqlx::query_scalar("SELECT f::text FROM calendar_feeds f").fetch_all(&mut owner).await.unwrap();
    assert_eq!(rows.len(), 1);
    assert!(!rows[0].contains(&token));
}
