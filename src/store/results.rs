//! Signed results.

use super::chain::{Chain, unix_ms};
use super::entries::SERVER;
use super::{CentreId, SessionId, StaffNo, StoreError, ids, releases};
use crate::marking::{CriterionId, Verdict, VerdictOutcome};
use crate::seal::{Content, Entry, Origin};
use sqlx::PgConnection;
use time::OffsetDateTime;
use uuid::Uuid;

/// What was signed.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedResult {
    pub verdict: Verdict,
    /// Entries in the chain when it was signed, the `outcome` entry included.
    pub count: i64,
    /// The hash of the last of them.
    pub head: String,
    pub by: StaffNo,
    pub at: OffsetDateTime,
}

/// Signs a session that the caller holds: appends the `outcome` entry and stores the result. The caller states the
/// head it saw; `None`, and nothing written, where the chain has moved on or the session is signed already.
#[allow(clippy::too_many_arguments)]
pub async fn sign(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    seen_head: &str,
    verdict: &Verdict,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<Option<SignedResult>, StoreError> {
    let Some(mut chain) = Chain::of_session(tx, centre, session).await? else { return Ok(None) };
    if !chain.is_open() || chain.is_signed() || chain.head().as_str() != seen_head {
        return Ok(None);
    }
    let at = unix_ms(now);
    let entry = Entry {
        id: ids::of_server(now),
        seq: 0,
        wall: at,
        mono: 0,
        origin: Origin {
            by: by.0,
            device: SERVER.to_owned(),
            run: SERVER.to_owned(),
            received: at,
            offset: 0,
            error: 0,
        },
        content: Content::Outcome { outcome: verdict.outcome, marks: verdict.marks, of: verdict.of },
    };
    chain.push(&entry, None)?;
    let (count, head) = (chain.count(), chain.head().to_string());
    chain.write(tx, centre, None).await?;
    let signed = SignedResult { verdict: verdict.clone(), count, head, by, at: now };
    store(tx, centre, session, &signed).await?;
    releases::begin(tx, centre, session, now).await?;
    Ok(Some(signed))
}

/// The result of a session, once signed.
pub async fn find(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Option<SignedResult>, StoreError> {
    let row = sqlx::query!(
        "SELECT outcome, marks, out_of, percent, reasons, count, head, signed_by, signed_at
         FROM results WHERE centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let verdict = verdict_of(session.0, &row.outcome, row.marks, row.out_of, row.percent, &row.reasons)?;
    Ok(Some(SignedResult { verdict, count: row.count, head: row.head, by: StaffNo(row.signed_by), at: row.signed_at }))
}

/// The verdict that columns hold.
pub(super) fn verdict_of(
    session: Uuid,
    outcome: &str,
    marks: i32,
    of: i32,
    percent: f64,
    reasons: &[String],
) -> Result<Verdict, StoreError> {
    let unreadable = |why: String| StoreError::unreadable("results", session, why);
    let number = |number: i32| u32::try_from(number).map_err(|why| unreadable(why.to_string()));
    let criterion =
        |text: &String| CriterionId::new(text).ok_or_else(|| unreadable(format!("{text} is not an identifier")));
    Ok(Verdict {
        outcome: outcome_of(outcome, session)?,
        marks: number(marks)?,
        of: number(of)?,
        percent,
        reasons: reasons.iter().map(criterion).collect::<Result<_, _>>()?,
    })
}

async fn store(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    signed: &SignedResult,
) -> Result<(), StoreError> {
    let number = |marks: u32| i32::try_from(marks).unwrap_or(i32::MAX);
    let reasons: Vec<String> = signed.verdict.reasons.iter().map(|reason| reason.as_str().to_owned()).collect();
    sqlx::query!(
        "INSERT INTO results (centre_id, session_id, outcome, marks, out_of, percent, reasons, count, head, signed_by,
                              signed_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)",
        centre.as_str(),
        session.0,
        word(signed.verdict.outcome),
        number(signed.verdict.marks),
        number(signed.verdict.of),
        signed.verdict.percent,
        &reasons,
        signed.count,
        signed.head,
        signed.by.0,
        signed.at,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The spelling in the database.
pub(super) fn word(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "pass",
        VerdictOutcome::Fail => "fail",
        VerdictOutcome::AutomaticFail => "automatic_fail",
        VerdictOutcome::Unfinished => "unfinished",
    }
}

/// The outcome that the result of a session is stored with.
pub(super) fn outcome_of(text: &str, session: Uuid) -> Result<VerdictOutcome, StoreError> {
    [VerdictOutcome::Pass, VerdictOutcome::Fail, VerdictOutcome::AutomaticFail, VerdictOutcome::Unfinished]
        .into_iter()
        .find(|outcome| word(*outcome) == text)
        .ok_or_else(|| StoreError::unreadable("results", session, format!("no outcome is called {text}")))
}
