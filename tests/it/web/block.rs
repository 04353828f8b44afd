//! A block of candidates: proposed first, then written whole.

use super::{Served, location};
use baywitness::marking::ExtraTime;
use baywitness::store::TaskId;
use baywitness::store::sessions;
use reqwest::StatusCode;
use time::macros::{date, datetime};

type Pairs = Vec<(String, String)>;

/// A morning with a break, two bays and the two assessors.
fn morning(served: &Served, references: &str) -> Pairs {
    let pairs = [
        ("references", references.to_owned()),
        ("tasks", format!("{}/1", served.fixture.task_id.0)),
        ("more_bays", "Bay 8, Bay 9".to_owned()),
        ("assessors", served.assessor.0.to_string()),
        ("assessors", served.other.0.to_string()),
        ("day", "2027-02-10".to_owned()),
        ("days", "1".to_owned()),
        ("opens", "09:00".to_owned()),
        ("closes", "12:00".to_owned()),
        ("breaks", "10:30-10:45".to_owned()),
        ("slot", "45".to_owned()),
        ("turn_round", "15".to_owned()),
        ("act", "propose".to_owned()),
    ];
    pairs.map(|(name, value)| (name.to_owned(), value)).into()
}

fn with(mut pairs: Pairs, name: &str, value: impl Into<String>) -> Pairs {
    pairs.retain(|(field, _)| field != name);
    pairs.push((name.to_owned(), value.into()));
    pairs
}

async fn send(served: &Served, cookie: &str, pairs: &Pairs) -> (StatusCode, String, String) {
    let pairs: Vec<(&str, &str)> = pairs.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let answer = served.post("/plan/block", cookie, &pairs).await;
    let (status, to) = (answer.status(), location(&answer));
    (status, to, answer.text().await.unwrap())
}

fn seen(text: &str) -> String {
    let from = text.split("name=\"seen\" value=\"").nth(1).expect("a proposal");
    from.split('"').next().unwrap().to_owned()
}

async fn people(served: &Served, count: usize) -> String {
    for number in 0..count {
        served
            .add_candidate(&format!("Person {number} (invented)"), &format!("B-{number}"), ExtraTime::default())
            .await;
    }
    (0..count).map(|number| format!("B-{number}\n")).collect()
}

async fn of_day(served: &Served) -> Vec<sessions::Listed> {
    let mut tx = served.fixture.begin().await;
    sessions::of_day(&mut tx, &served.fixture.centre, date!(2027 - 02 - 10), None).await.unwrap()
}

#[tokio::test]
async fn a_block_is_shown_first_and_then_written_whole() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let asked = morning(&served, &people(&served, 7).await);
    let (status, _, text) = send(&served, &manager, &asked).await;
    assert_eq!(status, StatusCode::OK, "{text}");
    assert!(text.contains("Plan these 6 sessions") && text.contains("Left over: 1."), "{text}");
    assert!(text.contains("every bay, every assessor or they themselves are taken"), "{text}");
    assert_eq!(of_day(&served).await, [], "nothing is written before it was seen");
    let yes = with(with(asked, "act", "plan"), "seen", seen(&text));
    let (status, to, text) = send(&served, &manager, &yes).await;
    assert_eq!((status, to.as_str()), (StatusCode::SEE_OTHER, "/plan?span=week&day=2027-02-10&done=block"), "{text}");
    let planned = of_day(&served).await;
    let starts: Vec<_> = planned.iter().map(|session| session.planned_local).collect();
    let expected = [datetime!(2027-02-10 9:00), datetime!(2027-02-10 9:45), datetime!(2027-02-10 10:45)];
    assert_eq!(starts, expected.map(|at| [at, at]).concat());
    let (_, text) = served.get(&to, &manager).await;
    assert!(text.contains("The block is planned.") && !text.contains("clash"), "{text}");
}

