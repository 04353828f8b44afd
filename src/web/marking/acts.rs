//! One tap without a script: the form's button carries the acts, the server gives them names, numbers and times.

use super::chips::NO_WORDS_YET;
use super::record::{next_seq, session_time};
use super::state::State;
use crate::marking::observation::Wall;
use crate::marking::{Act, Observation};
use crate::store::entries::{self, Arrival, Receipt};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Path, SignedIn};
use crate::web::sessions::{Loaded, hold};
use axum::extract::State as FromApp;
use axum::response::Redirect;
use serde::Deserialize;
use serde_json::value::RawValue;
use sqlx::PgConnection;
use uuid::Uuid;

/// Most acts that one tap records.
const MOST: usize = 20;

/// What a button sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tap {
    /// A JSON list of acts.
    acts: String,
    /// Words for the note among the acts that has none yet.
    #[serde(default)]
    words: String,
}

/// Records the acts of one tap and shows the page again.
pub async fn record(
    FromApp(app): FromApp<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Form(tap): Form<Tap>,
) -> Result<Redirect, WebError> {
    let acts: Vec<Box<RawValue>> = serde_json::from_str(&tap.acts)
        .map_err(|why| WebError::Unreadable(format!("The acts are not a JSON list: {why}.")))?;
    if acts.is_empty() || acts.len() > MOST {
        return Err(WebError::Unreadable(format!("Expected 1 to {MOST} acts.")));
    }
    let acts: Vec<String> = acts.iter().map(|act| in_words(act.get(), tap.words.trim())).collect();
    let acts: Vec<&str> = acts.iter().map(String::as_str).collect();
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = hold(&mut tx, &who, id).await?;
    append(&app, &mut tx, &who, &loaded, &acts).await?;
    tx.commit().await?;
    Ok(Redirect::to(&loaded.at("marking")))
}

/// The act, with these words where it is a note that still waits for them.
fn in_words(act: &str, words: &str) -> String {
    match serde_json::from_str::<serde_json::Value>(act) {
        Ok(mut note) if !words.is_empty() && note["kind"] == "remark" && note["text"] == NO_WORDS_YET => {
            note["text"] = words.into();
            note.to_string()
        }
        _ => act.to_owned(),
    }
}

/// Appends acts, each as JSON, to the log of a session that is held. All or none.
pub async fn append(
    app: &App,
    tx: &mut PgConnection,
    who: &SignedIn,
    loaded: &Loaded,
    acts: &[&str],
) -> Result<(), WebError> {
    let centre = who.centre();
    let log = entries::log_of(tx, centre, loaded.session.id, who.staff.number, &loaded.task).await?;
    let state = State::of(&log, &loaded.task);
    let now = app.clock.now_ms();
    let mut at_ms = session_time(&state, now);
    let mut batch = Vec::with_capacity(acts.len());
    for (seq, act) in (next_seq(&log)..).zip(acts) {
        let seen = observation(app.clock.new_id(), seq, at_ms, now, act)?;
        // What stands in for something struck takes its place in time.
        if let Act::Struck { observation, reason: crate::marking::observation::StrikeReason::Corrected, .. } = &seen.act
            && let Some(before) = log.observations().iter().find(|one| one.id == *observation)
        {
            at_ms = before.at_ms;
        }
        batch.push(seen);
    }
    let arrival = Arrival {
        by: who.staff.number,
        device: "page".into(),
        run: "plain".into(),
        received_at: app.clock.now(),
        offset_ms: 0,
        error_ms: 0,
    };
    let receipts = entries::append(tx, centre, loaded.session.id, &loaded.task, &arrival, &batch).await?;
    for receipt in receipts {
        match receipt {
            Receipt::Accepted(_) | Receipt::Duplicate(_) => {}
            Receipt::Conflict => return Err(WebError::ours("a new name was taken already")),
            Receipt::Refused(why) => return Err(WebError::Unreadable(format!("That cannot be recorded: {why}."))),
        }
    }
    Ok(())
}

fn observation(id: Uuid, seq: u32, at_ms: u64, now: i64, act: &str) -> Result<Observation, WebError> {
    let wall = Wall(now).rfc3339();
    let text = format!(r#"{{"id":"{id}","seq":{seq},"at_ms":{at_ms},"wall":"{wall}","act":{act}}}"#);
    Observation::read_json(&text).map_err(|faults| WebError::Unreadable(faults.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_go_to_the_note_that_waits_for_them_and_to_nothing_else() {
        let waiting = format!(r#"{{"kind":"remark","text":"{NO_WORDS_YET}"}}"#);
        assert_eq!(in_words(&waiting, "On the ladder"), r#"{"kind":"remark","text":"On the ladder"}"#);
        assert_eq!(in_words(&waiting, ""), waiting);
        for other in [r#"{"kind":"remark","text":"said"}"#, r#"{"kind":"started"}"#, "no act"] {
            assert_eq!(in_words(other, "On the ladder"), other);
        }
    }
}
