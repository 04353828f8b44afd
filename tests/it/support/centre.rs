//! An invented centre with one of everything.

use super::db::Database;
use baywitness::candidates::Details;
use baywitness::marking::{ExtraTime, Log, Observation, Task};
use baywitness::store::candidates;
use baywitness::store::centres::{self, Centre};
use baywitness::store::entries::{self, Arrival, Receipt};
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::staff::{self, NewStaff, Role};
use baywitness::store::{CandidateId, CentreId, SessionId, StaffNo, TaskId, tasks};
use sqlx::{Postgres, Transaction};
use time::OffsetDateTime;
use time::macros::datetime;
use uuid::Uuid;

/// The task and log that the examples are about; where they come from stands beside them.
pub const TASK: &str = include_str!("../../reference/examples/stairwell.toml");
pub const LOG: &str = include_str!("../../reference/examples/stairwell-flawless.ndjson");

/// When everything here happens.
pub const NOW: OffsetDateTime = datetime!(2027-02-03 10:00 UTC);

/// A centre with one assessor, one candidate, one task and one planned session.
pub struct Fixture {
    pub db: Database,
    pub centre: CentreId,
    pub assessor: StaffNo,
    pub candidate: CandidateId,
    pub session: SessionId,
    pub task_id: TaskId,
    pub task: Task,
}

impl Fixture {
    pub async fn new() -> Self {
        Self::on(Database::new().await, "northgate").await
    }

    /// With the session open.
    pub async fn open() -> Self {
        let fixture = Self::new().await;
        let mut tx = fixture.begin().await;
        assert!(entries::open(&mut tx, &fixture.centre, fixture.session, &fixture.arrival()).await.unwrap());
        tx.commit().await.unwrap();
        fixture
    }

    /// A centre of this code on that database.
    pub async fn on(db: Database, code: &str) -> Self {
        let centre = CentreId::new(code).unwrap();
        let (session, candidate, task_id) = (SessionId(new_id()), CandidateId(new_id()), TaskId(new_id()));
        let mut tx = db.store.begin(&centre).await.unwrap();
        let named = Centre {
            id: centre.clone(),
            name: "Northgate (invented)".to_owned(),
            time_zone: "Europe/London".to_owned(),
        };
        assert!(centres::add(&mut tx, &named).await.unwrap());
        let assessor = staff::add(&mut tx, &centre, &person("rowan")).await.unwrap().unwrap();
        let learner = Details::named("Zoë Invented", "REG-0042");
        assert!(candidates::add(&mut tx, &centre, candidate, &learner, NOW).await.unwrap());
        let task_version = tasks::publish(&mut tx, &centre, task_id, "Stairwell", TASK, NOW).await.unwrap();
        let planned = NewSession {
            id: session,
            task: task_id,
            task_version,
            candidate,
            assessor,
            bay: "Bay 1".to_owned(),
            planned_at: NOW,
            extra: ExtraTime { percent: 25, minutes: 5 },
        };
        sessions::plan(&mut tx, &centre, &planned).await.unwrap();
        let task = tasks::find(&mut tx, &centre, task_id, task_version).await.unwrap().unwrap().task;
        tx.commit().await.unwrap();
        Self { db, centre, assessor, candidate, session, task_id, task }
    }

    pub async fn begin(&self) -> Transaction<'static, Postgres> {
        self.db.store.begin(&self.centre).await.unwrap()
    }

    pub fn arrival(&self) -> Arrival {
        Arrival {
            by: self.assessor,
            device: "d-1".to_owned(),
            run: "r-1".to_owned(),
            received_at: NOW,
            offset_ms: -1_830,
            error_ms: 120,
        }
    }

    /// Appends a batch in a transaction of its own, as a request does.
    pub async fn append(&self, batch: &[Observation]) -> Vec<Receipt> {
        self.append_as(&self.arrival(), batch).await
    }

    pub async fn append_as(&self, arrival: &Arrival, batch: &[Observation]) -> Vec<Receipt> {
        let mut tx = self.begin().await;
        sessions::hold(&mut tx, &self.centre, self.session).await.unwrap().unwrap();
        let receipts = entries::append(&mut tx, &self.centre, self.session, &self.task, arrival, batch).await.unwrap();
        tx.commit().await.unwrap();
        receipts
    }

    /// The assessor's log as stored.
    pub async fn log(&self) -> Log {
        let mut tx = self.begin().await;
        entries::log_of(&mut tx, &self.centre, self.session, self.assessor, &self.task).await.unwrap()
    }

    /// Session, count, head and every line of the chain, in order.
    pub async fn chain(&self) -> (i64, String, Vec<String>) {
        let mut tx = self.begin().await;
        let head = entries::head(&mut tx, &self.centre, self.session).await.unwrap();
        let lines = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
            .bind(self.session.0)
            .fetch_all(&mut *tx)
            .await
            .unwrap();
        (head.count, head.hash, lines)
    }
}

/// A person who holds every role.
pub fn person(sign_in_name: &str) -> NewStaff {
    NewStaff {
        sign_in_name: sign_in_name.to_owned(),
        name: format!("{sign_in_name} (invented)"),
        roles: vec![Role::Assessor, Role::Verifier, Role::Manager],
        password_hash: "$argon2id$not-a-real-one".to_owned(),
    }
}

/// The observations of the flawless example.
pub fn flawless(task: &Task) -> Vec<Observation> {
    Log::read(LOG.as_bytes(), task).unwrap().observations().to_vec()
}

/// One observation, from its act in JSON.
pub fn observation(id: Uuid, seq: u32, act: &str) -> Observation {
    let at = seq * 1_000;
    let wall = "2027-02-03T10:00:00.000Z";
    Observation::read_json(&format!(r#"{{"id":"{id}","seq":{seq},"at_ms":{at},"wall":"{wall}","act":{act}}}"#)).unwrap()
}

/// A UUID of version 7 that nothing else has.
pub fn new_id() -> Uuid {
    uuid::Builder::from_unix_timestamp_millis(1_801_648_800_000, &rand::random()).into_uuid()
}
