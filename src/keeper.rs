//! Keeps to the periods for which records are kept: once a day for each centre, whichever of several programs comes first,
//! and from the command line.

use crate::clock::Clock;
use crate::store::keeping::{self, Begin, Kind};
use crate::store::{CentreId, Store, StoreError, deeds};
use std::collections::HashMap;
use std::time::Duration;

/// How often the service asks whether a run is due.
const EVERY: Duration = Duration::from_secs(10 * 60);

/// What became of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ran {
    /// It came to its end; what it erased.
    Done { run: i32, erased: HashMap<Kind, i64> },
    /// Today's has been or is not due yet, or nobody has confirmed the periods.
    NotDue,
    /// Another run of this centre goes on just now, in this program or another.
    Elsewhere,
}

/// Erases what is due in a centre, where a run is due. A run that broke off is gone on with.
///
/// # Errors
/// Where the database does not answer. What was erased by then stays erased and is in the record of runs.
pub async fn run(store: &Store, clock: &Clock, centre: &CentreId, why: Begin) -> Result<Ran, StoreError> {
    let Some(mut turn) = store.take_turn(centre).await? else { return Ok(Ran::Elsewhere) };
    let now = clock.now();
    let mut tx = turn.begin().await?;
    let begun = keeping::begin(&mut tx, centre, why, now).await?;
    tx.commit().await?;
    let Some(begun) = begun else {
        turn.give_back().await?;
        return Ok(Ran::NotDue);
    };
    for kind in Kind::IN_TURN {
        loop {
            let mut tx = turn.begin().await?;
            let erased = keeping::batch(&mut tx, centre, begun, kind, now).await?;
            tx.commit().await?;
            if erased == 0 {
                break;
            }
        }
    }
    let mut tx = turn.begin().await?;
    keeping::end(&mut tx, centre, begun.run, clock.now()).await?;
    let runs = keeping::runs(&mut tx, centre).await?;
    let erased = runs.into_iter().find(|one| one.run == begun.run).map(|one| one.erased).unwrap_or_default();
    if !erased.is_empty() {
        deeds::note(&mut tx, centre, None, "records_erased", &words(begun.run, &erased), clock.now()).await?;
    }
    tx.commit().await?;
    turn.give_back().await?;
    tracing::info!(centre = centre.as_str(), run = begun.run, erased = words(begun.run, &erased), "records kept to");
    Ok(Ran::Done { run: begun.run, erased })
}

/// Counts by kind in a line: `run 3: passes 4, links 2`.
fn words(run: i32, erased: &HashMap<Kind, i64>) -> String {
    let counts = Kind::ALL.into_iter().filter_map(|kind| erased.get(&kind).map(|n| format!("{} {n}", kind.word())));
    format!("run {run}: {}", counts.collect::<Vec<_>>().join(", "))
}

/// The centres of the installation.
pub async fn centres(store: &Store) -> Result<Vec<CentreId>, StoreError> {
    let mut tx = store.begin(&CentreId::nobodys()).await?;
    let all = keeping::every_centre(&mut tx).await?;
    tx.commit().await?;
    Ok(all)
}

/// Runs where one is due, again and again until the task is dropped. What cannot be done now is tried at the next turn.
pub async fn daily(store: Store, clock: Clock) {
    let mut turns = tokio::time::interval(EVERY);
    turns.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        turns.tick().await;
        let all = match centres(&store).await {
            Ok(all) => all,
            Err(why) => {
                tracing::warn!(?why, "the centres could not be asked for; records are looked at later");
                continue;
            }
        };
        for centre in all {
            if let Err(why) = run(&store, &clock, &centre, Begin::Daily).await {
                tracing::warn!(?why, centre = centre.as_str(), "a run broke off; it goes on later");
            }
        }
    }
}
