//! The plan in the browser: one session planned, changed, cancelled, missed and repeated, and what speaks against it.

use super::{Served, location};
use crate::support::centre::{NOW, TASK, new_id};
use baywitness::candidates::{Adjustments, Details};
use baywitness::marking::ExtraTime;
use baywitness::store::sessions::{self, Ended, Session};
use baywitness::store::{CandidateId, SessionId, TaskId, candidates, planning, tasks};
use reqwest::StatusCode;
use time::macros::datetime;

/// Fields of a form, by name.
pub type Fields = Vec<(&'static str, String)>;

impl Served {
    /// The cookie of somebody who manages the centre.
    pub async fn planner(&self) -> String {
        self.signed_in(self.fixture.assessor).await
    }

    /// Adds a candidate.
    pub async fn add_candidate(&self, name: &str, reference: &str, extra: ExtraTime) -> CandidateId {
        let id = CandidateId(new_id());
        let adjustments = Adjustments { extra, ..Adjustments::default() };
        let details = Details { adjustments, ..Details::named(name, reference) };
        let mut tx = self.fixture.begin().await;
        assert!(candidates::add(&mut tx, &self.fixture.centre, id, &details, NOW).await.unwrap());
        tx.commit().await.unwrap();
        id
    }

    /// Publishes the fixture's task with a fault planted in it.
    pub async fn publish_planted(&self, title: &str) -> TaskId {
        let planted = TASK.replacen("[isolate]", "[setup]\nplanted = [{ fault = \"lost_earth\" }]\n\n[isolate]", 1);
        let mut tx = self.fixture.begin().await;
        let id = TaskId(new_id());
        tasks::publish(&mut tx, &self.fixture.centre, id, title, &planted, NOW).await.unwrap();
        tasks::find(&mut tx, &self.fixture.centre, id, 1).await.unwrap().expect("the planted task can be read");
        tx.commit().await.unwrap();
        id
    }

    /// A session of this centre.
    pub async fn stored(&self, id: SessionId) -> Session {
        let mut tx = self.fixture.begin().await;
        sessions::find(&mut tx, &self.fixture.centre, id).await.unwrap().unwrap()
    }
}

/// A form that fits: kim assesses the stairwell in Bay 7 on 10 February at 09:30.
pub fn form(served: &Served, candidate: CandidateId) -> Fields {
    vec![
        ("candidate", candidate.0.to_string()),
        ("task", format!("{}/1", served.fixture.task_id.0)),
        ("bay", "Bay 7".into()),
        ("assessor", served.assessor.0.to_string()),
        ("second_marker", String::new()),
        ("day", "2027-02-10".into()),
        ("time", "09:30".into()),
        ("percent", "25".into()),
        ("minutes", "5".into()),
        ("turn_round", "10".into()),
    ]
}

/// The same form with one field filled in otherwise.
pub fn with(mut form: Fields, name: &'static str, value: impl Into<String>) -> Fields {
    form.retain(|(field, _)| *field != name);
    form.push((name, value.into()));
    form
}

pub fn borrowed<'f>(form: &'f [(&'static str, String)]) -> Vec<(&'static str, &'f str)> {
    form.iter().map(|(name, value)| (*name, value.as_str())).collect()
}

async fn post(served: &Served, cookie: &str, path: &str, form: &Fields) -> (StatusCode, String, String) {
    let answer = served.post(path, cookie, &borrowed(form)).await;
    let (status, to) = (answer.status(), location(&answer));
    (status, to, answer.text().await.unwrap())
}

/// Plans it and answers the session.
async fn planned(served: &Served, cookie: &str, form: &Fields) -> SessionId {
    let (status, to, text) = post(served, cookie, "/plan/new", form).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{text}");
    SessionId(to.rsplit_once("#s-").unwrap().1.parse().unwrap())
}

async fn refused(served: &Served, cookie: &str, form: &Fields, says: &str) {
    let (status, _, text) = post(served, cookie, "/plan/new", form).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text.contains(says), "{says} in {text}");
    assert!(text.contains("value=\"Bay 7\""), "what was typed is kept");
}

#[tokio::test]
async fn a_session_is_planned_with_what_was_agreed_and_stands_on_its_day() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let extra = ExtraTime { percent: 50, minutes: 3 };
    let ada = served.add_candidate("Ada Invented", "REG-1", extra).await;
    let (_, text) = served.get("/plan/new?q=ada", &manager).await;
    assert!(text.contains("Ada Invented") && !text.contains("Zoë"), "{text}");
    let (_, text) = served.get(&format!("/plan/new?candidate={}&day=2027-02-10", ada.0), &manager).await;
    assert!(text.contains("name=\"percent\" type=\"number\" value=\"50\""), "{text}");
    assert!(text.contains("name=\"minutes\" type=\"number\" value=\"3\""), "{text}");
    let id = planned(&served, &manager, &form(&served, ada)).await;
    let session = served.stored(id).await;
    assert_eq!((session.candidate, session.bay.as_str()), (ada, "Bay 7"));
    assert_eq!(session.planned_at, datetime!(2027-02-10 9:30 UTC));
    // 25 minutes, a quarter more and five: 36.25, and the minute begun counts.
    assert_eq!((session.length.minutes, session.length.turn_round), (37, 10));
    let vera = served.signed_in(served.verifier).await;
    let (_, text) = served.get("/plan?day=2027-02-10", &vera).await;
    assert!(text.contains("Ada Invented") && text.contains("09:30 to 10:07"), "{text}");
    assert!(!text.contains("Plan a session"), "a verifier reads only");
    let (_, text) = served.get("/plan?day=2027-02-10&by=assessor&span=week", &vera).await;
    assert!(text.contains("Wednesday, 10 February 2027") && text.contains("kim (invented)"), "{text}");
    let (_, text) = served.get("/plan?day=2027-02-11", &manager).await;
    assert!(text.contains("Nothing is planned for this day"), "{text}");
}

