//! Checklists over HTTP: from nothing to a published version, and what it would change.

use super::{Served, location};
use crate::support::centre::{flawless, new_id};
use crate::support::script::Script;
use baywitness::marking::decision::decide;
use baywitness::marking::{self, ChecklistFile, ExtraTime, Fails, write};
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::{ChecklistId, SessionId, checklists, drafts, entries, past, results};
use reqwest::multipart::{Form, Part};
use reqwest::{Method, StatusCode};
use serde_json::json;

/// Makes a checklist and answers its address.
async fn make(served: &Served, cookie: &str, form: &[(&str, &str)]) -> String {
    let answer = served.post("/checklists", cookie, form).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{}", answer.text().await.unwrap());
    location(&answer)
}

fn id(at: &str) -> ChecklistId {
    ChecklistId(at.rsplit('/').next().unwrap().parse().unwrap())
}

async fn draft(served: &Served, at: &str) -> drafts::Draft {
    let mut tx = served.fixture.begin().await;
    drafts::find(&mut tx, &served.fixture.centre, id(at)).await.unwrap().expect("a draft")
}

/// Makes a change for the newest revision.
async fn edit(served: &Served, cookie: &str, at: &str, form: &[(&str, &str)]) -> reqwest::Response {
    let revision = draft(served, at).await.revision.to_string();
    let mut form = form.to_vec();
    form.push(("revision", &revision));
    served.post(&format!("{at}/edits"), cookie, &form).await
}

async fn publish(served: &Served, cookie: &str, at: &str) -> reqwest::Response {
    let revision = draft(served, at).await.revision.to_string();
    served.post(&format!("{at}/publish"), cookie, &[("revision", &revision)]).await
}

#[tokio::test]
async fn from_nothing_to_a_published_version() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    assert!(served.get("/checklists", &mine).await.1.contains("No checklist yet"));
    let at = make(&served, &mine, &[("how", "empty"), ("title", "Ours")]).await;
    let (_, page) = served.get(&at, &mine).await;
    assert!(page.contains("There is no stage yet") && page.contains("not valid yet"), "{page}");

    // Refused while it is not valid.
    let refused = publish(&served, &mine, &at).await;
    assert_eq!(refused.status(), StatusCode::UNPROCESSABLE_ENTITY);
    edit(&served, &mine, &at, &[("do", "add-stage"), ("new_stage", "First")]).await;
    assert!(served.get(&at, &mine).await.1.contains("This stage is empty"));
    edit(&served, &mine, &at, &[("do", "add-stage"), ("new_stage", "Second")]).await;
    let (_, pick) = served.get(&format!("{at}/pick?stage=0&scheme=GB"), &mine).await;
    let picks: Vec<&str> =
        pick.split("name=\"pick\" value=\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    assert!(picks.len() > 30, "{}", picks.len());
    let three = [("do", "add"), ("stage", "0"), ("pick", picks[0]), ("pick", picks[1]), ("pick", picks[2])];
    edit(&served, &mine, &at, &three).await;
    // By its button from the edge of one stage into the next, and the keyboard goes with it.
    let moved = edit(&served, &mine, &at, &[("do", "down"), ("stage", "0"), ("place", "2")]).await;
    assert_eq!(location(&moved), format!("{at}?focus=down-1-0"));
    assert!(served.get(&location(&moved), &mine).await.1.contains("value=\"down\" autofocus"));
    edit(
        &served,
        &mine,
        &at,
        &[("do", "weigh"), ("stage", "1"), ("place", "0"), ("weight", "9"), ("fails", "automatic")],
    )
    .await;
    edit(&served, &mine, &at, &[("do", "settings"), ("title", "Ours, better"), ("pass_percent", "80")]).await;
    let content = draft(&served, &at).await.content;
    let stages: Vec<usize> = content.checklist.stages.iter().map(|stage| stage.criteria.len()).collect();
    assert_eq!((stages, content.title.as_str(), content.pass_percent), (vec![2, 1], "Ours, better", 80));
    let heavy = &content.checklist.stages[1].criteria[0];
    assert_eq!((heavy.weight, heavy.fails), (9, Fails::Automatic));

    assert!(served.get(&format!("{at}/publish"), &mine).await.1.contains("all of it is new"));
    let answer = publish(&served, &mine, &at).await;
    assert_eq!(location(&answer), format!("{at}?done=published"));
    let (status, source) = served.get(&format!("{at}/versions/1/file"), &mine).await;
    assert_eq!((status, source), (StatusCode::OK, write::checklist_file(&content)));
    assert!(served.get("/checklists", &mine).await.1.contains("published, version 1"));
}

