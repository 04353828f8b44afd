//! A cluster of its own with open sessions, and tablets that go on recording whatever happens.

use super::judge::{Verdict, judge, stored};
use crate::support::centre::{TASK, new_id};
use crate::support::db::in_memory;
use baywitness::candidates::Details;
use baywitness::clock::Clock;
use baywitness::marking::ExtraTime;
use baywitness::postgres::Cluster;
use baywitness::store::candidates;
use baywitness::store::centres::{self, Centre};
use baywitness::store::entries::{self, Arrival};
use baywitness::store::migrate::{self, Connect};
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::staff::{self, NewStaff, Role};
use baywitness::store::{CandidateId, CentreId, SessionId, Store, TaskId, sign_ins, tasks};
use baywitness::web::tokens::Token;
use rand::RngExt;
use reqwest::{Client, StatusCode};
use serde_json::{Value, json};
use sqlx::{Connection, PgConnection};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;
use tokio::runtime::Runtime;
use tokio::sync::watch;
use tokio::task::JoinSet;
use uuid::Uuid;

/// Tablets at work.
pub const TABLETS: usize = 8;

/// A cluster with its usual, durable settings (a kill spares what the disk has been handed), in memory for speed.
pub struct Rig {
    pub folder: PathBuf,
    pub cluster: Option<Cluster>,
    pub runtime: Runtime,
    pub connect: Connect,
    settings: &'static [(&'static str, &'static str)],
    sessions: Vec<SessionId>,
    cookie: String,
}

impl Rig {
    pub fn new(settings: &'static [(&'static str, &'static str)]) -> Self {
        let folder = in_memory("faults");
        let cluster = Cluster::start_with(&folder, settings).unwrap();
        let connect = Connect { allow_unsafe_durability: !settings.is_empty(), connections: 12, ..cluster.connect() };
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
        let (sessions, cookie) = runtime.block_on(async {
            let store = migrate::open(&connect).await.unwrap();
            let made = prepare(&store).await;
            store.close().await;
            made
        });
        Self { folder, cluster: Some(cluster), runtime, connect, settings, sessions, cookie }
    }

