//! Tasks and sessions.

use crate::support::centre::{Fixture, NOW, TASK, new_id, person};
use baywitness::marking::ExtraTime;
use baywitness::planning::Span;
use baywitness::seal::Digest;
use baywitness::store::sessions::{self, Ended, NewSession, Standing};
use baywitness::store::{SessionId, StaffNo, StoreError, TaskId, entries, planning, second_markers, staff, tasks};
use time::Duration;
use time::macros::{date, datetime};

#[tokio::test]
async fn publishing_makes_versions_and_the_same_bytes_keep_theirs() {
    let fixture = Fixture::new().await;
    let (centre, id) = (&fixture.centre, fixture.task_id);
    let changed = TASK.replace("minutes = 25", "minutes = 30");
    let mut tx = fixture.begin().await;
    assert_eq!(tasks::publish(&mut tx, centre, id, "Stairwell", TASK, NOW).await.unwrap(), 1);
    assert_eq!(tasks::publish(&mut tx, centre, id, "Stairwell, longer", &changed, NOW).await.unwrap(), 2);
    assert_eq!(tasks::publish(&mut tx, centre, id, "Stairwell", TASK, NOW).await.unwrap(), 1);
    let first = tasks::find(&mut tx, centre, id, 1).await.unwrap().unwrap();
    assert_eq!((first.source.as_str(), first.task.minutes), (TASK, 25));
    assert_eq!(first.digest, Digest::of(TASK).as_str());
    assert_eq!(tasks::find(&mut tx, centre, id, 2).await.unwrap().unwrap().task.minutes, 30);
    assert!(tasks::find(&mut tx, centre, id, 3).await.unwrap().is_none());
    let other = tasks::publish(&mut tx, centre, TaskId(new_id()), "A rose", TASK, NOW).await.unwrap();
    assert_eq!(other, 1, "versions count within a task");
    let listed = tasks::list(&mut tx, centre).await.unwrap();
    let listed: Vec<_> = listed.iter().map(|task| (task.title.as_str(), task.version)).collect();
    assert_eq!(listed, [("A rose", 1), ("Stairwell, longer", 2)]);
}

#[tokio::test]
async fn a_stored_task_that_cannot_be_read_is_named() {
    let fixture = Fixture::new().await;
    let mut tx = fixture.begin().await;
    let id = TaskId(new_id());
    tasks::publish(&mut tx, &fixture.centre, id, "Broken", "minutes = 0", NOW).await.unwrap();
    let why = tasks::find(&mut tx, &fixture.centre, id, 1).await.unwrap_err();
    assert!(matches!(&why, StoreError::Unreadable { table: "tasks", .. }), "{why}");
    assert!(why.to_string().contains(&id.0.to_string()), "{why}");
}