#[tokio::test]
async fn a_second_version_shows_what_differs_and_one_without_difference_is_refused() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "starter"), ("scheme", "GB")]).await;
    publish(&served, &mine, &at).await;
    served.post(&format!("{at}/draft"), &mine, &[]).await;
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    edit(&served, &mine, &at, &[("do", "remove"), ("stage", "0"), ("place", "0")]).await;
    edit(&served, &mine, &at, &[("do", "stage-down"), ("stage", "1")]).await;
    let (_, page) = served.get(&format!("{at}/publish"), &mine).await;
    assert!(page.contains("<b>removed</b>") && page.contains("<b>moved</b>"), "{page}");
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::SEE_OTHER);
    let (_, page) = served.get(&format!("{at}/differences?from=1&to=2"), &mine).await;
    assert_eq!(page.matches("<b>removed</b>").count(), 1, "{page}");
    let (_, page) = served.get(&format!("{at}/versions/1"), &mine).await;
    assert!(page.contains("version 1"));
    assert_eq!(served.get(&format!("{at}/versions/3"), &mine).await.0, StatusCode::NOT_FOUND);
    assert_eq!(served.get(&format!("{at}/differences?from=1&to=draft"), &mine).await.0, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_second_of_two_saves_is_told_what_changed_and_loses_nothing() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let theirs = served.signed_in(served.other).await;
    let at = make(&served, &mine, &[("how", "starter"), ("scheme", "IE")]).await;
    let seen = draft(&served, &at).await.revision.to_string();
    let first = [("do", "rename-stage"), ("stage", "0"), ("stage_title", "At the board"), ("revision", seen.as_str())];
    assert_eq!(served.post(&format!("{at}/edits"), &theirs, &first).await.status(), StatusCode::SEE_OTHER);
    let stands = draft(&served, &at).await;
    let title = [("do", "settings"), ("title", "My own title"), ("pass_percent", "71"), ("revision", seen.as_str())];
    let late = served.post(&format!("{at}/edits"), &mine, &title).await;
    assert_eq!(late.status(), StatusCode::CONFLICT);
    let page = late.text().await.unwrap();
    for told in ["Your change was not saved", "At the board", "(invented)", "value=\"My own title\""] {
        assert!(page.contains(told), "{told}: {page}");
    }
    assert_eq!(draft(&served, &at).await, stands);
    // The page that said so carries the newest revision: the same again is saved.
    let fresh = page.split("name=\"revision\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let again = [("do", "settings"), ("title", "My own title"), ("pass_percent", "71"), ("revision", fresh.as_str())];
    assert_eq!(served.post(&format!("{at}/edits"), &mine, &again).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(draft(&served, &at).await.content.title, "My own title");
    for stale in ["publish", "discard"] {
        let answer = served.post(&format!("{at}/{stale}"), &mine, &[("revision", &seen)]).await;
        assert_eq!(answer.status(), StatusCode::CONFLICT, "{stale}");
    }
}

/// Two at the very same time: one is saved, the other told.
#[tokio::test]
async fn of_two_saves_at_once_one_is_refused() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "empty"), ("title", "Race")]).await;
    let path = format!("{at}/edits");
    let one = [("do", "add-stage"), ("new_stage", "One"), ("revision", "1")];
    let other = [("do", "add-stage"), ("new_stage", "Other"), ("revision", "1")];
    let (one, other) = tokio::join!(served.post(&path, &mine, &one), served.post(&path, &mine, &other));
    let mut statuses = [one.status().as_u16(), other.status().as_u16()];
    statuses.sort_unstable();
    assert_eq!(statuses, [303, 409]);
    assert_eq!(draft(&served, &at).await.content.checklist.stages.len(), 1);
}

