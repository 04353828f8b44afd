//! Every route, with every role, against what belongs to somebody else. The routes are read off the router's source, so
//! that a new one without a row here fails.

mod rows;

use self::rows::{Names, ROWS, ZEROS};
use super::tablet::{Tablet, blocked};
use super::{PASSWORD, Served};
use crate::support::centre::NOW;
use baywitness::bay::Standards;
use baywitness::marking::sketch::Sketch;
use baywitness::marking::{ChecklistFile, CriterionId, write};
use baywitness::store::centres::{self, Centre};
use baywitness::store::drafts::{self, Draft};
use baywitness::store::staff::{self, NewStaff, Role};
use baywitness::store::{CentreId, ChecklistId, StaffNo, TaskId, checklists, criteria, sign_ins, task_drafts};
use baywitness::web::{layers, passwords, tokens::Token};
use reqwest::multipart::{Form, Part};
use reqwest::{Method, Response, StatusCode};
use sqlx::{AssertSqlSafe, PgConnection};
use std::collections::BTreeSet;
use uuid::Uuid;

const ROUTER: &str = include_str!("../../../../src/web/mod.rs");

/// Methods and routes as the router's source has them.
fn routes() -> BTreeSet<(String, String)> {
    let calls = ROUTER.split(".route(").skip(1).map(|call| call.split(".route(").next().unwrap());
    let of_call = |call: &str| {
        let (path, methods) = call.split_once(',').expect("a path and what serves it");
        let path = if path.trim() == "layers::ENTRIES" { layers::ENTRIES } else { path.trim().trim_matches('"') };
        let methods =
            methods.lines().take_while(|line| !line.trim_start().starts_with(".fallback")).collect::<String>();
        let taken = [("GET", "get("), ("POST", "post("), ("PUT", "put("), ("DELETE", "delete("), ("PATCH", "patch(")];
        let taken = taken.into_iter().filter(|(_, call)| methods.contains(call)).map(|(method, _)| method);
        taken.map(|method| (method.to_owned(), path.to_owned())).collect::<Vec<_>>()
    };
    calls.flat_map(of_call).collect()
}

#[test]
fn every_route_has_a_row() {
    let known: BTreeSet<_> = ROWS
        .iter()
        .filter(|(method, ..)| ["GET", "POST"].contains(method))
        .map(|(method, path, _)| ((*method).to_owned(), (*path).to_owned()))
        .collect();
    assert_eq!(routes(), known, "left: the router; right: the rows of this file");
    assert!(ROUTER.matches(".route(").count() >= 20, "the router is written in another way: this test sees nothing");
    assert!(!ROUTER.contains(".nest(") && !ROUTER.contains(".merge("), "routes that are not read off here");
}

/// A person of another centre, with this role.
pub(super) async fn stranger(served: &Served, role: Role) -> StaffNo {
    let centre = CentreId::new("southgate").unwrap();
    let mut tx = served.fixture.db.store.begin(&centre).await.unwrap();
    let named = Centre { id: centre.clone(), name: "Southgate (invented)".into(), time_zone: "UTC".into() };
    centres::add(&mut tx, &named).await.unwrap();
    let person = person(role);
    let number = staff::add(&mut tx, &centre, &person).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    number
}

/// A sign-in of a person of the other centre.
pub(super) async fn stranger_signed_in(served: &Served, number: StaffNo) -> String {
    let (centre, token) = (CentreId::new("southgate").unwrap(), Token::new());
    let mut tx = served.fixture.db.store.begin(&centre).await.unwrap();
    sign_ins::start(&mut tx, &centre, number, &token.hash(), NOW).await.unwrap();
    tx.commit().await.unwrap();
    format!("__Host-signin=southgate.{}", token.hex())
}

/// A person of the session's own centre, with this role and no other.
async fn colleague(served: &Served, role: Role) -> StaffNo {
    let mut tx = served.fixture.begin().await;
    let number = staff::add(&mut tx, &served.fixture.centre, &person(role)).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    number
}

fn person(role: Role) -> NewStaff {
    NewStaff {
        sign_in_name: format!("new-{}", role.word()),
        name: "Somebody (invented)".into(),
        roles: vec![role],
        password_hash: passwords::hash(PASSWORD).unwrap(),
    }
}

