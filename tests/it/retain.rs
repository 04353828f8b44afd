//! The command that keeps to the periods of records, over a private cluster with the invented centre in it.

use crate::support::db::in_memory;
use baywitness::clock::Clock;
use baywitness::demo;
use baywitness::postgres::Cluster;
use baywitness::store::keeping::{self, Kind, Periods};
use baywitness::store::{CentreId, StaffNo, Store, migrate};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use time::Duration;

struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn retain(data: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baywitness"));
    command.arg("retain").args(arguments).env_clear().env("BAYWITNESS_DATA", data);
    let Output { status, stdout, stderr } =
        command.env("PATH", std::env::var_os("PATH").unwrap_or_default()).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (status.code(), text(stdout), text(stderr))
}

/// Does something with the database while no command does.
fn with_store<T>(data: &Path, work: impl AsyncFnOnce(&Store) -> T) -> T {
    let cluster = Cluster::start(data).unwrap();
    let done = tokio::runtime::Runtime::new().unwrap().block_on(async {
        let store = migrate::open(&cluster.connect()).await.unwrap();
        let done = work(&store).await;
        store.close().await;
        done
    });
    cluster.stop().unwrap();
    done
}

#[test]
fn the_command_counts_first_and_erases_only_what_a_manager_has_decided() {
    let folder = Folder(in_memory("retain"));
    let data = folder.0.join("data");
    let centre = CentreId::new("sable-quay").unwrap();
    with_store(&data, async |store| {
        demo::prepare(store, &Clock::system(), &data).await.unwrap();
        // Something that is old: a sign-in of two years ago.
        let mut tx = store.begin(&centre).await.unwrap();
        let long_ago = Clock::system().now() - Duration::days(730);
        let by = StaffNo(1);
        baywitness::store::sign_ins::start(&mut tx, &centre, by, &[7; 32], long_ago).await.unwrap();
        tx.commit().await.unwrap();
    });
    let (code, out, _) = retain(&data, &["--dry-run"]);
    assert_eq!(code, Some(0));
    for line in ["sable-quay: due now, nothing erased", "  sign_ins 1, held 0", "nobody has confirmed the periods"] {
        assert!(out.contains(line), "{line} in {out}");
    }
    let (code, out, err) = retain(&data, &[]);
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert!(err.contains("nobody has confirmed the periods, so nothing is erased"), "{err}");
    for (centre, says) in [("northgate", "there is no centre northgate"), ("No Centre", "2 to 32 of a-z")] {
        let (code, _, err) = retain(&data, &["--centre", centre]);
        assert!(code == Some(2) && err.contains(says), "{code:?}: {err}");
    }

    with_store(&data, async |store| {
        let mut tx = store.begin(&centre).await.unwrap();
        let (periods, _) = keeping::periods(&mut tx, &centre).await.unwrap().unwrap();
        let same = Periods::told(|kind| Some(periods.of(kind))).unwrap();
        keeping::set_periods(&mut tx, &centre, &same, StaffNo(3), Clock::system().now()).await.unwrap();
        tx.commit().await.unwrap();
    });
    let (code, out, _) = retain(&data, &["--dry-run", "--centre", "sable-quay"]);
    assert!(code == Some(0) && out.contains("sign_ins 1") && !out.contains("nobody"), "{out}");
    let (code, out, err) = retain(&data, &["--centre", "sable-quay"]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    assert!(out.starts_with("sable-quay: run 1\n") && out.contains("  sign_ins 1\n"), "{out}");
    assert_eq!(out.lines().count(), 1 + Kind::ALL.len());
    let (_, out, _) = retain(&data, &[]);
    assert!(out.starts_with("sable-quay: run 2\n") && out.contains("  sign_ins 0\n"), "once: {out}");
}
