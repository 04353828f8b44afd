//! The runs that erase what is due: one at a time, gone on with where they broke off, in their own centre, and the only
//! way by which anything of it can be erased.

use super::keeping::{after, months, refused};
use crate::support::centre::{Fixture, NOW, new_id};
use crate::support::db::Database;
use baywitness::clock::Clock;
use baywitness::keeper::{self, Ran};
use baywitness::marking::VerdictOutcome;
use baywitness::store::centres::{self, Centre};
use baywitness::store::keeping::{self, Begin, Kind, When};
use baywitness::store::{CentreId, feedback, migrate};
use sqlx::{AssertSqlSafe, PgConnection};
use std::collections::HashMap;
use time::Duration;
use time::macros::{date, datetime};

#[tokio::test]
async fn of_two_programs_one_erases_and_each_thing_once() {
    let fixture = Fixture::new().await;
    fixture.confirm(months).await;
    for n in 0..60 {
        let candidate = fixture.candidate_named(&format!("C{n}")).await;
        fixture.signed(candidate, VerdictOutcome::Fail).await;
    }
    let other = migrate::open(fixture.db.connect()).await.unwrap();
    let clock = Clock::told(|| after(24) + Duration::hours(12));
    let (centre, store) = (&fixture.centre, &fixture.db.store);
    let (one, two) = tokio::join!(
        keeper::run(store, &clock, centre, Begin::Daily),
        keeper::run(&other, &clock, centre, Begin::Daily)
    );
    let (one, two) = (one.unwrap(), two.unwrap());
    let done = [&one, &two].into_iter().filter_map(|ran| match ran {
        Ran::Done { erased, .. } => Some(erased.clone()),
        _ => None,
    });
    assert_eq!(done.collect::<Vec<_>>(), [HashMap::from([(Kind::Fails, 60), (Kind::Words, 60)])], "{one:?} {two:?}");
    assert_eq!(fixture.count("entries WHERE kind = 'erasure'").await, 120, "the words, and then the rest");
    assert_eq!(fixture.count("erasures WHERE stand_in").await, 60);
    assert_eq!(fixture.count("keeping_runs").await, 1);
    assert_eq!(fixture.count("keeping_counts").await, 4, "in small batches");
    assert_eq!(fixture.chains_hold().await, 60);
}

#[tokio::test]
async fn a_run_that_broke_off_is_gone_on_with_and_told_whole() {
    let fixture = Fixture::new().await;
    fixture.confirm(months).await;
    for n in 0..70 {
        let candidate = fixture.candidate_named(&format!("C{n}")).await;
        fixture.signed(candidate, VerdictOutcome::Pass).await;
    }
    let (centre, now) = (&fixture.centre, after(36));
    let mut turn = fixture.db.store.take_turn(centre).await.unwrap().unwrap();
    assert_eq!(fixture.run(Begin::Asked, now).await, Ran::Elsewhere);
    let mut tx = turn.begin().await.unwrap();
    let begun = keeping::begin(&mut tx, centre, Begin::Asked, now).await.unwrap().unwrap();
    assert_eq!(keeping::batch(&mut tx, centre, begun, Kind::Passes, now).await.unwrap(), 50);
    tx.commit().await.unwrap();
    // The second batch is cut off before it is committed, and the program is gone.
    let mut tx = turn.begin().await.unwrap();
    assert_eq!(keeping::batch(&mut tx, centre, begun, Kind::Passes, now).await.unwrap(), 20);
    drop(tx);
    drop(turn);
    fixture.chains_hold().await;
    assert_eq!(fixture.count("erasures WHERE stand_in").await, 50);
    let mut ran = fixture.run(Begin::Daily, now).await;
    // The connection's end takes a moment to be noticed.
    for _ in 0..100 {
        if ran != Ran::Elsewhere {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        ran = fixture.run(Begin::Daily, now).await;
    }
    assert_eq!(ran, Ran::Done { run: 1, erased: HashMap::from([(Kind::Passes, 70), (Kind::Words, 20)]) });
    fixture.chains_hold().await;
}

#[tokio::test]
async fn nothing_but_what_is_due_can_be_forgotten_and_by_no_other_way() {
    let fixture = Fixture::new().await;
    fixture.confirm(months).await;
    let (passed, _) = fixture.one_of_each().await;
    let mut owner = fixture.db.owner().await;
    let try_as = async |sql: String, owner: Option<&mut PgConnection>| {
        let mut tx = fixture.begin().await;
        match owner {
            Some(owner) => {
                let mut tx = sqlx::Connection::begin(owner).await.unwrap();
                refused(sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut *tx).await)
            }
            None => refused(sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut *tx).await),
        }
    };
    let early = after(11);
    for (sql, code) in [
        (format!("SELECT cut_off('{}', '{}', '{early}')", passed.0, new_id()), "23001"),
        (format!("SELECT erase_words('{}', '{early}')", passed.0), "23001"),
        (format!("SELECT forget_old('passes', '{early}', 10)"), "23001"),
        (format!("SELECT forget_old('entries', '{early}', 10)"), "23001"),
        ("DELETE FROM deeds".into(), "42501"),
        ("DELETE FROM exports".into(), "42501"),
        ("DELETE FROM feedback_links".into(), "42501"),
        ("DELETE FROM holds".into(), "42501"),
        ("DELETE FROM keeping_counts".into(), "42501"),
        ("INSERT INTO erased_words VALUES ('northgate', gen_random_uuid(), now())".into(), "42501"),
        ("SELECT erase_words_of_reviews('northgate', gen_random_uuid())".into(), "42501"),
        ("SET LOCAL baywitness.erasing = 'x'; UPDATE sessions SET bay = 'Bay 9' WHERE count > 0".into(), "23001"),
        ("SET LOCAL baywitness.erasing = 'x'; UPDATE sessions SET resit_of = NULL".into(), "42501"),
    ] {
        assert_eq!(try_as(sql.clone(), None).await, code, "{sql}");
    }
    for (sql, code) in [
        ("DELETE FROM deeds".to_owned(), "23001"),
        ("TRUNCATE exports CASCADE".to_owned(), "23001"),
        (format!("SET LOCAL baywitness.erasing = '{early}'; DELETE FROM deeds"), "23001"),
        (format!("SET LOCAL baywitness.erasing = '{early}'; DELETE FROM exports"), "23001"),
        ("UPDATE keeping_counts SET erased = 1".to_owned(), "23001"),
        ("DELETE FROM holds".to_owned(), "23001"),
    ] {
        assert_eq!(try_as(sql.clone(), Some(&mut owner)).await, code, "owner: {sql}");
    }
    let mut tx = fixture.begin().await;
    let forgotten: i32 = sqlx::query_scalar("SELECT forget_old('deeds', $1, 10)")
        .bind(after(72) - Duration::SECOND)
        .fetch_one(&mut *tx)
        .await
        .unwrap();
    assert_eq!(forgotten, 0);
}

