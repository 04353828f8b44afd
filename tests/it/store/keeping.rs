//! How long records are kept: at each moment exactly what is due goes, and the chains hold. UK GDPR, article 5(1)(e):
//! no longer in a form that names people than is needed.

use crate::support::centre::{Fixture, NOW, new_id, observation};
use baywitness::candidates::Details;
use baywitness::clock::Clock;
use baywitness::keeper::{self, Ran};
use baywitness::marking::decision::Decision;
use baywitness::marking::{CriterionId, Outcome, Verdict, VerdictOutcome};
use baywitness::seal::{Content, Entry, chain};
use baywitness::store::exports::{self, Begun, Filter};
use baywitness::store::holds::{self, Set, Why};
use baywitness::store::invitations::{self, Invitation};
use baywitness::store::keeping::{self, Begin, Kind, Periods};
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::{CandidateId, SessionId, candidates, decisions, deeds, entries, erasures, feedback};
use baywitness::store::{results, sign_ins};
use sqlx::{AssertSqlSafe, PgConnection};
use std::collections::HashMap;
use time::macros::{date, datetime};
use time::{Duration, OffsetDateTime};

/// Months of each kind in these tests, so that no two are due at once.
pub(super) fn months(kind: Kind) -> i16 {
    match kind {
        Kind::SignIns => 1,
        Kind::Invitations => 3,
        Kind::Links => 6,
        Kind::Words => 12,
        Kind::Fails => 24,
        Kind::Passes => 36,
        Kind::Candidates => 48,
        Kind::Exports => 60,
        Kind::Deeds => 72,
    }
}

/// So many months after everything here happened, at the same time of day.
pub(super) fn after(months: i16) -> OffsetDateTime {
    let month = i32::from(months) + 1;
    let at = date!(2027 - 01 - 03).replace_year(2027 + month / 12).unwrap();
    let at = at.replace_month(time::Month::try_from(u8::try_from(month % 12 + 1).unwrap()).unwrap()).unwrap();
    at.with_time(NOW.time()).assume_utc()
}

impl Fixture {
    pub(super) async fn confirm(&self, month: impl Fn(Kind) -> i16) {
        let mut tx = self.begin().await;
        let periods = Periods::told(|kind| Some(month(kind))).unwrap();
        keeping::set_periods(&mut tx, &self.centre, &periods, self.assessor, NOW).await.unwrap();
        tx.commit().await.unwrap();
    }

    /// A candidate of this name.
    pub(super) async fn candidate_named(&self, name: &str) -> CandidateId {
        let id = CandidateId(new_id());
        let mut tx = self.begin().await;
        let details = Details::named(name, &format!("REG-{name}"));
        assert!(candidates::add(&mut tx, &self.centre, id, &details, NOW).await.unwrap());
        tx.commit().await.unwrap();
        id
    }