    /// Starts the tablets. They send to whatever address is told; an empty one means nobody is there.
    pub fn work(&self, address: &watch::Receiver<String>) -> Work {
        let (stop, acknowledged) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicU64::new(0)));
        let mut tablets = JoinSet::new();
        for (number, session) in self.sessions.iter().enumerate() {
            let tablet = Tablet {
                number,
                session: *session,
                cookie: self.cookie.clone(),
                client: Client::builder().timeout(Duration::from_secs(6)).build().unwrap(),
                address: address.clone(),
                acknowledged: Arc::clone(&acknowledged),
            };
            tablets.spawn_on(tablet.work(Arc::clone(&stop)), self.runtime.handle());
        }
        Work { stop, acknowledged, tablets }
    }

    /// Kills every process of the database server at once.
    pub fn kill_database(&mut self) {
        let cluster = self.cluster.take().unwrap();
        let all = family(cluster.pid());
        assert!(all.len() > 4, "only {} processes were found: this kills too little", all.len());
        all.into_iter().for_each(kill);
        // Reaps what was killed.
        drop(cluster);
    }

    pub fn start_database(&mut self) {
        self.cluster = Some(Cluster::start_with(&self.folder, self.settings).unwrap());
    }

    /// Compares what was acknowledged with what is stored.
    pub fn judge(&self, acknowledged: &[Uuid]) -> Verdict {
        self.runtime.block_on(async {
            let mut owner = PgConnection::connect_with(&self.connect.owner).await.unwrap();
            let stored = stored(&mut owner).await;
            assert_eq!(stored.len(), TABLETS);
            judge(acknowledged, &stored)
        })
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        drop(self.cluster.take());
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// Tablets at work.
pub struct Work {
    stop: Arc<AtomicBool>,
    acknowledged: Arc<AtomicU64>,
    tablets: JoinSet<Vec<Uuid>>,
}

impl Work {
    /// Waits until so many more were acknowledged; panics after so many seconds. Answers how long it took.
    pub fn more(&self, many: u64, within: Duration) -> Duration {
        let from = self.acknowledged.load(Ordering::SeqCst);
        let (mut waited, step) = (Duration::ZERO, Duration::from_millis(5));
        while self.acknowledged.load(Ordering::SeqCst) < from + many {
            assert!(waited < within, "not {many} more acknowledged within {within:?}");
            std::thread::sleep(step);
            waited += step;
        }
        waited
    }

    /// Lets each tablet finish what it is at, and answers every name that was acknowledged.
    pub fn finish(mut self, runtime: &Runtime) -> Vec<Uuid> {
        self.stop.store(true, Ordering::SeqCst);
        let mut all = Vec::new();
        runtime.block_on(async {
            while let Some(acknowledged) = self.tablets.join_next().await {
                all.extend(acknowledged.unwrap());
            }
        });
        all
    }
}

/// One tablet: it sends each observation until it is acknowledged, and now and then once more after that.
struct Tablet {
    number: usize,
    session: SessionId,
    cookie: String,
    client: Client,
    address: watch::Receiver<String>,
    acknowledged: Arc<AtomicU64>,
}

impl Tablet {
    async fn work(self, stop: Arc<AtomicBool>) -> Vec<Uuid> {
        let mut acknowledged = Vec::new();
        for seq in 1u32.. {
            let id = new_id();
            let seen = json!({"id": id, "seq": seq, "at_ms": seq, "wall": "2027-02-03T10:00:00.000Z",
                              "act": {"kind": "view_blocked"}});
            while !self.send(seq, &seen).await {
                if stop.load(Ordering::SeqCst) {
                    return acknowledged;
                }
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            acknowledged.push(id);
            self.acknowledged.fetch_add(1, Ordering::SeqCst);
            if rand::rng().random_bool(0.2) {
                self.send(seq, &seen).await;
            }
            if stop.load(Ordering::SeqCst) {
                break;
            }
        }
        acknowledged
    }

    /// Whether it was acknowledged.
    async fn send(&self, seq: u32, seen: &Value) -> bool {
        let address = self.address.borrow().clone();
        let sent = Clock::system().now_ms();
        let batch = json!({"dev": format!("tablet-{}", self.number), "run": "r-1", "sent": sent, "high": seq,
                           "observations": [seen]});
        let post = self.client.post(format!("{address}/sessions/{}/entries", self.session.0)).json(&batch);
        let answer = post.header("cookie", &self.cookie).header("sec-fetch-site", "same-origin").send().await;
        let Ok(answer) = answer else { return false };
        if answer.status() != StatusCode::OK {
            return false;
        }
        let Ok(reply) = answer.json::<Value>().await else { return false };
        let answer = &reply["answers"][0];
        assert!(answer["refused"].is_null() && answer["conflict"].is_null(), "{answer}");
        answer["id"] == seen["id"] && (answer["accepted"].is_i64() || answer["duplicate"].is_i64())
    }
}

/// A centre with an assessor who is signed in, and an open session for each tablet.
async fn prepare(store: &Store) -> (Vec<SessionId>, String) {
    let centre = CentreId::new("northgate").unwrap();
    let now = Clock::system().now();
    let mut tx = store.begin(&centre).await.unwrap();
    let named = Centre { id: centre.clone(), name: "Northgate (invented)".into(), time_zone: "UTC".into() };
    centres::add(&mut tx, &named).await.unwrap();
    let person = NewStaff {
        sign_in_name: "kim".into(),
        name: "Kim (invented)".into(),
        roles: vec![Role::Assessor],
        password_hash: "none".into(),
    };
    let assessor = staff::add(&mut tx, &centre, &person).await.unwrap().unwrap();
    let candidate = CandidateId(new_id());
    candidates::add(&mut tx, &centre, candidate, &Details::named("Zoë Invented", "REG-1"), now).await.unwrap();
    let task = TaskId(new_id());
    tasks::publish(&mut tx, &centre, task, "Stairwell", TASK, now).await.unwrap();
    let mut opened = Vec::new();
    for _ in 0..TABLETS {
        let planned = NewSession {
            id: SessionId(new_id()),
            task,
            task_version: 1,
            candidate,
            assessor,
            bay: "Bay 1".into(),
            planned_at: now,
            extra: ExtraTime { percent: 0, minutes: 0 },
        };
        sessions::plan(&mut tx, &centre, &planned).await.unwrap();
        let arrival = Arrival {
            by: assessor,
            device: "d-1".into(),
            run: "r-1".into(),
            received_at: now,
            offset_ms: 0,
            error_ms: 0,
        };
        entries::open(&mut tx, &centre, planned.id, &arrival).await.unwrap();
        opened.push(planned.id);
    }
    let token = Token::new();
    sign_ins::start(&mut tx, &centre, assessor, &token.hash(), now).await.unwrap();
    tx.commit().await.unwrap();
    (opened, format!("__Host-signin={}.{}", centre.as_str(), token.hex()))
}

/// A process and its children, the parent first so that it starts no more of them.
fn family(parent: u32) -> Vec<u32> {
    let parent_of = |pid: u32| {
        let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
        // After the name, which stands in brackets: the state and the parent.
        stat.rsplit(')').next()?.split_whitespace().nth(1)?.parse::<u32>().ok()
    };
    let all = std::fs::read_dir("/proc").unwrap().filter_map(|entry| entry.ok()?.file_name().to_str()?.parse().ok());
    let children = all.filter(|pid: &u32| parent_of(*pid) == Some(parent));
    std::iter::once(parent).chain(children).collect()
}

pub fn kill(pid: u32) {
    let pid = rustix::process::Pid::from_raw(i32::try_from(pid).unwrap()).unwrap();
    // One that has just ended by itself is as dead.
    let _ = rustix::process::kill_process(pid, rustix::process::Signal::KILL);
}