#[tokio::test]
async fn nobody_can_be_in_two_places_whatever_is_said() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let ada = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    planned(&served, &manager, &form(&served, ada)).await;
    let again = with(with(form(&served, ada), "time", "09:50"), "assessor", served.other.0.to_string());
    let again = with(with(again, "bay", "Bay 7"), "despite_clash", "on");
    refused(&served, &manager, &again, "The candidate has another session on 10 February 2027 from 09:30").await;
    let again = with(again, "time", "10:30");
    planned(&served, &manager, &again).await;
}

#[tokio::test]
async fn a_clash_is_named_and_planned_only_when_meant() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let ada = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    let ben = served.add_candidate("Ben Invented", "REG-2", ExtraTime::default()).await;
    planned(&served, &manager, &form(&served, ada)).await;
    let clashing = with(with(form(&served, ben), "bay", "bay  7"), "time", "10:10");
    let (status, _, text) = post(&served, &manager, "/plan/new", &clashing).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text.contains("Bay 7 is taken on 10 February 2027 from 09:30 to 10:17: Ada Invented"), "{text}");
    assert!(text.contains("The assessor or second marker has another session"), "{text}");
    let id = planned(&served, &manager, &with(clashing, "despite_clash", "on")).await;
    let (_, text) = served.get(&format!("/sessions/{}/plan", id.0), &manager).await;
    assert!(text.contains("meant all the same: a clash of the assessor, a clash of the bay"), "{text}");
    let (_, text) = served.get("/plan?day=2027-02-10", &manager).await;
    assert!(text.contains("2 of these sessions clash"), "{text}");
    assert!(text.contains("bay, with Ben Invented at 10:10"), "{text}");
}

#[tokio::test]
async fn every_field_says_what_is_wrong_beside_it() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let ada = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    let second = with(form(&served, ada), "second_marker", served.assessor.0.to_string());
    refused(&served, &manager, &second, "id=\"second_marker-fault\"").await;
    let verifier = with(form(&served, ada), "assessor", served.verifier.0.to_string());
    refused(&served, &manager, &verifier, "id=\"assessor-fault\"").await;
    for (field, typed) in
        [("task", "x"), ("day", "2027-02-30"), ("time", "half"), ("percent", "-1"), ("turn_round", "x")]
    {
        refused(&served, &manager, &with(form(&served, ada), field, typed), &format!("id=\"{field}-fault\"")).await;
    }
    let nobody = with(form(&served, ada), "candidate", new_id().to_string());
    let (status, _, text) = post(&served, &manager, "/plan/new", &nobody).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text.contains("Choose a candidate here"), "{text}");
}

