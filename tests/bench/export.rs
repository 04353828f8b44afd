//! How fast 100,000 results leave as CSV, against COPY of the same rows on the same cluster, and how much memory that takes:
//! `cargo bench --bench export`.
//!
//! A private cluster with its usual settings is made on disk (under `/var/tmp`, or where `BENCH_FOLDER` says). One session
//! is recorded and signed through the store and copied 100,000 times. The export (store, marking of nothing, CSV, file) and
//! psql's COPY of the query that the export reads take turns; both run as the application's role and write a file. Memory
//! is the peak of this process's resident set while 10,000 and while 100,000 rows leave; the database's own is apart.

use baywitness::candidates::Details;
use baywitness::clock::Clock;
use baywitness::export::format::Format;
use baywitness::exporter::{self, Order, Target};
use baywitness::marking::observation::{EndReason, Wall};
use baywitness::marking::{Act, ExtraTime, Observation, ObservationId, Task, Verdict, VerdictOutcome};
use baywitness::postgres::Cluster;
use baywitness::store::candidates;
use baywitness::store::centres::{self, Centre};
use baywitness::store::entries::{self, Arrival};
use baywitness::store::exports::Filter;
use baywitness::store::migrate;
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::staff::{self, NewStaff, Role};
use baywitness::store::{CandidateId, CentreId, SessionId, Store, TaskId, results, tasks};
use sqlx::{Connection, PgConnection};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use time::macros::{date, datetime};
use time::{Date, OffsetDateTime};
use tokio::time::Instant;
use uuid::Uuid;

const TASK: &str = include_str!("../reference/examples/stairwell.toml");
const NOW: OffsetDateTime = datetime!(2027-02-03 10:00 UTC);
/// The day on which the first 10,000 were signed; the others follow the day after.
const FEW: Date = date!(2027 - 02 - 03);
const ALL: Date = date!(2027 - 02 - 04);
const ROUNDS: usize = 5;
/// What the plan asks for: the share of COPY's rate.
const BAR: f64 = 0.8;

/// The query that the export reads, for COPY: the entries that begin and end a log as they are.
const COPY: &str = r#"COPY (
    SELECT r.session_id, c.reference, s.task_id, s.task_version, t.title, s.bay, s.assessor, s.planned_at, r.signed_at,
           r.outcome, r.marks, r.out_of, r.percent, r.reasons, r.head,
           (SELECT e.line FROM entries e WHERE e.centre_id = r.centre_id AND e.session_id = r.session_id
            AND e.n <= r.count AND e.kind = 'observation' AND e.marker = s.assessor
            AND e.line LIKE '%"kind":"started"%' ORDER BY e.n LIMIT 1) AS started,
           (SELECT e.line FROM entries e WHERE e.centre_id = r.centre_id AND e.session_id = r.session_id
            AND e.n <= r.count AND e.kind = 'observation' AND e.marker = s.assessor
            AND e.line LIKE '%"kind":"ended"%' ORDER BY e.n DESC LIMIT 1) AS ended,
           (s.count > r.count AND EXISTS (
               SELECT FROM entries e WHERE e.centre_id = s.centre_id AND e.session_id = s.session_id
               AND e.n > r.count AND e.kind = 'late' AND e.marker = s.assessor)) AS to_review
    FROM results r
    JOIN sessions s ON s.centre_id = r.centre_id AND s.session_id = r.session_id
    JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
    JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
    WHERE r.centre_id = 'bench' AND r.signed_at >= '2027-02-03' AND r.signed_at < '2027-02-05'
    ORDER BY r.signed_at, r.session_id) TO STDOUT (FORMAT csv, HEADER)"#;

