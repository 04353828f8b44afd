//! How many single appends a second are acknowledged and durable, against pgbench with the same SQL on the same server:
//! `cargo bench --bench append`.
//!
//! A private cluster with its usual, durable settings is made on disk (under `/var/tmp`, or where `BENCH_FOLDER` says).
//! With 1, 8 and 32 clients, each appending to sessions of its own, the store and pgbench take turns; the medians of the
//! rounds are compared. pgbench runs what the store runs for one batch: begin, set the centre, hold the session, look
//! for what is there already, insert with count and head and notification, commit. It runs as the same role, so that
//! row-level security and the chain's trigger work for both. A second column leaves the notification out of pgbench's
//! SQL: while a transaction that notifies commits, no other such may, and so it costs single commits more than shared
//! ones. The first column is the store, in this process. The last one is the whole service: a request over HTTP for each
//! observation, the sign-in looked up, the log read and marked afresh, and the reply with what is owed.

mod append_http;

use append_http::Http;
use baywitness::candidates::Details;
use baywitness::marking::observation::Wall;
use baywitness::marking::{Act, ExtraTime, Observation, ObservationId, Task};
use baywitness::postgres::Cluster;
use baywitness::store::candidates;
use baywitness::store::centres::{self, Centre};
use baywitness::store::entries::{self, Arrival, Batch, Receipt};
use baywitness::store::migrate::{self, Connect};
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::staff::{self, NewStaff, Role};
use baywitness::store::{CandidateId, CentreId, SessionId, StaffNo, Store, TaskId, tasks};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use time::OffsetDateTime;
use time::macros::datetime;
use tokio::time::Instant;
use uuid::Uuid;

const TASK: &str = include_str!("../reference/examples/stairwell.toml");
const SCRIPT: &str = include_str!("append.sql");
const NOW: OffsetDateTime = datetime!(2027-02-03 10:00 UTC);
const CLIENTS: [usize; 3] = [1, 8, 32];
/// What the plan asks for at each number of clients.
const BARS: [f64; 3] = [0.5, 0.9, 1.5];
/// Sessions of each client, so that none grows beyond what a session holds.
const SESSIONS: usize = 40;
const ROUNDS: usize = 3;
const SECONDS: u64 = 4;