#[tokio::test]
async fn what_was_not_seen_is_not_written() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let asked = morning(&served, &people(&served, 2).await);
    let (.., text) = send(&served, &manager, &asked).await;
    let first = seen(&text);
    // Meanwhile somebody else plans in one of the bays.
    let somebody = served.add_candidate("Ada Invented", "REG-1", ExtraTime::default()).await;
    let form = super::planning::with(super::planning::form(&served, somebody), "bay", "Bay 8");
    let form = super::planning::with(form, "time", "09:00");
    let answer = served.post("/plan/new", &manager, &super::planning::borrowed(&form)).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    let yes = with(with(asked, "act", "plan"), "seen", first.clone());
    let (status, _, text) = send(&served, &manager, &yes).await;
    assert_eq!(status, StatusCode::CONFLICT, "{text}");
    assert!(text.contains("Somebody changed the plan in the meantime") && seen(&text) != first, "{text}");
    assert_eq!(of_day(&served).await.len(), 1);
    let yes = with(yes, "seen", seen(&text));
    assert_eq!(send(&served, &manager, &yes).await.0, StatusCode::SEE_OTHER);
    assert_eq!(of_day(&served).await.len(), 3);
}

#[tokio::test]
async fn each_unknown_reference_is_named_and_every_field_keeps_what_was_typed() {
    let served = Served::new().await;
    let manager = served.planner().await;
    people(&served, 1).await;
    let (status, _, text) = send(&served, &manager, &morning(&served, "B-0; Q-7\nQ-8")).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text.contains("No candidate has the reference Q-7, Q-8."), "{text}");
    assert!(text.contains("B-0; Q-7") && text.contains("value=\"Bay 8, Bay 9\""), "{text}");
    for (field, typed) in [
        ("tasks", "x"),
        ("more_bays", " , "),
        ("day", "soon"),
        ("days", "0"),
        ("opens", "x"),
        ("closes", "08:00"),
        ("breaks", "10:30"),
        ("slot", "1"),
        ("turn_round", "x"),
    ] {
        let (status, _, text) = send(&served, &manager, &with(morning(&served, "B-0"), field, typed)).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{field}");
        assert!(text.contains(&format!("id=\"{field}-fault\"")), "{field}: {text}");
    }
    assert_eq!(of_day(&served).await, []);
}

#[tokio::test]
async fn candidates_are_found_and_ticked_without_a_script() {
    let served = Served::new().await;
    let manager = served.planner().await;
    people(&served, 3).await;
    let find = with(with(morning(&served, "B-2"), "q", "person"), "act", "find");
    let (_, _, text) = send(&served, &manager, &find).await;
    assert!(text.contains("name=\"picked\" value=\"B-0\""), "{text}");
    let mut ticked = find;
    ticked.push(("picked".into(), "B-0".into()));
    let (_, _, text) = send(&served, &manager, &ticked).await;
    assert!(text.contains("B-2\nB-0\n</textarea>"), "{text}");
}

#[tokio::test]
async fn nobody_gets_the_faults_they_met_last_where_another_task_is_ticked() {
    let served = Served::new().await;
    let manager = served.planner().await;
    let (one, other): (TaskId, TaskId) = (served.publish_planted("A").await, served.publish_planted("B").await);
    let plain = format!("{}/1", served.fixture.task_id.0);
    let references = people(&served, 2).await;
    // The first of them has met the planted faults.
    let asked = with(with(morning(&served, "B-0"), "day", "2027-02-09"), "tasks", format!("{}/1", one.0));
    let (.., text) = send(&served, &manager, &asked).await;
    let yes = with(with(asked, "act", "plan"), "seen", seen(&text));
    assert_eq!(send(&served, &manager, &yes).await.0, StatusCode::SEE_OTHER);
    let asked = with(morning(&served, &references), "tasks", format!("{}/1", other.0));
    let (.., text) = send(&served, &manager, &asked).await;
    assert!(text.contains("has the planted faults of every task ticked here"), "{text}");
    assert!(text.contains("Plan this 1 session"), "{text}");
    let mut both = asked.clone();
    both.push(("tasks".into(), plain));
    let (.., text) = send(&served, &manager, &both).await;
    assert!(text.contains("Plan these 2 sessions"), "{text}");
    let yes = with(with(both, "act", "plan"), "seen", seen(&text));
    assert_eq!(send(&served, &manager, &yes).await.0, StatusCode::SEE_OTHER);
    let planned = of_day(&served).await;
    let title = |reference: &str| {
        planned.iter().find(|session| session.candidate_reference == reference).unwrap().task_title.clone()
    };
    assert_eq!((title("B-0").as_str(), title("B-1").as_str()), ("Stairwell", "B"));
    let meant = with(asked, "despite_planted", "on");
    let meant = with(meant, "day", "2027-02-11");
    let (.., text) = send(&served, &manager, &meant).await;
    assert!(text.contains("Plan these 2 sessions"), "{text}");
}
