//! The worked examples through the entries endpoint: the same log gives the same marking as from the command line.
//!
//! Source of the logs and their outcomes: `tests/reference/examples`.

use super::Served;
use baywitness::marking;
use baywitness::store::entries;
use reqwest::{Method, StatusCode};
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;

fn by_command_line(folder: &Path, log: &str) -> Value {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baywitness"));
    command.args(["mark", "--json", "--task"]).arg(folder.join("stairwell.toml")).arg("--log").arg(folder.join(log));
    let done = command.output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).unwrap()
}

/// Sends a log in batches of `size`, each of them twice, as a tablet does that lost the replies.
pub async fn send_all(served: &Served, cookie: &str, log: &str, size: usize) {
    let observations: Vec<Value> = log.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    for batch in observations.chunks(size) {
        for answer in ["accepted", "duplicate"] {
            let body = json!({"dev": "tablet-1", "run": "r-1", "sent": 1_801_648_800_000_i64, "observations": batch});
            let request = served.ask(Method::POST, &served.at("entries")).header("cookie", cookie).json(&body);
            let reply = request.send().await.unwrap();
            assert_eq!(reply.status(), StatusCode::OK);
            let reply: Value = reply.json().await.unwrap();
            let answers = reply["answers"].as_array().unwrap();
            assert!(answers.iter().all(|one| one[answer].is_i64()), "{answers:?}");
        }
    }
}

#[tokio::test]
async fn every_example_comes_out_alike_through_the_endpoint_and_from_the_command_line() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/examples");
    let expected = std::fs::read_to_string(folder.join("stairwell-expected.json")).unwrap();
    let expected: serde_json::Map<String, Value> = serde_json::from_str(&expected).unwrap();
    assert_eq!(expected.len(), 10);
    for (at, (name, want)) in expected.iter().enumerate() {
        let served = Served::new().await;
        let mine = served.signed_in(served.assessor).await;
        served.open(&mine).await;
        let file = want["log"].as_str().unwrap();
        let log = std::fs::read_to_string(folder.join(file)).unwrap();
        send_all(&served, &mine, &log, 1 + at * 7).await;

        let (fixture, task) = (&served.fixture, &served.fixture.task);
        let mut tx = fixture.begin().await;
        let stored = entries::log_of(&mut tx, &fixture.centre, served.session, served.assessor, task).await.unwrap();
        let through = serde_json::to_value(marking::mark(task, &stored)).unwrap();
        assert_eq!(through, by_command_line(&folder, file), "{name}");
        assert_eq!(through["verdict"]["outcome"], want["outcome"], "{name}");
    }
}
