//! Task files over HTTP: taken in, refused with every fault, and taken away byte for byte.

use super::{Served, location};
use crate::support::centre::TASK;
use baywitness::marking::{Decided, Rule, Task, write};
use reqwest::multipart::{Form, Part};
use reqwest::{Method, Response, StatusCode};

async fn send(served: &Served, cookie: &str, into: &str, form: Form) -> Response {
    let form = form.text("into", into.to_owned());
    served.ask(Method::POST, "/tasks/import").header("cookie", cookie).multipart(form).send().await.unwrap()
}

fn a_file(bytes: impl Into<Vec<u8>>) -> Form {
    Form::new().part("file", Part::bytes(bytes.into()).file_name("task.toml"))
}

async fn bytes(served: &Served, cookie: &str, at: &str) -> Vec<u8> {
    let answer = served.ask(Method::GET, &format!("{at}/file")).header("cookie", cookie).send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::OK);
    let disposition = answer.headers()["content-disposition"].to_str().unwrap().to_owned();
    assert!(disposition.starts_with("attachment; filename=\"") && disposition.ends_with(".toml\""), "{disposition}");
    answer.bytes().await.unwrap().to_vec()
}

#[tokio::test]
async fn a_file_comes_back_byte_for_byte_and_the_same_again_is_the_same_version() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    // Windows line ends, a remark and a mark at the beginning: all of it is the author's.
    let odd = format!("\u{feff}# Ours, não\r\n{}", TASK.replace("minutes = 25", "minutes = 26"));
    let first = location(&send(&served, &mine, "new", a_file(odd.clone())).await);
    assert!(first.starts_with("/tasks/") && first.ends_with("/1"), "{first}");
    assert_eq!(bytes(&served, &mine, &first).await, odd.as_bytes());
    assert_eq!(location(&send(&served, &mine, "new", a_file(odd.clone())).await), first);

    // The next version of it, and again the same.
    let id = first.split('/').nth(2).unwrap();
    let next = odd.replace("minutes = 26", "minutes = 27");
    let second = location(&send(&served, &mine, id, a_file(next.clone())).await);
    assert_eq!(second, format!("/tasks/{id}/2"));
    assert_eq!(location(&send(&served, &mine, id, a_file(next.clone())).await), second);
    assert_eq!(location(&send(&served, &mine, id, a_file(odd.clone())).await), first);
    assert_eq!(bytes(&served, &mine, &second).await, next.as_bytes());

    // What was taken away reads as the same task, and can be written and taken in anew.
    let task = Task::read_toml(&next).unwrap();
    let third = location(&send(&served, &mine, id, a_file(write::task_file(&task))).await);
    let written = String::from_utf8(bytes(&served, &mine, &third).await).unwrap();
    assert_eq!(Task::read_toml(&written), Ok(task));
}

#[tokio::test]
async fn json_and_pasted_text_are_taken_too() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let task = Task::read_toml(TASK).unwrap();
    let table: toml::Table = TASK.parse().unwrap();
    let json = serde_json::to_string_pretty(&table).unwrap();
    let at = location(&send(&served, &mine, "new", a_file(json.clone())).await);
    let kept = String::from_utf8(bytes(&served, &mine, &at).await).unwrap();
    assert_eq!(kept, write::task_file(&task));
    assert_eq!(location(&send(&served, &mine, "new", a_file(json)).await), at);

    // A browser sends an empty file where none was chosen, and the lines of a box with CR LF.
    let none = Form::new().part("file", Part::bytes(Vec::new()).file_name(""));
    let pasted = location(&send(&served, &mine, "new", none.text("text", TASK.replace('\n', "\r\n"))).await);
    assert_eq!(bytes(&served, &mine, &pasted).await, TASK.as_bytes());
}

#[tokio::test]
async fn every_fault_is_told_with_its_line_and_the_text_is_kept() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let wrong = TASK
        .replace("minutes = 25", "minutes = 0")
        .replace("feeds = \"yard\"", "feeds = \"yards\"")
        .replace("label = \"Key 7\"", "label = \"<b>Key & 7</b>\"");
    let answer = send(&served, &mine, "new", a_file(wrong)).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let page = answer.text().await.unwrap();
    for part in
        ["<b>Line 5</b>", "expected a whole number from 1 to 600, found 0", "no circuit is called", "Nothing was saved"]
    {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert!(
        page.contains("minutes = 0") && page.contains("Key &#38; 7") && !page.contains("<b>Key"),
        "the text is kept"
    );
    assert_eq!(
        served.get("/tasks", &mine).await.1.matches("<th scope=\"row\"><a href=\"/tasks/").count(),
        1,
        "nothing was saved"
    );

    for (into, form, says) in [
        ("new", a_file(""), "choose a task file"),
        ("new", a_file(b"title = \"\xff\"".to_vec()), "not text in UTF-8"),
        ("01890000-0000-7000-8000-000000000000", a_file(TASK), "no such task in your centre"),
    ] {
        let answer = send(&served, &mine, into, form).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
        let page = answer.text().await.unwrap();
        assert!(page.contains(says), "{says} in {page}");
    }
}

#[tokio::test]
async fn only_authors_bring_tasks_in() {
    let served = Served::new().await;
    let vera = served.signed_in(served.verifier).await;
    assert_eq!(served.get("/tasks/import", &vera).await.0, StatusCode::FORBIDDEN);
    assert_eq!(send(&served, &vera, "new", a_file(TASK)).await.status(), StatusCode::FORBIDDEN);
    assert!(!served.get("/tasks", &vera).await.1.contains("/tasks/import"));
    let mine = served.signed_in(served.assessor).await;
    assert!(served.get("/tasks", &mine).await.1.contains("/tasks/import"));
    assert_eq!(served.get("/tasks/import", &mine).await.0, StatusCode::OK);
}

#[tokio::test]
async fn a_file_becomes_a_draft_that_is_the_same_task() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    let at = location(&send(&served, &mine, "draft", a_file(TASK)).await);
    let draft = at.strip_suffix("/board").unwrap();
    let (status, file) = served.get(&format!("{draft}/file"), &mine).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(Task::read_toml(&file), Task::read_toml(TASK));
    assert_eq!(
        served.get(&format!("/tasks/{}/1", draft.rsplit('/').next().unwrap()), &mine).await.0,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_file_that_asks_for_what_its_bay_cannot_give_is_not_published() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    // The only lock-off device that fits the named device fits another one now.
    let task = Task::read_toml(TASK).unwrap();
    let unfit = TASK.replace("fits = [\"Q1\", \"Q2\", \"Q3\"]", "fits = [\"Q1\"]");
    assert_ne!(unfit, TASK);
    let answer = send(&served, &mine, "new", a_file(unfit.clone())).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let page = answer.text().await.unwrap();
    let asks = |rule: &Rule| *rule == Rule::LockOffFits;
    let asked =
        task.checklist.criteria().find(|one| matches!(&one.decided, Decided::Rule(rule) if asks(rule))).unwrap();
    for part in ["No lock-off device on the table fits Q2.", "The task was not published", &asked.says] {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert_eq!(served.get("/tasks", &mine).await.1.matches("<th scope=\"row\">").count(), 1, "nothing was saved");
    let draft = location(&send(&served, &mine, "draft", a_file(unfit)).await);
    let (_, page) = served.get(&draft.replace("/board", "/publish"), &mine).await;
    assert!(page.contains("No lock-off device on the table fits Q2."), "{page}");
}
