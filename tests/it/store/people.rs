//! Centres, staff, candidates and sign-ins.

use crate::support::centre::{Fixture, NOW, new_id, person};
use baywitness::candidates::Details;
use baywitness::store::candidates;
use baywitness::store::centres::{self, Centre};
use baywitness::store::sign_ins::{self, IDLE_MINUTES, LONGEST_HOURS};
use baywitness::store::staff::{self, Role};
use baywitness::store::{CandidateId, CentreId, StaffNo};
use time::Duration;

#[tokio::test]
async fn a_taken_code_name_or_reference_adds_nothing() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    let again = Centre { id: centre.clone(), name: "Other".to_owned(), time_zone: "UTC".to_owned() };
    assert!(!centres::add(&mut tx, &again).await.unwrap());
    assert_eq!(centres::find(&mut tx, centre).await.unwrap().unwrap().time_zone, "Europe/London");
    assert_eq!(staff::add(&mut tx, centre, &person("rowan")).await.unwrap(), None);
    assert_eq!(staff::add(&mut tx, centre, &person("ash")).await.unwrap(), Some(StaffNo(2)));
    let twin = CandidateId(new_id());
    assert!(!candidates::add(&mut tx, centre, twin, &Details::named("Twin", "REG-0042"), NOW).await.unwrap());
    assert_eq!(candidates::find(&mut tx, centre, twin).await.unwrap(), None);
    let kept = candidates::find(&mut tx, centre, fixture.candidate).await.unwrap().unwrap();
    assert_eq!(kept.name, "Zoë Invented");
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn a_time_zone_that_does_not_exist_is_refused() {
    let fixture = Fixture::new().await;
    let id = CentreId::new("southgate").unwrap();
    let mut tx = fixture.db.store.begin(&id).await.unwrap();
    let nowhere = Centre { id, name: "South".to_owned(), time_zone: "Europe/Nowhere".to_owned() };
    assert!(centres::add(&mut tx, &nowhere).await.is_err());
}

#[tokio::test]
async fn a_disabled_person_cannot_sign_in_and_is_signed_out() {
    let fixture = Fixture::new().await;
    let (centre, token) = (&fixture.centre, [1; 32]);
    let mut tx = fixture.begin().await;
    let (who, hash) = staff::for_sign_in(&mut tx, centre, "rowan").await.unwrap().unwrap();
    assert_eq!((who.number, hash.starts_with("$argon2id$")), (fixture.assessor, true));
    assert_eq!(who.roles, [Role::Assessor, Role::Verifier, Role::Manager]);
    sign_ins::start(&mut tx, centre, who.number, &token, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let mut owner = fixture.db.owner().await;
    sqlx::raw_sql("UPDATE staff SET disabled_at = now()").execute(&mut owner).await.unwrap();
    let mut tx = fixture.begin().await;
    assert_eq!(sign_ins::resume(&mut tx, centre, &token, NOW).await.unwrap(), None);
    assert_eq!(staff::for_sign_in(&mut tx, centre, "rowan").await.unwrap(), None);
    assert_eq!(staff::for_sign_in(&mut tx, centre, "nobody").await.unwrap(), None);
    assert_eq!(staff::find(&mut tx, centre, fixture.assessor).await.unwrap(), Some(who));
}

#[tokio::test]
async fn a_sign_in_ends_when_idle_when_old_and_when_ended() {
    let fixture = Fixture::new().await;
    let (centre, token) = (&fixture.centre, [7; 32]);
    let idle = Duration::minutes(IDLE_MINUTES);
    let mut tx = fixture.begin().await;
    sign_ins::start(&mut tx, centre, fixture.assessor, &token, NOW).await.unwrap();
    assert_eq!(sign_ins::resume(&mut tx, centre, &[8; 32], NOW).await.unwrap(), None, "another token");
    assert_eq!(sign_ins::resume(&mut tx, centre, &token, NOW + idle).await.unwrap(), None, "idle too long");
    let mut at = NOW;
    while at + idle - Duration::minutes(1) < NOW + Duration::hours(LONGEST_HOURS) {
        at += idle - Duration::minutes(1);
        let (who, password_at) = sign_ins::resume(&mut tx, centre, &token, at).await.unwrap().unwrap();
        assert_eq!((who.number, password_at), (fixture.assessor, NOW));
    }
    let end = NOW + Duration::hours(LONGEST_HOURS);
    assert_eq!(sign_ins::resume(&mut tx, centre, &token, end).await.unwrap(), None, "too old whatever happens");
    assert!(sign_ins::resume(&mut tx, centre, &token, at).await.unwrap().is_some());
    sign_ins::end(&mut tx, centre, &token).await.unwrap();
    assert_eq!(sign_ins::resume(&mut tx, centre, &token, at).await.unwrap(), None, "ended");
}

#[tokio::test]
async fn tries_at_sign_in_run_out_and_come_back() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    for _ in 0..5 {
        assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.1", NOW).await.unwrap(), None);
    }
    for _ in 0..100 {
        assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.1", NOW).await.unwrap(), Some(20));
    }
    // The hundred that were turned away took nothing from the name: its other five are left for another address.
    for _ in 0..5 {
        assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.2", NOW).await.unwrap(), None);
    }
    assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.3", NOW).await.unwrap(), Some(60));
    let later = NOW + Duration::minutes(1);
    assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.3", later).await.unwrap(), None);
    assert_eq!(sign_ins::may_try(&mut tx, centre, "ash", "192.0.2.3", later).await.unwrap(), None, "another name");
    tx.commit().await.unwrap();

    // A centre that does not exist answers alike.
    let unknown = CentreId::new("nowhere").unwrap();
    let mut tx = fixture.db.store.begin(&unknown).await.unwrap();
    assert_eq!(sign_ins::may_try(&mut tx, &unknown, "rowan", "192.0.2.1", NOW).await.unwrap(), None);
}

#[tokio::test]
async fn guessed_names_do_not_fill_the_table() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    for guess in 0..50 {
        let at = NOW + Duration::minutes(2 * guess);
        let (name, address) = (format!("guess-{guess}"), format!("192.0.2.{guess}"));
        sign_ins::may_try(&mut tx, centre, &name, &address, at).await.unwrap();
    }
    let rows: i64 = sqlx::query_scalar("SELECT count(*) FROM sign_in_tries").fetch_one(&mut *tx).await.unwrap();
    assert!(rows <= 4, "{rows} rows");
}

#[tokio::test]
async fn people_added_at_once_get_different_numbers() {
    let fixture = std::sync::Arc::new(Fixture::new().await);
    let mut tasks = tokio::task::JoinSet::new();
    for one in 0..12 {
        let fixture = std::sync::Arc::clone(&fixture);
        tasks.spawn(async move {
            let mut tx = fixture.begin().await;
            let number = staff::add(&mut tx, &fixture.centre, &person(&format!("p{one}"))).await.unwrap().unwrap();
            tx.commit().await.unwrap();
            number.0
        });
    }
    let mut numbers = tasks.join_all().await;
    numbers.sort_unstable();
    assert_eq!(numbers, (2..=13).collect::<Vec<_>>());
}

#[tokio::test]
async fn the_right_password_gives_its_try_back() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    for _ in 0..20 {
        assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.1", NOW).await.unwrap(), None);
        sign_ins::give_back(&mut tx, centre, "rowan", "192.0.2.1").await.unwrap();
    }
    for _ in 0..5 {
        assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.1", NOW).await.unwrap(), None);
    }
    assert_eq!(sign_ins::may_try(&mut tx, centre, "rowan", "192.0.2.1", NOW).await.unwrap(), Some(20));
}
