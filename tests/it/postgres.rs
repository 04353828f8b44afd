//! The private cluster: made, started, stopped, killed and started again.

use crate::support::db::{FORGETFUL, in_memory};
use baywitness::postgres::{Cluster, ClusterError};
use baywitness::store::CentreId;
use baywitness::store::centres::{self, Centre};
use baywitness::store::migrate::{self, Connect};
use rustix::process::{Pid, Signal, kill_process};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

/// A data folder that goes with the test.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        Self(in_memory("cluster"))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn start(folder: &Path) -> Result<Cluster, ClusterError> {
    Cluster::start_with(folder, FORGETFUL)
}

fn northgate() -> Centre {
    let id = CentreId::new("northgate").unwrap();
    Centre { id, name: "Northgate (invented)".to_owned(), time_zone: "UTC".to_owned() }
}

/// Opens the database as the service does, adds the centre, and says whether it was new.
fn add_centre(cluster: &Cluster) -> bool {
    let connect = Connect { allow_unsafe_durability: true, ..cluster.connect() };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let store = migrate::open(&connect).await.unwrap();
        let mut tx = store.begin(&northgate().id).await.unwrap();
        let new = centres::add(&mut tx, &northgate()).await.unwrap();
        tx.commit().await.unwrap();
        store.close().await;
        new
    })
}

fn kill(pid: u32) {
    kill_process(Pid::from_raw(i32::try_from(pid).unwrap()).unwrap(), Signal::KILL).unwrap();
}

#[test]
fn what_is_stored_is_there_after_a_stop_and_a_start() {
    let folder = Folder::new();
    let cluster = start(&folder.0).unwrap();
    assert!(add_centre(&cluster));
    let mode = std::fs::metadata(cluster.socket()).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o700, "only its own account can reach the server");
    cluster.stop().unwrap();
    assert!(!folder.0.join("postgres/postmaster.pid").exists());
    let cluster = start(&folder.0).unwrap();
    assert!(!add_centre(&cluster));
    cluster.stop().unwrap();
}

#[test]
fn a_usual_cluster_keeps_what_it_acknowledges_and_listens_on_no_network() {
    let folder = Folder::new();
    let cluster = Cluster::start(&folder.0).unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let connect = cluster.connect();
        migrate::open(&connect).await.unwrap().close().await;
        let mut owner = <sqlx::PgConnection as sqlx::Connection>::connect_with(&connect.owner).await.unwrap();
        for (setting, expected) in [("listen_addresses", ""), ("data_checksums", "on"), ("server_encoding", "UTF8")] {
            let value: String =
                sqlx::query_scalar("SELECT current_setting($1)").bind(setting).fetch_one(&mut owner).await.unwrap();
            assert_eq!(value, expected, "{setting}");
        }
    });
    cluster.stop().unwrap();
}

#[test]
fn a_second_program_on_the_same_data_is_told_so() {
    let folder = Folder::new();
    let cluster = start(&folder.0).unwrap();
    let why = start(&folder.0).unwrap_err();
    assert!(matches!(why, ClusterError::InUse { .. }), "{why}");
    assert!(why.to_string().contains("another baywitness is running"), "{why}");
    assert!(add_centre(&cluster), "the first is not disturbed");
    cluster.stop().unwrap();
}

#[test]
fn a_server_that_was_killed_comes_back_with_everything() {
    // With the usual settings: a forgetful server does lose the row here.
    let folder = Folder::new();
    let cluster = Cluster::start(&folder.0).unwrap();
    assert!(add_centre(&cluster));
    kill(cluster.pid());
    drop(cluster);
    assert!(folder.0.join("postgres/postmaster.pid").exists(), "a stale pid file is there");
    let cluster = Cluster::start(&folder.0).unwrap();
    assert!(!add_centre(&cluster));
    cluster.stop().unwrap();
}

/// Set where this program runs again as the one to be killed.
const VICTIM: &str = "BAYWITNESS_TEST_VICTIM";

#[test]
fn a_program_that_was_killed_leaves_a_server_that_the_next_one_takes_over() {
    if let Some(folder) = std::env::var_os(VICTIM) {
        let cluster = start(Path::new(&folder)).unwrap();
        add_centre(&cluster);
        std::fs::write(Path::new(&folder).join("ready"), cluster.pid().to_string()).unwrap();
        loop {
            std::thread::park();
        }
    }
    let folder = Folder::new();
    let name = "postgres::a_program_that_was_killed_leaves_a_server_that_the_next_one_takes_over";
    let mut victim = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", name])
        .env(VICTIM, &folder.0)
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let ready = folder.0.join("ready");
    let mut waited = 0;
    while std::fs::read_to_string(&ready).unwrap_or_default().is_empty() {
        std::thread::sleep(std::time::Duration::from_millis(20));
        waited += 1;
        assert!(waited < 3_000, "the other program did not get ready");
    }
    let left: u32 = std::fs::read_to_string(&ready).unwrap().parse().unwrap();
    victim.kill().unwrap();
    victim.wait().unwrap();
    assert!(folder.0.join("postgres/postmaster.pid").exists(), "its server is still running");
    let cluster = start(&folder.0).unwrap();
    assert_ne!(cluster.pid(), left);
    assert!(!add_centre(&cluster));
    cluster.stop().unwrap();
}

#[test]
fn a_start_that_was_cut_short_is_made_good() {
    let folder = Folder::new();
    std::fs::create_dir(folder.0.join("postgres.new")).unwrap();
    std::fs::write(folder.0.join("postgres.new/half"), "made").unwrap();
    let cluster = start(&folder.0).unwrap();
    assert!(add_centre(&cluster));
    cluster.stop().unwrap();
}

#[test]
fn a_data_folder_with_a_long_path_gets_a_short_socket() {
    let folder = Folder::new();
    let deep = folder.0.join("a".repeat(60)).join("b".repeat(60));
    let cluster = start(&deep).unwrap();
    let socket = cluster.socket().to_owned();
    assert!(socket.as_os_str().len() < 90, "{}", socket.display());
    assert!(add_centre(&cluster));
    cluster.stop().unwrap();
    std::fs::remove_dir_all(socket).unwrap();
}

#[test]
fn data_of_another_version_is_left_alone() {
    let folder = Folder::new();
    std::fs::create_dir(folder.0.join("postgres")).unwrap();
    std::fs::write(folder.0.join("postgres/PG_VERSION"), "9\n").unwrap();
    let why = start(&folder.0).unwrap_err();
    assert!(why.to_string().contains("PostgreSQL 9"), "{why}");
}

#[test]
fn a_folder_that_the_servers_account_cannot_reach_is_named() {
    if !rustix::process::geteuid().is_root() {
        // As an ordinary user the server's account is ours, which reaches what we reach.
        let folder = Folder::new();
        start(&folder.0).unwrap().stop().unwrap();
        return;
    }
    let folder = Folder::new();
    let closed = folder.0.join("closed");
    std::fs::create_dir(&closed).unwrap();
    std::fs::set_permissions(&closed, std::fs::Permissions::from_mode(0o700)).unwrap();
    let why = start(&closed.join("data")).unwrap_err().to_string();
    assert!(why.contains(closed.to_str().unwrap()) && why.contains("chmod o+x"), "{why}");
}
