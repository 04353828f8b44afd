//! A fresh proof before something that a colleague at an unlocked browser must not be able to do: the password, given at
//! most five minutes ago. Where it is older the form asks for it beside its other fields, so that nothing is typed twice.

use super::App;
use super::error::WebError;
use super::extract::SignedIn;
use super::form::Faults;
use super::sign_in;
use crate::store::sign_ins;
use time::{Duration, OffsetDateTime};

/// Minutes for which a password that was given counts as fresh.
pub const FRESH_MINUTES: i64 = 5;
/// The field in which forms ask for the password again.
pub const FIELD: &str = "own_password";

/// Whether this person gave their password a moment ago, so that forms need not ask for it.
pub fn is_fresh(who: &SignedIn, now: OffsetDateTime) -> bool {
    now - who.password_at < Duration::minutes(FRESH_MINUTES)
}

/// Whether the person has proved afresh who they are: a moment ago, or with `typed`, which then counts for what follows.
/// Where not, a fault of [`FIELD`] is noted.
pub async fn given(app: &App, who: &SignedIn, typed: &str, faults: &mut Faults) -> Result<bool, WebError> {
    let now = app.clock.now();
    if is_fresh(who, now) {
        return Ok(true);
    }
    if typed.is_empty() {
        faults.add(FIELD, "You signed in more than five minutes ago. Please give your password again.");
        return Ok(false);
    }
    if !sign_in::prove_again(app, who, typed.to_owned()).await? {
        faults.add(FIELD, "That is not your password.");
        return Ok(false);
    }
    let mut tx = app.store.begin(who.centre()).await?;
    sign_ins::proved(&mut tx, who.centre(), &who.token_hash, now).await?;
    tx.commit().await?;
    Ok(true)
}