/// Copies the one session 100,000 times: itself, its entries, its result. Keys and chains were checked when the first was
/// recorded; here only the amount matters.
const MULTIPLY: &str = "
    SET baywitness.centre = 'bench';
    ALTER TABLE sessions DISABLE TRIGGER ALL;
    ALTER TABLE entries DISABLE TRIGGER ALL;
    ALTER TABLE results DISABLE TRIGGER ALL;
    ALTER TABLE candidates DISABLE TRIGGER ALL;
    CREATE TEMP TABLE made AS
        SELECT i, gen_random_uuid() AS session_id, gen_random_uuid() AS candidate_id,
               CASE WHEN i < 10000 THEN timestamptz '2027-02-03 00:01+00' + i * interval '8 seconds'
                    ELSE timestamptz '2027-02-04 00:00+00' + (i - 9999) * interval '0.9 seconds' END AS at
        FROM generate_series(1, 99999) i;
    INSERT INTO candidates (centre_id, candidate_id, name, reference)
        SELECT 'bench', candidate_id, 'Somebody ' || i, 'REG-' || i FROM made;
    INSERT INTO sessions (centre_id, session_id, task_id, task_version, candidate_id, assessor, bay, planned_at,
                          extra_percent, extra_minutes, opened_at, count, head)
        SELECT s.centre_id, m.session_id, s.task_id, s.task_version, m.candidate_id, s.assessor, s.bay, m.at,
               s.extra_percent, s.extra_minutes, m.at, s.count, s.head FROM sessions s, made m;
    INSERT INTO entries (centre_id, session_id, n, entry_id, kind, marker, line, head)
        SELECT e.centre_id, m.session_id, e.n, e.entry_id, e.kind, e.marker, e.line, e.head FROM made m, entries e;
    INSERT INTO results (centre_id, session_id, outcome, marks, out_of, percent, reasons, count, head, signed_by, signed_at)
        SELECT r.centre_id, m.session_id, r.outcome, r.marks, r.out_of, r.percent, r.reasons, r.count, r.head, r.signed_by,
               m.at FROM results r, made m;
    ANALYZE";

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
    let store = migrate::open(&cluster.connect()).await.expect("a database with durable settings");
    let centre = CentreId::new("bench").expect("a code");
    prepare(&store, &centre).await;
    let mut owner = PgConnection::connect_with(&cluster.connect().owner).await.expect("the owner");
    sqlx::raw_sql(MULTIPLY).execute(&mut owner).await.expect("100,000 sessions");

    println!("rows      format      seconds   rows a second   MB      peak RSS MB (before)");
    for (to, format) in [
        (FEW, Format::CsvData),
        (ALL, Format::CsvData),
        (ALL, Format::CsvSheet),
        (FEW, Format::Spreadsheet),
        (ALL, Format::Spreadsheet),
        (FEW, Format::Json),
        (ALL, Format::Json),
        (ALL, Format::Statements),
    ] {
        let before = resident("VmRSS");
        forget_peak();
        let made = export(&store, &centre, to, format, folder).await;
        println!(
            "{:>8} {:>11} {:>9.2} {:>15.0} {:>7.1} {:>8.1} ({before:.1})",
            made.rows,
            format.word(),
            made.seconds,
            made.rows as f64 / made.seconds,
            made.bytes as f64 / 1e6,
            resident("VmHWM"),
        );
    }
    let (mut ours, mut copy) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        ours.push(export(&store, &centre, ALL, Format::CsvData, folder).await.seconds);
        copy.push(copied(cluster.socket(), &folder.join("copied.csv")));
    }
    let (ours, copy) = (median(ours), median(copy));
    println!("CSV of 100,000: {ours:.2} s; COPY: {copy:.2} s; share of COPY's rate {:.2} (bar {BAR})", copy / ours);
    store.close().await;
}

struct Made {
    rows: u64,
    bytes: u64,
    seconds: f64,
}

async fn export(store: &Store, centre: &CentreId, to: Date, format: Format, folder: &Path) -> Made {
    let filter = Filter { from: FEW, to, task: None, assessor: None, outcome: None };
    let id = Uuid::from_u128(rand::random());
    let order = Order { id, filter, format, columns: Vec::new(), names: false, by: None };
    let path = folder.join("exported");
    let began = Instant::now();
    let started = exporter::start(store, &Clock::told(|| NOW), centre, order).await.expect("an export");
    let base = "https://bench.example";
    let ended = started.carry(Target::File(path.clone()), folder, folder, base).await.expect("a file");
    let seconds = began.elapsed().as_secs_f64();
    std::fs::remove_file(path).expect("the file can be removed");
    Made { rows: ended.rows, bytes: ended.bytes, seconds }
}