/// tz database, file `europe`, rule EU: London changes on the last Sundays of March and October at 01:00 UTC.
#[tokio::test]
async fn a_time_that_the_clocks_skip_or_show_twice_is_asked_about() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let ada = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    let at = |day: &str| with(with(form(&served, ada), "day", day), "time", "01:30");
    let spring = at("2027-03-28");
    refused(&served, &manager, &spring, "there is no 01:30. The next is 02:00.").await;
    let autumn = at("2027-10-31");
    refused(&served, &manager, &autumn, "they show 01:30 twice").await;
    let first = planned(&served, &manager, &with(autumn.clone(), "which", "first")).await;
    assert_eq!(served.stored(first).await.planned_at, datetime!(2027-10-31 0:30 UTC));
    // An hour later by every clock but the wall's, so that even the candidate is free again.
    let second = planned(&served, &manager, &with(autumn, "which", "second")).await;
    assert_eq!(served.stored(second).await.planned_at, datetime!(2027-10-31 1:30 UTC));
}

#[tokio::test]
async fn a_plan_is_changed_until_the_session_is_opened() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let page = served.at("plan");
    let zoe = served.fixture.candidate;
    let moved = with(form(&served, zoe), "second_marker", served.other.0.to_string());
    let (status, to, text) = post(&served, &manager, &page, &moved).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{text}");
    assert!(to.starts_with("/plan?day=2027-02-10"), "{to}");
    let session = served.stored(served.session).await;
    assert_eq!((session.sequence, session.bay.as_str(), session.second_marker), (1, "Bay 7", Some(served.other)));
    let (_, text) = served.get(&page, &manager).await;
    assert!(text.contains("<b>planned</b>") && text.contains("<b>changed</b>"), "{text}");
    assert!(text.contains("second marker lou (invented)"), "{text}");
    // And taken out again.
    let (status, ..) = post(&served, &manager, &page, &form(&served, zoe)).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert_eq!(served.stored(served.session).await.second_marker, None);
    served.open(&served.signed_in(served.assessor).await).await;
    let before = served.stored(served.session).await;
    for (path, form) in [("plan", form(&served, zoe)), ("cancel", vec![("reason", "ill".into())])] {
        let (status, _, text) = post(&served, &manager, &served.at(path), &form).await;
        assert_eq!(status, StatusCode::CONFLICT, "{path}");
        assert!(text.contains("its plan stays as it is"), "{text}");
    }
    served.wait(60 * 60 * 24 * 30);
    let manager = served.planner().await;
    let (status, ..) = post(&served, &manager, &served.at("no-show"), &Vec::new()).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert_eq!(served.stored(served.session).await, before);
}

#[tokio::test]
async fn a_cancelled_session_says_so_everywhere_and_can_be_planned_again() {
    let served = Served::new().await;
    let (manager, mine) = (served.planner().await, served.signed_in(served.assessor).await);
    let (status, _, text) = post(&served, &manager, &served.at("cancel"), &vec![("reason", "  ".into())]).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text.contains("id=\"reason-fault\""), "{text}");
    let reason = vec![("reason", "The bay is being painted".to_owned())];
    let (status, ..) = post(&served, &manager, &served.at("cancel"), &reason).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let given_up = served.stored(served.session).await.given_up.unwrap();
    assert_eq!((given_up.how, given_up.by, given_up.at), (Ended::Cancelled, served.fixture.assessor, NOW));
    assert!(served.get("/", &mine).await.1.contains("cancelled"));
    let (_, text) = served.get(&format!("/sessions/{}", served.session.0), &mine).await;
    assert!(text.contains("This session does not take place") && text.contains("being painted"), "{text}");
    let ticks = [("bay", "on"), ("candidate", "card"), ("briefing", "on")];
    assert_eq!(served.post(&served.at("check"), &mine, &ticks).await.status(), StatusCode::CONFLICT);
    assert_eq!(served.get(&served.at("marking"), &mine).await.0, StatusCode::SEE_OTHER);
    assert_eq!(served.count().await, 0);
    // The resit knows the first and the first the resit.
    let (_, text) = served.get(&format!("/plan/new?resit_of={}", served.session.0), &manager).await;
    assert!(text.contains("This is a resit of the session of"), "{text}");
    let resit = with(form(&served, served.fixture.candidate), "resit_of", served.session.0.to_string());
    let resit = planned(&served, &manager, &resit).await;
    assert_eq!(served.stored(resit).await.resit_of, Some(served.session));
    let (_, text) = served.get(&served.at("plan"), &manager).await;
    assert!(text.contains(&format!("/sessions/{}", resit.0)), "{text}");
    let (_, text) = served.get(&format!("/sessions/{}", resit.0), &mine).await;
    assert!(text.contains("Resit of the session of <a"), "{text}");
    // Of a session that is not over, and of somebody else's, there is none.
    let other = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    for (of, candidate) in [(resit, served.fixture.candidate), (served.session, other)] {
        let wrong = with(form(&served, candidate), "resit_of", of.0.to_string());
        let (status, _, text) = post(&served, &manager, "/plan/new", &wrong).await;
        assert_eq!(status, StatusCode::CONFLICT, "{text}");
    }
}

