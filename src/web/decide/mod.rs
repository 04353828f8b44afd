//! The decide page: what was worked out, what only an eye can judge, and the signature.

mod page;
pub mod words;

pub use page::Fault;

use super::App;
use super::error::WebError;
use super::extract::{Form, Here, Path, SignedIn};
use super::marking::acts;
use super::page::html;
use super::sessions::{Loaded, hold, hold_to_sign, load};
use super::{second_factor, sheet, sign_in};
use crate::marking::decision::Decision;
use crate::marking::{Act, CriterionId, Outcome};
use crate::store::{decisions, devices, results, samples};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use page::DecidePage;
use serde::Deserialize;
use sqlx::{Postgres, Transaction};
use uuid::Uuid;

/// Longest reason, in characters.
const LONGEST_REASON: usize = 2_000;

/// Shows the page to whoever may see the session; only its assessor decides.
pub async fn show(State(app): State<App>, who: SignedIn, Path(id): Path<Uuid>) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, &who, id).await?;
    if loaded.result.is_some() {
        return Ok(Redirect::to(&loaded.at("sheet")).into_response());
    }
    if loaded.session.opened_at.is_none() {
        return Ok(Redirect::to(&format!("/sessions/{id}")).into_response());
    }
    let page = DecidePage::of(&mut tx, &who, &loaded, None).await?;
    tx.commit().await?;
    Ok(html(&page)?.into_response())
}

/// A decision on one finding.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Word {
    criterion: CriterionId,
    outcome: Outcome,
    #[serde(default)]
    reason: String,
}

/// Takes the assessor's word on one finding that was worked out.
pub async fn decide_one(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(word): Form<Word>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold_unsigned(&mut tx, &who, id).await?;
    let marked = loaded.marked(&mut tx, who.centre()).await?;
    let finding = marked.marking.findings.iter().find(|finding| finding.criterion == word.criterion);
    let finding = finding.ok_or_else(|| WebError::Unreadable("There is no such criterion in this session.".into()))?;
    if let Some(says) = refuse(&word, finding.outcome) {
        let fault = Fault::at(&word.criterion, says, &word.reason);
        return say(tx, &who, &loaded, StatusCode::UNPROCESSABLE_ENTITY, fault).await;
    }
    let reason = word.reason.trim();
    let decision = Decision {
        criterion: word.criterion.clone(),
        outcome: word.outcome,
        reason: (!reason.is_empty()).then(|| reason.to_owned()),
    };
    decisions::add(&mut tx, who.centre(), loaded.session.id, who.staff.number, &decision, app.clock.now()).await?;
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("decide")).into_response())
}

/// Why a decision cannot be taken, if it cannot.
fn refuse(word: &Word, proposed: Outcome) -> Option<&'static str> {
    if word.outcome == Outcome::NotSeen {
        return Some("Choose met, not met or not applicable.");
    }
    if word.reason.chars().count() > LONGEST_REASON || word.reason.contains('\0') {
        return Some("A reason has at most 2,000 characters.");
    }
    let needs_reason = word.outcome != proposed && word.reason.trim().is_empty();
    needs_reason.then_some("Say why. A decision that differs from the proposal needs a reason.")
}

/// Records a judgement by eye, as an observation like every other.
pub async fn tick(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(word): Form<Word>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = unsigned(hold(&mut tx, &who, id).await?)?;
    let text = crate::marking::observation::Text::new(word.reason.trim());
    let tick = Act::Ticked { criterion: word.criterion.clone(), outcome: word.outcome, text };
    let tick = serde_json::to_string(&tick).map_err(|why| WebError::Ours(Box::new(why)))?;
    acts::append(&app, &mut tx, &who, &loaded, &[&tick]).await?;
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("decide")).into_response())
}

/// Why numbers of a device are missing.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gap {
    device: String,
    reason: String,
}

/// Takes the assessor's word on why numbers of a device never arrived, so that signing need not wait for them.
pub async fn state_gap(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(gap): Form<Gap>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold_unsigned(&mut tx, &who, id).await?;
    let reason = gap.reason.trim();
    if reason.is_empty() || reason.chars().count() > LONGEST_REASON || reason.contains('\0') {
        let says = "Say why they are missing, in at most 2,000 characters.";
        return say(tx, &who, &loaded, StatusCode::UNPROCESSABLE_ENTITY, Fault::at_gap(&gap.device, says, &gap.reason))
            .await;
    }
    let (centre, session, now) = (who.centre(), loaded.session.id, app.clock.now());
    devices::state_gap(&mut tx, centre, session, &gap.device, reason, who.staff.number, now).await?;
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("decide")).into_response())
}

/// What the signature form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Signature {
    #[serde(default)]
    password: String,
    /// A one-time code, which does instead for whoever has set such up.
    #[serde(default)]
    code: String,
    head: String,
}