/// Seconds that psql takes.
fn copied(socket: &Path, file: &Path) -> f64 {
    let out = std::fs::File::create(file).expect("a file for the copy");
    let mut command = Command::new("psql");
    command.args(["-q", "-h"]).arg(socket).args(["-U", "baywitness_login", "-d", "baywitness", "-c", COPY]);
    command.env("PGOPTIONS", "-c role=baywitness_app -c baywitness.centre=bench").current_dir("/");
    let began = Instant::now();
    let status = command.stdout(Stdio::from(out)).status().expect("psql runs: it comes with PostgreSQL");
    let seconds = began.elapsed().as_secs_f64();
    assert!(status.success(), "psql copies");
    let lines = std::fs::read(file).expect("the copy").iter().filter(|byte| **byte == b'\n').count();
    assert_eq!(lines, 100_001, "COPY leaves the same rows");
    seconds
}

fn median(mut seconds: Vec<f64>) -> f64 {
    seconds.sort_by(f64::total_cmp);
    seconds[seconds.len() / 2]
}

/// A line of what Linux says of this process, in MB.
fn resident(what: &str) -> f64 {
    let text = std::fs::read_to_string("/proc/self/status").expect("Linux says how much memory is used");
    let line = text.lines().find_map(|line| line.strip_prefix(what)?.strip_prefix(':')).expect("it says that");
    line.trim().trim_end_matches(" kB").parse::<f64>().expect("a number") / 1e3
}

/// Lets the peak begin anew (proc(5), clear_refs).
fn forget_peak() {
    std::fs::write("/proc/self/clear_refs", "5").expect("Linux forgets the peak");
}

/// A centre with one signed session.
async fn prepare(store: &Store, centre: &CentreId) {
    let mut tx = store.begin(centre).await.expect("a transaction");
    let named = Centre { id: centre.clone(), name: "Bench (invented)".into(), time_zone: "UTC".into() };
    centres::add(&mut tx, &named).await.expect("a centre");
    let person = NewStaff {
        sign_in_name: "kim".into(),
        name: "Kim (invented)".into(),
        roles: vec![Role::Assessor],
        password_hash: "none".into(),
    };
    let by = staff::add(&mut tx, centre, &person).await.expect("staff").expect("a new name");
    let candidate = CandidateId(Uuid::from_u128(1));
    candidates::add(&mut tx, centre, candidate, &Details::named("A", "B"), NOW).await.expect("a candidate");
    let task_id = TaskId(Uuid::from_u128(2));
    tasks::publish(&mut tx, centre, task_id, "Stairwell", TASK, NOW).await.expect("a task");
    let id = SessionId(Uuid::from_u128(0x7000_8000_0000_0000_0001));
    let planned = NewSession {
        id,
        task: task_id,
        task_version: 1,
        candidate,
        assessor: by,
        bay: "Bay 1".into(),
        planned_at: NOW,
        extra: ExtraTime { percent: 0, minutes: 0 },
    };
    sessions::plan(&mut tx, centre, &planned).await.expect("a session");
    let arrival = Arrival { by, device: "d-1".into(), run: "r-1".into(), received_at: NOW, offset_ms: 0, error_ms: 20 };
    entries::open(&mut tx, centre, id, &arrival).await.expect("an open session");
    let task = Task::read_toml(TASK).expect("the example task is valid");
    let seen = |number: u128, at_ms, act| Observation {
        id: ObservationId(Uuid::from_u128(0x7000_8000_0000_0000_0000 | number)),
        seq: number as u32,
        at_ms,
        wall: Wall(1_801_648_812_345),
        act,
    };
    let ended = Act::Ended { reason: EndReason::Finished };
    let log = [seen(1, 0, Act::Started), seen(2, 200_000, Act::ViewBlocked), seen(3, 274_000, ended)];
    entries::append(&mut tx, centre, id, &task, &arrival, &log).await.expect("a log");
    let head = entries::head(&mut tx, centre, id).await.expect("a head").hash;
    let verdict = Verdict { outcome: VerdictOutcome::Pass, marks: 54, of: 56, percent: 96.4, reasons: Vec::new() };
    results::sign(&mut tx, centre, id, &head, &verdict, by, NOW).await.expect("signing").expect("a result");
    tx.commit().await.expect("all of it is kept");
}
