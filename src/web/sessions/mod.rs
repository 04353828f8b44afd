//! Sessions: the list, the bay check, and who may see one.

pub mod check;
pub mod list;

use super::error::WebError;
use super::extract::SignedIn;
use crate::marking::decision::{self, Decided, Decision};
use crate::marking::{Act, Log, Marking, Task, mark};
use crate::store::candidates::{self, Candidate};
use crate::store::results::{self, SignedResult};
use crate::store::sessions::{self, Session};
use crate::store::staff::{self, Role, Staff};
use crate::store::{SessionId, decisions, entries, tasks};
use sqlx::PgConnection;
use uuid::Uuid;

/// A session with all that its pages need.
pub struct Loaded {
    pub session: Session,
    /// The task as published, with the candidate's adjustment in it.
    pub task: Task,
    pub candidate: Candidate,
    pub assessor: Staff,
    /// What was signed, once it is.
    pub result: Option<SignedResult>,
}

/// The session, for somebody who may see it: its own assessor, a verifier or a manager. To anybody else it is missing.
pub async fn load(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let session = sessions::find(tx, who.centre(), SessionId(id)).await?.ok_or(WebError::Missing("session"))?;
    if !may_read(who, &session) {
        return Err(WebError::Missing("session"));
    }
    rest_of(tx, who.centre(), session).await
}

/// The session with its row held, for its own assessor only, so that what is checked still holds when it is written.
pub async fn hold(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let session = sessions::hold(tx, who.centre(), SessionId(id)).await?.ok_or(WebError::Missing("session"))?;
    if !may_read(who, &session) {
        return Err(WebError::Missing("session"));
    }
    if !may_mark(who, &session) {
        return Err(WebError::Forbidden("Only the assessor of this session can do that."));
    }
    rest_of(tx, who.centre(), session).await
}

/// All that belongs to a session, whoever asks.
pub async fn rest_of(
    tx: &mut PgConnection,
    centre: &crate::store::CentreId,
    session: Session,
) -> Result<Loaded, WebError> {
    let gone = || WebError::ours("a session without its task, candidate or assessor");
    let published = tasks::find(tx, centre, session.task, session.task_version).await?.ok_or_else(gone)?;
    let candidate = candidates::find(tx, centre, session.candidate).await?.ok_or_else(gone)?;
    let assessor = staff::find(tx, centre, session.assessor).await?.ok_or_else(gone)?;
    let result = results::find(tx, centre, session.id).await?;
    let task = published.task.with_extra(session.extra);
    Ok(Loaded { session, task, candidate, assessor, result })
}

fn may_read(who: &SignedIn, session: &Session) -> bool {
    who.reads_all() || may_mark(who, session)
}

/// Whether this person marks this session.
pub fn may_mark(who: &SignedIn, session: &Session) -> bool {
    who.staff.is(Role::Assessor) && session.assessor == who.staff.number
}

/// A session's log, marked and decided as far as it goes.
pub struct Marked {
    pub log: Log,
    pub marking: Marking,
    pub decisions: Vec<Decision>,
    pub decided: Decided,
}

impl Loaded {
    /// Reads the assessor's log and decisions and marks them.
    pub async fn marked(&self, tx: &mut PgConnection, centre: &crate::store::CentreId) -> Result<Marked, WebError> {
        let log = entries::log_of(tx, centre, self.session.id, self.session.assessor, &self.task).await?;
        let decisions = decisions::of_session(tx, centre, self.session.id).await?;
        let marking = mark(&self.task, &log);
        let decided = decision::decide(&self.task, &marking, &decisions);
        Ok(Marked { log, marking, decisions, decided })
    }

    /// The page of this session.
    pub fn at(&self, page: &str) -> String {
        format!("/sessions/{}/{page}", self.session.id.0)
    }
}

/// Whether the log holds an `ended` that was not struck.
pub fn has_ended(log: &Log) -> bool {
    super::marking::state::standing(log).iter().any(|seen| matches!(seen.act, Act::Ended { .. }))
}
