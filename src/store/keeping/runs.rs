//! The runs that erase what is due: one at a time for each centre, whichever program asks, in small batches.

use super::super::{CandidateId, CentreId, SessionId, StaffNo, Store, StoreError, belong_to, erasures};
use super::Kind;
use sqlx::postgres::Postgres;
use sqlx::{Connection, PgConnection, Transaction};
use std::collections::HashMap;
use time::OffsetDateTime;
use uuid::Uuid;

/// Sessions or candidates that one transaction erases, so that nobody who marks waits for long.
pub const BATCH: i64 = 50;
/// Things without evidence that one transaction erases.
const MANY: i32 = 500;
/// Runs that are shown.
const SHOWN: i64 = 60;

/// The turn at a centre's records: a connection that holds an advisory lock. When the program ends, however it ends, the
/// connection goes and the lock with it.
pub struct Turn {
    connection: PgConnection,
    centre: CentreId,
}

impl Store {
    /// Takes the turn at a centre's records; `None` where somebody else has it, in this program or another.
    pub async fn take_turn(&self, centre: &CentreId) -> Result<Option<Turn>, StoreError> {
        let mut connection = self.pool.acquire().await?.detach();
        let taken = sqlx::query_scalar!(
            r#"SELECT pg_try_advisory_lock(hashtextextended('keeping ' || $1, 0)) AS "taken!""#,
            centre.as_str(),
        )
        .fetch_one(&mut connection)
        .await?;
        if !taken {
            connection.close().await?;
            return Ok(None);
        }
        // Nobody waits for an answer here, and a centre of many years is long to look through.
        sqlx::query!("SELECT set_config('statement_timeout', '60s', false)").fetch_one(&mut connection).await?;
        Ok(Some(Turn { connection, centre: centre.clone() }))
    }
}

impl Turn {
    /// Begins a transaction of the centre on the connection that holds the lock: without the lock nothing is erased.
    pub async fn begin(&mut self) -> Result<Transaction<'_, Postgres>, StoreError> {
        let mut tx = self.connection.begin().await?;
        belong_to(&mut tx, &self.centre).await?;
        Ok(tx)
    }

    /// Gives the turn back.
    pub async fn give_back(mut self) -> Result<(), StoreError> {
        // Said, and not left to the connection's end, which the server notices a moment later.
        sqlx::query!("SELECT pg_advisory_unlock_all()").fetch_one(&mut self.connection).await?;
        Ok(self.connection.close().await?)
    }
}

/// The codes of all centres, for the program that goes through them.
pub async fn every_centre(tx: &mut PgConnection) -> Result<Vec<CentreId>, StoreError> {
    let codes = sqlx::query_scalar!(r#"SELECT every_centre AS "code!" FROM every_centre()"#).fetch_all(tx).await?;
    let read = |code: String| {
        CentreId::new(&code).ok_or_else(|| StoreError::unreadable("centres", &code, "its code has another shape"))
    };
    codes.into_iter().map(read).collect()
}

/// Why a run is begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Begin {
    /// By itself: once a day, from three in the night on by the centre's clocks, and not on the day on which the periods
    /// were confirmed: what was typed wrongly can be put right before anything is erased.
    Daily,
    /// A person asks for it.
    Asked,
}

/// A run that has begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Undertaken {
    pub run: i32,
    /// Who confirmed the periods: in whose name it erases.
    pub by: StaffNo,
}

