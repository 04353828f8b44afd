//! A result that a review amended: two rows, the second naming the first, in every format.

use super::{Centre, LONG_TIPS, NOW};
use crate::support::centre::{Fixture, person};
use baywitness::export::format::Format;
use baywitness::marking::decision::{Standing, decide};
use baywitness::marking::{self, Outcome, VerdictOutcome};
use baywitness::store::exports::{Depth, Page};
use baywitness::store::reviews::{self, Amendment, Code, Decided};
use baywitness::store::{SessionId, StaffNo, decisions, entries, sessions, staff};
use serde_json::Value;
use time::Duration;

/// Ends a review of a session, in which findings become what `change` answers for them; answers what that came to.
pub async fn amend(
    fixture: &Fixture,
    session: SessionId,
    by: StaffNo,
    change: impl Fn(&Standing) -> Option<Outcome>,
) -> VerdictOutcome {
    let (centre, task) = (&fixture.centre, &fixture.task);
    let mut tx = fixture.begin().await;
    assert!(reviews::ask(&mut tx, centre, session, "the tips", NOW + Duration::days(1)).await.unwrap());
    let log = entries::log_of(&mut tx, centre, session, fixture.assessor, task).await.unwrap();
    let marking = marking::mark(task, &log);
    let mut decided = decisions::of_session(&mut tx, centre, session).await.unwrap();
    let changes: Vec<Amendment> = decide(task, &marking, &decided)
        .findings
        .iter()
        .filter_map(|one| {
            Some(Amendment {
                criterion: one.proposed.criterion.clone(),
                outcome: change(one)?,
                code: Code::UnfairConditions,
                words: "=cmd() the guards had been taken".into(),
            })
        })
        .collect();
    decided.extend(changes.iter().map(Amendment::decision));
    let verdict = decide(task, &marking, &decided).verdict;
    sessions::hold(&mut tx, centre, session).await.unwrap();
    let ended = Decided { by, words: "This was looked at again.", changes: &changes, verdict: &verdict };
    reviews::end(&mut tx, centre, session, &ended, NOW + Duration::days(2)).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    verdict.outcome
}

/// For [`amend`]: whatever was not met is met.
pub fn all_met(one: &Standing) -> Option<Outcome> {
    (one.outcome == Outcome::NotMet).then_some(Outcome::Met)
}

/// A session that did not pass and does after the review.
async fn amended() -> (Centre, SessionId) {
    let one = Centre::empty().await;
    let session = one.signed("Ng", LONG_TIPS, NOW).await;
    let mut tx = one.fixture.begin().await;
    let second = staff::add(&mut tx, &one.fixture.centre, &person("vera")).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let outcome = amend(&one.fixture, session, second, all_met).await;
    assert_eq!(outcome, VerdictOutcome::Pass);
    (one, session)
}

#[tokio::test]
async fn both_results_are_rows_and_the_second_names_the_first() {
    let (one, session) = amended().await;
    let filter = one.order(Format::Json).filter;
    let reading = one.fixture.db.store.read_export(&one.fixture.centre, &filter, Depth::Marked, false).await.unwrap();
    let mut reading = reading.unwrap();
    assert_eq!(reading.rows, 2);
    let Page::Rows(rows) = reading.page().await.unwrap() else { panic!("rows") };
    reading.end().await;
    let [first, second] = &rows[..] else { panic!("{} rows", rows.len()) };
    assert_eq!((first.session, second.session), (session.0, session.0));
    assert_eq!((first.supersedes(), second.supersedes()), (None, Some(first.result_id())));
    assert_eq!((first.superseded, second.superseded), (true, false));
    assert_ne!(first.outcome, VerdictOutcome::Pass);
    assert_eq!(second.outcome, VerdictOutcome::Pass);
    assert!(first.amendments.is_empty());
    assert!(second.amendments.iter().all(|one| one.ends_with(":met:unfair_conditions")), "{:?}", second.amendments);
    assert_ne!((first.signed_by, &first.evidence_code), (second.signed_by, &second.evidence_code));
    // The findings of each are those that it was signed with.
    let not_met = |row: &baywitness::export::row::Row| {
        row.marked.as_ref().unwrap().findings.iter().filter(|one| one.outcome == Outcome::NotMet).count()
    };
    assert_eq!((not_met(first), not_met(second)), (second.amendments.len(), 0));
}

#[tokio::test]
async fn every_format_tells_both_and_a_credential_is_made_for_what_stands() {
    let (one, _) = amended().await;
    let data: Value = serde_json::from_str(&one.text(one.order(Format::Json)).await).unwrap();
    let results = data["results"].as_array().unwrap();
    assert_eq!(results.len(), 2);
    assert_eq!(results[1]["result"]["supersedes"], results[0]["result"]["id"]);
    let csv = one.text(one.order(Format::CsvData)).await;
    assert_eq!(csv.split_terminator("\r\n").count(), 3);
    assert!(csv.lines().next().unwrap().contains("signed_by,amendments"), "{csv}");
    let statements = one.text(one.order(Format::Statements)).await;
    assert!(statements.contains("/voided"), "the first statement is voided");
    let credentials = one.text(one.order(Format::Badges)).await;
    assert_eq!(credentials.split_whitespace().count(), 1, "one pass: {credentials}");
    // What somebody wrote in a review stands in findings only, and is no formula there.
    let findings = one.text(one.order(Format::FindingsSheet)).await;
    assert!(findings.contains("'=cmd()"), "{findings}");
}