#[tokio::test]
async fn a_refused_change_keeps_what_was_typed_and_changes_nothing() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "starter"), ("scheme", "AU")]).await;
    let before = draft(&served, &at).await;
    for (form, told) in [
        (&[("do", "settings"), ("title", ""), ("pass_percent", "70")][..], "needs a title"),
        (&[("do", "settings"), ("title", "x"), ("pass_percent", "1000")], "0 to 100"),
        (&[("do", "add-stage"), ("new_stage", " ")], "needs a name"),
        (&[("do", "weigh"), ("stage", "0"), ("place", "0"), ("weight", "-1"), ("fails", "must")], "1 to 1000"),
        (&[("do", "weigh"), ("stage", "0"), ("place", "0"), ("weight", "1"), ("fails", "x")], "choose what follows"),
        (&[("do", "up"), ("stage", "99"), ("place", "0")], "not there any more"),
        (&[("do", "add"), ("stage", "0")], "at least one"),
        (&[("do", "nonsense")], "nothing that can be done"),
    ] {
        let answer = edit(&served, &mine, &at, form).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{form:?}");
        let page = answer.text().await.unwrap();
        assert!(page.contains(told), "{form:?}: {page}");
    }
    assert_eq!(draft(&served, &at).await, before);
}

#[tokio::test]
async fn what_the_library_says_now_is_taken_in_with_the_weight_kept() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "starter"), ("scheme", "GB")]).await;
    let held = draft(&served, &at).await.content.checklist.stages[0].criteria[0].clone();
    let mut own = held.clone();
    (own.says, own.weight) = ("Says it in our own words".into(), 77);
    let mut tx = served.fixture.begin().await;
    let now = served.now();
    use baywitness::store::criteria;
    assert!(criteria::add(&mut tx, &served.fixture.centre, &own, "Any", served.assessor, now).await.unwrap());
    tx.commit().await.unwrap();
    assert!(served.get(&at, &mine).await.1.contains("reads otherwise now"));
    edit(&served, &mine, &at, &[("do", "reword"), ("stage", "0"), ("place", "0")]).await;
    let taken = draft(&served, &at).await.content.checklist.stages[0].criteria[0].clone();
    assert_eq!((taken.says.as_str(), taken.weight), ("Says it in our own words", held.weight));
    assert!(!served.get(&at, &mine).await.1.contains("reads otherwise now"));
}

/// Sends a file to the import page.
async fn send(served: &Served, cookie: &str, path: &str, bytes: &[u8]) -> reqwest::Response {
    let part = Part::bytes(bytes.to_vec()).file_name("ours.toml");
    let request = served.ask(Method::POST, path).header("cookie", cookie);
    request.multipart(Form::new().part("file", part)).send().await.unwrap()
}

#[tokio::test]
async fn a_file_comes_in_and_goes_out_byte_for_byte() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let (title, pass_percent) = ("Ünïcode — 漢".to_owned(), 66);
    let file = ChecklistFile { title, pass_percent, checklist: served.fixture.task.checklist.clone() };
    let bytes = format!("# a comment of ours, kept\r\n{}\n\n", write::checklist_file(&file));
    let answer = send(&served, &mine, "/checklists/import", bytes.as_bytes()).await;
    let at = location(&answer).split('?').next().unwrap().to_owned();
    publish(&served, &mine, &at).await;
    let asked = served.ask(Method::GET, &format!("{at}/versions/1/file")).header("cookie", &mine).send().await.unwrap();
    assert!(asked.headers()["content-disposition"].to_str().unwrap().contains("-1.toml\""));
    assert_eq!(asked.bytes().await.unwrap(), bytes.as_bytes());
    // The same file as the next version of it: nothing to publish. With another comment there is.
    send(&served, &mine, &format!("{at}/import"), bytes.as_bytes()).await;
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let again = send(&served, &mine, &format!("{at}/import"), b"").await;
    assert_eq!(again.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let taken = send(&served, &mine, &format!("{at}/import"), bytes.as_bytes()).await;
    assert_eq!(taken.status(), StatusCode::CONFLICT, "a draft is never overwritten");
    let revision = draft(&served, &at).await.revision.to_string();
    served.post(&format!("{at}/discard"), &mine, &[("revision", &revision)]).await;
    send(&served, &mine, &format!("{at}/import"), bytes.replace("of ours", "of theirs").as_bytes()).await;
    assert_eq!(publish(&served, &mine, &at).await.status(), StatusCode::SEE_OTHER);
    assert!(served.get(&format!("{at}/versions/2/file"), &mine).await.1.contains("of theirs"));
}

