//! Batches that arrive together share a commit, and nothing else.

use crate::support::centre::{Fixture, NOW, new_id, observation};
use baywitness::candidates::Details;
use baywitness::seal::{Content, chain};
use baywitness::store::entries::{self, Arrival, Batch, Receipt, Taken};
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::{CentreId, SessionId, StaffNo, StoreError};
use baywitness::store::{candidates, centres, staff, tasks};
use std::sync::Arc;
use tokio::task::JoinSet;

const THROW: &str = r#"{"kind":"operated","switch":"S1"}"#;

/// A batch of one throw with this number.
fn batch(fixture: &Fixture, session: SessionId, by: StaffNo, seq: u32) -> Batch {
    let arrival = Arrival { by, ..fixture.arrival() };
    let observations = vec![observation(new_id(), seq, THROW)];
    Batch { session, task: Arc::new(fixture.task.clone()), arrival, high: Some(seq), observations }
}

/// Another open session of the same centre.
async fn another(fixture: &Fixture) -> SessionId {
    let mut tx = fixture.begin().await;
    let planned = NewSession {
        id: SessionId(new_id()),
        task: fixture.task_id,
        task_version: 1,
        candidate: fixture.candidate,
        assessor: fixture.assessor,
        bay: "Bay 1".into(),
        planned_at: NOW,
        extra: Default::default(),
    };
    sessions::plan(&mut tx, &fixture.centre, &planned).await.unwrap();
    entries::open(&mut tx, &fixture.centre, planned.id, &fixture.arrival()).await.unwrap();
    tx.commit().await.unwrap();
    planned.id
}

/// Hands all of them over at once.
async fn at_once(fixture: &Fixture, batches: Vec<(CentreId, Batch)>) -> Vec<Result<Option<Taken>, StoreError>> {
    let mut running = JoinSet::new();
    for (at, (centre, batch)) in batches.into_iter().enumerate() {
        let store = fixture.db.store.clone();
        running.spawn(async move { (at, store.take(&centre, batch).await) });
    }
    let mut answers = running.join_all().await;
    answers.sort_by_key(|(at, _)| *at);
    answers.into_iter().map(|(_, answer)| answer).collect()
}

fn is_accepted(answer: &Result<Option<Taken>, StoreError>) -> bool {
    matches!(answer, Ok(Some(taken)) if matches!(taken.receipts[..], [Receipt::Accepted(_)]))
}

#[tokio::test]
async fn many_at_once_need_few_commits_and_each_is_there() {
    let fixture = Fixture::open().await;
    let mut all = vec![fixture.session];
    for _ in 0..7 {
        all.push(another(&fixture).await);
    }
    let batches = (1..=120u32).map(|seq| {
        let session = all[usize::try_from(seq).unwrap() % all.len()];
        (fixture.centre.clone(), batch(&fixture, session, fixture.assessor, seq))
    });
    let answers = at_once(&fixture, batches.collect()).await;
    assert!(answers.iter().all(is_accepted));
    let mut tx = fixture.begin().await;
    let (rows, commits): (i64, i64) =
        sqlx::query_as("SELECT count(*), count(DISTINCT xmin::text) FROM entries WHERE kind = 'observation'")
            .fetch_one(&mut *tx)
            .await
            .unwrap();
    assert_eq!(rows, 120);
    assert!(commits < 60, "{commits} commits for 120 batches");
    for session in all {
        let lines: Vec<String> = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
            .bind(session.0)
            .fetch_all(&mut *tx)
            .await
            .unwrap();
        let head = entries::head(&mut tx, &fixture.centre, session).await.unwrap();
        assert_eq!(chain::head(session.0, lines.iter().map(String::as_str)).as_str(), head.hash);
    }
}

#[tokio::test]
async fn a_bad_row_costs_its_neighbours_nothing() {
    let fixture = Fixture::open().await;
    let other = another(&fixture).await;
    // Nobody has this number: the row is refused by the database itself.
    let bad = |seq| (fixture.centre.clone(), batch(&fixture, fixture.session, StaffNo(999), seq));
    let good = |seq| (fixture.centre.clone(), batch(&fixture, other, fixture.assessor, seq));
    let batches = (1..=40).map(|seq| if seq % 8 == 0 { bad(seq) } else { good(seq) }).collect();
    let answers = at_once(&fixture, batches).await;
    for (at, answer) in answers.iter().enumerate() {
        let is_bad = (at + 1) % 8 == 0;
        assert_eq!(is_accepted(answer), !is_bad, "{at}: {answer:?}");
        assert!(!is_bad || answer.as_ref().is_err_and(|why| !why.is_passing()), "{at}: {answer:?}");
    }
    assert_eq!(fixture.chain().await.0, 1);
}