/// Signs: the password or a one-time code again, nothing left open, and the record just as it was shown.
pub async fn sign(
    State(app): State<App>,
    Here(here): Here,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(sent): Form<Signature>,
) -> Result<Response, WebError> {
    let refusal = prove(&app, &who, &sent).await?;
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold_unsigned(&mut tx, &who, id).await?;
    let marked = loaded.marked(&mut tx, who.centre()).await?;
    let missing = devices::missing(&mut tx, who.centre(), loaded.session.id).await?;
    let refused = if let Some(says) = refusal {
        Some((StatusCode::FORBIDDEN, says))
    } else if !marked.decided.open.is_empty() {
        Some((StatusCode::CONFLICT, "Something still needs you: see the list above. Nothing was signed."))
    } else if !missing.is_empty() {
        Some((StatusCode::CONFLICT, "Not everything that was recorded has arrived: see above. Nothing was signed."))
    } else {
        None
    };
    if let Some((status, says)) = refused {
        return say(tx, &who, &loaded, status, Fault::at_signature(says)).await;
    }
    let (centre, session, now) = (who.centre(), loaded.session.id, app.clock.now());
    let verdict = &marked.decided.verdict;
    let signed = results::sign(&mut tx, centre, session, &sent.head, verdict, who.staff.number, now).await?;
    if signed.is_none() {
        let says = "The record has changed since this page was shown. Look at it again, then sign.";
        return say(tx, &who, &loaded, StatusCode::CONFLICT, Fault::at_signature(says)).await;
    }
    samples::mark(&mut tx, centre, session, &marked.decided.overruled()).await?;
    let link = sheet::new_link(&app, &mut tx, &here, centre, session).await?;
    tx.commit().await?;
    tracing::info!(session = %session.0, staff = who.staff.number.0, "signed");
    sheet::link_page(&who, &loaded, "Signed. Now the candidate", link)
}

/// Why what was given does not prove afresh who signs, where it does not.
async fn prove(app: &App, who: &SignedIn, sent: &Signature) -> Result<Option<&'static str>, WebError> {
    if !sent.password.is_empty() {
        let right = sign_in::prove_again(app, who, sent.password.clone()).await?;
        return Ok((!right).then_some("That is not your password. Nothing was signed."));
    }
    if sent.code.trim().is_empty() {
        return Ok(Some("Give your password, or a one-time code if you have set such up. Nothing was signed."));
    }
    let right = second_factor::prove_again(app, who, &sent.code).await?;
    Ok((!right).then_some("That code is not right, or it was used before. Nothing was signed."))
}

/// Shows the page again with what was refused, beside its field. Nothing has changed.
async fn say(
    mut tx: Transaction<'static, Postgres>,
    who: &SignedIn,
    loaded: &Loaded,
    status: StatusCode,
    fault: Fault,
) -> Result<Response, WebError> {
    let page = DecidePage::of(&mut tx, who, loaded, Some(fault)).await?;
    tx.commit().await?;
    Ok((status, html(&page)?).into_response())
}

/// A session to decide on, held. Once it is signed, nothing about it changes here.
async fn hold_unsigned(tx: &mut sqlx::PgConnection, who: &SignedIn, id: Uuid) -> Result<Loaded, WebError> {
    unsigned(hold_to_sign(tx, who, id).await?)
}

fn unsigned(loaded: Loaded) -> Result<Loaded, WebError> {
    if loaded.result.is_some() {
        return Err(WebError::Stale("This session is signed. Its result sheet stands."));
    }
    if loaded.session.opened_at.is_none() {
        return Err(WebError::Stale("The bay check of this session has not been confirmed."));
    }
    Ok(loaded)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn word(outcome: Outcome, reason: &str) -> Word {
        Word { criterion: CriterionId::new("key").unwrap(), outcome, reason: reason.into() }
    }

    #[test]
    fn a_decision_against_the_proposal_needs_a_reason() {
        assert!(refuse(&word(Outcome::NotMet, ""), Outcome::NotMet).is_none());
        assert!(refuse(&word(Outcome::Met, "  "), Outcome::NotMet).is_some());
        assert!(refuse(&word(Outcome::Met, "I saw the key in their hand"), Outcome::NotMet).is_none());
        assert!(refuse(&word(Outcome::NotSeen, "why"), Outcome::NotMet).is_some());
    }

    #[test]
    fn a_reason_has_a_longest_length() {
        assert!(refuse(&word(Outcome::Met, &"a".repeat(2_000)), Outcome::NotMet).is_none());
        assert!(refuse(&word(Outcome::Met, &"a".repeat(2_001)), Outcome::NotMet).is_some());
        assert!(refuse(&word(Outcome::Met, "a\0b"), Outcome::NotMet).is_some());
    }
}