    /// A session of a candidate that is opened at this time, with a remark and a reason that name them.
    pub(super) async fn attempt(&self, candidate: CandidateId, at: OffsetDateTime) -> SessionId {
        let id = SessionId(new_id());
        let centre = &self.centre;
        let planned = NewSession {
            id,
            task: self.task_id,
            task_version: 1,
            candidate,
            assessor: self.assessor,
            bay: "Bay 3".into(),
            planned_at: at,
            extra: Default::default(),
        };
        let mut tx = self.begin().await;
        sessions::plan(&mut tx, centre, &planned).await.unwrap();
        sessions::hold(&mut tx, centre, id).await.unwrap().unwrap();
        let mut arrival = self.arrival();
        arrival.received_at = at;
        assert!(entries::open(&mut tx, centre, id, &arrival).await.unwrap());
        let remark = observation(new_id(), 1, r#"{"kind":"remark","text":"Zoë asked for the time"}"#);
        entries::append(&mut tx, centre, id, &self.task, &arrival, &[remark]).await.unwrap();
        let criterion = CriterionId::new("key").unwrap();
        let decision = Decision { criterion, outcome: Outcome::NotApplicable, reason: Some("Zoë said so".into()) };
        decisions::add(&mut tx, centre, id, self.assessor, &decision, at).await.unwrap();
        tx.commit().await.unwrap();
        id
    }

    pub(super) async fn sign(&self, session: SessionId, outcome: VerdictOutcome, at: OffsetDateTime) {
        let verdict = Verdict { outcome, marks: 31, of: 40, percent: 77.5, reasons: Vec::new() };
        let mut tx = self.begin().await;
        let head = entries::head(&mut tx, &self.centre, session).await.unwrap().hash;
        let signed = results::sign(&mut tx, &self.centre, session, &head, &verdict, self.assessor, at).await.unwrap();
        assert!(signed.is_some());
        tx.commit().await.unwrap();
    }

    pub(super) async fn signed(&self, candidate: CandidateId, outcome: VerdictOutcome) -> SessionId {
        let session = self.attempt(candidate, NOW).await;
        self.sign(session, outcome, NOW).await;
        session
    }

    pub(super) async fn run(&self, why: Begin, now: OffsetDateTime) -> Ran {
        keeper::run(&self.db.store, &Clock::told(move || now), &self.centre, why).await.unwrap()
    }

    /// What a run at this moment erases, kind by kind; a second one finds nothing; the dry run said the same.
    pub(super) async fn erased(&self, now: OffsetDateTime) -> HashMap<Kind, i64> {
        let mut tx = self.begin().await;
        let told = keeping::overview(&mut tx, &self.centre, now, now).await.unwrap().due;
        tx.commit().await.unwrap();
        let told: HashMap<_, _> = told.into_iter().filter(|due| due.free > 0).map(|due| (due.kind, due.free)).collect();
        let Ran::Done { erased, .. } = self.run(Begin::Asked, now).await else { panic!("it did not run") };
        assert_eq!(told, erased, "what the page tells is what goes");
        let Ran::Done { erased: again, .. } = self.run(Begin::Asked, now).await else { panic!("it did not run") };
        assert_eq!(again, HashMap::new());
        self.chains_hold().await;
        erased
    }

    /// Works out every chain of the centre anew; answers how many there are.
    pub(super) async fn chains_hold(&self) -> usize {
        let mut tx = self.begin().await;
        let all: Vec<(uuid::Uuid, i64, String)> =
            sqlx::query_as("SELECT session_id, count, head FROM sessions WHERE opened_at IS NOT NULL")
                .fetch_all(&mut *tx)
                .await
                .unwrap();
        for (session, count, head) in &all {
            let lines = self.lines(&mut tx, SessionId(*session)).await;
            assert_eq!(lines.len() as i64, *count);
            assert_eq!(chain::head(*session, lines.iter().map(String::as_str)).as_str(), head, "{session}");
        }
        all.len()
    }

    pub(super) async fn lines(&self, tx: &mut PgConnection, session: SessionId) -> Vec<String> {
        sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
            .bind(session.0)
            .fetch_all(tx)
            .await
            .unwrap()
    }

    pub(super) async fn count(&self, sql: &str) -> i64 {
        let mut tx = self.begin().await;
        sqlx::query_scalar(AssertSqlSafe(format!("SELECT count(*) FROM {sql}"))).fetch_one(&mut *tx).await.unwrap()
    }

    /// One of everything that is kept for a time, all of it of one moment.
    pub(super) async fn one_of_each(&self) -> (SessionId, SessionId) {
        let (zoe, other) = (self.candidate_named("Zoë").await, self.candidate_named("Oda").await);
        let passed = self.signed(zoe, VerdictOutcome::Pass).await;
        let failed = self.signed(other, VerdictOutcome::AutomaticFail).await;
        let (centre, by) = (&self.centre, self.assessor);
        let mut tx = self.begin().await;
        feedback::make_link(&mut tx, centre, passed, &[1; 32], &[2; 32], NOW).await.unwrap();
        feedback::visit(&mut tx, centre, &[1; 32], &[2; 32], &[3; 32], NOW).await.unwrap().unwrap();
        sign_ins::start(&mut tx, centre, by, &[4; 32], NOW - Duration::hours(12)).await.unwrap();
        let invited = Invitation { whom: "Somebody".into(), roles: Vec::new(), resets: None, made_by: by };
        invitations::make(&mut tx, centre, &[5; 32], &invited, NOW).await.unwrap();
        invitations::withdraw(&mut tx, centre, &[5; 32], NOW).await.unwrap();
        let day = NOW.date();
        let filter = Filter { from: day, to: day, task: None, assessor: None, outcome: None };
        let export = Begun {
            id: new_id(),
            by: Some(by),
            at: NOW,
            format: "json",
            filter: &filter,
            columns: &[],
            names: true,
            rows: 1,
        };
        exports::begin(&mut tx, centre, &export).await.unwrap();
        deeds::note(&mut tx, centre, Some(by), "signed_in", "", NOW).await.unwrap();
        tx.commit().await.unwrap();
        (passed, failed)
    }
}

#[tokio::test]
async fn at_each_moment_exactly_what_is_due_goes_and_every_chain_holds() {
    let fixture = Fixture::new().await;
    fixture.confirm(months).await;
    let (passed, failed) = fixture.one_of_each().await;
    let results = fixture.count("results").await;
    let second = Duration::SECOND;
    for (month, kinds) in [
        (1, vec![(Kind::SignIns, 1)]),
        (3, vec![(Kind::Invitations, 1)]),
        (6, vec![(Kind::Links, 1)]),
        (12, vec![(Kind::Words, 2)]),
        (24, vec![(Kind::Fails, 1)]),
        (36, vec![(Kind::Passes, 1)]),
        // The fixture's own candidate had a plan that came to nothing.
        (48, vec![(Kind::Candidates, 3)]),
        (60, vec![(Kind::Exports, 1)]),
        // The runs themselves are noted, and kept.
        (72, vec![(Kind::Deeds, 1)]),
    ] {
        let (now, expected) = (after(month), kinds.into_iter().collect::<HashMap<_, _>>());
        assert_eq!(fixture.erased(now - second).await, HashMap::new(), "a second before {month} months");
        assert_eq!(fixture.erased(now).await, expected, "after {month} months");
        let mut tx = fixture.begin().await;
        let owner: (String, String) = sqlx::query_as(
            "SELECT p.name, f.name FROM sessions a JOIN candidates p USING (centre_id, candidate_id), sessions b
             JOIN candidates f USING (centre_id, candidate_id) WHERE a.session_id = $1 AND b.session_id = $2",
        )
        .bind(passed.0)
        .bind(failed.0)
        .fetch_one(&mut *tx)
        .await
        .unwrap();
        let named = |until: i16, name: &str| if month < until { name.to_owned() } else { "erased".to_owned() };
        assert_eq!(owner, (named(36, "Zoë"), named(24, "Oda")), "after {month} months");
    }
    assert_eq!(fixture.count("results").await, results, "marks and outcomes stay, as nobody's");
    assert_eq!(fixture.count("texts").await, 0);
    assert_eq!(fixture.count("decisions WHERE reason <> '[erased]'").await, 0);
    assert_eq!(fixture.count("candidates WHERE erased_at IS NULL").await, 0);
    assert_eq!(fixture.count("deeds WHERE what = 'signed_in'").await, 0);
    let mut tx = fixture.begin().await;
    // Words, and then the rest: the chain of each session says so twice, in the name of whoever set the periods.
    for session in [passed, failed] {
        let lines = fixture.lines(&mut tx, session).await;
        let entries = lines.iter().map(|line| Entry::read(line).unwrap());
        let said = entries.filter_map(|entry| match entry.content {
            Content::Erasure { texts } => Some((entry.origin.by, texts)),
            _ => None,
        });
        assert_eq!(said.collect::<Vec<_>>(), [(fixture.assessor.0, 1), (fixture.assessor.0, 1)]);
    }
    // The list of those who were erased has the people, and not the sessions that were cut off.
    assert_eq!(erasures::list(&mut tx, &fixture.centre).await.unwrap().len(), 3);
    let report = keeping::runs(&mut tx, &fixture.centre).await.unwrap();
    assert_eq!(report.iter().map(|run| run.erased.values().sum::<i64>()).sum::<i64>(), 12);
    assert!(report.iter().all(|run| run.ended_at.is_some()));
    assert_eq!(deeds::page(&mut tx, &fixture.centre, None).await.unwrap().last().unwrap().n, 2, "only the oldest went");
}

#[tokio::test]
async fn words_go_and_the_session_stays_the_candidates_and_is_marked_as_before() {
    let fixture = Fixture::new().await;
    fixture.confirm(months).await;
    let session = fixture.signed(fixture.candidate, VerdictOutcome::Pass).await;
    assert_eq!(fixture.erased(after(12)).await, HashMap::from([(Kind::Words, 1)]));
    let mut tx = fixture.begin().await;
    let centre = &fixture.centre;
    let log = entries::log_of(&mut tx, centre, session, fixture.assessor, &fixture.task).await.unwrap();
    assert_eq!(serde_json::to_value(&log.observations()[0].act).unwrap()["text"], "[erased]");
    let decided = decisions::of_session(&mut tx, centre, session).await.unwrap();
    assert_eq!(decided[0].reason.as_deref(), Some("[erased]"));
    assert_eq!(decided[0].outcome, Outcome::NotApplicable);
    assert!(entries::details(&mut tx, centre, session).await.unwrap().unwrap().starts_with("Zoë"), "who it was stays");
}

#[tokio::test]
async fn nothing_goes_before_somebody_has_confirmed_and_then_once_a_night() {
    let fixture = Fixture::new().await;
    let session = fixture.signed(fixture.candidate, VerdictOutcome::Pass).await;
    let late = datetime!(2040-07-03 12:00 UTC);
    assert_eq!(fixture.run(Begin::Asked, late).await, Ran::NotDue);
    assert_eq!(fixture.run(Begin::Daily, late).await, Ran::NotDue);
    let mut tx = fixture.begin().await;
    let forced = sqlx::query("SELECT cut_off($1, $2, $3)").bind(session.0).bind(new_id()).bind(late);
    assert_eq!(refused(forced.execute(&mut *tx).await), "23001", "not even when asked for");
    drop(tx);

    fixture.confirm(months).await;
    let mut tx = fixture.begin().await;
    sqlx::query("UPDATE centres SET periods_set_at = $1").bind(late).execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();
    // In London it is an hour later than UTC in July.
    let night = datetime!(2040-07-04 02:00 UTC);
    for (now, runs) in [
        (late + Duration::hours(3), false),
        (night - Duration::SECOND, false),
        (night, true),
        (night + Duration::hours(12), false),
        (datetime!(2040-07-05 01:59 UTC), false),
        (datetime!(2040-07-05 02:00 UTC), true),
    ] {
        assert_eq!(matches!(fixture.run(Begin::Daily, now).await, Ran::Done { .. }), runs, "{now}");
    }
    fixture.chains_hold().await;
}

#[tokio::test]
async fn what_is_open_held_or_may_still_be_reviewed_stays() {
    let fixture = Fixture::new().await;
    fixture.confirm(|kind| if kind == Kind::Words { 1 } else { 3 }.max(kind.bounds().0)).await;
    let (centre, by) = (&fixture.centre, fixture.assessor);
    let (one, two, three) =
        (fixture.candidate_named("A").await, fixture.candidate_named("B").await, fixture.candidate_named("C").await);
    let held = fixture.signed(one, VerdictOutcome::Pass).await;
    let also_theirs = fixture.signed(one, VerdictOutcome::Fail).await;
    let all_held = fixture.signed(two, VerdictOutcome::Pass).await;
    let open = fixture.attempt(three, NOW).await;
    let mut tx = fixture.begin().await;
    let set = async |tx: &mut PgConnection, what| holds::set(tx, centre, what, Why::Claim, by, NOW).await.unwrap();
    assert_eq!(set(&mut tx, (one, Some(held))).await, Set::Done(1));
    assert_eq!(set(&mut tx, (one, Some(held))).await, Set::Already);
    assert_eq!(set(&mut tx, (two, None)).await, Set::Done(2));
    assert_eq!(set(&mut tx, (two, Some(all_held))).await, Set::Already, "everything is held");
    assert_eq!(set(&mut tx, (two, Some(held))).await, Set::Missing, "a session of somebody else");
    assert_eq!(set(&mut tx, (CandidateId(new_id()), None)).await, Set::Missing);
    assert_eq!(erasures::holds(&mut tx, centre, two, after(12)).await.unwrap(), [erasures::Hold::Set(Why::Claim)]);
    sqlx::query("UPDATE centres SET review_days = 60").execute(&mut *tx).await.unwrap();
    tx.commit().await.unwrap();

    // The review comes first: after a month the words are due and a review can still be asked for, to the end of the
    // sixtieth day after 3 February in London, where it is summer time by then.
    let until = datetime!(2027-04-05 0:00 +1);
    assert_eq!(fixture.erased(until - Duration::SECOND).await, HashMap::new());
    assert_eq!(fixture.erased(until).await, HashMap::from([(Kind::Words, 1)]));
    // The fixture's own candidate has only a plan.
    let due = HashMap::from([(Kind::Fails, 1), (Kind::Candidates, 1)]);
    assert_eq!(fixture.erased(after(3)).await, due);
    let owner = async |session: SessionId| {
        let mut tx = fixture.begin().await;
        sessions::find(&mut tx, centre, session).await.unwrap().unwrap().candidate
    };
    assert_eq!((owner(held).await, owner(all_held).await, owner(open).await), (one, two, three));
    assert_ne!(owner(also_theirs).await, one);
    let mut tx = fixture.begin().await;
    let seen = keeping::overview(&mut tx, centre, after(3), after(3)).await.unwrap();
    assert_eq!((seen.totals[&Kind::Passes].held, seen.totals[&Kind::Candidates].held, seen.open), (2, 3, 1));
    for forced in [held, all_held, open] {
        let mut inner = sqlx::Acquire::begin(&mut tx).await.unwrap();
        let cut = sqlx::query("SELECT cut_off($1, $2, $3)").bind(forced.0).bind(new_id()).bind(after(200));
        assert_eq!(refused(cut.execute(&mut *inner).await), "23001");
    }

    for n in [1, 2] {
        assert!(holds::lift(&mut tx, centre, n, by, after(3)).await.unwrap());
        assert!(!holds::lift(&mut tx, centre, n, by, after(3)).await.unwrap(), "once");
    }
    tx.commit().await.unwrap();
    let due = HashMap::from([(Kind::Words, 2), (Kind::Passes, 2), (Kind::Candidates, 2)]);
    assert_eq!(fixture.erased(after(3)).await, due);
    assert_eq!(owner(open).await, three);
    let mut tx = fixture.begin().await;
    let list = holds::list(&mut tx, centre, None, 10).await.unwrap();
    assert_eq!(list.iter().map(|hold| (hold.n, hold.lifted.is_some())).collect::<Vec<_>>(), [(2, true), (1, true)]);
    assert_eq!(set(&mut tx, (two, None)).await, Set::Missing, "they are erased");
    drop(tx);
    fixture.sign(open, VerdictOutcome::Pass, after(4)).await;
    let Ran::Done { erased, .. } = fixture.run(Begin::Asked, after(7)).await else { panic!("it did not run") };
    let due = HashMap::from([(Kind::Words, 1), (Kind::Passes, 1), (Kind::Candidates, 1)]);
    assert_eq!(erased, due, "three months from the signature");
    fixture.chains_hold().await;
}

#[tokio::test]
async fn a_candidate_is_counted_from_the_last_session_even_when_that_is_nobodys() {
    let fixture = Fixture::new().await;
    fixture.confirm(months).await;
    let candidate = fixture.candidate_named("A").await;
    let first = fixture.signed(candidate, VerdictOutcome::Fail).await;
    let later = fixture.attempt(candidate, after(5)).await;
    fixture.sign(later, VerdictOutcome::Pass, after(5)).await;
    // A resit says whose the earlier one was.
    let mut owner = fixture.db.owner().await;
    let resit = "SET session_replication_role = replica; UPDATE sessions SET resit_of = $1 WHERE session_id = $2";
    sqlx::raw_sql(AssertSqlSafe(
        resit.replace("$1", &format!("'{}'", first.0)).replace("$2", &format!("'{}'", later.0)),
    ))
    .execute(&mut owner)
    .await
    .unwrap();
    fixture.erased(after(24)).await;
    assert_eq!(fixture.count("sessions WHERE resit_of IS NOT NULL").await, 0);
    fixture.erased(after(41)).await;
    assert_eq!(fixture.count("sessions JOIN candidates USING (centre_id, candidate_id) WHERE name = 'A'").await, 0);
    assert_eq!(fixture.erased(after(53) - Duration::SECOND).await, HashMap::from([(Kind::Candidates, 1)]), "the other");
    assert_eq!(fixture.erased(after(53)).await, HashMap::from([(Kind::Candidates, 1)]));
    assert_eq!(fixture.count("candidates WHERE name = 'A'").await, 0);
}

/// The SQLSTATE that something was refused with.
pub(super) fn refused<T: std::fmt::Debug>(done: Result<T, sqlx::Error>) -> String {
    done.unwrap_err().into_database_error().unwrap().code().unwrap().into_owned()
}
