//! When a candidate may read a signed result.

use super::keeping::after;
use crate::support::centre::{Fixture, NOW};
use baywitness::marking::{Verdict, VerdictOutcome};
use baywitness::store::centres::{self, Release as Rule, ReleasedHow};
use baywitness::store::keeping::Kind;
use baywitness::store::releases::{self, Release, State, Step};
use baywitness::store::{entries, results};
use time::macros::{datetime, time};
use time::{Duration, OffsetDateTime, Time};

fn rule(how: ReleasedHow, days: i16, at: Time) -> Rule {
    Rule { how, days, at }
}

/// A session that is signed at `signed` under this rule of the centre.
async fn signed(rule: Rule, signed: OffsetDateTime) -> Fixture {
    let fixture = Fixture::open().await;
    let mut tx = fixture.begin().await;
    let mut settings = centres::settings(&mut tx, &fixture.centre).await.unwrap().unwrap();
    settings.release = rule;
    assert!(centres::change(&mut tx, &fixture.centre, &settings).await.unwrap());
    let head = entries::head(&mut tx, &fixture.centre, fixture.session).await.unwrap().hash;
    let verdict = Verdict { outcome: VerdictOutcome::Pass, marks: 9, of: 10, percent: 90.0, reasons: Vec::new() };
    results::sign(&mut tx, &fixture.centre, fixture.session, &head, &verdict, fixture.assessor, signed)
        .await
        .unwrap()
        .unwrap();
    tx.commit().await.unwrap();
    fixture
}

async fn history(fixture: &Fixture) -> Vec<Release> {
    let mut tx = fixture.begin().await;
    releases::history(&mut tx, &fixture.centre, fixture.session).await.unwrap()
}

/// Takes a step as a request does; answers whether it could be taken.
async fn step(fixture: &Fixture, step: Step, now: OffsetDateTime) -> bool {
    let mut tx = fixture.begin().await;
    let reason = step.needs_reason().then_some("so");
    let (centre, session, by) = (&fixture.centre, fixture.session, fixture.assessor);
    let done = releases::step(&mut tx, centre, session, step, reason, by, now).await.unwrap();
    tx.commit().await.unwrap();
    done
}

#[tokio::test]
async fn an_unsigned_session_has_no_release_and_takes_no_step() {
    let fixture = Fixture::open().await;
    assert_eq!(history(&fixture).await, []);
    assert!(!step(&fixture, Step::Release, NOW).await);
    assert_eq!(history(&fixture).await, []);
}

#[tokio::test]
async fn at_once_is_open_from_the_signature_on() {
    let fixture = signed(rule(ReleasedHow::AtOnce, 1, time!(9:00)), NOW).await;
    let [release] = &history(&fixture).await[..] else { panic!("one row") };
    assert_eq!((release.state, release.opens_at, release.by), (State::Planned, Some(NOW), None));
    assert!(release.is_open(NOW) && !release.is_open(NOW - Duration::seconds(1)));
}

/// Local days and clocks by the tz database: London is at UTC on 3 February and an hour ahead from 28 March 2027 on.
#[tokio::test]
async fn a_set_time_is_a_reading_of_the_centres_clocks_and_never_before_the_signature() {
    for (days, at, signed_at, opens) in [
        (0, time!(16:30), NOW, datetime!(2027-02-03 16:30 UTC)),
        (0, time!(9:00), NOW, NOW),
        (2, time!(9:00), NOW, datetime!(2027-02-05 9:00 UTC)),
        (60, time!(9:00), NOW, datetime!(2027-04-04 8:00 UTC)),
        // Signed on 4 April 23:30 UTC, which is already the 5th in London.
        (0, time!(9:00), datetime!(2027-04-04 23:30 UTC), datetime!(2027-04-05 8:00 UTC)),
    ] {
        let fixture = signed(rule(ReleasedHow::AtTime, days, at), signed_at).await;
        let [release] = &history(&fixture).await[..] else { panic!("one row") };
        assert_eq!((release.state, release.opens_at), (State::Planned, Some(opens)), "{days} {at}");
    }
}

#[tokio::test]
async fn told_in_person_waits_for_somebody_to_say_so() {
    let fixture = signed(rule(ReleasedHow::Told, 1, time!(9:00)), NOW).await;
    let [waiting] = &history(&fixture).await[..] else { panic!("one row") };
    assert_eq!((waiting.state, waiting.opens_at), (State::Waiting, None));
    assert!(!waiting.is_open(NOW + Duration::days(400)));
    let told = NOW + Duration::hours(1);
    assert!(step(&fixture, Step::Told, told).await);
    let rows = history(&fixture).await;
    assert_eq!((rows[1].state, rows[1].opens_at, rows[1].by), (State::Told, Some(told), Some(fixture.assessor)));
}