/// A request for a route as one of our pages would send it, about the session and the task of the fixture.
async fn ask(served: &Served, method: &str, route: &str, cookie: &str) -> Response {
    let path = route
        .replace("/tasks/drafts/{id}", &format!("/tasks/drafts/{}", TASK_DRAFT))
        .replace("{step}", "board")
        .replace("/tasks/{id}", &format!("/tasks/{}", served.fixture.task_id.0))
        .replace("/checklists/{id}", &format!("/checklists/{}", CHECKLIST))
        .replace("/candidates/{id}", &format!("/candidates/{}", served.fixture.candidate.0))
        .replace("{criterion}", "keeps-calm")
        .replace("{id}", &served.session.0.to_string())
        .replace("{version}", "1")
        .replace("{number}", &served.verifier.0.to_string())
        .replace("{centre}", "northgate")
        .replace("{token}", &"0".repeat(64))
        .replace("{what}", "file")
        .replace("{file}", &format!("{}.ics", "0".repeat(64)))
        .replace("{token}", ZEROS)
        .replace("{hash}", "0")
        .replace("{*path}", "mark.svg");
    let request = served.ask(Method::from_bytes(method.as_bytes()).unwrap(), &path).header("cookie", cookie);
    let form: &[(&str, &str)] = match route.rsplit('/').next().unwrap() {
        "hold" => &[("what", "all"), ("why", "appeal")],
        "erasure" => &[("password", PASSWORD), ("despite", "ordered")],
        _ if route.starts_with("/candidates") => &[("name", "Somebody Otherwise"), ("reference", "REG-9999")],
        "check" => &[("bay", "on"), ("candidate", "known"), ("briefing", "on")],
        "review" => &[("reason", "I tried the lock")],
        "release" => &[("step", "withdraw"), ("reason", "so")],
        _ if route.starts_with("/reviews") => &[("words", "so")],
        _ if route.starts_with("/feedback") => &[("code", "AAAA-AAAA")],
        "{token}" => &[("password", "kettle under seven larches")],
        "staff" => &[("whom", "Somebody"), ("manager", "on")],
        "roles" => &[("manager", "on")],
        "standing" => &[("standing", "disabled")],
        "withdrawal" => &[("id", ZEROS)],
        "tablets" => &[("name", "A tablet")],
        "acts" => &[("acts", r#"[{"kind":"view_blocked"}]"#)],
        "decisions" => &[("criterion", "key"), ("outcome", "not_met"), ("reason", "so")],
        "ticks" => &[("criterion", "tidy"), ("outcome", "met"), ("reason", "so")],
        "words" => &[("act", "01ba1d3d-5000-7000-8000-000000000001"), ("words", "so")],
        "gaps" => &[("device", "tablet-1"), ("reason", "lost")],
        "signature" => &[("password", PASSWORD), ("head", "0")],
        _ => &[],
    };
    let request = match (method, route) {
        (_, layers::ENTRIES) => {
            let mut tablet = Tablet::new("tablet-1");
            let seen = tablet.seen(0, &blocked());
            request.json(&tablet.batch(served, &[seen]))
        }
        ("POST", "/tasks/import" | "/checklists/import" | "/checklists/{id}/import") => {
            request.multipart(Form::new().part("file", Part::text("title = 1").file_name("a.toml")))
        }
        ("POST", _) => request.form(form),
        _ => request,
    };
    request.send().await.unwrap()
}

/// A digest of every row of the session's centre in every table, but for sign-ins and their tries.
async fn rows(owner: &mut PgConnection) -> Vec<(String, Option<String>)> {
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
         AND relname NOT IN ('_sqlx_migrations', 'sign_ins', 'sign_in_tries') ORDER BY relname",
    )
    .fetch_all(&mut *owner)
    .await
    .unwrap();
    let mut digests = Vec::new();
    for table in tables {
        let sql = AssertSqlSafe(format!(
            "SELECT md5(string_agg(t::text, '|' ORDER BY t::text)) FROM {table} t
             WHERE centre_id = 'northgate'"
        ));
        digests.push((table, sqlx::query_scalar(sql).fetch_one(&mut *owner).await.unwrap()));
    }
    digests
}

/// A checklist of the session's centre, published and with a draft.
const CHECKLIST: Uuid = Uuid::from_u128(0x01ba_1d3d_5000_7000_8000_0000_0000_c1ec);

/// A task of the session's centre that is being written.
const TASK_DRAFT: Uuid = Uuid::from_u128(0x01ba_1d3d_5000_7000_8000_0000_0000_7a5c);

/// A criterion, a checklist and the draft of a task of the centre, with words that nobody else may read.
async fn write_some(served: &Served) {
    let (centre, by) = (&served.fixture.centre, served.assessor);
    let task = &served.fixture.task;
    let mut content =
        ChecklistFile { title: "Stairwell".into(), pass_percent: task.pass_percent, checklist: task.checklist.clone() };
    let mut own = task.checklist.stages[0].criteria[0].clone();
    (own.id, own.says) = (CriterionId::new("keeps-calm").unwrap(), "Keeps calm, says Zoë".into());
    let mut tx = served.fixture.begin().await;
    let source = write::checklist_file(&content);
    let id = ChecklistId(CHECKLIST);
    checklists::publish(&mut tx, centre, id, &content.title, &source, by, NOW).await.unwrap();
    content.title = "Stairwell, anew".into();
    let draft = Draft::begun(id, content, None, by, "Began.");
    assert!(drafts::begin(&mut tx, centre, &draft, by, NOW).await.unwrap());
    let sketch = Sketch::empty("Stairwell, to be written", Standards::Gb);
    let draft = task_drafts::Draft::begun(TaskId(TASK_DRAFT), sketch, None, by, "Began.");
    assert!(task_drafts::begin(&mut tx, centre, &draft, by, NOW).await.unwrap());
    assert!(criteria::add(&mut tx, centre, &own, "Zoë’s stage", by, NOW).await.unwrap());
    tx.commit().await.unwrap();
}

/// An open session with something recorded, and one number missing.
async fn open() -> Served {
    let served = Served::new().await;
    write_some(&served).await;
    let mine = served.signed_in(served.assessor).await;
    served.short_attempt(&mine).await;
    Tablet { next: 2, ..Tablet::new("tablet-1") }.tell(&served, &mine, &[]).await;
    served
}

#[tokio::test]
async fn no_role_of_another_centre_finds_or_changes_anything() {
    let served = open().await;
    let mut owner = served.fixture.db.owner().await;
    for role in [Role::Assessor, Role::Verifier, Role::Manager] {
        let number = stranger(&served, role).await;
        let before = rows(&mut owner).await;
        for &(method, route, names) in ROWS {
            // Afresh each time: one of the routes signs out.
            let cookie = stranger_signed_in(&served, number).await;
            let answer = ask(&served, method, route, &cookie).await;
            let status = answer.status().as_u16();
            let about = format!("{method} {route} as {} of another centre: {status}", role.word());
            match names {
                Names::Session(_) | Names::Task => assert_eq!(status, 404, "{about}"),
                Names::Link => assert!([200, 422].contains(&status), "{about}"),
                Names::Nothing => assert!(status < 500, "{about}"),
                Names::For(roles) if !roles.contains(&role) => assert_eq!(status, 403, "{about}"),
                Names::For(_) if route.contains('{') => assert_eq!(status, 404, "{about}"),
                Names::For(_) => assert!(status < 500, "{about}"),
            }
            let text = answer.text().await.unwrap();
            for secret in ["Zoë", "REG-0042", "Stairwell", "kim (invented)"] {
                assert!(!text.contains(secret), "{about} shows {secret}");
            }
        }
        assert_eq!(rows(&mut owner).await, before, "as {}", role.word());
    }
}

#[tokio::test]
async fn a_colleague_without_a_part_in_it_changes_nothing_and_a_reader_only_reads() {
    let served = open().await;
    let mut owner = served.fixture.db.owner().await;
    for role in [Role::Assessor, Role::Verifier, Role::Manager] {
        let number = colleague(&served, role).await;
        let before = rows(&mut owner).await;
        for &(method, route, names) in ROWS {
            let expected = match names {
                Names::Session(_) if role == Role::Assessor => 404,
                Names::Session(as_reader) => as_reader,
                Names::For(roles) if !roles.contains(&role) => 403,
                _ => continue,
            };
            let cookie = served.signed_in(number).await;
            let status = ask(&served, method, route, &cookie).await.status().as_u16();
            assert_eq!(status, expected, "{method} {route} as {} of the centre", role.word());
        }
        assert_eq!(rows(&mut owner).await, before, "as {}", role.word());
    }
}

#[tokio::test]
async fn without_a_sign_in_nothing_is_shown_or_changed() {
    let served = open().await;
    let mut owner = served.fixture.db.owner().await;
    let before = rows(&mut owner).await;
    for &(method, route, names) in ROWS {
        if !matches!(names, Names::Session(_) | Names::Task | Names::For(_)) {
            continue;
        }
        let answer = ask(&served, method, route, "").await;
        let expected = if route == layers::ENTRIES { StatusCode::UNAUTHORIZED } else { StatusCode::SEE_OTHER };
        assert_eq!(answer.status(), expected, "{method} {route}");
    }
    assert_eq!(rows(&mut owner).await, before);
}

/// The matrix would see a change and a leak: the assessor's own requests make them.
#[tokio::test]
async fn the_sessions_own_assessor_is_seen_to_change_and_to_read() {
    let served = open().await;
    let mut owner = served.fixture.db.owner().await;
    let mine = served.signed_in(served.assessor).await;
    for (method, route) in [("POST", "/sessions/{id}/gaps"), ("POST", "/sessions/{id}/acts"), ("POST", layers::ENTRIES)]
    {
        let before = rows(&mut owner).await;
        ask(&served, method, route, &mine).await;
        assert_ne!(rows(&mut owner).await, before, "{method} {route}");
    }
    assert!(ask(&served, "GET", "/sessions/{id}/decide", &mine).await.text().await.unwrap().contains("Zoë"));
}
