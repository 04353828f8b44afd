//! An invented centre to try everything with. Every name, place and person in it is made up.

mod notes;
mod script;

pub use notes::Notes;

use crate::bay::Standards;
use crate::candidates::Details;
use crate::clock::Clock;
use crate::marking::decision::{Decision, decide};
use crate::marking::{self, ChecklistFile, ExtraTime, Fails, Outcome, Task, library, write};
use crate::store::candidates;
use crate::store::centres::{self, Centre};
use crate::store::drafts::{self, Draft};
use crate::store::entries::{self, Arrival};
use crate::store::sessions::{self, NewSession, Standing};
use crate::store::staff::{self, NewStaff, Role};
use crate::store::{CandidateId, CentreId, ChecklistId, SessionId, StaffNo, Store, StoreError, TaskId};
use crate::store::{checklists, criteria, decisions, feedback, planning, results, tasks};
use crate::web::{passwords, tokens};
use sqlx::PgConnection;
use std::path::Path;
use time::{Duration, OffsetDateTime, Time};

/// The centre's code.
const CENTRE: &str = "sable-quay";

const STAIRWELL: &str = include_str!("tasks/stairwell.toml");
const EXTRACTOR: &str = include_str!("tasks/extractor.toml");
const ROSE: &str = include_str!("tasks/rose.toml");

const STAFF: [(&str, &str, &[Role]); 3] = [
    ("ines", "Ines Calloway", &[Role::Assessor]),
    ("bram", "Bram Teasdale", &[Role::Verifier]),
    ("odile", "Odile Marchbank", &[Role::Manager, Role::Verifier]),
];

const CANDIDATES: [(&str, &str); 4] = [
    ("Dilys Farrow-Ekwueme", "SQ-1041"),
    ("Zażółć Brandt", "SQ-1042"),
    ("O’Rourke Sund", "SQ-1043"),
    ("Tamsin Oyelaran", "SQ-1044"),
];

