//! The service is killed under load, again and again.

use super::judge::Verdict;
use super::rig::Rig;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tokio::sync::watch;

const KILLS: u32 = 4;

/// The real program on the rig's database. Answers it and the address it prints.
fn start(rig: &Rig) -> (Child, String) {
    let url = |login: &str| format!("postgres://{login}@localhost/baywitness?host={}", socket(rig));
    let mut command = Command::new(env!("CARGO_BIN_EXE_baywitness"));
    command.arg("serve").env_clear().env("BAYWITNESS_ADDRESS", "127.0.0.1:0").env("RUST_LOG", "error");
    command.env("DATABASE_URL", url("baywitness_owner")).env("BAYWITNESS_APP_DATABASE_URL", url("baywitness_login"));
    let mut app = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(app.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.trim().rsplit(' ').next().unwrap().to_owned();
    assert!(address.starts_with("http://"), "{line}");
    (app, address)
}

fn socket(rig: &Rig) -> String {
    rig.cluster.as_ref().unwrap().socket().display().to_string().replace('/', "%2F")
}

#[test]
fn what_was_acknowledged_is_there_once_after_the_service_was_killed() {
    let rig = Rig::new(&[]);
    let (mut app, address) = start(&rig);
    let (told, address) = watch::channel(address);
    let work = rig.work(&address);
    for _ in 0..KILLS {
        work.more(40, Duration::from_secs(20));
        std::thread::sleep(Duration::from_millis(rand::random_range(0..150)));
        app.kill().unwrap();
        app.wait().unwrap();
        let (again, address) = start(&rig);
        app = again;
        told.send(address).unwrap();
        let served = work.more(1, Duration::from_secs(10));
        assert!(served < Duration::from_secs(2), "served again only after {served:?}");
    }
    work.more(40, Duration::from_secs(20));
    let acknowledged = work.finish(&rig.runtime);
    app.kill().unwrap();
    app.wait().unwrap();
    assert!(acknowledged.len() >= 200, "{}", acknowledged.len());
    assert_eq!(rig.judge(&acknowledged), Verdict::default(), "of {}", acknowledged.len());
}
