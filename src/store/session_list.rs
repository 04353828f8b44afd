//! Lists of sessions that stay quick however many there are: an index for each way of looking, and pages that go on from
//! the last row shown.

use super::sessions::Standing;
use super::{CandidateId, CentreId, SessionId, StaffNo, StoreError, TaskId};
use sqlx::PgConnection;
use time::{Date, OffsetDateTime, PrimitiveDateTime};
use uuid::Uuid;

/// What to look for; everything that is `None` may be anything.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Search {
    /// These people, as [`super::candidates::search`] found them.
    pub candidates: Option<Vec<CandidateId>>,
    pub task: Option<TaskId>,
    pub assessor: Option<StaffNo>,
    /// One of the words of [`STANDINGS`].
    pub standing: Option<String>,
    /// First day, in the centre's time zone.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
}

/// How far a session can have come, as the sessions' own column spells it.
pub const STANDINGS: [&str; 8] =
    ["planned", "open", "pass", "fail", "automatic_fail", "unfinished", "cancelled", "no_show"];

/// Where a page of the list ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct After {
    pub planned_at: OffsetDateTime,
    pub id: SessionId,
}

/// A line of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    pub id: SessionId,
    pub candidate: CandidateId,
    pub candidate_name: String,
    pub candidate_reference: String,
    pub task_title: String,
    pub bay: String,
    pub assessor: StaffNo,
    pub assessor_name: String,
    pub second_marker: Option<StaffNo>,
    pub second_marker_name: Option<String>,
    pub planned_at: OffsetDateTime,
    /// In the centre's time zone.
    pub planned_local: PrimitiveDateTime,
    /// Minutes planned, without the turn-round.
    pub minutes: i32,
    pub standing: Standing,
    pub resit: bool,
    /// Whether a verifier is to look at it: a finding was overruled.
    pub sampled: bool,
}

/// A page of the sessions that fit, newest first, from after `after` on: at most `most` rows.
pub async fn page(
    tx: &mut PgConnection,
    centre: &CentreId,
    search: &Search,
    after: Option<After>,
    most: i64,
) -> Result<Vec<Row>, StoreError> {
    // What is looked for is known only now: with it the planner takes the index that fits, where a plan made once for
    // all searches could only go through everything.
    sqlx::query!("SELECT set_config('plan_cache_mode', 'force_custom_plan', true)").fetch_one(&mut *tx).await?;
    let people: Option<Vec<Uuid>> =
        search.candidates.as_ref().map(|people| people.iter().map(|person| person.0).collect());
    let rows = sqlx::query_as!(
        RowRead,
        r#"SELECT s.session_id, s.candidate_id, c.name AS candidate_name, c.reference AS candidate_reference,
                  t.title AS task_title, s.bay, s.assessor, a.name AS assessor_name, m.marker AS "second_marker?",
                  b.name AS "second_marker_name?", s.planned_at, s.planned_at AT TIME ZONE z.time_zone AS "planned_local!",
                  s.length_minutes, s.standing, s.resit_of IS NOT NULL AS "resit!",
                  p.session_id IS NOT NULL AS "sampled!"
           FROM (
               SELECT * FROM sessions
               WHERE centre_id = $1
                 AND ($2::uuid[] IS NULL OR candidate_id = ANY ($2))
                 AND ($3::uuid IS NULL OR task_id = $3)
                 AND ($4::integer IS NULL OR assessor = $4)
                 AND ($5::text IS NULL OR standing = $5)
                 AND ($6::date IS NULL OR planned_at >= $6::date::timestamp AT TIME ZONE $11)
                 AND ($7::date IS NULL OR planned_at < ($7::date + 1)::timestamp AT TIME ZONE $11)
                 AND ($8::timestamptz IS NULL OR (planned_at, session_id) < ($8, $9::uuid))
               ORDER BY planned_at DESC, session_id DESC LIMIT $10) AS s
           JOIN centres z ON z.centre_id = s.centre_id
           JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
           JOIN tasks t ON t.centre_id = s.centre_id AND t.task_id = s.task_id AND t.version = s.task_version
           JOIN staff a ON a.centre_id = s.centre_id AND a.number = s.assessor
           LEFT JOIN second_markers m ON m.centre_id = s.centre_id AND m.session_id = s.session_id
           LEFT JOIN samples p ON p.centre_id = s.centre_id AND p.session_id = s.session_id
           LEFT JOIN staff b ON b.centre_id = m.centre_id AND b.number = m.marker
           ORDER BY s.planned_at DESC, s.session_id DESC"#,
        centre.as_str(),
        people.as_deref(),
        search.task.map(|task| task.0),
        search.assessor.map(|assessor| assessor.0),
        search.standing,
        search.from,
        search.to,
        after.map(|after| after.planned_at),
        after.map(|after| after.id.0),
        most,
        zone(&mut *tx, centre).await?,
    )
    .fetch_all(&mut *tx)
    .await?;
    rows.into_iter().map(RowRead::read).collect()
}

/// The sessions that begin on some days, in the centre's time zone, given up or not; by time.
pub async fn of_days(tx: &mut PgConnection, centre: &CentreId, from: Date, to: Date) -> Result<Vec<Row>, StoreError> {
    let search = Search { from: Some(from), to: Some(to), ..Search::default() };
    let mut rows = page(tx, centre, &search, None, MOST_OF_DAYS).await?;
    rows.reverse();
    Ok(rows)
}

/// Most sessions that a plan of some days shows.
const MOST_OF_DAYS: i64 = 2_000;

async fn zone(tx: &mut PgConnection, centre: &CentreId) -> Result<String, StoreError> {
    let zone = sqlx::query_scalar!("SELECT time_zone FROM centres WHERE centre_id = $1", centre.as_str());
    Ok(zone.fetch_one(tx).await?)
}

/// A line as the rows tell.
struct RowRead {
    session_id: Uuid,
    candidate_id: Uuid,
    candidate_name: String,
    candidate_reference: String,
    task_title: String,
    bay: String,
    assessor: i32,
    assessor_name: String,
    second_marker: Option<i32>,
    second_marker_name: Option<String>,
    planned_at: OffsetDateTime,
    planned_local: PrimitiveDateTime,
    length_minutes: i32,
    standing: String,
    resit: bool,
    sampled: bool,
}

impl RowRead {
    fn read(self) -> Result<Row, StoreError> {
        Ok(Row {
            id: SessionId(self.session_id),
            candidate: CandidateId(self.candidate_id),
            candidate_name: self.candidate_name,
            candidate_reference: self.candidate_reference,
            task_title: self.task_title,
            bay: self.bay,
            assessor: StaffNo(self.assessor),
            assessor_name: self.assessor_name,
            second_marker: self.second_marker.map(StaffNo),
            second_marker_name: self.second_marker_name,
            planned_at: self.planned_at,
            planned_local: self.planned_local,
            minutes: self.length_minutes,
            standing: Standing::of_word(&self.standing, self.session_id)?,
            resit: self.resit,
            sampled: self.sampled,
        })
    }
}
