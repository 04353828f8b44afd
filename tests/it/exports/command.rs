//! Exports from the command line, over a private cluster with the invented centre in it.

use crate::support::db::in_memory;
use baywitness::clock::Clock;
use baywitness::demo;
use baywitness::postgres::Cluster;
use baywitness::store::migrate;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn export(data: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baywitness"));
    command.arg("export").args(arguments).env_clear().env("BAYWITNESS_DATA", data);
    command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
    command.env("BAYWITNESS_ORIGIN", "https://sable-quay.example").output().unwrap()
}

#[test]
fn the_command_writes_every_format_and_says_what_it_cannot() {
    let folder = Folder(in_memory("command"));
    let data = folder.0.join("data");
    let cluster = Cluster::start(&data).unwrap();
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let store = migrate::open(&cluster.connect()).await.unwrap();
        demo::prepare(&store, &Clock::system(), &data).await.unwrap();
        store.close().await;
    });
    cluster.stop().unwrap();

    let always = ["--from", "2000-01-01", "--to", "2199-12-31", "--centre", "sable-quay"];
    for (format, file, schema) in [
        ("csv-data", "r.csv", true),
        ("xlsx", "r.xlsx", false),
        ("json", "r.json", true),
        ("xapi", "s.json", false),
        ("badges", "b.txt", false),
        ("ics", "p.ics", false),
    ] {
        let out = folder.0.join(format!("{format}-{file}"));
        let path = out.display().to_string();
        let done = export(&data, &[&always[..], &["--format", format, "--out", &path]].concat());
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{format}: {said}");
        assert!(std::fs::metadata(&out).unwrap().len() > 100, "{format}");
        assert!(said.contains(if format == "ics" { "4 plans" } else { "2 results" }), "{format}: {said}");
        let beside = out.with_extension("schema.json");
        assert_eq!(beside.exists(), schema, "{format}");
    }
    assert!(data.join("keys/badge.key").exists());
    let done = export(&data, &[&always[..], &["--format", "csv-data", "--columns", "verdict,marks"]].concat());
    let text = String::from_utf8(done.stdout).unwrap();
    assert!(text.starts_with("verdict,marks\r\n") && text.matches("\r\n").count() == 3, "{text}");

    for (arguments, code, says) in [
        (vec!["--format", "xlsx"], 2, "--out"),
        (vec!["--format", "parchment"], 2, "csv-sheet"),
        (vec!["--format", "json", "--assessor", "99"], 2, "--assessor"),
        (vec!["--format", "csv-data", "--columns", "shoe_size"], 2, "shoe_size"),
        (vec!["--format", "badges", "--names"], 2, "--names"),
        (vec!["--format", "json", "--out", "/proc/nowhere/r.json"], 1, "file"),
    ] {
        let done = export(&data, &[&always[..], &arguments[..]].concat());
        let said = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(code), "{arguments:?}: {said}");
        assert!(said.contains(says), "{arguments:?}: {said}");
    }
    let done =
        export(&data, &["--format", "json", "--from", "2027-02-30", "--to", "2027-03-01", "--centre", "sable-quay"]);
    assert_eq!(done.status.code(), Some(2));
}
