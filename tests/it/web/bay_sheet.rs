//! The bay sheet over HTTP, and the bay check that shows the same lists.

use super::Served;
use crate::support::centre::{NOW, TASK, new_id};
use baywitness::store::{TaskId, tasks};
use reqwest::StatusCode;

/// Every part of the sheet of the stairwell.
const PARTS: &[&str] = &[
    "Two-pole indicator, shrouds left off",
    "unsuited: bare tips of 14 mm, over the limit of 4 mm",
    "unsuited: damaged leads",
    "unsuited: does not fit Q2",
    "unsuited: opens no padlock on the table",
    "S2 (Half landing) stands at straight.",
    "residual-current device (RCD)",
    "emergency-off button",
    "current-limited",
    "competent licensed person",
    "Before the isolation: Q2 on",
    "After the right isolation: Q2 off",
    "230 V, live",
    "0 V, none",
    "In every setting.",
    "Put back afterwards",
    "<svg",
];

#[tokio::test]
async fn the_sheet_of_a_task_and_of_a_session_say_how_the_bay_is_set_up() {
    let served = Served::new().await;
    for who in [served.assessor, served.verifier] {
        let cookie = served.signed_in(who).await;
        let (status, task) = served.get(&format!("/tasks/{}/1/bay-sheet", served.fixture.task_id.0), &cookie).await;
        assert_eq!(status, StatusCode::OK);
        let (status, session) = served.get(&format!("/sessions/{}/bay-sheet", served.session.0), &cookie).await;
        assert_eq!(status, StatusCode::OK);
        for part in PARTS {
            assert!(task.contains(part) && session.contains(part), "{part} in {task}");
        }
        assert!(task.contains("Nothing is planted"));
        assert!(session.contains("Bay 2") && session.contains("REG-0042"), "{session}");
        assert!(!session.contains("Zoë") && !task.contains("REG-0042"), "the sheet names no candidate");
    }
    let lou = served.signed_in(served.other).await;
    let (status, _) = served.get(&format!("/sessions/{}/bay-sheet", served.session.0), &lou).await;
    assert_eq!(status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn what_is_planted_is_told_with_how_it_is_made_harmless_and_undone() {
    let served = Served::new().await;
    let setup = r#"[setup]
off = ["Q1"]
switches = [{ switch = "S1", setting = "2" }]
planted = [
  { fault = "stuck_pole", device = "Q2", pole = "L" },
  { fault = "second_supply" },
  { fault = "borrowed_neutral", from = "bench" },
  { fault = "broken_neutral" },
  { fault = "lost_earth" },
  { fault = "stuck_switch", switch = "S2", setting = "crossed" },
  { fault = "broken_contact", switch = "S3", contact = 2 },
  { fault = "joined_strapper", behind = "S1", wire = 1, from = "yard" },
]

[isolate]"#;
    let source = TASK.replace("[isolate]", setup);
    let id = TaskId(new_id());
    let mut tx = served.fixture.begin().await;
    tasks::publish(&mut tx, &served.fixture.centre, id, "Planted", &source, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let vera = served.signed_in(served.verifier).await;
    let (status, page) = served.get(&format!("/tasks/{}/1/bay-sheet", id.0), &vera).await;
    assert_eq!(status, StatusCode::OK);
    for part in [
        "is on, and nothing is locked off",
        "but Q1 is on",
        "S1 (Foot of the stairs) stands at 2.",
        "The L contact of Q2 (Stairwell lights) stayed closed",
        "Take the bridge off Q2",
        "It comes from a current-limited supply behind its own RCD",
        "Take that load&#39;s neutral back to Bench sockets.",
        "Put the earth lead back and measure that it is continuous.",
        "its contacts stay at crossed",
        "Open contact 2 of S3",
        "Join strapper 1 behind S1 to Yard floodlight, through a fuse.",
        "Before the isolation: Q2 on, with nothing planted",
        "With what is planted: Q2 off",
    ] {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert_eq!(page.matches("Made harmless:").count(), 8);
    assert_eq!(page.matches("Unless the next session needs it:").count(), 8);
}

#[tokio::test]
async fn the_bay_check_shows_the_same_lists_and_leads_to_the_sheet() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = format!("/sessions/{}", served.session.0);
    let (_, check) = served.get(&at, &mine).await;
    assert!(check.contains(&format!("href=\"{at}/bay-sheet\"")), "{check}");
    for part in
        ["S2 (Half landing) stands at straight.", "bare tips of 14 mm, over the limit of 4 mm", "does not fit Q2"]
    {
        assert!(check.contains(part), "{part} in {check}");
    }
    let form = [("bay", "on"), ("candidate", "known"), ("briefing", "on")];
    assert_eq!(served.post(&format!("{at}/check"), &mine, &form).await.status(), StatusCode::SEE_OTHER);
}