#[tokio::test]
async fn a_file_with_faults_is_refused_with_every_line() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let bad =
        "format = \"baywitness checklist 1\"\ntitle = \"\"\npass_percent = 101\n[[checklist.stages]]\ntitle = \"a\"\n";
    let answer = send(&served, &mine, "/checklists/import", bad.as_bytes()).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let page = answer.text().await.unwrap();
    for line in ["Line 2", "Line 3", "Line 4"] {
        assert!(page.contains(line), "{line}: {page}");
    }
    let answer = send(&served, &mine, "/checklists/import", b"\xff\xfe").await;
    assert!(answer.text().await.unwrap().contains("not text in UTF-8"));
    let answer = send(&served, &mine, "/checklists/import", &vec![b'#'; 300 * 1024]).await;
    assert_eq!(answer.status(), StatusCode::PAYLOAD_TOO_LARGE);
    assert!(served.get("/checklists", &mine).await.1.contains("No checklist yet"));
}

#[tokio::test]
async fn a_preview_marks_an_example_and_names_what_the_task_cannot_feed() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = make(&served, &mine, &[("how", "starter"), ("scheme", "GB")]).await;
    let (status, page) = served.get(&format!("{at}/preview"), &mine).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("not met") && page.contains("judged by eye and nobody has"), "{page}");
    let (status, page) = served.get(&format!("{at}/preview?of=example:extractor-knock"), &mine).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("automatic fail") && page.contains("What this task cannot feed"), "{page}");
    assert!(page.contains("There is no lamp to take out."), "{page}");
    for nowhere in ["example:x", "session:x", &format!("session:{}", new_id()), "x"] {
        assert_eq!(served.get(&format!("{at}/preview?of={nowhere}"), &mine).await.0, StatusCode::NOT_FOUND);
    }
}

/// Plans, records and signs a session of the fixture's task for an assessor.
async fn signed(served: &Served, assessor: baywitness::store::StaffNo, script: Option<Script>) -> SessionId {
    let fixture = &served.fixture;
    let task = fixture.task.clone().with_extra(ExtraTime::default());
    let session = SessionId(new_id());
    let planned = NewSession {
        id: session,
        task: fixture.task_id,
        task_version: 1,
        candidate: fixture.candidate,
        assessor,
        bay: "Bay 1".into(),
        planned_at: served.now(),
        extra: ExtraTime::default(),
    };
    let mut tx = fixture.begin().await;
    sessions::plan(&mut tx, &fixture.centre, &planned).await.unwrap();
    sessions::hold(&mut tx, &fixture.centre, session).await.unwrap();
    let arrival = entries::Arrival { by: assessor, ..fixture.arrival() };
    entries::open(&mut tx, &fixture.centre, session, &arrival).await.unwrap();
    let mut seen = script.map_or_else(|| flawless(&task), |script| script.log(&task).observations().to_vec());
    for one in &mut seen {
        one.id = marking::ObservationId(new_id());
    }
    entries::append(&mut tx, &fixture.centre, session, &task, &arrival, &seen).await.unwrap();
    let log = entries::log_of(&mut tx, &fixture.centre, session, assessor, &task).await.unwrap();
    let verdict = decide(&task, &marking::mark(&task, &log), &[]).verdict;
    let head = entries::head(&mut tx, &fixture.centre, session).await.unwrap();
    let done = results::sign(&mut tx, &fixture.centre, session, &head.hash, &verdict, assessor, served.now()).await;
    assert!(done.unwrap().is_some());
    tx.commit().await.unwrap();
    session
}

/// The task's own checklist as a checklist of the centre, published and linked.
async fn linked(served: &Served) -> String {
    let fixture = &served.fixture;
    let task = &fixture.task;
    let file =
        ChecklistFile { title: "Stairwell".into(), pass_percent: task.pass_percent, checklist: task.checklist.clone() };
    let id = ChecklistId(new_id());
    let mut tx = fixture.begin().await;
    let source = write::checklist_file(&file);
    let (by, now) = (served.assessor, served.now());
    let version = checklists::publish(&mut tx, &fixture.centre, id, &file.title, &source, by, now).await.unwrap();
    checklists::used_by_task(&mut tx, &fixture.centre, (fixture.task_id, 1), (id, version)).await.unwrap();
    tx.commit().await.unwrap();
    format!("/checklists/{}", id.0)
}

