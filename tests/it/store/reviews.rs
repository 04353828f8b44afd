//! Reviews: asked for once, ended by a second person; both results stay.

use crate::support::centre::{Fixture, NOW, new_id, observation, person};
use baywitness::marking::{CriterionId, Outcome, Verdict, VerdictOutcome};
use baywitness::seal::{Content, Entry, chain};
use baywitness::store::reviews::{self, Amendment, Code, Decided, Refused};
use baywitness::store::sessions::{self, Standing};
use baywitness::store::{StaffNo, results, staff};
use sqlx::AssertSqlSafe;
use std::sync::Arc;
use time::Duration;

fn verdict(outcome: VerdictOutcome, marks: u32) -> Verdict {
    Verdict { outcome, marks, of: 40, percent: f64::from(marks) * 2.5, reasons: Vec::new() }
}

fn change(criterion: &str) -> Amendment {
    Amendment {
        criterion: CriterionId::new(criterion).unwrap(),
        outcome: Outcome::Met,
        code: Code::RecordShowsOtherwise,
        words: "The key was in their pocket from minute 3 on.".into(),
    }
}

/// A signed session and a second person.
async fn signed() -> (Fixture, StaffNo) {
    let fixture = Fixture::open().await;
    fixture.append(&[observation(new_id(), 1, r#"{"kind":"started"}"#)]).await;
    let (_, head, _) = fixture.chain().await;
    let mut tx = fixture.begin().await;
    let (centre, by) = (&fixture.centre, fixture.assessor);
    let first = verdict(VerdictOutcome::AutomaticFail, 31);
    results::sign(&mut tx, centre, fixture.session, &head, &first, by, NOW).await.unwrap().unwrap();
    let second = staff::add(&mut tx, centre, &person("vera")).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    (fixture, second)
}

async fn ask(fixture: &Fixture, reason: &str) -> bool {
    let mut tx = fixture.begin().await;
    let asked = reviews::ask(&mut tx, &fixture.centre, fixture.session, reason, NOW + Duration::days(1)).await.unwrap();
    tx.commit().await.unwrap();
    asked
}

async fn end(fixture: &Fixture, by: StaffNo, changes: &[Amendment]) -> Result<(), Refused> {
    let mut tx = fixture.begin().await;
    sessions::hold(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap();
    let verdict = verdict(VerdictOutcome::Pass, 40);
    let decided = Decided { by, words: "I looked at the record.", changes, verdict: &verdict };
    let done =
        reviews::end(&mut tx, &fixture.centre, fixture.session, &decided, NOW + Duration::days(2)).await.unwrap();
    tx.commit().await.unwrap();
    done
}

#[tokio::test]
async fn a_review_is_asked_for_once() {
    let (fixture, _) = signed().await;
    assert!(ask(&fixture, "the key").await);
    assert!(!ask(&fixture, "the notice").await);
    let mut tx = fixture.begin().await;
    let review = reviews::find(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap();
    assert_eq!((review.reason.as_str(), review.end), ("the key", None));
}

#[tokio::test]
async fn upheld_it_leaves_the_record_as_it_was() {
    let (fixture, second) = signed().await;
    let before = fixture.chain().await;
    assert_eq!(end(&fixture, second, &[]).await, Err(Refused::NotOpen), "none was asked for");
    ask(&fixture, "the key").await;
    assert_eq!(end(&fixture, second, &[]).await, Ok(()));
    assert_eq!(end(&fixture, second, &[change("key")]).await, Err(Refused::NotOpen), "it is ended");
    assert_eq!(fixture.chain().await, before);
    let mut tx = fixture.begin().await;
    let told = reviews::find(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap().end.unwrap();
    assert_eq!((told.words.as_str(), told.by, told.amended), ("I looked at the record.", second, None));
    assert_eq!(reviews::list(&mut tx, &fixture.centre).await.unwrap()[0].amended, Some(false));
}

#[tokio::test]
async fn amended_it_gets_new_entries_and_a_second_result_beside_the_first() {
    let (fixture, second) = signed().await;
    let (count, _, before) = fixture.chain().await;
    ask(&fixture, "the key").await;
    assert_eq!(end(&fixture, second, &[change("key"), change("notice")]).await, Ok(()));

    let (after, head, lines) = fixture.chain().await;
    assert_eq!((after, &lines[..before.len()]), (count + 3, &before[..]), "nothing before it changed");
    assert_eq!(chain::head(fixture.session.0, lines.iter().map(String::as_str)).as_str(), head);
    let new: Vec<Entry> = lines[before.len()..].iter().map(|line| Entry::read(line).unwrap()).collect();
    let amendment = |criterion: &str| Content::Amendment {
        criterion: criterion.into(),
        outcome: Outcome::Met,
        reason: "record_shows_otherwise".into(),
    };
    let outcome = Content::Outcome { outcome: VerdictOutcome::Pass, marks: 40, of: 40 };
    let contents: Vec<_> = new.iter().map(|entry| entry.content.clone()).collect();
    assert_eq!(contents, [amendment("key"), amendment("notice"), outcome]);
    assert!(new.iter().all(|entry| entry.origin.by == second.0));
    assert!(lines.iter().all(|line| !line.contains("pocket")), "no free text in the evidence");

    let mut tx = fixture.begin().await;
    let (centre, session) = (&fixture.centre, fixture.session);
    let first = results::find(&mut tx, centre, session).await.unwrap().unwrap();
    assert_eq!((first.verdict.outcome, first.by), (VerdictOutcome::AutomaticFail, fixture.assessor));
    let amended = reviews::amended(&mut tx, centre, session).await.unwrap().unwrap();
    assert_eq!((amended.result.verdict, amended.result.by), (verdict(VerdictOutcome::Pass, 40), second));
    assert_eq!((amended.result.count, amended.result.head), (after, head));
    assert_eq!(amended.changes, [change("key"), change("notice")]);
    let list = sessions::of_day(&mut tx, centre, NOW.date(), None).await.unwrap();
    assert_eq!(list[0].standing, Standing::Signed(VerdictOutcome::Pass), "lists show what stands");
}

#[tokio::test]
async fn nobody_reviews_what_they_signed_not_even_past_the_program() {
    let (fixture, _) = signed().await;
    ask(&fixture, "the key").await;
    for changes in [vec![], vec![change("key")]] {
        assert_eq!(end(&fixture, fixture.assessor, &changes).await, Err(Refused::SamePerson));
    }
    let (count, head, _) = fixture.chain().await;
    let mut owner = fixture.db.owner().await;
    let (by, session) = (fixture.assessor.0, fixture.session.0);
    for sql in [
        format!("INSERT INTO review_ends VALUES ('northgate', '{session}', 'upheld', 'so', {by}, now())"),
        format!(
            "INSERT INTO amended_results VALUES ('northgate', '{session}', 1, 'pass', 1, 1, 100, '{{}}', {count},
             '{head}', {by}, now())"
        ),
    ] {
        sqlx::query("SELECT set_config('baywitness.centre', 'northgate', false)").execute(&mut owner).await.unwrap();
        let done = sqlx::raw_sql(AssertSqlSafe(sql.clone())).execute(&mut owner).await.unwrap_err();
        let done = done.into_database_error().unwrap();
        assert_eq!(done.code().as_deref(), Some("23001"), "{sql}");
        assert!(done.message().contains("another person"), "{}", done.message());
    }
    let mut tx = fixture.begin().await;
    assert_eq!(reviews::find(&mut tx, &fixture.centre, fixture.session).await.unwrap().unwrap().end, None);
}

#[tokio::test]
async fn of_many_who_end_a_review_at_once_exactly_one_does() {
    let (fixture, second) = signed().await;
    ask(&fixture, "the key").await;
    let fixture = Arc::new(fixture);
    let mut tasks = tokio::task::JoinSet::new();
    for _ in 0..8 {
        let fixture = Arc::clone(&fixture);
        tasks.spawn(async move { end(&fixture, second, &[change("key")]).await });
    }
    let ended = tasks.join_all().await;
    assert_eq!(ended.iter().filter(|one| one.is_ok()).count(), 1);
    assert!(ended.iter().all(|one| matches!(one, Ok(()) | Err(Refused::NotOpen))));
    let (_, _, lines) = fixture.chain().await;
    assert_eq!(lines.iter().filter(|line| line.contains("\"amendment\"")).count(), 1);
}
