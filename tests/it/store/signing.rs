//! Decisions and signed results.

use crate::support::centre::{Fixture, NOW, new_id, observation};
use baywitness::marking::decision::Decision;
use baywitness::marking::{CriterionId, Outcome, Verdict, VerdictOutcome};
use baywitness::seal::{Content, Entry, chain};
use baywitness::store::entries::Receipt;
use baywitness::store::sessions::{self, Standing};
use baywitness::store::{decisions, results};
use std::sync::Arc;

fn verdict() -> Verdict {
    Verdict {
        outcome: VerdictOutcome::AutomaticFail,
        marks: 31,
        of: 40,
        percent: 77.5,
        reasons: vec![CriterionId::new("key").unwrap()],
    }
}

#[tokio::test]
async fn a_signed_result_stands_at_the_end_of_the_chain_and_comes_back_whole() {
    let fixture = Fixture::open().await;
    let started = observation(new_id(), 1, r#"{"kind":"started"}"#);
    fixture.append(std::slice::from_ref(&started)).await;
    let (_, head, _) = fixture.chain().await;
    let mut tx = fixture.begin().await;
    let (centre, session, by) = (&fixture.centre, fixture.session, fixture.assessor);
    assert_eq!(results::find(&mut tx, centre, session).await.unwrap(), None);
    let signed = results::sign(&mut tx, centre, session, &head, &verdict(), by, NOW).await.unwrap().unwrap();
    assert_eq!(results::find(&mut tx, centre, session).await.unwrap(), Some(signed.clone()));
    let list = sessions::of_day(&mut tx, centre, NOW.date(), None).await.unwrap();
    assert_eq!(list[0].standing, Standing::Signed(VerdictOutcome::AutomaticFail));
    tx.commit().await.unwrap();

    let (count, head, lines) = fixture.chain().await;
    assert_eq!((signed.count, &signed.head, &signed.verdict), (count, &head, &verdict()));
    assert_eq!(chain::head(session.0, lines.iter().map(String::as_str)).as_str(), head);
    let last = Entry::read(lines.last().unwrap()).unwrap();
    assert_eq!(last.content, Content::Outcome { outcome: VerdictOutcome::AutomaticFail, marks: 31, of: 40 });

    let late = observation(new_id(), 2, r#"{"kind":"ended"}"#);
    let expected = [Receipt::Refused("the session is signed".to_owned()), Receipt::Duplicate(2)];
    assert_eq!(fixture.append(&[late, started]).await, expected);
}

#[tokio::test]
async fn signing_needs_the_head_as_it_is_and_an_open_session() {
    let fixture = Fixture::new().await;
    let (centre, session, by) = (&fixture.centre, fixture.session, fixture.assessor);
    let (_, head, _) = fixture.chain().await;
    let mut tx = fixture.begin().await;
    assert_eq!(results::sign(&mut tx, centre, session, &head, &verdict(), by, NOW).await.unwrap(), None, "not open");
    let fixture = Fixture::open().await;
    let (centre, session) = (&fixture.centre, fixture.session);
    let (_, seen, _) = fixture.chain().await;
    fixture.append(&[observation(new_id(), 1, r#"{"kind":"started"}"#)]).await;
    let mut tx = fixture.begin().await;
    assert_eq!(results::sign(&mut tx, centre, session, &seen, &verdict(), by, NOW).await.unwrap(), None, "moved on");
    assert_eq!(results::find(&mut tx, centre, session).await.unwrap(), None);
}

#[tokio::test]
async fn of_many_who_sign_at_once_exactly_one_does() {
    let fixture = Arc::new(Fixture::open().await);
    let (_, head, _) = fixture.chain().await;
    let mut tasks = tokio::task::JoinSet::new();
    for _ in 0..16 {
        let (fixture, head) = (Arc::clone(&fixture), head.clone());
        tasks.spawn(async move {
            let mut tx = fixture.begin().await;
            sessions::hold(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap();
            let (centre, by) = (&fixture.centre, fixture.assessor);
            let signed = results::sign(&mut tx, centre, fixture.session, &head, &verdict(), by, NOW).await.unwrap();
            tx.commit().await.unwrap();
            signed.is_some()
        });
    }
    let signed = tasks.join_all().await.into_iter().filter(|signed| *signed).count();
    assert_eq!(signed, 1);
    assert_eq!(fixture.chain().await.0, 2);
}

#[tokio::test]
async fn decisions_come_back_in_the_order_they_were_made() {
    let fixture = Fixture::open().await;
    let made = [
        ("key", Outcome::NotMet, None),
        ("notice", Outcome::Met, Some("seen from the stairs")),
        ("key", Outcome::Met, Some("the film shows it")),
        ("tips", Outcome::NotApplicable, Some("none")),
    ];
    let made = made.map(|(criterion, outcome, reason)| Decision {
        criterion: CriterionId::new(criterion).unwrap(),
        outcome,
        reason: reason.map(str::to_owned),
    });
    let mut tx = fixture.begin().await;
    for decision in &made {
        let by = fixture.assessor;
        decisions::add(&mut tx, &fixture.centre, fixture.session, by, decision, NOW).await.unwrap();
    }
    assert_eq!(decisions::of_session(&mut tx, &fixture.centre, fixture.session).await.unwrap(), made);
}
