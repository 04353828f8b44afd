//! Sessions: one candidate's attempt at one published task.

use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError, TaskId, planning, results};
use crate::marking::{ExtraTime, Task, VerdictOutcome};
use sqlx::PgConnection;
use time::{Date, Duration, OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

/// A session as planned, and how far it has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    pub id: SessionId,
    pub task: TaskId,
    pub task_version: i32,
    pub candidate: CandidateId,
    pub assessor: StaffNo,
    /// Who marks the attempt beside the assessor, blind to them, where somebody does.
    pub second_marker: Option<StaffNo>,
    pub bay: String,
    pub planned_at: OffsetDateTime,
    pub extra: ExtraTime,
    /// Minutes that are planned for it.
    pub length: Length,
    /// Where the plan was given up: how, and by whom.
    pub given_up: Option<GivenUp>,
    /// The earlier session that this one repeats.
    pub resit_of: Option<SessionId>,
    /// Counts the changes of the plan.
    pub sequence: i32,
    /// When the bay check was confirmed and the evidence opened.
    pub opened_at: Option<OffsetDateTime>,
    /// Entries in the chain.
    pub count: i64,
    /// Hash of the last entry, or h(0).
    pub head: String,
}

/// A session to plan.
#[derive(Debug, Clone)]
pub struct NewSession {
    pub id: SessionId,
    pub task: TaskId,
    pub task_version: i32,
    pub candidate: CandidateId,
    pub assessor: StaffNo,
    pub bay: String,
    pub planned_at: OffsetDateTime,
    pub extra: ExtraTime,
}

/// How long a session is planned to take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Length {
    /// Minutes of the attempt: the task's, with what was agreed with the candidate; 1 to 10 000.
    pub minutes: i32,
    /// Minutes after it in which bay and assessor are not free; 0 to 600.
    pub turn_round: i32,
}

/// Minutes after a session for putting the bay back, unless somebody says otherwise (choice).
pub const TURN_ROUND: i32 = 15;

impl Length {
    /// What a task takes, its adjustment included, in whole minutes.
    pub fn of(task: &Task, turn_round: i32) -> Self {
        let minutes = i32::try_from(task.allowed_ms().div_ceil(60_000)).unwrap_or(10_000);
        Self { minutes: minutes.clamp(1, 10_000), turn_round }
    }

    /// Until when bay and people are not free.
    pub fn until(self, start: OffsetDateTime) -> OffsetDateTime {
        start + Duration::minutes(i64::from(self.minutes) + i64::from(self.turn_round))
    }
}

/// That a session will not take place as planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenUp {
    pub how: Ended,
    pub at: OffsetDateTime,
    pub by: StaffNo,
    /// Why, where somebody said so; always for a cancelled one.
    pub reason: Option<String>,
}

/// How a session came to nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    Cancelled,
    /// The candidate did not come.
    NoShow,
}

impl Ended {
    /// The spelling in the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::Cancelled => "cancelled",
            Self::NoShow => "no_show",
        }
    }

    pub(super) fn of_word(word: &str) -> Option<Self> {
        [Self::Cancelled, Self::NoShow].into_iter().find(|how| how.word() == word)
    }
}

/// A line in the list of sessions, with what a person wants to read there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub id: SessionId,
    pub candidate_name: String,
    pub candidate_reference: String,
    pub task_title: String,
    pub bay: String,
    pub assessor: StaffNo,
    pub assessor_name: String,
    pub second_marker: Option<StaffNo>,
    /// Whether something that the assessor recorded arrived only after the signature, so that a person must look again.
    pub to_review: bool,
    /// Whether a verifier is to look at it: a finding was overruled.
    pub sampled: bool,
    /// In the centre's time zone.
    pub planned_local: PrimitiveDateTime,
    pub standing: Standing,
}

/// How far a session has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    Planned,
    /// Bay checked; the log may be running.
    Open,
    Signed(VerdictOutcome),
    Cancelled,
    /// The candidate did not come.
    NoShow,
}

impl Standing {
    /// Reads the word that the sessions' own column holds.
    pub(super) fn of_word(word: &str, session: Uuid) -> Result<Self, StoreError> {
        Ok(match word {
            "planned" => Self::Planned,
            "open" => Self::Open,
            "cancelled" => Self::Cancelled,
            "no_show" => Self::NoShow,
            outcome => Self::Signed(results::outcome_of(outcome, session)?),
        })
    }
}

