//! When a candidate may read a signed result: by the centre's rule, or by a person's step. Every step stays to be read.

use super::centres::ReleasedHow;
use super::{CentreId, SessionId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// Longest reason, in characters.
pub const LONGEST_REASON: usize = 2_000;

/// What a row of the history says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// The centre's rule, or a person, opens it at a set moment.
    Planned,
    /// The centre's rule waits until the candidate was told in person.
    Waiting,
    /// A person holds it back.
    Held,
    /// The candidate was told in person; open from then on.
    Told,
    /// A person opened it.
    Released,
    /// A person took it back.
    Withdrawn,
}

impl State {
    const ALL: [Self; 6] = [Self::Planned, Self::Waiting, Self::Held, Self::Told, Self::Released, Self::Withdrawn];

    /// The spelling in the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Waiting => "waiting",
            Self::Held => "held",
            Self::Told => "told",
            Self::Released => "released",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// What a person may do about a release.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Hold it back; needs a reason.
    Hold,
    /// Say that the candidate was told in person, which opens it.
    Told,
    /// Open it now.
    Release,
    /// Open it at a later moment.
    At(OffsetDateTime),
    /// Take it back; needs a reason.
    Withdraw,
}

impl Step {
    /// The spelling in forms.
    pub fn word(self) -> &'static str {
        match self {
            Self::Hold => "hold",
            Self::Told => "told",
            Self::Release => "release",
            Self::At(_) => "at",
            Self::Withdraw => "withdraw",
        }
    }

    /// Whether it needs a reason.
    pub fn needs_reason(self) -> bool {
        matches!(self, Self::Hold | Self::Withdraw)
    }

    fn leads_to(self) -> State {
        match self {
            Self::Hold => State::Held,
            Self::Told => State::Told,
            Self::Release => State::Released,
            Self::At(_) => State::Planned,
            Self::Withdraw => State::Withdrawn,
        }
    }

    /// From when on the candidate may read it then.
    fn opens_at(self, now: OffsetDateTime) -> Option<OffsetDateTime> {
        match self {
            Self::Told | Self::Release => Some(now),
            Self::At(moment) => Some(moment),
            Self::Hold | Self::Withdraw => None,
        }
    }
}

/// One row of the history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Release {
    pub state: State,
    /// From when on the candidate may read it.
    pub opens_at: Option<OffsetDateTime>,
    /// Who did it; `None` where the centre's rule did.
    pub by: Option<StaffNo>,
    pub by_name: Option<String>,
    pub at: OffsetDateTime,
    pub reason: Option<String>,
}

impl Release {
    /// Whether the candidate may read it now.
    pub fn is_open(&self, now: OffsetDateTime) -> bool {
        self.opens_at.is_some_and(|opens| opens <= now)
    }

    /// Whether a person may take this step from here: what is open can be taken back, and nothing else; what is not can
    /// be opened, now or later, and held unless it is.
    pub fn allows(&self, step: Step, now: OffsetDateTime) -> bool {
        let held = matches!(self.state, State::Held | State::Withdrawn);
        match step {
            Step::Withdraw => self.is_open(now),
            Step::Hold => !self.is_open(now) && !held,
            Step::At(moment) => !self.is_open(now) && moment > now,
            Step::Told | Step::Release => !self.is_open(now),
        }
    }
}

/// Writes down what the centre's rule says about a session just signed. At a set time: so many days after the day of the
/// signature by the centre's own calendar, and never before the signature.
pub(super) async fn begin(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    signed_at: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO releases (centre_id, session_id, ordinal, state, opens_at, at)
         SELECT $1, $2, 1, CASE release WHEN $4 THEN 'waiting' ELSE 'planned' END,
                CASE release WHEN $4 THEN NULL WHEN $5 THEN greatest($3::timestamptz,
                    (($3::timestamptz AT TIME ZONE time_zone)::date + release_days + release_time)
                    AT TIME ZONE time_zone) ELSE $3::timestamptz END, $3
         FROM centres WHERE centre_id = $1",
        centre.as_str(),
        session.0,
        signed_at,
        ReleasedHow::Told.word(),
        ReleasedHow::AtTime.word(),
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Everything that was done about the release of a session, the newest last. Empty where it is not signed.
pub async fn history(tx: &mut PgConnection, centre: &CentreId, session: SessionId) -> Result<Vec<Release>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT state, opens_at, by, name AS "name?", at, reason
           FROM releases r LEFT JOIN staff s ON s.centre_id = r.centre_id AND s.number = r.by
           WHERE r.centre_id = $1 AND r.session_id = $2 ORDER BY r.ordinal"#,
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    let read = |state: &str| {
        let known = State::ALL.into_iter().find(|one| one.word() == state);
        known.ok_or_else(|| StoreError::unreadable("releases", session.0, format!("no state is called {state}")))
    };
    rows.into_iter()
        .map(|row| {
            let by = row.by.map(StaffNo);
            let state = read(&row.state)?;
            Ok(Release { state, opens_at: row.opens_at, by, by_name: row.name, at: row.at, reason: row.reason })
        })
        .collect()
}

/// How the release of a session stands; `None` where it is not signed.
pub async fn standing(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<Release>, StoreError> {
    Ok(history(tx, centre, session).await?.pop())
}

/// Takes a step on a session that the caller holds. Answers `false`, and changes nothing, where it cannot be taken from
/// where the release stands. The caller has checked the reason.
pub async fn step(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    step: Step,
    reason: Option<&str>,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<bool, StoreError> {
    let standing = standing(tx, centre, session).await?;
    if !standing.is_some_and(|release| release.allows(step, now)) {
        return Ok(false);
    }
    sqlx::query!(
        "INSERT INTO releases (centre_id, session_id, ordinal, state, opens_at, by, at, reason)
         SELECT $1, $2, max(ordinal) + 1, $3, $4, $5, $6, $7
         FROM releases WHERE centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
        step.leads_to().word(),
        step.opens_at(now),
        by.0,
        now,
        reason,
    )
    .execute(tx)
    .await?;
    Ok(true)
}

/// The end of the days in which a review can be asked for: the last instant of the last day, by the centre's calendar,
/// counted from when the result was opened.
pub async fn review_until(
    tx: &mut PgConnection,
    centre: &CentreId,
    opened_at: OffsetDateTime,
) -> Result<OffsetDateTime, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT ((($2::timestamptz AT TIME ZONE time_zone)::date + review_days + 1)::timestamp AT TIME ZONE time_zone)
                  - interval '1 second' AS "until!"
           FROM centres WHERE centre_id = $1"#,
        centre.as_str(),
        opened_at,
    )
    .fetch_one(tx)
    .await?)
}
