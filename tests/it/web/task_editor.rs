//! Bays and tasks over HTTP: from nothing to a published version, by the forms alone.

use super::{Served, location};
use crate::support::centre::{NOW, new_id};
use baywitness::bay::Standards;
use baywitness::marking::sketch::Step;
use baywitness::marking::{ChecklistFile, Task, library, write};
use baywitness::store::task_drafts::{self, Draft};
use baywitness::store::{ChecklistId, TaskId, checklists, tasks};
use reqwest::StatusCode;

/// Makes a task and answers the address of its draft.
async fn make(served: &Served, cookie: &str, form: &[(&str, &str)]) -> String {
    let answer = served.post("/tasks", cookie, form).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{}", answer.text().await.unwrap());
    location(&answer).trim_end_matches("/board").to_owned()
}

fn id(at: &str) -> TaskId {
    TaskId(at.rsplit('/').next().unwrap().parse().unwrap())
}

async fn draft(served: &Served, at: &str) -> Draft {
    let mut tx = served.fixture.begin().await;
    task_drafts::find(&mut tx, &served.fixture.centre, id(at)).await.unwrap().expect("a draft")
}

/// Sends a part of a step's form for the newest revision.
async fn send(served: &Served, cookie: &str, at: &str, step: &str, form: &[(&str, &str)]) -> reqwest::Response {
    let revision = draft(served, at).await.revision.to_string();
    let mut form = form.to_vec();
    form.extend([("revision", revision.as_str()), ("step", step)]);
    if !form.iter().any(|(name, _)| *name == "do") {
        form.push(("do", "save"));
    }
    served.post(&format!("{at}/edits"), cookie, &form).await
}

/// The same, which must be taken; answers where it leads.
async fn put(served: &Served, cookie: &str, at: &str, step: &str, form: &[(&str, &str)]) -> String {
    let answer = send(served, cookie, at, step, form).await;
    let status = answer.status();
    let to = if status == StatusCode::SEE_OTHER { location(&answer) } else { String::new() };
    assert_eq!(status, StatusCode::SEE_OTHER, "{step} {form:?}: {}", answer.text().await.unwrap());
    to
}

async fn publish(served: &Served, cookie: &str, at: &str) -> reqwest::Response {
    let revision = draft(served, at).await.revision.to_string();
    served.post(&format!("{at}/publish"), cookie, &[("revision", &revision)]).await
}

/// A published checklist with the rules of these words from the starter library, as the value of the field.
async fn checklist(served: &Served, words: &[&str]) -> String {
    let mut content = library::checklist_file(Standards::Gb);
    for stage in &mut content.checklist.stages {
        stage.criteria.retain(
            |one| matches!(&one.decided, baywitness::marking::Decided::Rule(rule) if words.contains(&rule.word())),
        );
    }
    content.checklist.stages.retain(|stage| !stage.criteria.is_empty());
    let (id, mut tx) = (ChecklistId(new_id()), served.fixture.begin().await);
    let source = write::checklist_file(&content);
    ChecklistFile::read_toml(&source).unwrap();
    checklists::publish(&mut tx, &served.fixture.centre, id, "Ours", &source, served.assessor, NOW).await.unwrap();
    tx.commit().await.unwrap();
    format!("{}:1", id.0)
}

/// Fills in a small bay: one board, one lighting circuit with a switch, and a table that does.
async fn small_bay(served: &Served, cookie: &str, at: &str) {
    put(served, cookie, at, "board", &[("board.label", "DB-S"), ("do", "add:device")]).await;
    let main = [
        ("board.devices[0].label", "Main switch"),
        ("board.devices[0].poles", "L"),
        ("board.devices[0].poles", "N"),
        ("do", "add:device"),
    ];
    put(served, cookie, at, "board", &main).await;
    let breaker =
        [("board.devices[1].label", "Lights"), ("board.devices[1].rating_a", "6"), ("board.devices[1].poles", "L")];
    put(served, cookie, at, "board", &breaker).await;
    put(served, cookie, at, "circuits", &[("do", "add:circuit")]).await;
    let circuit = [("circuits[0].label", "Lights"), ("circuits[0].wiring", "feed_at_switch"), ("do", "add:switch:0")];
    put(served, cookie, at, "circuits", &circuit).await;
    let switch = [
        ("circuits[0].switches[0].label", "At the door"),
        ("circuits[0].switches[0].kind", "one_way"),
        ("do", "add:point:0"),
    ];
    put(served, cookie, at, "circuits", &switch).await;
    let point = [
        ("circuits[0].points[0].label", "Lamp"),
        ("circuits[0].points[0].kind", "lamp_holder"),
        ("circuits[0].points[0].conductors", "E"),
        ("circuits[0].points[0].conductors", "N"),
        ("circuits[0].points[0].conductors", "SL"),
        ("circuits[0].points[0].lamp", "on"),
    ];
    put(served, cookie, at, "circuits", &point).await;
    let isolate = [("isolate.circuit", "circuit-1"), ("isolate.device", "Q2"), ("isolate.point", "point-1")];
    put(served, cookie, at, "isolate", &isolate).await;
}