/// Why the demo cannot be prepared.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error("{0} of the demo cannot be kept: {1}")]
    Notes(String, #[source] std::io::Error),
    #[error("the demo centre is there, but {0} with its sign-ins is not; remove the data folder to begin anew")]
    NotesGone(String),
    #[error(transparent)]
    Password(#[from] passwords::PasswordError),
    #[error("{0} of the demo makes no sense: {1}")]
    Material(&'static str, String),
}

/// Makes the demo centre where it is not there yet, and sees to it that a session is planned for today. Doing so twice
/// is harmless. Answers the sign-ins and the candidate's link.
pub async fn prepare(store: &Store, clock: &Clock, data: &Path) -> Result<Notes, DemoError> {
    let centre = CentreId::new(CENTRE).ok_or_else(|| DemoError::Material("the centre", CENTRE.into()))?;
    let mut tx = store.begin(&centre).await?;
    let there = centres::find(&mut tx, &centre).await?.is_some();
    let notes = if there { Notes::read(data)? } else { Maker::new(&mut tx, &centre, clock).make(data).await? };
    plan_today(&mut tx, &centre, clock).await?;
    tx.commit().await.map_err(StoreError::from)?;
    Ok(notes)
}

/// What the making of the demo carries along.
struct Maker<'m> {
    tx: &'m mut PgConnection,
    centre: &'m CentreId,
    clock: &'m Clock,
    now: OffsetDateTime,
    assessor: StaffNo,
}

impl<'m> Maker<'m> {
    fn new(tx: &'m mut PgConnection, centre: &'m CentreId, clock: &'m Clock) -> Self {
        Self { tx, centre, clock, now: clock.now(), assessor: StaffNo(1) }
    }

    async fn make(mut self, data: &Path) -> Result<Notes, DemoError> {
        let name = "Sable Quay Training Centre (invented)".to_owned();
        let centre = Centre { id: self.centre.clone(), name, time_zone: "Europe/London".into() };
        centres::add(self.tx, &centre).await?;
        let sign_ins = self.add_staff().await?;
        let mut people = Vec::new();
        for (name, reference) in CANDIDATES {
            let id = CandidateId(self.clock.new_id());
            candidates::add(self.tx, self.centre, id, &Details::named(name, reference), self.now).await?;
            people.push(id);
        }
        let (stairwell, stairwell_id) = self.publish(STAIRWELL).await?;
        let (extractor, extractor_id) = self.publish(EXTRACTOR).await?;
        self.publish(ROSE).await?;
        self.write_some().await?;

        let passed = self.session(&stairwell, stairwell_id, people[0], "Bay 1", 180, script::STAIRWELL_PASS).await?;
        self.sign(passed, &stairwell).await?;
        let failed = self.session(&extractor, extractor_id, people[1], "Bay 4", 120, script::EXTRACTOR_FAIL).await?;
        self.sign(failed, &extractor).await?;
        self.session(&stairwell, stairwell_id, people[2], "Bay 1", 8, script::STAIRWELL_RUNNING).await?;

        let links = vec![self.link(passed, CANDIDATES[0].0).await?, self.link(failed, CANDIDATES[1].0).await?];
        let notes = Notes { sign_ins, links };
        notes.write(data)?;
        Ok(notes)
    }

    async fn add_staff(&mut self) -> Result<Vec<notes::SignIn>, DemoError> {
        let mut sign_ins = Vec::new();
        for (sign_in_name, name, roles) in STAFF {
            let password = tokens::spoken_code(16);
            let person = NewStaff {
                sign_in_name: sign_in_name.into(),
                name: name.into(),
                roles: roles.to_vec(),
                password_hash: passwords::hash(&password)?,
            };
            staff::add(self.tx, self.centre, &person).await?;
            let roles = roles.iter().map(|role| role.word()).collect::<Vec<_>>().join(", ");
            sign_ins.push(notes::SignIn { name: format!("{sign_in_name}@{CENTRE}"), password, roles });
        }
        Ok(sign_ins)
    }

    async fn publish(&mut self, source: &str) -> Result<(Task, TaskId), DemoError> {
        let task = Task::read_toml(source).map_err(|faults| DemoError::Material("a task", faults.to_string()))?;
        let id = TaskId(self.clock.new_id());
        let version = tasks::publish(self.tx, self.centre, id, &task.title, source, self.now).await?;
        self.publish_checklist(&task, (id, version)).await?;
        Ok((task, id))
    }

    /// Publishes the checklist of a task on its own, as the one that the task was made with.
    async fn publish_checklist(&mut self, task: &Task, made: (TaskId, i32)) -> Result<(), DemoError> {
        let (title, pass_percent) = (task.title.clone(), task.pass_percent);
        let file = ChecklistFile { title, pass_percent, checklist: task.checklist.clone() };
        let (id, source) = (ChecklistId(self.clock.new_id()), write::checklist_file(&file));
        let (by, now) = (self.assessor, self.now);
        let version = checklists::publish(self.tx, self.centre, id, &file.title, &source, by, now).await?;
        checklists::used_by_task(self.tx, self.centre, made, (id, version)).await?;
        Ok(())
    }

    /// Criteria of the centre's own, and a checklist that is being written.
    async fn write_some(&mut self) -> Result<(), DemoError> {
        let scheme = Standards::Gb;
        for starter in library::criteria(scheme).iter().take(4) {
            let stage = library::stages(scheme).iter().find(|stage| stage.stage == starter.stage);
            let title = stage.map_or("", |stage| &stage.title);
            criteria::add(self.tx, self.centre, &starter.criterion, title, self.assessor, self.now).await?;
        }
        let mut content = library::checklist_file(scheme);
        content.title = "All steps, being written".into();
        let id = ChecklistId(self.clock.new_id());
        let draft = Draft::begun(id, content, None, self.assessor, "Began from the starter checklist of GB.");
        drafts::begin(self.tx, self.centre, &draft, self.assessor, self.now).await?;
        Ok(())
    }

    /// A session begun so many minutes ago (but today, so that the list of the day shows it), with a script recorded.
    async fn session(
        &mut self,
        task: &Task,
        id: TaskId,
        candidate: CandidateId,
        bay: &str,
        minutes_ago: i64,
        script: &str,
    ) -> Result<SessionId, DemoError> {
        let midnight = sessions::local_time(self.tx, self.centre, self.now).await?.time() - Time::MIDNIGHT;
        let started = self.now - Duration::minutes(minutes_ago).min(midnight);
        let session = planned(self.clock, id, candidate, self.assessor, bay, started);
        planning::plan_whole(self.tx, self.centre, &session, self.now).await?;
        self.record(session.id, task, script, started).await?;
        Ok(session.id)
    }

    /// Records a script as the tablet would have sent it, begun at `started`.
    async fn record(
        &mut self,
        session: SessionId,
        task: &Task,
        script: &str,
        started: OffsetDateTime,
    ) -> Result<(), DemoError> {
        let batch = script::observations(script, started, self.clock)?;
        let arrival = Arrival {
            by: self.assessor,
            device: "demo-tablet".into(),
            run: "demo-1".into(),
            received_at: self.now,
            offset_ms: 0,
            error_ms: 0,
        };
        sessions::hold(self.tx, self.centre, session).await?;
        entries::open(self.tx, self.centre, session, &arrival).await?;
        let receipts = entries::append(self.tx, self.centre, session, task, &arrival, &batch).await?;
        match receipts.into_iter().find(|receipt| !matches!(receipt, entries::Receipt::Accepted(_))) {
            None => Ok(()),
            Some(refused) => Err(DemoError::Material("a log", format!("{refused:?}"))),
        }
    }

    /// Confirms what was proposed and signs.
    async fn sign(&mut self, session: SessionId, task: &Task) -> Result<(), DemoError> {
        let log = entries::log_of(self.tx, self.centre, session, self.assessor, task).await?;
        let marking = marking::mark(task, &log);
        let failed =
            |finding: &&marking::Finding| finding.outcome == Outcome::NotMet && finding.fails == Fails::Automatic;
        for finding in marking.findings.iter().filter(failed) {
            let confirmed = Decision { criterion: finding.criterion.clone(), outcome: Outcome::NotMet, reason: None };
            decisions::add(self.tx, self.centre, session, self.assessor, &confirmed, self.now).await?;
        }
        let decided = decisions::of_session(self.tx, self.centre, session).await?;
        let decided = decide(task, &marking, &decided);
        if !decided.can_be_signed() {
            return Err(DemoError::Material("a log", format!("still open: {:?}", decided.open)));
        }
        let head = entries::head(self.tx, self.centre, session).await?;
        let signed =
            results::sign(self.tx, self.centre, session, &head.hash, &decided.verdict, self.assessor, self.now).await?;
        signed.map(|_| ()).ok_or_else(|| DemoError::Material("a log", "it could not be signed".into()))
    }

    async fn link(&mut self, session: SessionId, whose: &str) -> Result<notes::Link, DemoError> {
        let made = tokens::FeedbackLink::new(self.centre);
        feedback::make_link(self.tx, self.centre, session, &made.token_hash, &made.code_hash, self.now).await?;
        Ok(notes::Link { whose: whose.into(), path: made.path, code: made.code })
    }
}

fn planned(
    clock: &Clock,
    task: TaskId,
    candidate: CandidateId,
    assessor: StaffNo,
    bay: &str,
    at: OffsetDateTime,
) -> NewSession {
    NewSession {
        id: SessionId(clock.new_id()),
        task,
        task_version: 1,
        candidate,
        assessor,
        bay: bay.into(),
        planned_at: at,
        extra: ExtraTime { percent: 0, minutes: 0 },
    }
}

/// Plans the rose task for the fourth candidate, unless a session is planned for today already.
async fn plan_today(tx: &mut PgConnection, centre: &CentreId, clock: &Clock) -> Result<(), DemoError> {
    let now = clock.now();
    let today = sessions::local_time(tx, centre, now).await?.date();
    let listed = sessions::of_day(tx, centre, today, None).await?;
    if listed.iter().any(|session| session.standing == Standing::Planned) {
        return Ok(());
    }
    let title = Task::read_toml(ROSE).map_err(|faults| DemoError::Material("a task", faults.to_string()))?.title;
    let task = tasks::list(tx, centre).await?.into_iter().find(|task| task.title == title);
    let candidate = candidates::by_reference(tx, centre, CANDIDATES[3].1).await?;
    if let (Some(task), Some(candidate)) = (task, candidate) {
        // When the running one is over and its bay is put back. Late in the evening that is tomorrow, and the list of the day
        // would not show it.
        let soon = now + Duration::minutes(45);
        let at = if sessions::local_time(tx, centre, soon).await?.date() == today { soon } else { now };
        let mut session = planned(clock, task.id, candidate.id, StaffNo(1), "Bay 2", at);
        session.task_version = task.version;
        session.extra = ExtraTime { percent: 25, minutes: 0 };
        planning::plan_whole(tx, centre, &session, now).await?;
    }
    Ok(())
}
