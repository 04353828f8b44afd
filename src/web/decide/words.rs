//! Words for what was recorded with one tap and no time to type: stepping in, help and notes.
//!
//! Nothing that stands in the chain changes. As on the marking page, the act is struck as corrected and recorded again
//! with its words, at the time of the first, so that both stay to be read.

use super::page::Fault;
use super::{say, unsigned};
use crate::marking::observation::{StrikeReason, Text};
use crate::marking::words::describe;
use crate::marking::{Act, Log, Observation, Task};
use crate::store::entries;
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Path, SignedIn};
use crate::web::marking::chips::NO_WORDS_YET;
use crate::web::marking::{acts, state};
use crate::web::sessions::hold;
use crate::web::show;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

/// An act that still wants words.
pub struct Wordless {
    pub id: String,
    pub minute: String,
    pub says: String,
}

/// The acts of a log that still want words, by time.
pub fn wordless(task: &Task, log: &Log) -> Vec<Wordless> {
    let wanting = state::standing(log).into_iter().filter(|seen| wants_words(&seen.act));
    let line = |seen: &Observation| Wordless {
        id: seen.id.0.to_string(),
        minute: show::clock(seen.at_ms),
        says: describe(&seen.act, task),
    };
    wanting.map(line).collect()
}

fn wants_words(act: &Act) -> bool {
    match act {
        Act::SteppedIn { text, .. } | Act::Prompted { text } => text.is_none(),
        Act::Remark { text, .. } => text.as_str() == NO_WORDS_YET,
        _ => false,
    }
}

/// The act with these words; `None` for an act that takes none.
fn with_words(act: &Act, words: Text) -> Option<Act> {
    match act {
        Act::SteppedIn { reason, .. } => Some(Act::SteppedIn { reason: *reason, text: Some(words) }),
        Act::Prompted { .. } => Some(Act::Prompted { text: Some(words) }),
        Act::Remark { criterion, .. } => Some(Act::Remark { text: words, criterion: criterion.clone() }),
        _ => None,
    }
}

/// Words for an act.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Words {
    act: Uuid,
    words: String,
}

/// Puts an act of the marker's own log into words.
pub async fn put(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(sent): Form<Words>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = unsigned(hold(&mut tx, &who, id).await?)?;
    let log = entries::log_of(&mut tx, who.centre(), loaded.session.id, who.staff.number, &loaded.task).await?;
    let seen = state::standing(&log).into_iter().find(|seen| seen.id.0 == sent.act && wants_words(&seen.act));
    let Some(seen) = seen else {
        return Err(WebError::Stale("There is no such act without words any more. Look at the page again."));
    };
    let Some(words) = Text::new(sent.words.trim()) else {
        let says = "Write at least one word, and at most 2,000 characters.";
        let fault = Fault::at_words(sent.act, says, &sent.words);
        return say(tx, &who, &loaded, StatusCode::UNPROCESSABLE_ENTITY, fault).await;
    };
    let again = with_words(&seen.act, words).ok_or_else(|| WebError::ours("an act that takes no words"))?;
    let strike = Act::Struck { observation: seen.id, reason: StrikeReason::Corrected, text: None };
    let json = |act: &Act| serde_json::to_string(act).map_err(|why| WebError::Ours(Box::new(why)));
    acts::append(&app, &mut tx, &who, &loaded, &[&json(&strike)?, &json(&again)?]).await?;
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("decide")).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::observation::StepReason;

    #[test]
    fn words_go_to_what_has_none_and_change_nothing_else() {
        let words = || Text::new("Reached for the busbar").unwrap();
        let step = Act::SteppedIn { reason: StepReason::LivePart, text: None };
        assert!(wants_words(&step));
        let said = with_words(&step, words()).unwrap();
        assert_eq!(said, Act::SteppedIn { reason: StepReason::LivePart, text: Some(words()) });
        assert!(!wants_words(&said));
        let note = Act::Remark { text: Text::new(NO_WORDS_YET).unwrap(), criterion: None };
        assert!(wants_words(&note) && !wants_words(&with_words(&note, words()).unwrap()));
        assert!(!wants_words(&Act::Started) && with_words(&Act::Started, words()).is_none());
    }
}