#[tokio::test]
async fn from_nothing_to_a_published_task() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "empty"), ("title", "Isolate the lights")]).await;
    let (status, page) = served.get(&format!("{at}/board"), &mine).await;
    assert_eq!(status, StatusCode::OK);
    for expected in ["Add at least one device.", "Please fill this in.", "The circuit is drawn here once"] {
        assert!(page.contains(expected), "{expected} in {page}");
    }
    for step in Step::ALL {
        let (status, page) = served.get(&format!("{at}/{}", step.word()), &mine).await;
        assert_eq!(status, StatusCode::OK, "{}: {page}", step.word());
    }
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::UNPROCESSABLE_ENTITY);

    small_bay(&served, &mine, &at).await;
    let (_, page) = served.get(&format!("{at}/circuits"), &mine).await;
    assert!(page.contains("<svg") && page.contains("Lights from DB-S"), "{page}");
    for thing in ["stock:indicator", "stock:proving-unit", "stock:lock-breaker", "stock:padlock", "stock:notice"] {
        put(&served, &mine, &at, "table", &[("do", thing)]).await;
    }
    put(&served, &mine, &at, "table", &[("table[2].fits", "Q2")]).await;
    let (_, page) = served.get(&format!("{at}/table"), &mine).await;
    for expected in ["Fit for proving dead.", "Fits Q2.", "Forbids switching on."] {
        assert!(page.contains(expected), "{expected} in {page}");
    }
    let planted = [("setting:S1", "on"), ("setup.planted", "broken_neutral")];
    put(&served, &mine, &at, "start", &planted).await;
    let rules = ["circuit_identified", "lock_off_fits", "locked_and_tried", "indicator_suitable", "all_pairs_tested"];
    let ours = checklist(&served, &rules).await;
    put(&served, &mine, &at, "checklist", &[("checklist", &ours)]).await;
    put(&served, &mine, &at, "briefing", &[("briefing", "Isolate the lights.\r\nTell me when."), ("minutes", "20")])
        .await;

    let (_, page) = served.get(&format!("{at}/publish"), &mine).await;
    assert!(page.contains("all of it is new") && !page.contains("cannot be published yet"), "{page}");
    let answer = publish(&served, &mine, &at).await;
    assert_eq!(location(&answer), format!("/tasks/{}/1", id(&at).0));
    let (_, page) = served.get(&location(&answer), &mine).await;
    assert!(page.contains("Isolate the lights"), "{page}");
    let mut tx = served.fixture.begin().await;
    let centre = &served.fixture.centre;
    let published = tasks::find(&mut tx, centre, id(&at), 1).await.unwrap().unwrap();
    assert_eq!(published.task.briefing, "Isolate the lights.\nTell me when.");
    assert_eq!(published.task.bay.setup.planted.len(), 1);
    assert_eq!(write::task_file(&published.task), published.source);
    let used = checklists::users(&mut tx, centre).await.unwrap();
    assert!(used.iter().any(|user| user.task == id(&at) && format!("{}:1", user.checklist.0) == ours));
    assert!(task_drafts::find(&mut tx, centre, id(&at)).await.unwrap().is_none());
}

