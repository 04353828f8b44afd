//! What the assessor decided about proposed findings. Added to, never changed; the latest for a criterion counts.

use super::{CentreId, SessionId, StaffNo, StoreError};
use crate::marking::decision::Decision;
use crate::marking::{CriterionId, Outcome};
use sqlx::PgConnection;
use std::collections::HashMap;
use time::OffsetDateTime;
use uuid::Uuid;

/// Adds a decision on a session that the caller holds.
pub async fn add(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
    by: StaffNo,
    decision: &Decision,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO decisions (centre_id, session_id, ordinal, criterion, outcome, reason, decided_by, decided_at)
         SELECT $1, $2, coalesce(max(ordinal), 0) + 1, $3, $4, $5, $6, $7
         FROM decisions WHERE centre_id = $1 AND session_id = $2",
        centre.as_str(),
        session.0,
        decision.criterion.as_str(),
        word(decision.outcome),
        decision.reason,
        by.0,
        now,
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The decisions on a session, in the order they were made; later ones on the same criterion replace earlier ones.
pub async fn of_session(
    tx: &mut PgConnection,
    centre: &CentreId,
    session: SessionId,
) -> Result<Vec<Decision>, StoreError> {
    let rows = sqlx::query!(
        "SELECT criterion, outcome, reason FROM decisions WHERE centre_id = $1 AND session_id = $2 ORDER BY ordinal",
        centre.as_str(),
        session.0,
    )
    .fetch_all(tx)
    .await?;
    rows.into_iter().map(|row| read(session.0, &row.criterion, &row.outcome, row.reason)).collect()
}

/// The decisions on each of several sessions, each in the order they were made.
pub(super) async fn of_sessions(
    tx: &mut PgConnection,
    centre: &CentreId,
    sessions: &[Uuid],
) -> Result<HashMap<Uuid, Vec<Decision>>, StoreError> {
    let rows = sqlx::query!(
        "SELECT session_id, criterion, outcome, reason FROM decisions
         WHERE centre_id = $1 AND session_id = ANY($2) ORDER BY session_id, ordinal",
        centre.as_str(),
        sessions,
    )
    .fetch_all(tx)
    .await?;
    let mut decisions: HashMap<Uuid, Vec<Decision>> = HashMap::new();
    for row in rows {
        let decision = read(row.session_id, &row.criterion, &row.outcome, row.reason)?;
        decisions.entry(row.session_id).or_default().push(decision);
    }
    Ok(decisions)
}

fn read(session: Uuid, criterion: &str, outcome: &str, reason: Option<String>) -> Result<Decision, StoreError> {
    let unreadable = |why: String| StoreError::unreadable("decisions", session, why);
    Ok(Decision {
        criterion: CriterionId::new(criterion)
            .ok_or_else(|| unreadable(format!("{criterion} is not an identifier")))?,
        outcome: of_word(outcome).ok_or_else(|| unreadable(format!("no outcome is called {outcome}")))?,
        reason,
    })
}

/// The spelling in the database.
fn word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not_met",
        Outcome::NotSeen => "not_seen",
        Outcome::NotApplicable => "not_applicable",
    }
}

fn of_word(text: &str) -> Option<Outcome> {
    [Outcome::Met, Outcome::NotMet, Outcome::NotSeen, Outcome::NotApplicable]
        .into_iter()
        .find(|outcome| word(*outcome) == text)
}