/// Begins a run, or goes on with one that broke off. `None` where nobody has confirmed the periods, and where today's
/// has been or is not due yet.
pub async fn begin(
    tx: &mut PgConnection,
    centre: &CentreId,
    why: Begin,
    now: OffsetDateTime,
) -> Result<Option<Undertaken>, StoreError> {
    let state = sqlx::query!(
        r#"SELECT periods_set_by, ($2::timestamptz AT TIME ZONE time_zone)::date AS "day!",
                  ($2::timestamptz AT TIME ZONE time_zone)::time >= '03:00'
                      AND (periods_set_at AT TIME ZONE time_zone)::date < ($2::timestamptz AT TIME ZONE time_zone)::date
                      AS "night?",
                  (SELECT max(run) FROM keeping_runs r WHERE r.centre_id = z.centre_id AND ended_at IS NULL) AS broken_off,
                  coalesce((SELECT max(run) FROM keeping_runs r WHERE r.centre_id = z.centre_id), 0) AS "last!",
                  EXISTS (SELECT FROM keeping_runs r WHERE r.centre_id = z.centre_id
                          AND day = ($2::timestamptz AT TIME ZONE time_zone)::date) AS "been!"
           FROM centres z WHERE centre_id = $1"#,
        centre.as_str(),
        now,
    )
    .fetch_optional(&mut *tx)
    .await?;
    let Some((by, state)) = state.and_then(|state| state.periods_set_by.map(|by| (StaffNo(by), state))) else {
        return Ok(None);
    };
    if let Some(run) = state.broken_off {
        return Ok(Some(Undertaken { run, by }));
    }
    if why == Begin::Daily && (state.been || state.night != Some(true)) {
        return Ok(None);
    }
    let run = state.last + 1;
    sqlx::query!(
        "INSERT INTO keeping_runs (centre_id, run, day, began_at) VALUES ($1, $2, $3, $4)",
        centre.as_str(),
        run,
        state.day,
        now,
    )
    .execute(tx)
    .await?;
    Ok(Some(Undertaken { run, by }))
}

/// Notes that a run has come to its end.
pub async fn end(tx: &mut PgConnection, centre: &CentreId, run: i32, now: OffsetDateTime) -> Result<(), StoreError> {
    sqlx::query!("UPDATE keeping_runs SET ended_at = $3 WHERE centre_id = $1 AND run = $2", centre.as_str(), run, now,)
        .execute(tx)
        .await?;
    Ok(())
}