/// Plans a session as [`planning::plan_whole`] does, as if at the moment for which it is planned.
///
/// # Errors
/// Where the task is not there or cannot be read.
pub async fn plan(tx: &mut PgConnection, centre: &CentreId, session: &NewSession) -> Result<(), StoreError> {
    planning::plan_whole(tx, centre, session, session.planned_at).await
}

/// The session with this identifier.
pub async fn find(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<Option<Session>, StoreError> {
    let row = sqlx::query_as!(
        SessionRow,
        r#"SELECT session_id, task_id, task_version, candidate_id, assessor, bay, planned_at, extra_percent,
                extra_minutes, length_minutes, turn_round_minutes, given_up, given_up_at, given_up_by, given_up_reason,
                resit_of, sequence, opened_at, count, head,
                (SELECT marker FROM second_markers m WHERE m.centre_id = s.centre_id AND m.session_id = s.session_id)
                AS "second_marker?"
         FROM sessions s WHERE centre_id = $1 AND session_id = $2"#,
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    row.map(SessionRow::read).transpose()
}

/// The session, with its row held until the transaction ends, so that a check and the write that relies on it see
/// the same state.
pub async fn hold(tx: &mut PgConnection, centre: &CentreId, id: SessionId) -> Result<Option<Session>, StoreError> {
    let row = sqlx::query_as!(
        SessionRow,
        r#"SELECT session_id, task_id, task_version, candidate_id, assessor, bay, planned_at, extra_percent,
                extra_minutes, length_minutes, turn_round_minutes, given_up, given_up_at, given_up_by, given_up_reason,
                resit_of, sequence, opened_at, count, head,
                (SELECT marker FROM second_markers m WHERE m.centre_id = s.centre_id AND m.session_id = s.session_id)
                AS "second_marker?"
         FROM sessions s WHERE centre_id = $1 AND session_id = $2 FOR NO KEY UPDATE OF s"#,
        centre.as_str(),
        id.0,
    )
    .fetch_optional(tx)
    .await?;
    row.map(SessionRow::read).transpose()
}

/// When and where a candidate comes next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upcoming {
    pub at: OffsetDateTime,
    pub bay: String,
    pub task: String,
}

/// The next session that is planned for a candidate from `now` on.
pub async fn next_of_candidate(
    tx: &mut PgConnection,
    centre: &CentreId,
    candidate: CandidateId,
    now: OffsetDateTime,
) -> Result<Option<Upcoming>, StoreError> {
    let next = sqlx::query_as!(
        Upcoming,
        "SELECT s.planned_at AS at, s.bay, t.title AS task FROM sessions s
         JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
         WHERE s.centre_id = $1 AND s.candidate_id = $2 AND s.standing = 'planned' AND s.planned_at >= $3
         ORDER BY s.planned_at, s.session_id LIMIT 1",
        centre.as_str(),
        candidate.0,
        now,
    )
    .fetch_optional(tx)
    .await?;
    Ok(next)
}

/// A session as its row tells.
struct SessionRow {
    session_id: Uuid,
    task_id: Uuid,
    task_version: i32,
    candidate_id: Uuid,
    assessor: i32,
    bay: String,
    planned_at: OffsetDateTime,
    extra_percent: i32,
    extra_minutes: i32,
    length_minutes: i32,
    turn_round_minutes: i32,
    given_up: Option<String>,
    given_up_at: Option<OffsetDateTime>,
    given_up_by: Option<i32>,
    given_up_reason: Option<String>,
    resit_of: Option<Uuid>,
    sequence: i32,
    opened_at: Option<OffsetDateTime>,
    count: i64,
    head: String,
    second_marker: Option<i32>,
}

impl SessionRow {
    fn read(self) -> Result<Session, StoreError> {
        let id = self.session_id;
        let small = |number: i32| u16::try_from(number).map_err(|why| StoreError::unreadable("sessions", id, why));
        let given_up = match (self.given_up, self.given_up_at, self.given_up_by) {
            (Some(word), Some(at), Some(by)) => {
                let how = Ended::of_word(&word).ok_or_else(|| StoreError::unreadable("sessions", id, word))?;
                Some(GivenUp { how, at, by: StaffNo(by), reason: self.given_up_reason })
            }
            _ => None,
        };
        Ok(Session {
            id: SessionId(id),
            task: TaskId(self.task_id),
            task_version: self.task_version,
            candidate: CandidateId(self.candidate_id),
            assessor: StaffNo(self.assessor),
            second_marker: self.second_marker.map(StaffNo),
            bay: self.bay,
            planned_at: self.planned_at,
            extra: ExtraTime { percent: small(self.extra_percent)?, minutes: small(self.extra_minutes)? },
            length: Length { minutes: self.length_minutes, turn_round: self.turn_round_minutes },
            given_up,
            resit_of: self.resit_of.map(SessionId),
            sequence: self.sequence,
            opened_at: self.opened_at,
            count: self.count,
            head: self.head,
        })
    }
}

/// The sessions planned for `day` in the centre's time zone, and every other one that is open and not signed; by time.
/// With `marker`, only those that this person marks, as assessor or as second marker.
pub async fn of_day(
    tx: &mut PgConnection,
    centre: &CentreId,
    day: Date,
    marker: Option<StaffNo>,
) -> Result<Vec<Listed>, StoreError> {
    let rows = sqlx::query_as!(
        ListedRow,
        r#"SELECT s.session_id, c.name AS candidate_name, c.reference AS candidate_reference, t.title AS task_title,
                  s.bay, s.assessor, a.name AS assessor_name, s.standing,
                  m.marker AS "second_marker?",
                  coalesce(s.count > r.count AND EXISTS (
                      SELECT FROM entries e WHERE e.centre_id = s.centre_id AND e.session_id = s.session_id
                      AND e.n > r.count AND e.kind = 'late' AND e.marker = s.assessor), false) AS "to_review!",
                  p.session_id IS NOT NULL AS "sampled!",
                  s.planned_at AT TIME ZONE z.time_zone AS "planned_local!"
           FROM sessions s
           JOIN centres z ON z.centre_id = s.centre_id
           JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
           JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           JOIN staff a ON a.centre_id = s.centre_id AND a.number = s.assessor
           LEFT JOIN results r ON r.centre_id = s.centre_id AND r.session_id = s.session_id
           LEFT JOIN samples p ON p.centre_id = s.centre_id AND p.session_id = s.session_id
           LEFT JOIN second_markers m ON m.centre_id = s.centre_id AND m.session_id = s.session_id
           WHERE s.centre_id = $1
             AND ($3::integer IS NULL OR s.assessor = $3 OR m.marker = $3)
             AND ((s.planned_at >= $2::date::timestamp AT TIME ZONE z.time_zone
                   AND s.planned_at < ($2::date + 1)::timestamp AT TIME ZONE z.time_zone)
                  OR s.standing = 'open')
           ORDER BY s.planned_at, s.session_id"#,
        centre.as_str(),
        day,
        marker.map(|marker| marker.0),
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(ListedRow::read).collect()
}

/// A line in the list as the rows tell.
struct ListedRow {
    session_id: Uuid,
    candidate_name: String,
    candidate_reference: String,
    task_title: String,
    bay: String,
    assessor: i32,
    assessor_name: String,
    standing: String,
    second_marker: Option<i32>,
    to_review: bool,
    sampled: bool,
    planned_local: PrimitiveDateTime,
}

impl ListedRow {
    fn read(self) -> Result<Listed, StoreError> {
        let standing = Standing::of_word(&self.standing, self.session_id)?;
        Ok(Listed {
            id: SessionId(self.session_id),
            candidate_name: self.candidate_name,
            candidate_reference: self.candidate_reference,
            task_title: self.task_title,
            bay: self.bay,
            assessor: StaffNo(self.assessor),
            assessor_name: self.assessor_name,
            second_marker: self.second_marker.map(StaffNo),
            to_review: self.to_review,
            sampled: self.sampled,
            planned_local: self.planned_local,
            standing,
        })
    }
}

/// An instant as wall time in the centre's zone.
pub async fn local_time(
    tx: &mut PgConnection,
    centre: &CentreId,
    at: OffsetDateTime,
) -> Result<PrimitiveDateTime, StoreError> {
    let local = sqlx::query_scalar!(
        r#"SELECT $2::timestamptz AT TIME ZONE time_zone AS "local!" FROM centres WHERE centre_id = $1"#,
        centre.as_str(),
        at,
    )
    .fetch_one(tx)
    .await?;
    Ok(local)
}