/// A second centre with an open session, on the same database.
async fn southgate(fixture: &Fixture) -> (CentreId, StaffNo, SessionId) {
    let centre = CentreId::new("southgate").unwrap();
    let mut tx = fixture.db.store.begin(&centre).await.unwrap();
    let named = centres::Centre { id: centre.clone(), name: "Southgate (invented)".into(), time_zone: "UTC".into() };
    centres::add(&mut tx, &named).await.unwrap();
    let person = crate::support::centre::person("ash");
    let by = staff::add(&mut tx, &centre, &person).await.unwrap().unwrap();
    let learner = Details::named("A", "B");
    candidates::add(&mut tx, &centre, fixture.candidate, &learner, NOW).await.unwrap();
    let task = crate::support::centre::TASK;
    tasks::publish(&mut tx, &centre, fixture.task_id, "Stairwell", task, NOW).await.unwrap();
    let planned = NewSession {
        id: SessionId(new_id()),
        task: fixture.task_id,
        task_version: 1,
        candidate: fixture.candidate,
        assessor: by,
        bay: "Bay 1".into(),
        planned_at: NOW,
        extra: Default::default(),
    };
    sessions::plan(&mut tx, &centre, &planned).await.unwrap();
    entries::open(&mut tx, &centre, planned.id, &Arrival { by, ..fixture.arrival() }).await.unwrap();
    tx.commit().await.unwrap();
    (centre, by, planned.id)
}

#[tokio::test]
async fn batches_of_two_centres_at_once_stay_each_in_its_own() {
    let fixture = Fixture::open().await;
    let (south, by, theirs) = southgate(&fixture).await;
    let mut batches = Vec::new();
    for seq in 1..=100 {
        let (centre, session, by) = match seq % 4 {
            0 | 1 => (fixture.centre.clone(), fixture.session, fixture.assessor),
            2 => (south.clone(), theirs, by),
            // A session of the other centre: to this one it does not exist.
            _ => (south.clone(), fixture.session, by),
        };
        batches.push((centre, batch(&fixture, session, by, seq)));
    }
    let answers = at_once(&fixture, batches).await;
    for (at, answer) in answers.iter().enumerate() {
        match (at + 1) % 4 {
            3 => assert!(matches!(answer, Ok(None)), "{at}: {answer:?}"),
            _ => assert!(is_accepted(answer), "{at}: {answer:?}"),
        }
    }
    let mut owner = fixture.db.owner().await;
    let counts: Vec<(String, i64)> = sqlx::query_as("SELECT centre_id, count(*) FROM entries GROUP BY 1 ORDER BY 1")
        .fetch_all(&mut owner)
        .await
        .unwrap();
    assert_eq!(counts, [("northgate".to_owned(), 51), ("southgate".to_owned(), 26)]);
}

#[tokio::test]
async fn a_full_session_is_not_read_to_append_to_it() {
    let fixture = Fixture::open().await;
    let many: Vec<_> = (1..=1_500).map(|seq| observation(new_id(), seq, THROW)).collect();
    fixture.append(&many).await;
    let mut tx = fixture.begin().await;
    let (centre, session, arrival) = (&fixture.centre, fixture.session, fixture.arrival());
    for seq in 1_501..=1_510 {
        let one = [observation(new_id(), seq, THROW)];
        entries::append(&mut tx, centre, session, &fixture.task, &arrival, &one).await.unwrap();
    }
    let again = entries::append(&mut tx, centre, session, &fixture.task, &arrival, &many[700..710]).await.unwrap();
    assert_eq!(again[9], Receipt::Duplicate(711));
    let read: i64 = sqlx::query_scalar(
        "SELECT coalesce(seq_tup_read, 0) + coalesce(idx_tup_fetch, 0)
         FROM pg_stat_xact_user_tables WHERE relname = 'entries'",
    )
    .fetch_one(&mut *tx)
    .await
    .unwrap();
    assert!((10..100).contains(&read), "{read} rows were read to append 10 and to find 10");
}

#[tokio::test]
async fn what_a_device_sends_after_the_signature_is_late_and_what_is_made_here_is_refused() {
    let fixture = Fixture::open().await;
    let (_, head, _) = fixture.chain().await;
    let verdict = baywitness::marking::Verdict {
        outcome: baywitness::marking::VerdictOutcome::Unfinished,
        marks: 0,
        of: 40,
        percent: 0.0,
        reasons: vec![],
    };
    let mut tx = fixture.begin().await;
    let (centre, session, by) = (&fixture.centre, fixture.session, fixture.assessor);
    sessions::hold(&mut tx, centre, session).await.unwrap();
    baywitness::store::results::sign(&mut tx, centre, session, &head, &verdict, by, NOW).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let late = batch(&fixture, session, by, 1);
    assert!(is_accepted(&fixture.db.store.take(centre, late.clone()).await));
    let again = fixture.db.store.take(centre, late.clone()).await.unwrap().unwrap();
    assert_eq!(again.receipts, [Receipt::Duplicate(3)]);
    let here = fixture.append(&[observation(new_id(), 2, THROW)]).await;
    assert_eq!(here, [Receipt::Refused("the session is signed".to_owned())]);
    let mut tx = fixture.begin().await;
    let stored = entries::of_session(&mut tx, centre, session).await.unwrap();
    assert!(matches!(stored.last().unwrap().content, Content::Late { .. }));
    assert_eq!(entries::late_of(&mut tx, centre, session, by).await.unwrap(), late.observations);
    assert!(fixture.log().await.observations().is_empty(), "the signed log does not hold it");
}