/// Erases some of what is due of a kind and notes how much. 0 where nothing is left.
pub async fn batch(
    tx: &mut PgConnection,
    centre: &CentreId,
    run: Undertaken,
    kind: Kind,
    now: OffsetDateTime,
) -> Result<i32, StoreError> {
    let erased = match kind {
        Kind::Passes | Kind::Fails | Kind::Words => sessions(tx, centre, run.by, kind, now).await?,
        Kind::Candidates => candidates(tx, centre, run.by, now).await?,
        Kind::Links | Kind::Invitations | Kind::SignIns | Kind::Exports | Kind::Deeds => {
            sqlx::query_scalar!(r#"SELECT forget_old($1, $2, $3) AS "forgotten!""#, kind.word(), now, MANY)
                .fetch_one(&mut *tx)
                .await?
        }
    };
    if erased > 0 {
        sqlx::query!(
            "INSERT INTO keeping_counts (centre_id, run, step, kind, erased)
             SELECT $1, $2, coalesce(max(step), 0) + 1, $3, $4 FROM keeping_counts WHERE centre_id = $1 AND run = $2",
            centre.as_str(),
            run.run,
            kind.word(),
            erased,
        )
        .execute(tx)
        .await?;
    }
    Ok(erased)
}

/// Those of a kind that are due and that nothing forbids to erase; of `among` only, where that is told.
async fn due(
    tx: &mut PgConnection,
    centre: &CentreId,
    kind: Kind,
    now: OffsetDateTime,
    among: Option<&[Uuid]>,
) -> Result<Vec<Uuid>, StoreError> {
    let among: Option<Vec<String>> = among.map(|ids| ids.iter().map(Uuid::to_string).collect());
    let things = sqlx::query_scalar!(
        r#"SELECT thing::uuid AS "thing!" FROM kept
           WHERE centre_id = $1 AND kind = $2 AND due_at <= $3 AND held IS NULL
             AND ($4::text[] IS NULL OR thing = ANY($4))
           ORDER BY due_at, thing LIMIT $5"#,
        centre.as_str(),
        kind.word(),
        now,
        among.as_deref(),
        BATCH,
    )
    .fetch_all(tx)
    .await?;
    Ok(things)
}

/// Cuts sessions off from their candidates, or takes their words away.
async fn sessions(
    tx: &mut PgConnection,
    centre: &CentreId,
    by: StaffNo,
    kind: Kind,
    now: OffsetDateTime,
) -> Result<i32, StoreError> {
    let found = due(tx, centre, kind, now, None).await?;
    // A hold is set with the candidate's row held. Once these rows are, whatever is still due stays so.
    sqlx::query!(
        "SELECT s.session_id FROM sessions s
         JOIN candidates c ON c.centre_id = s.centre_id AND c.candidate_id = s.candidate_id
         WHERE s.centre_id = $1 AND s.session_id = ANY($2) ORDER BY s.session_id FOR NO KEY UPDATE",
        centre.as_str(),
        &found,
    )
    .fetch_all(&mut *tx)
    .await?;
    let still = due(tx, centre, kind, now, Some(&found)).await?;
    for id in &still {
        let session = SessionId(*id);
        if kind == Kind::Words {
            erasures::note_in_chain(tx, centre, session, by, erasures::Which::Words, now).await?;
            sqlx::query!("SELECT erase_words($1, $2)", id, now).fetch_one(&mut *tx).await?;
        } else {
            erasures::note_in_chain(tx, centre, session, by, erasures::Which::All, now).await?;
            let stand_in = CandidateId(super::super::ids::of_server(now));
            sqlx::query!("SELECT cut_off($1, $2, $3)", id, stand_in.0, now).fetch_one(&mut *tx).await?;
        }
    }
    Ok(i32::try_from(still.len()).unwrap_or(i32::MAX))
}

/// Erases candidates as if they had asked for it.
async fn candidates(
    tx: &mut PgConnection,
    centre: &CentreId,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<i32, StoreError> {
    let found = due(tx, centre, Kind::Candidates, now, None).await?;
    sqlx::query!(
        "SELECT candidate_id FROM candidates WHERE centre_id = $1 AND candidate_id = ANY($2)
         ORDER BY candidate_id FOR UPDATE",
        centre.as_str(),
        &found,
    )
    .fetch_all(&mut *tx)
    .await?;
    let mut erased = 0;
    for id in due(tx, centre, Kind::Candidates, now, Some(&found)).await? {
        erased += i32::from(erasures::erase(tx, centre, CandidateId(id), by, None, now).await?.is_some());
    }
    Ok(erased)
}

/// A run as the record of runs tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    pub run: i32,
    pub began_at: OffsetDateTime,
    /// `None` while it runs, and where it broke off.
    pub ended_at: Option<OffsetDateTime>,
    /// What it erased, by kind.
    pub erased: HashMap<Kind, i64>,
}

/// The newest runs first.
pub async fn runs(tx: &mut PgConnection, centre: &CentreId) -> Result<Vec<Run>, StoreError> {
    let rows = sqlx::query!(
        "SELECT run, began_at, ended_at FROM keeping_runs WHERE centre_id = $1 ORDER BY run DESC LIMIT $2",
        centre.as_str(),
        SHOWN,
    )
    .fetch_all(&mut *tx)
    .await?;
    let runs: Vec<i32> = rows.iter().map(|row| row.run).collect();
    let counts = sqlx::query!(
        r#"SELECT run, kind, sum(erased)::bigint AS "erased!" FROM keeping_counts
           WHERE centre_id = $1 AND run = ANY($2) GROUP BY run, kind"#,
        centre.as_str(),
        &runs,
    )
    .fetch_all(tx)
    .await?;
    let mut erased: HashMap<i32, HashMap<Kind, i64>> = HashMap::new();
    for row in counts {
        let kind = Kind::of_word(&row.kind).ok_or_else(|| {
            StoreError::unreadable("keeping_counts", row.run, format!("no kind is called {}", row.kind))
        })?;
        erased.entry(row.run).or_default().insert(kind, row.erased);
    }
    let run = |run, began_at, ended_at, erased| Run { run, began_at, ended_at, erased };
    let rows = rows.into_iter();
    Ok(rows.map(|row| run(row.run, row.began_at, row.ended_at, erased.remove(&row.run).unwrap_or_default())).collect())
}