#[tokio::test]
async fn a_session_comes_back_as_planned() {
    let fixture = Fixture::new().await;
    let mut tx = fixture.begin().await;
    let found = sessions::find(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap();
    assert_eq!(sessions::hold(&mut tx, &fixture.centre, fixture.session).await.unwrap(), Some(found.clone()));
    assert_eq!(found.extra, ExtraTime { percent: 25, minutes: 5 });
    assert_eq!((found.planned_at, found.opened_at, found.count), (NOW, None, 0));
    assert!(sessions::find(&mut tx, &fixture.centre, SessionId(new_id())).await.unwrap().is_none());
    assert!(entries::open(&mut tx, &fixture.centre, fixture.session, &fixture.arrival()).await.unwrap());
    let found = sessions::find(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap();
    assert_eq!((found.opened_at, found.count), (Some(NOW), 1));
}

#[tokio::test]
async fn the_list_of_a_day_goes_by_the_centres_own_midnight() {
    let fixture = Fixture::new().await;
    let centre = &fixture.centre;
    let mut tx = fixture.begin().await;
    let first = sessions::find(&mut tx, centre, fixture.session).await.unwrap().unwrap();
    // 28 March 2027: the clocks in London go forward at 01:00 UTC, so this day is 23 hours long.
    let planned = [
        datetime!(2027-03-27 23:59:59 UTC),
        datetime!(2027-03-28 00:00 UTC),
        datetime!(2027-03-28 22:59:59 UTC),
        datetime!(2027-03-28 23:00 UTC),
    ];
    for planned_at in planned {
        let session = NewSession {
            id: SessionId(new_id()),
            task: first.task,
            task_version: first.task_version,
            candidate: first.candidate,
            assessor: first.assessor,
            bay: "Bay 2".to_owned(),
            planned_at,
            extra: ExtraTime::default(),
        };
        sessions::plan(&mut tx, centre, &session).await.unwrap();
    }
    let listed = sessions::of_day(&mut tx, centre, date!(2027 - 03 - 28), None).await.unwrap();
    let times: Vec<_> = listed.iter().map(|session| session.planned_local).collect();
    assert_eq!(times, [datetime!(2027-03-28 00:00), datetime!(2027-03-28 23:59:59)]);
    assert_eq!(listed[0].candidate_name, "Zoë Invented");
    assert_eq!((listed[0].task_title.as_str(), listed[0].standing), ("Stairwell", Standing::Planned));
    let others = sessions::of_day(&mut tx, centre, date!(2027 - 03 - 28), Some(StaffNo(99))).await.unwrap();
    assert!(others.is_empty());

    // One that is open and not signed stays on every day's list until it is.
    assert!(entries::open(&mut tx, centre, fixture.session, &fixture.arrival()).await.unwrap());
    let listed = sessions::of_day(&mut tx, centre, date!(2027 - 03 - 28), Some(fixture.assessor)).await.unwrap();
    assert_eq!((listed.len(), listed[0].id, listed[0].standing), (3, fixture.session, Standing::Open));
    let local = sessions::local_time(&mut tx, centre, datetime!(2027-07-01 12:00 UTC)).await.unwrap();
    assert_eq!(local, datetime!(2027-07-01 13:00));
}

/// What a statement is refused with: its SQLSTATE.
async fn refused_as(fixture: &Fixture, sql: &'static str) -> String {
    let mut tx = fixture.begin().await;
    let refused = sqlx::query(sql).execute(&mut *tx).await.unwrap_err();
    refused.into_database_error().unwrap().code().unwrap().into_owned()
}

#[tokio::test]
async fn the_plan_of_an_opened_session_is_history_for_everybody() {
    let fixture = Fixture::open().await;
    // PostgreSQL documentation, appendix A: 23001 restrict_violation, 23514 check_violation, 42501 insufficient_privilege.
    for (sql, code) in [
        ("UPDATE sessions SET planned_at = planned_at + interval '1 hour'", "23001"),
        ("UPDATE sessions SET bay = 'Bay 9'", "23001"),
        ("UPDATE sessions SET given_up = 'no_show', given_up_at = now(), given_up_by = 1", "23514"),
        ("UPDATE sessions SET candidate_id = session_id", "42501"),
        ("UPDATE sessions SET resit_of = NULL", "42501"),
        ("UPDATE session_changes SET bay = 'Bay 9'", "42501"),
        ("DELETE FROM session_changes", "42501"),
        ("UPDATE identity_checks SET how = 'card'", "42501"),
    ] {
        assert_eq!(refused_as(&fixture, sql).await, code, "{sql}");
    }
    let mut tx = fixture.begin().await;
    let plan = planning::give_up(&mut tx, &fixture.centre, fixture.session, Ended::NoShow, None, fixture.assessor, NOW);
    assert!(!plan.await.unwrap(), "nor through the store");
}

#[tokio::test]
async fn a_second_marker_stays_once_the_session_is_open() {
    let fixture = Fixture::new().await;
    let mut tx = fixture.begin().await;
    let other = staff::add(&mut tx, &fixture.centre, &person("sam")).await.unwrap().unwrap();
    assert!(second_markers::plan(&mut tx, &fixture.centre, fixture.session, other).await.unwrap());
    second_markers::remove(&mut tx, &fixture.centre, fixture.session).await.unwrap();
    assert!(second_markers::plan(&mut tx, &fixture.centre, fixture.session, other).await.unwrap());
    assert!(entries::open(&mut tx, &fixture.centre, fixture.session, &fixture.arrival()).await.unwrap());
    assert!(second_markers::remove(&mut tx, &fixture.centre, fixture.session).await.is_err());
}

#[tokio::test]
async fn a_session_that_was_given_up_is_never_opened() {
    let fixture = Fixture::new().await;
    let (centre, by) = (&fixture.centre, fixture.assessor);
    let mut tx = fixture.begin().await;
    let give_up = planning::give_up(&mut tx, centre, fixture.session, Ended::Cancelled, Some("painted"), by, NOW);
    assert!(give_up.await.unwrap());
    assert!(!entries::open(&mut tx, centre, fixture.session, &fixture.arrival()).await.unwrap());
    let again = planning::give_up(&mut tx, centre, fixture.session, Ended::NoShow, None, by, NOW).await.unwrap();
    assert!(!again, "once is enough");
    let history = planning::changes(&mut tx, centre, fixture.session).await.unwrap();
    let kinds: Vec<_> = history.iter().map(|line| (line.sequence, line.kind.as_str())).collect();
    assert_eq!(kinds, [(0, "planned"), (1, "cancelled")]);
    let listed = sessions::of_day(&mut tx, centre, NOW.date(), None).await.unwrap();
    assert_eq!(listed[0].standing, Standing::Cancelled);
    // What was given up takes up nothing.
    let span = Span { from: NOW, until: NOW + Duration::HOUR };
    assert_eq!(planning::booked(&mut tx, centre, span).await.unwrap(), []);
}