#[tokio::test]
async fn a_run_stays_in_its_centre_and_only_the_codes_of_centres_are_told() {
    let one = Fixture::new().await;
    one.confirm(months).await;
    one.signed(one.candidate, VerdictOutcome::Pass).await;
    let southgate = CentreId::new("southgate").unwrap();
    let mut tx = one.db.store.begin(&southgate).await.unwrap();
    let named = Centre { id: southgate.clone(), name: "Southgate (invented)".into(), time_zone: "UTC".into() };
    assert!(centres::add(&mut tx, &named).await.unwrap());
    tx.commit().await.unwrap();
    assert_eq!(keeper::centres(&one.db.store).await.unwrap(), [one.centre.clone(), southgate.clone()]);
    let now = after(200);
    let clock = Clock::told(move || now);
    assert_eq!(keeper::run(&one.db.store, &clock, &southgate, Begin::Asked).await.unwrap(), Ran::NotDue);
    let mut tx = one.db.store.begin(&southgate).await.unwrap();
    assert_eq!(keeping::overview(&mut tx, &southgate, now, now).await.unwrap(), keeping::Overview::default());
    drop(tx);
    let mut application = one.db.application().await;
    let codes: Vec<String> =
        sqlx::query_scalar("SELECT * FROM every_centre()").fetch_all(&mut application).await.unwrap();
    assert_eq!(codes, ["northgate", "southgate"]);
    let seen: i64 = sqlx::query_scalar("SELECT count(*) FROM centres").fetch_one(&mut application).await.unwrap();
    assert_eq!(seen, 0, "no more than the codes");
}

#[tokio::test]
async fn months_are_told_by_the_centres_own_calendar() {
    let fixture = Fixture::on(Database::new().await, "northgate").await;
    fixture.confirm(months).await;
    let mut tx = fixture.begin().await;
    sqlx::query("UPDATE centres SET time_zone = 'Pacific/Auckland'").execute(&mut *tx).await.unwrap();
    // The last hours of January in UTC are February in Auckland.
    let made = datetime!(2027-01-31 20:00 UTC);
    feedback::make_link(&mut tx, &fixture.centre, fixture.session, &[1; 32], &[2; 32], made).await.unwrap();
    let until = NOW + Duration::days(366);
    let due = keeping::overview(&mut tx, &fixture.centre, NOW, until).await.unwrap().due;
    let links = due.iter().find(|due| due.kind == Kind::Links).unwrap();
    assert_eq!((links.when, links.free), (When::Month(date!(2027 - 08 - 01)), 1));
    let months = keeping::months(&mut tx, &fixture.centre, NOW, 13).await.unwrap();
    assert_eq!(months.len(), 14);
    assert_eq!(months[0], (date!(2027 - 02 - 01), datetime!(2027-01-31 11:00 UTC)));
    assert_eq!(months[6], (date!(2027 - 08 - 01), datetime!(2027-07-31 12:00 UTC)));
    let (from, to) = (months[6].1, months[7].1);
    let list = keeping::list(&mut tx, &fixture.centre, Kind::Links, Some(from), to, None).await.unwrap();
    assert_eq!(list.len(), 1);
    assert_eq!(list[0].due_at, datetime!(2027-07-31 20:00 UTC));
}
