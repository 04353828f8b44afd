//! What a centre decides for itself, and the record of what was done.

use crate::support::centre::{Fixture, NOW};
use crate::support::db::Database;
use baywitness::store::centres::{self, Language, Release, ReleasedHow, Scheme};
use baywitness::store::{CentreId, StaffNo, deeds};
use time::Duration;
use time::macros::time;

#[tokio::test]
async fn a_new_centre_has_the_usual_settings_and_keeps_what_it_changes() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    let usual = centres::settings(&mut tx, centre).await.unwrap().unwrap();
    assert_eq!(
        (usual.on_sheet(), usual.scheme, usual.language),
        ("Northgate (invented)", Scheme::Gb, Language::English)
    );
    assert_eq!((usual.release.how, usual.review_days), (ReleasedHow::AtOnce, 28));
    assert!(!usual.second_factor_asked);
    let mut other = usual.clone();
    other.sheet_name = Some("Northgate Skills (invented)".into());
    other.time_zone = "Europe/Dublin".into();
    other.scheme = Scheme::Ie;
    other.language = Language::Polish;
    other.release = Release { how: ReleasedHow::AtTime, days: 3, at: time!(16:30) };
    other.review_days = 10;
    other.second_factor_asked = true;
    assert!(centres::change(&mut tx, centre, &other).await.unwrap());
    tx.commit().await.unwrap();
    let mut tx = fixture.begin().await;
    assert_eq!(centres::settings(&mut tx, centre).await.unwrap(), Some(other.clone()));
    assert_eq!(other.on_sheet(), "Northgate Skills (invented)");

    // What makes no sense is refused by the table itself.
    let nameless = centres::Settings { name: String::new(), ..other.clone() };
    assert!(centres::change(&mut tx, centre, &nameless).await.is_err());
}

#[tokio::test]
async fn another_centre_is_neither_read_nor_changed() {
    let fixture = Fixture::new().await;
    let other = CentreId::new("southgate").unwrap();
    let mut tx = fixture.begin().await;
    let usual = centres::settings(&mut tx, &fixture.centre).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let mut tx = fixture.db.store.begin(&other).await.unwrap();
    assert_eq!(centres::settings(&mut tx, &fixture.centre).await.unwrap(), None);
    assert!(!centres::change(&mut tx, &fixture.centre, &usual).await.unwrap());
    assert_eq!(deeds::page(&mut tx, &fixture.centre, None).await.unwrap(), []);
}

#[tokio::test]
async fn whether_there_is_any_centre_is_all_that_is_told_across_centres() {
    let nowhere = CentreId::new("nowhere").unwrap();
    let empty = Database::new().await;
    let mut tx = empty.store.begin(&nowhere).await.unwrap();
    assert!(!centres::any(&mut tx).await.unwrap());
    let fixture = Fixture::new().await;
    let mut tx = fixture.db.store.begin(&nowhere).await.unwrap();
    assert!(centres::any(&mut tx).await.unwrap());
    // Having asked opens nothing.
    let seen: i64 = sqlx::query_scalar("SELECT count(*) FROM centres").fetch_one(&mut *tx).await.unwrap();
    assert_eq!(seen, 0);
    // Nor can the application pretend to be asking.
    sqlx::raw_sql("SET LOCAL baywitness.any_centre = 'asked'").execute(&mut *tx).await.unwrap();
    let seen: i64 = sqlx::query_scalar("SELECT count(*) FROM centres").fetch_one(&mut *tx).await.unwrap();
    assert_eq!(seen, 0);
}

#[tokio::test]
async fn the_zones_offered_are_places_the_database_knows() {
    let fixture = Fixture::new().await;
    let mut tx = fixture.begin().await;
    let zones = centres::time_zones(&mut tx).await.unwrap();
    for zone in ["Europe/London", "Europe/Dublin", "America/New_York", "Australia/Adelaide", "UTC"] {
        assert!(zones.iter().any(|one| one == zone), "{zone}");
    }
    assert!(zones.iter().all(|zone| !zone.starts_with("posix/")), "{zones:?}");
    assert!(zones.is_sorted());
}

#[tokio::test]
async fn deeds_count_without_a_gap_and_are_read_newest_first() {
    let fixture = Fixture::new().await;
    let (centre, by) = (&fixture.centre, Some(fixture.assessor));
    let mut tx = fixture.begin().await;
    for turn in 0..deeds::PAGE + 3 {
        deeds::note(&mut tx, centre, by, "role_changed", &format!("u-{turn}"), NOW).await.unwrap();
    }
    deeds::note(&mut tx, centre, None, "sign_in_refused", "line\nfeed", NOW + Duration::hours(1)).await.unwrap();
    tx.commit().await.unwrap();
    let mut tx = fixture.begin().await;
    let newest = deeds::page(&mut tx, centre, None).await.unwrap();
    assert_eq!(newest.len() as i64, deeds::PAGE + 1, "one more than a page tells that there are others");
    let first = &newest[0];
    assert_eq!((first.n, first.by.clone(), first.what.as_str()), (54, None, "sign_in_refused"));
    assert_eq!(first.about, "linefeed", "a control character is not kept");
    assert_eq!(newest[1].by, Some((StaffNo(1), "rowan (invented)".into())));
    let numbers: Vec<i64> = newest.iter().map(|deed| deed.n).collect();
    assert!(numbers.windows(2).all(|pair| pair[0] == pair[1] + 1), "{numbers:?}");
    let rest = deeds::page(&mut tx, centre, Some(numbers[numbers.len() - 2])).await.unwrap();
    assert_eq!(rest.len(), 4);
    assert_eq!(rest[0].n, numbers[numbers.len() - 1]);
}

#[tokio::test]
async fn deeds_noted_at_once_do_not_collide() {
    let fixture = std::sync::Arc::new(Fixture::new().await);
    let mut tasks = tokio::task::JoinSet::new();
    for _ in 0..12 {
        let fixture = std::sync::Arc::clone(&fixture);
        tasks.spawn(async move {
            let mut tx = fixture.begin().await;
            deeds::note(&mut tx, &fixture.centre, None, "signed_in", "", NOW).await.unwrap();
            tx.commit().await.unwrap();
        });
    }
    tasks.join_all().await;
    let mut tx = fixture.begin().await;
    let numbers: Vec<i64> = deeds::page(&mut tx, &fixture.centre, None).await.unwrap().iter().map(|d| d.n).collect();
    assert_eq!(numbers, (1..=12).rev().collect::<Vec<_>>());
}

#[tokio::test]
async fn nobody_changes_or_removes_a_deed() {
    let fixture = Fixture::new().await;
    let mut tx = fixture.begin().await;
    deeds::note(&mut tx, &fixture.centre, None, "signed_in", "", NOW).await.unwrap();
    tx.commit().await.unwrap();
    for statement in ["UPDATE deeds SET what = 'x'", "DELETE FROM deeds", "TRUNCATE deeds"] {
        let mut owner = fixture.db.owner().await;
        let why = sqlx::raw_sql(statement).execute(&mut owner).await.unwrap_err();
        assert!(why.to_string().contains("never changes"), "{statement}: {why}");
        let mut tx = fixture.begin().await;
        let why = sqlx::raw_sql(statement).execute(&mut *tx).await.unwrap_err();
        assert!(why.to_string().contains("permission denied"), "{statement}: {why}");
    }
}