#[tokio::test]
async fn somebody_who_did_not_come_is_noted_once_it_was_time() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let ada = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    let id = planned(&served, &manager, &with(form(&served, ada), "day", "2027-02-04")).await;
    let path = format!("/sessions/{}/no-show", id.0);
    let (status, _, text) = post(&served, &manager, &path, &Vec::new()).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(text.contains("not time for this session yet"), "{text}");
    served.wait(24 * 60 * 60);
    let manager = served.planner().await;
    assert_eq!(post(&served, &manager, &path, &Vec::new()).await.0, StatusCode::SEE_OTHER);
    assert_eq!(served.stored(id).await.given_up.unwrap().how, Ended::NoShow);
    let (_, text) = served.get("/plan?day=2027-02-04", &manager).await;
    assert!(text.contains("did not come"), "{text}");
}

#[tokio::test]
async fn the_same_planted_faults_twice_in_a_row_are_refused_unless_meant() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let ada = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    let (one, other) = (served.publish_planted("A").await, served.publish_planted("B").await);
    let asked = |task: TaskId, day: &str| with(with(form(&served, ada), "day", day), "task", format!("{}/1", task.0));
    planned(&served, &manager, &asked(one, "2027-02-10")).await;
    let says = "has the same planted faults";
    refused(&served, &manager, &asked(other, "2027-02-12"), says).await;
    // Nor before it.
    refused(&served, &manager, &asked(other, "2027-02-09"), says).await;
    // Something else between, and it is not in a row any more.
    planned(&served, &manager, &asked(served.fixture.task_id, "2027-02-11")).await;
    planned(&served, &manager, &asked(other, "2027-02-12")).await;
    let again = with(asked(one, "2027-02-13"), "despite_planted", "on");
    let id = planned(&served, &manager, &again).await;
    let mut tx = served.fixture.begin().await;
    let history = planning::changes(&mut tx, &served.fixture.centre, id).await.unwrap();
    assert_eq!(history[0].despite, ["planted"]);
}

#[tokio::test]
async fn how_the_candidate_was_known_is_kept_and_nothing_more() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    for said in ["on", ""] {
        let ticks = [("bay", "on"), ("candidate", said), ("briefing", "on")];
        assert_eq!(served.post(&served.at("check"), &mine, &ticks).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    }
    let ticks = [("bay", "on"), ("candidate", "photo"), ("briefing", "on")];
    assert_eq!(served.post(&served.at("check"), &mine, &ticks).await.status(), StatusCode::SEE_OTHER);
    let (_, text) = served.get(&served.at("plan"), &served.planner().await).await;
    assert!(text.contains("a document with a photograph (kim (invented))"), "{text}");
}

#[tokio::test]
async fn two_managers_at_once_cannot_both_take_a_bay() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let mut forms = Vec::new();
    for number in 0..4 {
        let id = served.add_candidate("Somebody Invented", &format!("REG-{number}"), ExtraTime::default()).await;
        forms.push(form(&served, id));
    }
    let asked = forms.iter().map(|form| post(&served, &manager, "/plan/new", form));
    let answers = futures_util::future::join_all(asked).await;
    let done = answers.iter().filter(|(status, ..)| *status == StatusCode::SEE_OTHER).count();
    assert_eq!(done, 1);
}
