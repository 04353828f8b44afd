//! Exports: what is in them, and what programs made by others say of the files.

pub mod amended;
mod command;
mod outside;
mod record;
mod rows;

use crate::support::centre::{Fixture, NOW, new_id};
use crate::support::db::in_memory;
use baywitness::candidates::Details;
use baywitness::clock::Clock;
use baywitness::export::format::Format;
use baywitness::exporter::{self, Order, Target};
use baywitness::marking::decision::{Decision, decide};
use baywitness::marking::{self, Fails, Log, Outcome};
use baywitness::store::candidates;
use baywitness::store::exports::Filter;
use baywitness::store::sessions::{self, NewSession};
use baywitness::store::{CandidateId, SessionId, decisions, entries, results};
use std::path::PathBuf;
use time::macros::date;
use time::{Duration, OffsetDateTime};

/// Names that are ordinary, or that programs stumble over.
pub fn names() -> [String; 8] {
    [
        "Sukarno".into(),
        "Ng".into(),
        "O’Brien-Ní Dhomhnaill".into(),
        "Zażółć".into(),
        "محمد بن عبد الله".into(),
        "李小龍".into(),
        "Ä".repeat(200),
        "=1+1".into(),
    ]
}

/// The worked examples that are signed here, as they come out.
pub const FLAWLESS: &str = include_str!("../../reference/examples/stairwell-flawless.ndjson");
pub const STEPPED_IN: &str = include_str!("../../reference/examples/stairwell-stepped-in.ndjson");
pub const LONG_TIPS: &str = include_str!("../../reference/examples/stairwell-long-tips.ndjson");

/// Where the centre is, for formats that need to know.
pub const BASE: &str = "https://northgate.example";

/// A centre with signed sessions, and a folder for its files.
pub struct Centre {
    pub fixture: Fixture,
    pub data: PathBuf,
}

impl Drop for Centre {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.data);
    }
}

impl Centre {
    pub async fn empty() -> Self {
        Self { fixture: Fixture::new().await, data: in_memory("exports") }
    }

    /// With a pass for each of the names, and two that did not pass.
    pub async fn new() -> Self {
        let centre = Self::empty().await;
        for (at, name) in names().iter().enumerate() {
            centre.signed(name, FLAWLESS, NOW + Duration::hours(at as i64)).await;
        }
        centre.signed("Tamsin Oyelaran", STEPPED_IN, NOW + Duration::hours(20)).await;
        centre.signed("Dilys Farrow-Ekwueme", LONG_TIPS, NOW + Duration::hours(21)).await;
        centre
    }

    /// A session with this log, signed at `at` with every proposal confirmed.
    pub async fn signed(&self, name: &str, log: &str, at: OffsetDateTime) -> SessionId {
        signed(&self.fixture, name, log, at).await
    }

    pub fn order(&self, format: Format) -> Order {
        Order {
            id: new_id(),
            filter: Filter {
                from: date!(2020 - 01 - 01),
                to: date!(2040 - 12 - 31),
                task: None,
                assessor: None,
                outcome: None,
            },
            format,
            columns: Vec::new(),
            names: false,
            by: None,
        }
    }

    pub fn clock(&self) -> Clock {
        Clock::told(|| NOW + Duration::days(1))
    }

    pub async fn start(&self, order: Order) -> Result<exporter::Started, exporter::ExportError> {
        exporter::start(&self.fixture.db.store, &self.clock(), &self.fixture.centre, order).await
    }

    /// Where a file of this format goes.
    pub fn path(&self, format: Format) -> PathBuf {
        self.data.join(format.ending())
    }

    /// The file that an order makes.
    pub async fn export(&self, order: Order) -> PathBuf {
        let path = self.path(order.format);
        let _ = std::fs::remove_file(&path);
        let started = self.start(order).await.unwrap();
        started.carry(Target::File(path.clone()), &self.data, &self.data, BASE).await.unwrap();
        path
    }

    /// The text of the file that an order makes.
    pub async fn text(&self, order: Order) -> String {
        let order = Order { id: new_id(), ..order };
        std::fs::read_to_string(self.export(order).await).unwrap()
    }

    /// Every file that stands in the folder, keys apart.
    pub fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.data).unwrap();
        let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let mut names: Vec<_> = names.filter(|name| name != "keys").collect();
        names.sort();
        names
    }
}

/// A session of this centre with this log, signed at `at` with every proposal confirmed.
pub async fn signed(fixture: &Fixture, name: &str, log: &str, at: OffsetDateTime) -> SessionId {
    let Fixture { centre, assessor, task, .. } = fixture;
    let candidate = CandidateId(new_id());
    let reference = format!("REG-{:08x}", rand::random::<u32>());
    let mut tx = fixture.begin().await;
    let learner = Details::named(name, &reference);
    assert!(candidates::add(&mut tx, centre, candidate, &learner, NOW).await.unwrap());
    let session = SessionId(new_id());
    let planned = NewSession {
        id: session,
        task: fixture.task_id,
        task_version: 1,
        candidate,
        assessor: *assessor,
        bay: "Bay 2".into(),
        planned_at: at - Duration::hours(1),
        extra: Default::default(),
    };
    sessions::plan(&mut tx, centre, &planned).await.unwrap();
    let log = Log::read(log.as_bytes(), task).unwrap_or_else(|faults| panic!("{faults}"));
    let mut arrival = fixture.arrival();
    arrival.offset_ms = 0;
    entries::open(&mut tx, centre, session, &arrival).await.unwrap();
    entries::append(&mut tx, centre, session, task, &arrival, log.observations()).await.unwrap();
    let marking = marking::mark(task, &log);
    let ends = |one: &&marking::Finding| one.outcome == Outcome::NotMet && one.fails == Fails::Automatic;
    for finding in marking.findings.iter().filter(ends) {
        let confirmed = Decision { criterion: finding.criterion.clone(), outcome: Outcome::NotMet, reason: None };
        decisions::add(&mut tx, centre, session, *assessor, &confirmed, at).await.unwrap();
    }
    for finding in marking.findings.iter().filter(|one| one.outcome == Outcome::NotSeen) {
        let reason = Some("=HYPERLINK(\"x\"), seen from the stairs".to_owned());
        let judged = Decision { criterion: finding.criterion.clone(), outcome: Outcome::NotMet, reason };
        decisions::add(&mut tx, centre, session, *assessor, &judged, at).await.unwrap();
    }
    let decided = decide(task, &marking, &decisions::of_session(&mut tx, centre, session).await.unwrap());
    assert!(decided.can_be_signed(), "{:?}", decided.open);
    let head = entries::head(&mut tx, centre, session).await.unwrap().hash;
    results::sign(&mut tx, centre, session, &head, &decided.verdict, *assessor, at).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    session
}
