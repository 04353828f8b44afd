//! Tablets whose clocks are wrong: nothing is refused, no order changes, and the pages say so.

use super::Served;
use super::tablet::Tablet;
use crate::support::centre::flawless;
use serde_json::{Value, json};

const DAY_MS: i64 = 24 * 60 * 60 * 1_000;

/// The flawless log as a tablet records it, online, in two halves; before the second its clock is put `ahead_ms` ahead,
/// and before the first `at_first_ms`. Answers what the decide page says of the clocks, and the acts in order.
async fn marked(at_first_ms: i64, ahead_ms: i64) -> (Vec<String>, Vec<Value>, String) {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let log = flawless(&served.fixture.task);
    let mut tablet = Tablet { ahead_ms: at_first_ms, ..Tablet::new("tablet-1") };
    let (mut last, mut passed) = (0, 0);
    for (at, seen) in log.iter().enumerate() {
        if at == log.len() / 2 {
            tablet.ahead_ms = ahead_ms;
        }
        let at_ms = i64::try_from(seen.at_ms).unwrap();
        last = last.max(at_ms);
        // Sent a second after it was made, as the service's clock goes.
        served.wait((last / 1_000 + 1) - passed);
        passed = last / 1_000 + 1;
        let seen = tablet.seen(at_ms, &serde_json::to_value(&seen.act).unwrap());
        tablet.tell(&served, &mine, &[seen]).await;
    }
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    let about = page.split("id=\"about-the-record\"").nth(1).unwrap_or("").split("</section>").next().unwrap();
    let line = |line: &str| line.split("</li>").next().unwrap().replace("&#39;", "'");
    let says = about.split("<li>").skip(1).map(line).collect();
    let mut tx = served.fixture.begin().await;
    let (centre, task) = (&served.fixture.centre, &served.fixture.task);
    let stored = baywitness::store::entries::log_of(&mut tx, centre, served.session, served.assessor, task).await;
    let acts = stored.unwrap().observations().iter().map(|seen| serde_json::to_value(&seen.act).unwrap()).collect();
    (says, acts, page)
}

fn acts() -> Vec<Value> {
    let task = crate::support::script::stairwell();
    flawless(&task).iter().map(|seen| serde_json::to_value(&seen.act).unwrap()).collect()
}

#[tokio::test]
async fn a_clock_that_is_right_is_not_mentioned() {
    let (says, stored, page) = marked(0, 0).await;
    assert_eq!((says, stored), (vec![], acts()));
    assert!(!page.contains("About the record"));
}

#[tokio::test]
async fn a_day_ahead_or_behind_is_said_and_changes_nothing() {
    for (ahead_ms, way) in [(DAY_MS, "1 day ahead of"), (-DAY_MS, "1 day behind")] {
        let (says, stored, _) = marked(ahead_ms, ahead_ms).await;
        let expected = format!("The clock of tablet-1 was {way} the service's clock for 48 observations.");
        assert_eq!((says, stored), (vec![expected], acts()));
    }
}

#[tokio::test]
async fn ten_minutes_back_in_the_middle_are_said_with_their_place() {
    let (says, stored, page) = marked(0, -600_000).await;
    assert_eq!(stored, acts());
    assert_eq!(says.len(), 2, "{says:?}");
    assert_eq!(says[0], "The clock of tablet-1 was 10 minutes behind the service's clock for 24 observations.");
    assert!(says[1].starts_with("Between ") && says[1].ends_with("was put back by 10 minutes."), "{says:?}");
    assert!(page.contains("is not changed by its clock"));
}

#[tokio::test]
async fn what_is_added_from_memory_while_online_is_said_to_be_late() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let mut tablet = Tablet::new("tablet-1");
    for minute in 0..25 {
        let seen = tablet.seen(minute * 60_000, &json!({"kind": "operated", "switch": "S1"}));
        tablet.tell(&served, &mine, &[seen]).await;
        served.wait(60);
    }
    let claimed = tablet.seen(5 * 60_000, &json!({"kind": "operated", "switch": "S2"}));
    tablet.tell(&served, &mine, &[claimed]).await;
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("From tablet-1, 1 observation (the first at 05:00) came up to 20 minutes after"), "{page}");
}

#[tokio::test]
async fn an_idle_tablet_says_that_it_is_in_contact_and_what_is_added_from_memory_is_told() {
    for (beats, is_told) in [(true, true), (false, false)] {
        let served = Served::new().await;
        let mine = served.signed_in(served.assessor).await;
        served.open(&mine).await;
        let mut tablet = Tablet::new("tablet-1");
        let start = tablet.seen(0, &json!({"kind": "started"}));
        tablet.tell(&served, &mine, &[start]).await;
        let before = served.count().await;
        for _ in 0..20 {
            served.wait(60);
            if beats {
                tablet.tell(&served, &mine, &[]).await;
            }
        }
        served.wait(300);
        // Claimed 20 minutes before it is sent, in a session of which nothing else was sent meanwhile.
        let claimed = tablet.seen(5 * 60_000, &super::tablet::blocked());
        tablet.tell(&served, &mine, &[claimed]).await;
        assert_eq!(served.count().await, before + 1, "a sign of life is no entry");
        let (_, page) = served.get(&served.at("decide"), &mine).await;
        assert_eq!(page.contains("They may have been added from memory"), is_told, "beats: {beats}");
    }
}

#[tokio::test]
async fn a_session_time_of_before_is_late_under_a_wall_clock_of_now() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let mut tablet = Tablet::new("tablet-1");
    for minute in 0..25 {
        let seen = tablet.seen(minute * 60_000, &json!({"kind": "operated", "switch": "S1"}));
        tablet.tell(&served, &mine, &[seen]).await;
        served.wait(60);
    }
    let mut claimed = tablet.seen(25 * 60_000, &json!({"kind": "operated", "switch": "S2"}));
    claimed["at_ms"] = json!(5 * 60_000);
    tablet.tell(&served, &mine, &[claimed]).await;
    let (_, page) = served.get(&served.at("decide"), &mine).await;
    assert!(page.contains("From tablet-1, 1 observation (the first at 05:00) came up to 20 minutes after"), "{page}");
}

#[tokio::test]
async fn signs_of_life_closer_than_half_a_minute_are_kept_once() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    let tablet = Tablet::new("tablet-1");
    for wait in [0, 10, 10, 15, 60] {
        served.wait(wait);
        tablet.tell(&served, &mine, &[]).await;
    }
    let mut tx = served.fixture.begin().await;
    let (centre, session) = (&served.fixture.centre, served.session);
    let contacts = baywitness::store::devices::contacts(&mut tx, centre, session).await.unwrap();
    let start = contacts[0].at;
    let after: Vec<_> = contacts.iter().map(|contact| (contact.at - start) / 1_000).collect();
    assert_eq!(after, [0, 35, 95]);
    assert!(contacts.iter().all(|contact| (contact.device.as_str(), contact.high) == ("tablet-1", 0)));
}
