//! What was found and seen in a session: its stored log marked once more, with the decisions in it.

use crate::export::row::{Found, Marked, Row};
use crate::marking::decision::{Standing, decide};
use crate::marking::{self, Task};
use crate::store::reviews::{self, Amendment};
use crate::store::{CentreId, SessionId, StaffNo, StoreError, TaskId};
use crate::store::{decisions, entries, sessions, tasks};
use sqlx::PgConnection;
use std::collections::HashMap;
use uuid::Uuid;

/// Versions of tasks that are kept at once.
const MOST_TASKS: usize = 64;

/// Published versions as they were read, so that each is read once.
#[derive(Default)]
pub(super) struct Tasks(HashMap<(Uuid, i32), Task>);

impl Tasks {
    /// A published version.
    pub(super) async fn find(
        &mut self,
        tx: &mut PgConnection,
        centre: &CentreId,
        id: TaskId,
        version: i32,
    ) -> Result<Task, StoreError> {
        if let Some(task) = self.0.get(&(id.0, version)) {
            return Ok(task.clone());
        }
        let missing = || StoreError::unreadable("tasks", id.0, format!("version {version} is not there"));
        let task = tasks::find(tx, centre, id, version).await?.ok_or_else(missing)?.task;
        if self.0.len() >= MOST_TASKS {
            self.0.clear();
        }
        self.0.insert((id.0, version), task.clone());
        Ok(task)
    }

    /// The session of a row, marked once more.
    pub(super) async fn mark(
        &mut self,
        tx: &mut PgConnection,
        centre: &CentreId,
        row: &Row,
    ) -> Result<Marked, StoreError> {
        let id = SessionId(row.session);
        let missing = || StoreError::unreadable("sessions", row.session, "it is not there");
        let session = sessions::find(tx, centre, id).await?.ok_or_else(missing)?;
        let task = self.find(tx, centre, session.task, session.task_version).await?.with_extra(session.extra);
        let log = entries::log_of(tx, centre, id, StaffNo(row.assessor), &task).await?;
        let mut decided = decisions::of_session(tx, centre, id).await?;
        let ordinal = i32::try_from(row.ordinal).unwrap_or(i32::MAX);
        decided.extend(reviews::amendments(tx, centre, id, ordinal).await?.iter().map(Amendment::decision));
        let marking = marking::mark(&task, &log);
        let decided = decide(&task, &marking, &decided);
        Ok(Marked {
            findings: decided.findings.iter().map(|standing| found(&task, standing)).collect(),
            observations: log.observations().to_vec(),
            worked_ms: marking.clock.elapsed_ms,
            allowed_ms: marking.clock.allowed_ms,
        })
    }
}

fn found(task: &Task, standing: &Standing) -> Found {
    let proposed = &standing.proposed;
    let criterion = task.checklist.criterion(&proposed.criterion);
    let mut stages = task.checklist.stages.iter();
    let stage = stages.find(|stage| stage.criteria.iter().any(|one| one.id == proposed.criterion));
    Found {
        criterion: proposed.criterion.as_str().to_owned(),
        stage: stage.map(|stage| stage.title.clone()).unwrap_or_default(),
        says: criterion.map(|criterion| criterion.says.clone()).unwrap_or_default(),
        fails: proposed.fails,
        weight: proposed.weight,
        outcome: standing.outcome,
        proposed: proposed.outcome,
        at_ms: proposed.at_ms,
        because: proposed.says.clone(),
        reason: standing.decision.as_ref().and_then(|decision| decision.reason.clone()),
    }
}