fn main() {
    let folder = std::env::var_os("BENCH_FOLDER").map_or_else(|| PathBuf::from("/var/tmp"), PathBuf::from);
    let folder = folder.join(format!("baywitness-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("the bench's folder can be made");
    let cluster = Cluster::start(&folder).expect("a private cluster");
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(measure(&cluster, &folder));
    cluster.stop().expect("the cluster stops");
    std::fs::remove_dir_all(&folder).expect("the bench's folder can be removed");
}

async fn measure(cluster: &Cluster, folder: &Path) {
    let connect = Connect { connections: 16, ..cluster.connect() };
    let store = migrate::open(&connect).await.expect("a database with durable settings");
    let bench = Arc::new(Bench::prepare(store).await);
    let http = Arc::new(Http::serve(bench.store.clone(), &bench.centre, bench.assessor).await);
    let scripts = [("with.sql", SCRIPT.to_owned()), ("without.sql", without_notification())];
    for (name, text) in &scripts {
        std::fs::write(folder.join(name), text).expect("the script can be written");
    }
    println!("appends a second, medians of {ROUNDS} rounds of {SECONDS} s; ratio to pgbench with the same SQL");
    println!("clients    store   pgbench   ratio   bar    pgbench without notify   ratio     HTTP   ratio");
    for (clients, bar) in CLIENTS.into_iter().zip(BARS) {
        let (mut ours, mut same, mut bare, mut whole) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for _ in 0..ROUNDS {
            ours.push(bench.run(clients, None).await);
            whole.push(bench.run(clients, Some(&http)).await);
            same.push(pgbench(cluster.socket(), &folder.join("with.sql"), clients));
            bare.push(pgbench(cluster.socket(), &folder.join("without.sql"), clients));
        }
        let (ours, same, bare, whole) = (median(ours), median(same), median(bare), median(whole));
        println!(
            "{clients:>7} {ours:>8.0} {same:>9.0} {:>7.2} {bar:>5.1} {bare:>25.0} {:>7.2} {whole:>8.0} {:>7.2}",
            ours / same,
            ours / bare,
            whole / same
        );
    }
    bench.store.close().await;
}

/// The script with the notification taken out: the row that was moved is still counted.
fn without_notification() -> String {
    let notify = "pg_notify('baywitness_sessions', 'bench ' || session_id)";
    assert!(SCRIPT.contains(notify), "the script no longer notifies as it did");
    SCRIPT.replace(notify, "session_id")
}

fn median(mut rates: Vec<f64>) -> f64 {
    rates.sort_by(f64::total_cmp);
    rates[rates.len() / 2]
}

fn pgbench(socket: &Path, script: &Path, clients: usize) -> f64 {
    let mut command = Command::new("pgbench");
    command.args(["-n", "-M", "prepared", "-j", "2", "-T", &SECONDS.to_string(), "-c", &clients.to_string()]);
    command.arg("-f").arg(script).arg("-h").arg(socket).args(["-U", "baywitness_login", "baywitness"]);
    command.env("PGOPTIONS", "-c role=baywitness_app").current_dir("/");
    let said = command.output().expect("pgbench runs: it comes with PostgreSQL");
    let text = String::from_utf8_lossy(&said.stdout).into_owned();
    let rate = text.lines().find_map(|line| line.strip_prefix("tps = ")?.split(' ').next()?.parse().ok());
    rate.unwrap_or_else(|| panic!("pgbench: {text} {}", String::from_utf8_lossy(&said.stderr)))
}

struct Bench {
    store: Store,
    centre: CentreId,
    assessor: StaffNo,
    task: Arc<Task>,
    next: AtomicU64,
}

/// Who appends: each has sessions of its own.
#[derive(Clone, Copy)]
enum By {
    Store,
    Http,
    Pgbench,
}

/// One of the sessions of a client. Those of pgbench have numbers that the others never reach.
fn session(client: usize, one: usize, by: By) -> SessionId {
    let number = client * 100
        + one
        + match by {
            By::Store => 0,
            By::Http => SESSIONS,
            By::Pgbench => 100_000,
        };
    SessionId(Uuid::from_u128(0x7000_8000_0000_0000_0000 | number as u128))
}

impl Bench {
    async fn prepare(store: Store) -> Self {
        let centre = CentreId::new("bench").expect("a code");
        let mut tx = store.begin(&centre).await.expect("a transaction");
        let named = Centre { id: centre.clone(), name: "Bench (invented)".into(), time_zone: "UTC".into() };
        centres::add(&mut tx, &named).await.expect("a centre");
        let person = NewStaff {
            sign_in_name: "kim".into(),
            name: "Kim (invented)".into(),
            roles: vec![Role::Assessor],
            password_hash: "none".into(),
        };
        let assessor = staff::add(&mut tx, &centre, &person).await.expect("staff").expect("a new name");
        let candidate = CandidateId(Uuid::from_u128(1));
        candidates::add(&mut tx, &centre, candidate, &Details::named("A", "B"), NOW).await.expect("a candidate");
        let task_id = TaskId(Uuid::from_u128(2));
        tasks::publish(&mut tx, &centre, task_id, "Stairwell", TASK, NOW).await.expect("a task");
        for client in 0..CLIENTS[2] {
            for one in 0..SESSIONS {
                for by in [By::Store, By::Http, By::Pgbench] {
                    let planned = NewSession {
                        id: session(client, one, by),
                        task: task_id,
                        task_version: 1,
                        candidate,
                        assessor,
                        bay: "Bay".into(),
                        planned_at: NOW,
                        extra: ExtraTime { percent: 0, minutes: 0 },
                    };
                    sessions::plan(&mut tx, &centre, &planned).await.expect("a session");
                    entries::open(&mut tx, &centre, planned.id, &arrival(assessor)).await.expect("an open session");
                }
            }
        }
        tx.commit().await.expect("all of it is kept");
        let task = Arc::new(Task::read_toml(TASK).expect("the example task is valid"));
        Self { store, centre, assessor, task, next: AtomicU64::new(1) }
    }

    /// Appends with so many clients for a while, into the store or over HTTP. Answers how many appends a second were
    /// acknowledged.
    async fn run(self: &Arc<Self>, clients: usize, http: Option<&Arc<Http>>) -> f64 {
        let began = Instant::now();
        let until = began + Duration::from_secs(SECONDS);
        let mut running = tokio::task::JoinSet::new();
        for client in 0..clients {
            let (bench, http) = (Arc::clone(self), http.map(Arc::clone));
            running.spawn(async move {
                let mut acknowledged = 0usize;
                while Instant::now() < until {
                    let one = acknowledged % SESSIONS;
                    match &http {
                        None => bench.append(session(client, one, By::Store)).await,
                        Some(http) => {
                            let number = bench.next.fetch_add(1, Ordering::Relaxed);
                            http.append(session(client, one, By::Http), number).await;
                        }
                    }
                    acknowledged += 1;
                }
                acknowledged
            });
        }
        let acknowledged: usize = running.join_all().await.into_iter().sum();
        acknowledged as f64 / began.elapsed().as_secs_f64()
    }

    async fn append(&self, session: SessionId) {
        let number = self.next.fetch_add(1, Ordering::Relaxed);
        let seen = Observation {
            id: ObservationId(Uuid::from_u128(0x8000_7000_8000_0000_0000_0000 | u128::from(number))),
            seq: 7,
            at_ms: 12_345,
            wall: Wall(1_801_648_812_345),
            act: Act::ViewBlocked,
        };
        let (task, arrival) = (Arc::clone(&self.task), arrival(self.assessor));
        let batch = Batch { session, task, arrival, high: Some(number as u32), observations: vec![seen] };
        let taken = self.store.take(&self.centre, batch).await.expect("an answer").expect("a session");
        assert!(matches!(taken.receipts[..], [Receipt::Accepted(_)]), "{taken:?}");
    }
}

fn arrival(by: StaffNo) -> Arrival {
    Arrival { by, device: "d-1".into(), run: "r-1".into(), received_at: NOW, offset_ms: 0, error_ms: 20 }
}