#[tokio::test]
async fn what_does_not_fit_is_kept_as_typed_and_said_beside_its_field() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    for (step, field, typed, says) in [
        ("board", "supply.volts", "lots", "Please give a whole number from 50 to 1000."),
        ("board", "board.devices[1].id", "Q 1", "without blanks"),
        ("board", "board.devices[2].id", "Q0", "is used twice"),
        ("circuits", "circuits[0].wiring", "radial", "Radial and ring wiring have no wall switches"),
        ("isolate", "isolate.device", "Q3", "does not feed the circuit to isolate"),
        ("table", "table[0].exposed_tip_mm", "long", "Please give a number from 0 to 100."),
        ("briefing", "minutes", "0", "Please give a whole number from 1 to 600."),
        ("briefing", "briefing", "", "Please fill this in."),
    ] {
        let before = draft(&served, &at).await.sketch.text(field);
        put(&served, &mine, &at, step, &[(field, typed)]).await;
        let (_, page) = served.get(&format!("{at}/{step}"), &mine).await;
        assert!(page.contains(says), "{field}: {says} in {page}");
        assert_eq!(draft(&served, &at).await.sketch.text(field), typed);
        assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
        put(&served, &mine, &at, step, &[(field, &before)]).await;
    }
    assert_eq!(draft(&served, &at).await.sketch.faults(), []);
    // A button that no form has changes nothing.
    let revision = draft(&served, &at).await.revision;
    for odd in
        ["remove:checklist.stages[0]", "remove:board.devices[99]", "up:board.devices[0]", "add:tower", "stock:crane"]
    {
        let answer = send(&served, &mine, &at, "board", &[("do", odd)]).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{odd}");
    }
    assert_eq!(draft(&served, &at).await.revision, revision);
    let refused = served.post("/tasks", &mine, &[("how", "copy"), ("title", "Kept"), ("from", "task:none")]).await;
    assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().await.unwrap().contains("Kept"));
}

#[tokio::test]
async fn the_second_of_two_saves_is_told_what_changed_and_loses_nothing() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let theirs = served.signed_in(served.other).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    let seen = draft(&served, &at).await.revision.to_string();
    put(&served, &theirs, &at, "briefing", &[("minutes", "41")]).await;
    let stands = draft(&served, &at).await;
    let late = [
        ("revision", seen.as_str()),
        ("step", "board"),
        ("do", "save"),
        ("board.label", "DB-Typed"),
        ("board.devices[0].poles", "N"),
        ("board.devices[0].poles", "L"),
    ];
    let answer = served.post(&format!("{at}/edits"), &mine, &late).await;
    assert_eq!(answer.status(), StatusCode::CONFLICT);
    let page = answer.text().await.unwrap();
    assert!(page.contains("Minutes: 25 became 41") && page.contains("DB-Typed"), "{page}");
    assert!(!page.contains("<dd>N, L</dd>"), "the same ticks in another order are not another answer: {page}");
    assert_eq!(draft(&served, &at).await, stands);
    let answer = served.post(&format!("{at}/publish"), &mine, &[("revision", &seen)]).await;
    assert_eq!(answer.status(), StatusCode::CONFLICT);
    let answer = served.post(&format!("{at}/discard"), &mine, &[("revision", &seen)]).await;
    assert_eq!(answer.status(), StatusCode::CONFLICT);
}

#[tokio::test]
async fn a_task_whose_checklist_asks_for_what_it_cannot_give_is_refused_with_the_reason() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    let ours = checklist(&served, &["lock_off_fits", "sources_listed", "notice_posted"]).await;
    put(&served, &mine, &at, "checklist", &[("checklist", &ours)]).await;
    let lock = draft(&served, &at).await.sketch.list("table").iter().position(|item| item["id"] == "lo-a").unwrap();
    put(&served, &mine, &at, "table", &[("whole", "on"), (&format!("table[{lock}].fits"), "Q1")]).await;
    let (_, page) = served.get(&format!("{at}/publish"), &mine).await;
    for reason in ["The task lists none", "No lock-off device on the table fits Q2."] {
        let reason = reason.replace("The task", "and the task");
        assert!(page.contains(&reason), "{reason} in {page}");
    }
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    put(&served, &mine, &at, "table", &[(&format!("table[{lock}].fits"), "Q2")]).await;
    put(&served, &mine, &at, "sources", &[("do", "add:source")]).await;
    put(&served, &mine, &at, "sources", &[("sources[0].label", "Mains"), ("sources[0].kind", "mains")]).await;
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn the_next_version_begins_from_the_last_and_shows_what_differs() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let task = served.fixture.task_id;
    let begun = served.post(&format!("/tasks/{}/draft", task.0), &mine, &[]).await;
    let at = location(&begun).trim_end_matches("/board").to_owned();
    assert_eq!(at, format!("/tasks/drafts/{}", task.0));
    let (_, page) = served.get(&format!("{at}/publish"), &mine).await;
    assert!(page.contains("Nothing differs"), "{page}");
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    // A mark is carried along wherever it is named.
    put(&served, &mine, &at, "board", &[("board.devices[2].id", "Q22"), ("do", "down:board.devices[2]")]).await;
    let (_, page) = served.get(&format!("{at}/publish"), &mine).await;
    assert!(page.contains("What differs from version 1") && page.contains("Q22"), "{page}");
    assert_eq!(location(&publish(&served, &mine, &at).await), format!("/tasks/{}/2", task.0));
    // Its bay serves another task.
    let from = format!("task:{}", task.0);
    let other = make(&served, &mine, &[("how", "bay"), ("title", "Another"), ("from", &from)]).await;
    let sketch = draft(&served, &other).await.sketch;
    assert_eq!((sketch.text("isolate.device"), sketch.text("briefing")), ("Q22".into(), String::new()));
    let copied = make(&served, &mine, &[("how", "copy"), ("title", "A copy"), ("from", &from)]).await;
    assert!(draft(&served, &copied).await.sketch.task().is_ok());
    let revision = draft(&served, &copied).await.revision.to_string();
    let thrown = served.post(&format!("{copied}/discard"), &mine, &[("revision", &revision)]).await;
    assert_eq!(location(&thrown), "/tasks");
    let (_, list) = served.get("/tasks", &mine).await;
    assert!(list.contains("Another") && !list.contains("A copy"), "{list}");
}