#[tokio::test]
async fn withdrawn_and_opened_again_it_keeps_its_history() {
    let fixture = signed(rule(ReleasedHow::AtOnce, 1, time!(9:00)), NOW).await;
    let later = |minutes| NOW + Duration::minutes(minutes);
    assert!(!step(&fixture, Step::Hold, later(1)).await, "what is open is not held but withdrawn");
    assert!(step(&fixture, Step::Withdraw, later(2)).await);
    assert!(!step(&fixture, Step::Withdraw, later(3)).await);
    assert!(!step(&fixture, Step::At(later(1)), later(4)).await, "not in the past");
    assert!(step(&fixture, Step::At(later(60)), later(5)).await);
    assert!(step(&fixture, Step::Hold, later(6)).await);
    assert!(step(&fixture, Step::Release, later(7)).await);
    let rows = history(&fixture).await;
    let states: Vec<_> = rows.iter().map(|row| (row.state, row.reason.as_deref())).collect();
    let so = Some("so");
    assert_eq!(
        states,
        [
            (State::Planned, None),
            (State::Withdrawn, so),
            (State::Planned, None),
            (State::Held, so),
            (State::Released, None)
        ]
    );
    assert!(rows[1..].iter().all(|row| row.by_name.as_deref() == Some("rowan (invented)")));
}

/// A law: whatever steps are asked for in whatever order, the store takes those that the last row allows and no other, each
/// taken step is one row more, no row before it changes, and it is open exactly where the last row says so.
#[tokio::test]
async fn any_sequence_of_steps_keeps_to_what_the_last_row_allows() {
    let fixture = signed(rule(ReleasedHow::Told, 1, time!(9:00)), NOW).await;
    let mut rows = history(&fixture).await;
    let mut seed: u32 = 7;
    for minute in 1..=120 {
        let now = NOW + Duration::minutes(minute);
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let next = match seed >> 28 {
            0..=2 => Step::Told,
            3..=5 => Step::Release,
            6 | 7 => Step::At(now + Duration::minutes(i64::from(seed >> 24 & 7) - 2)),
            8..=11 => Step::Hold,
            _ => Step::Withdraw,
        };
        let allowed = rows.last().unwrap().allows(next, now);
        assert_eq!(step(&fixture, next, now).await, allowed, "{next:?} after {:?}", rows.last());
        let after = history(&fixture).await;
        assert_eq!(after[..rows.len()], rows[..]);
        assert_eq!(after.len(), rows.len() + usize::from(allowed));
        let open = matches!(
            after.last().unwrap(),
            Release { state: State::Told | State::Released | State::Planned, opens_at: Some(at), .. } if *at <= now
        );
        assert_eq!(after.last().unwrap().is_open(now), open);
        rows = after;
    }
    assert!(rows.len() > 30, "only {} steps could be taken", rows.len());
}

#[tokio::test]
async fn the_last_day_of_a_review_is_counted_by_the_centres_calendar() {
    let fixture = Fixture::new().await;
    let mut tx = fixture.begin().await;
    let mut settings = centres::settings(&mut tx, &fixture.centre).await.unwrap().unwrap();
    settings.review_days = 28;
    centres::change(&mut tx, &fixture.centre, &settings).await.unwrap();
    for (opened, until) in [
        (NOW, datetime!(2027-03-03 23:59:59 UTC)),
        // Over the change of the clocks on 28 March; 23:30 UTC on 30 April is 1 May in London.
        (datetime!(2027-03-10 12:00 UTC), datetime!(2027-04-07 22:59:59 UTC)),
        (datetime!(2027-04-30 23:30 UTC), datetime!(2027-05-29 22:59:59 UTC)),
    ] {
        assert_eq!(releases::review_until(&mut tx, &fixture.centre, opened).await.unwrap(), until);
    }
}

#[tokio::test]
async fn what_was_opened_again_late_stays_until_it_can_no_longer_be_reviewed() {
    let fixture = Fixture::new().await;
    fixture.confirm(|kind| kind.bounds().0.max(3)).await;
    let (centre, by) = (&fixture.centre, fixture.assessor);
    let one = fixture.candidate_named("A").await;
    let session = fixture.signed(one, VerdictOutcome::Fail).await;
    let again = after(3) - Duration::days(10);
    let mut tx = fixture.begin().await;
    sqlx::query("UPDATE centres SET review_days = 28").execute(&mut *tx).await.unwrap();
    for (step, at) in [(Step::Withdraw, NOW + Duration::days(1)), (Step::Release, again)] {
        let reason = step.needs_reason().then_some("A slip in the feedback");
        assert!(releases::step(&mut tx, centre, session, step, reason, by, at).await.unwrap());
    }
    tx.commit().await.unwrap();
    // 23 April 2027 and 28 days, to the end of the day in London.
    let until = datetime!(2027-05-22 0:00 +1);
    let mut tx = fixture.begin().await;
    assert_eq!(releases::review_until(&mut tx, centre, again).await.unwrap(), until - Duration::SECOND);
    drop(tx);
    assert_eq!(fixture.erased(until - Duration::SECOND).await.get(&Kind::Fails), None);
    assert_eq!(fixture.erased(until).await.get(&Kind::Fails), Some(&1));
}
