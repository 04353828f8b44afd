//! Sessions: the list, the bay check, and who may see one.

pub mod all;
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
use crate::store::{SessionId, centres, decisions, entries, tasks};
use sqlx::PgConnection;
use uuid::Uuid;

/// A session with all that its pages need.
pub struct Loaded {
    pub session: Session,
    /// The task as published, with the candidate's adjustment in it.
    pub task: Task,
    pub candidate: Candidate,
    pub assessor: Staff,
    /// Whose log is shown: the assessor's, or a second marker's own to themselves.
    pub marker: Staff,
    /// What was signed, once it is. A second marker does not know of it until they have ended.
    pub result: Option<SignedResult>,
    /// The centre's name as it stands on result sheets.
    pub centre_name: String,
}

/// The session, for somebody who may see it: its own assessor, its second marker, a verifier or a manager. To anybody
/// else it is missing.
pub async fn load(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let session = sessions::find(tx, who.centre(), SessionId(id)).await?.ok_or(WebError::Missing("session"))?;
    if !may_read(who, &session) {
        return Err(WebError::Missing("session"));
    }
    as_seen_by(tx, who, session).await
}

/// As [`load`], for those who mark it only.
pub async fn load_to_mark(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let loaded = load(tx, who, id).await?;
    if !may_mark(who, &loaded.session) {
        return Err(WebError::Forbidden(NOT_THEIRS));
    }
    Ok(loaded)
}

/// As [`hold`], for the assessor alone, who opens, decides and signs.
pub async fn hold_to_sign(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let loaded = hold(tx, who, id).await?;
    if !may_sign(who, &loaded.session) {
        return Err(WebError::Forbidden(NOT_THEIRS));
    }
    Ok(loaded)
}

/// The session with its row held, for those who mark it only, so that what is checked still holds when it is written.
pub async fn hold(tx: &mut PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    let session = sessions::hold(tx, who.centre(), SessionId(id)).await?.ok_or(WebError::Missing("session"))?;
    if !may_read(who, &session) {
        return Err(WebError::Missing("session"));
    }
    if !may_mark(who, &session) {
        return Err(WebError::Forbidden(NOT_THEIRS));
    }
    as_seen_by(tx, who, session).await
}

const NOT_THEIRS: &str = "Only the assessor of this session can do that.";

/// The session as this person may see it. A second marker works blind: they see their own log only, and neither the
/// assessor's nor what was signed before they have ended theirs.
async fn as_seen_by(tx: &mut PgConnection, who: &SignedIn, session: Session) -> Result<Loaded, WebError> {
    let mut loaded = rest_of(tx, who.centre(), session).await?;
    if loaded.session.second_marker != Some(who.staff.number) {
        return Ok(loaded);
    }
    let log = entries::log_of(tx, who.centre(), loaded.session.id, who.staff.number, &loaded.task).await?;
    if !has_ended(&log) {
        loaded.result = None;
    }
    if loaded.result.is_none() {
        loaded.marker = who.staff.clone();
    }
    Ok(loaded)
}

/// All that belongs to a session, whoever asks.
pub async fn rest_of(
    tx: &mut PgConnection,
    centre: &crate::store::CentreId,
    session: Session,
) -> Result<Loaded, WebError> {
    let gone = || WebError::ours("a session without its centre, task, candidate or assessor");
    let published = tasks::find(tx, centre, session.task, session.task_version).await?.ok_or_else(gone)?;
    let candidate = candidates::find(tx, centre, session.candidate).await?.ok_or_else(gone)?;
    let assessor = staff::find(tx, centre, session.assessor).await?.ok_or_else(gone)?;
    let result = results::find(tx, centre, session.id).await?;
    let settings = centres::settings(tx, centre).await?.ok_or_else(gone)?;
    let centre_name = settings.on_sheet().to_owned();
    let task = published.task.with_extra(session.extra);
    Ok(Loaded { session, task, candidate, marker: assessor.clone(), assessor, result, centre_name })
}

/// Whether this person may see this session at all.
pub fn may_read(who: &SignedIn, session: &Session) -> bool {
    who.reads_all() || may_mark(who, session)
}

/// Whether this person marks this session, as its assessor or as second marker.
pub fn may_mark(who: &SignedIn, session: &Session) -> bool {
    let second = session.second_marker == Some(who.staff.number) && who.staff.is(Role::Assessor);
    may_sign(who, session) || second
}

/// Whether this person opens, decides and signs this session: its assessor.
pub fn may_sign(who: &SignedIn, session: &Session) -> bool {
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
    /// Reads the log that is shown and marks it, with the decisions where it is the assessor's.
    pub async fn marked(&self, tx: &mut PgConnection, centre: &crate::store::CentreId) -> Result<Marked, WebError> {
        let log = entries::log_of(tx, centre, self.session.id, self.marker.number, &self.task).await?;
        let decisions = match self.is_second() {
            true => Vec::new(),
            false => decisions::of_session(tx, centre, self.session.id).await?,
        };
        let marking = mark(&self.task, &log);
        let decided = decision::decide(&self.task, &marking, &decisions);
        Ok(Marked { log, marking, decisions, decided })
    }

    /// Whether the log that is shown is the second marker's.
    pub fn is_second(&self) -> bool {
        self.marker.number != self.session.assessor
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