#[tokio::test]
async fn a_verifier_reads_a_draft_and_changes_nothing() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let reader = served.signed_in(served.verifier).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    let (status, page) = served.get(&format!("{at}/table"), &reader).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("<fieldset disabled>") && !page.contains("Save and go on"), "{page}");
    let answer = send(&served, &reader, &at, "board", &[("board.label", "Theirs")]).await;
    assert_eq!(answer.status(), StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn what_is_looked_at_is_judged_as_typed_and_not_saved() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    let stands = draft(&served, &at).await;
    let revision = stands.revision.to_string();
    let form = |step, field, value| [("revision", revision.as_str()), ("step", step), (field, value)];
    for (step, field, value, says) in [
        ("board", "supply.volts", "lots", "Please give a whole number from 50 to 1000."),
        ("table", "table[0].exposed_tip_mm", "9", "Bare tips of 9 mm, over the limit of 4 mm."),
        ("circuits", "circuits[0].switches[0].label", "Under the stairs", "Under the"),
    ] {
        let answer = served.post(&format!("{at}/look"), &mine, &form(step, field, value)).await;
        assert_eq!(answer.status(), StatusCode::OK);
        let page = answer.text().await.unwrap();
        assert!(page.contains(says), "{says} in {page}");
    }
    assert_eq!(draft(&served, &at).await, stands);
    let odd = served.post(&format!("{at}/look"), &mine, &form("board", "do", "x")[..1]).await;
    assert_eq!(odd.status(), StatusCode::UNPROCESSABLE_ENTITY);
    put(&served, &mine, &at, "briefing", &[("minutes", "26"), ("do", "go:table")]).await;
    let late = served.post(&format!("{at}/look"), &mine, &form("board", "supply.volts", "240")).await;
    assert_eq!(late.status(), StatusCode::CONFLICT);
}

#[tokio::test]
async fn another_step_is_gone_to_and_what_was_typed_is_saved() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    let to = put(&served, &mine, &at, "briefing", &[("minutes", "26"), ("do", "go:table")]).await;
    assert_eq!(to, format!("{at}/table"));
    assert_eq!(draft(&served, &at).await.sketch.text("minutes"), "26");
    let to = put(&served, &mine, &at, "briefing", &[("minutes", "27"), ("do", "next")]).await;
    assert_eq!(to, format!("{at}/publish"));
    let refused = send(&served, &mine, &at, "briefing", &[("minutes", "28"), ("do", "go:elsewhere")]).await;
    assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(draft(&served, &at).await.sketch.text("minutes"), "27");
}

#[tokio::test]
async fn a_draft_is_taken_away_as_a_file_once_it_is_whole() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours")]).await;
    let (status, file) = served.get(&format!("{at}/file"), &mine).await;
    let task = draft(&served, &at).await.sketch.task().unwrap();
    assert_eq!((status, Task::read_toml(&file).unwrap()), (StatusCode::OK, task));
    put(&served, &mine, &at, "briefing", &[("minutes", "0")]).await;
    assert_eq!(served.get(&format!("{at}/file"), &mine).await.0, StatusCode::CONFLICT);
}

#[tokio::test]
async fn what_is_published_can_be_planned_at_once() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "example"), ("title", "Ours, the newest")]).await;
    let manager = served.planner().await;
    let plan = format!("/plan/new?candidate={}&day=2027-02-10", served.fixture.candidate.0);
    let (_, page) = served.get(&plan, &manager).await;
    assert!(
        page.contains("Stairwell</option>") && !page.contains("Ours, the newest"),
        "a draft is not planned: {page}"
    );
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::SEE_OTHER);
    let (_, page) = served.get(&plan, &manager).await;
    assert!(page.contains("Ours, the newest"), "{page}");
}