#[tokio::test]
async fn what_would_change_counts_every_session_and_names_the_criteria_and_writes_nothing() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let theirs = served.signed_in(served.verifier).await;
    let knocked = || Script::flawless().then(40_000, json!({"kind": "switched", "device": "Q1", "to": "off"}));
    let own = signed(&served, served.assessor, Some(knocked())).await;
    let others = signed(&served, served.other, Some(knocked())).await;
    signed(&served, served.assessor, None).await;
    let at = linked(&served).await;
    let asked = format!("{at}/what-would-change?task=all");
    // Under its own checklist nothing differs.
    assert!(served.get(&asked, &theirs).await.1.contains("0 of 3 would come out otherwise"));

    served.post(&format!("{at}/draft"), &mine, &[]).await;
    let content = draft(&served, &at).await.content;
    let stages = content.checklist.stages.iter().enumerate();
    let only = |(stage, held): (usize, &marking::Stage)| {
        let place = held.criteria.iter().position(|one| one.id.as_str() == "only-that-device")?;
        Some((stage.to_string(), place.to_string()))
    };
    let (stage, place) = stages.filter_map(only).next().unwrap();
    let form = [("do", "weigh"), ("stage", &stage), ("place", &place), ("weight", "1"), ("fails", "ordinary")];
    edit(&served, &mine, &at, &form).await;
    let mut owner = served.fixture.db.owner().await;
    let count =
        "SELECT (SELECT count(*) FROM entries), (SELECT count(*) FROM decisions), (SELECT count(*) FROM results)";
    let before: (i64, i64, i64) = sqlx::query_as(count).fetch_one(&mut owner).await.unwrap();
    let (_, page) = served.get(&asked, &theirs).await;
    assert!(page.contains("2 of 3 would come out otherwise"), "{page}");
    for session in [own, others] {
        assert!(page.contains(&format!("/sessions/{}/sheet", session.0)), "{page}");
    }
    assert!(page.contains("was not met (automatic fail), would be not met (ordinary)"), "{page}");
    // An assessor sees the count, and of the sessions only their own.
    let (_, page) = served.get(&asked, &mine).await;
    assert!(page.contains("2 of 3") && page.contains(&own.0.to_string()) && !page.contains(&others.0.to_string()));
    assert!(page.contains("1 more would differ"), "{page}");
    let after: (i64, i64, i64) = sqlx::query_as(count).fetch_one(&mut owner).await.unwrap();
    assert_eq!(before, after);
    let one = format!("{at}/what-would-change?task={}", served.fixture.task_id.0);
    assert!(served.get(&one, &theirs).await.1.contains("2 of 3"));
    assert_eq!(
        served.get(&format!("{at}/what-would-change?task={}", new_id()), &theirs).await.0,
        StatusCode::NOT_FOUND
    );
}

/// Reading in batches reads each session once, with its own log.
#[tokio::test]
async fn past_sessions_come_in_batches_each_once_and_whole() {
    let served = Served::new().await;
    let mut all = Vec::new();
    for _ in 0..5 {
        all.push(signed(&served, served.assessor, None).await);
    }
    let fixture = &served.fixture;
    let mut tx = fixture.begin().await;
    let (mut before, mut seen) = (None, Vec::new());
    loop {
        let batch = past::of_task(&mut tx, &fixture.centre, fixture.task_id, before, 2, served.other).await.unwrap();
        let Some(last) = batch.last() else { break };
        before = Some(last.id);
        for one in batch {
            let log = entries::log_of(&mut tx, &fixture.centre, one.id, served.assessor, &fixture.task).await.unwrap();
            assert_eq!(one.log, log);
            seen.push(one.id);
        }
    }
    seen.sort_by_key(|session| session.0);
    all.sort_by_key(|session| session.0);
    assert_eq!(seen, all);
}

#[tokio::test]
async fn a_verifier_reads_checklists_and_changes_none() {
    let served = Served::new().await;
    let (mine, theirs) = (served.signed_in(served.assessor).await, served.signed_in(served.verifier).await);
    let at = make(&served, &mine, &[("how", "starter"), ("scheme", "EU")]).await;
    for page in ["", "/preview", "/what-would-change"] {
        let (status, page) = served.get(&format!("{at}{page}"), &theirs).await;
        assert_eq!(status, StatusCode::OK);
        assert!(!page.contains("method=\"post\" action=\"/checklists/"), "{page}");
    }
    assert_eq!(edit(&served, &theirs, &at, &[("do", "add-stage")]).await.status(), StatusCode::FORBIDDEN);
}
