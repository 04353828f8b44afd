//! All that the marking page shows of a session, ready to be written out.

use super::chips::{self, Chip, Last};
use super::more::{self, Group};
use super::sheet;
use super::state::{self, Phase, State};
use super::tiles::{self, Pair, Rounds, Tile};
use crate::marking::observation::StrikeReason;
use crate::marking::words::describe;
use crate::marking::{Act, Fails, Log, Marking, Outcome, Task};
use crate::store::entries::Head;
use crate::web::sessions::Loaded;
use crate::web::show;

/// The record of a session as the marking page shows it.
#[derive(Debug)]
pub struct Record {
    pub session: String,
    pub candidate: String,
    pub bay: String,
    pub task: String,
    pub assessor: String,
    pub phase: Phase,
    pub clock: Clock,
    pub owed: Vec<String>,
    pub proposed: Vec<String>,
    pub items: Vec<Tile>,
    pub acts: Vec<Tile>,
    pub devices: Vec<Tile>,
    pub switches: Vec<Tile>,
    pub pairs: Vec<Pair>,
    pub rounds: Rounds,
    pub point: String,
    pub last: Option<Last>,
    pub more: Vec<Group>,
    pub history: Vec<Row>,
    pub start: Tile,
    pub end: Tile,
    pub step_in: Tile,
    /// What the tile after the end leads to: deciding, or a second marker's ticks.
    pub way_on: &'static str,
    /// Takes the `ended` back.
    pub back: Option<Chip>,
    /// The number that the next observation gets.
    pub next_seq: u32,
    pub last_at_ms: u64,
    pub head: Head,
    /// What the script needs of the task, as JSON.
    pub sheet: String,
    /// The marker's own log, as JSON, and how long it is.
    pub log: String,
    pub own: usize,
    /// Whose log it is.
    pub marker: i32,
    /// The service's clock, in milliseconds since 1970.
    pub now_ms: i64,
}

/// The clock in the top line, with what the script needs to keep it going.
#[derive(Debug)]
pub struct Clock {
    /// Elapsed, pauses left out.
    pub shows: String,
    /// The task's minutes and the candidate's extra time.
    pub allowed: String,
    /// Whether there is extra time in it.
    pub extra: bool,
    /// How far over the time, once it is.
    pub over: Option<String>,
    pub paused: bool,
    /// Wall time of the start, in milliseconds since 1970; 0 before it.
    pub started: i64,
    pub paused_ms: u64,
    pub allowed_ms: u64,
}

/// One line of the list of everything recorded.
#[derive(Debug)]
pub struct Row {
    pub number: u32,
    pub minute: String,
    pub says: String,
    /// Struck lines stay, crossed through.
    pub struck: bool,
    pub strike: Option<Chip>,
}

impl Record {
    /// The record of a session at a moment, given in milliseconds since 1970.
    pub fn of(loaded: &Loaded, log: &Log, marking: &Marking, head: &Head, now_ms: i64) -> Self {
        let task = &loaded.task;
        let state = State::of(log, task);
        let about = About {
            session: loaded.session.id.0.to_string(),
            candidate: loaded.candidate.name.clone(),
            bay: loaded.session.bay.clone(),
            assessor: loaded.marker.name.clone(),
            marker: loaded.marker.number.0,
            way_on: if loaded.is_second() { "Your ticks" } else { "Decide" },
        };
        Self::assemble(about, task, log, &state, marking, head, now_ms)
    }

    fn assemble(
        about: About,
        task: &Task,
        log: &Log,
        state: &State,
        marking: &Marking,
        head: &Head,
        now_ms: i64,
    ) -> Self {
        Self {
            session: about.session,
            candidate: about.candidate,
            bay: about.bay,
            task: task.title.clone(),
            assessor: about.assessor,
            phase: state.phase(),
            clock: clock(task, state, now_ms),
            owed: marking.owed.iter().map(|owed| owed.says.clone()).collect(),
            proposed: proposed(task, marking),
            items: tiles::items(task, state),
            acts: tiles::acts(task, state),
            devices: tiles::devices(task, state),
            switches: tiles::switches(task, state),
            pairs: tiles::pairs(task, state, marking.plan.rounds),
            rounds: tiles::rounds(task, state, marking.plan.rounds),
            point: task.bay.point(state.point(task)).map(|point| point.label.clone()).unwrap_or_default(),
            last: chips::last(log, task),
            more: more::groups(task, state),
            history: history(log, task),
            start: Tile::new("Start", &[Act::Started]),
            end: Tile::new("End", &[Act::Ended { reason: crate::marking::observation::EndReason::Finished }]),
            step_in: step_in(),
            way_on: about.way_on,
            back: state.ended.map(|ended| Chip {
                label: "Back to marking".into(),
                acts: tiles::json(&[chips::strike_of(ended, StrikeReason::Other)]),
                at_ms: None,
            }),
            next_seq: next_seq(log),
            last_at_ms: state.last_at_ms,
            head: head.clone(),
            sheet: sheet::sheet(task, marking.plan.rounds),
            log: sheet::log(log),
            own: log.observations().len(),
            marker: about.marker,
            now_ms,
        }
    }

    /// Whether nothing has begun.
    pub fn is_before(&self) -> bool {
        self.phase == Phase::Before
    }

    /// Whether acts are being recorded.
    pub fn is_running(&self) -> bool {
        self.phase == Phase::Running
    }

    /// Whether the attempt is over.
    pub fn is_ended(&self) -> bool {
        self.phase == Phase::Ended
    }

    /// Columns of the item grid: two rows at most where labels still fit.
    pub fn item_columns(&self) -> usize {
        self.items.len().div_ceil(2).clamp(3, 10)
    }
}

/// What is not in the task or the log.
struct About {
    session: String,
    candidate: String,
    bay: String,
    assessor: String,
    marker: i32,
    way_on: &'static str,
}

fn step_in() -> Tile {
    let act = Act::SteppedIn { reason: crate::marking::observation::StepReason::Other, text: None };
    Tile::new("Step in", &[act])
}

/// The number after the highest in the log.
pub fn next_seq(log: &Log) -> u32 {
    log.observations().iter().map(|seen| seen.seq).max().unwrap_or(0).saturating_add(1)
}

/// Session time now: wall time since the start, never before what was recorded last; after the end, the end.
pub fn session_time(state: &State, now_ms: i64) -> u64 {
    match (state.phase(), state.started) {
        (Phase::Running, Some(started)) => {
            u64::try_from(now_ms.saturating_sub(started)).unwrap_or(0).max(state.last_at_ms)
        }
        _ => state.last_at_ms,
    }
}

fn clock(task: &Task, state: &State, now_ms: i64) -> Clock {
    let at_ms = state.paused_since.unwrap_or_else(|| session_time(state, now_ms));
    let elapsed = at_ms.saturating_sub(state.paused_ms);
    let allowed = task.allowed_ms();
    Clock {
        shows: show::clock(elapsed),
        allowed: show::clock(allowed),
        extra: allowed > u64::from(task.minutes) * 60_000,
        over: (elapsed > allowed).then(|| format!("over +{}", show::clock(elapsed - allowed))),
        paused: state.paused_since.is_some(),
        started: state.started.unwrap_or(0),
        paused_ms: state.paused_ms,
        allowed_ms: allowed,
    }
}

/// The automatic fails that stand as things are: only their number is shown until somebody asks.
fn proposed(task: &Task, marking: &Marking) -> Vec<String> {
    let ends =
        |finding: &&crate::marking::Finding| finding.fails == Fails::Automatic && finding.outcome == Outcome::NotMet;
    let says = |finding: &crate::marking::Finding| {
        let criterion = task.checklist.criterion(&finding.criterion).map_or("", |criterion| &criterion.says);
        format!("{criterion}: {}", finding.says)
    };
    marking.findings.iter().filter(ends).map(says).collect()
}

/// Everything recorded, the latest first.
fn history(log: &Log, task: &Task) -> Vec<Row> {
    let struck = state::struck(log);
    let row = |seen: &crate::marking::Observation| {
        let gone = struck.contains(&seen.id);
        let may_strike = !gone && !matches!(seen.act, Act::Struck { .. } | Act::Started);
        Row {
            number: seen.seq,
            minute: show::clock(seen.at_ms),
            says: describe(&seen.act, task),
            struck: gone,
            strike: may_strike.then(|| Chip {
                label: "Strike".into(),
                acts: tiles::json(&[chips::strike_of(seen.id, StrikeReason::MisTap)]),
                at_ms: None,
            }),
        }
    };
    log.observations().iter().rev().map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn running(started: i64, last_at_ms: u64) -> State {
        State { started: Some(started), last_at_ms, ..State::default() }
    }

    #[test]
    fn session_time_runs_from_the_start_and_never_backwards() {
        assert_eq!(session_time(&running(1_000_000, 0), 1_007_500), 7_500);
        assert_eq!(session_time(&running(1_000_000, 9_000), 1_007_500), 9_000);
        assert_eq!(session_time(&running(1_000_000, 0), 900_000), 0);
        assert_eq!(session_time(&State::default(), 1_000_000), 0);
    }

    #[test]
    fn after_the_end_time_stands_still() {
        let ended = crate::marking::ObservationId(uuid::Uuid::nil());
        let state = State { ended: Some(ended), ..running(0, 60_000) };
        assert_eq!(session_time(&state, 9_000_000), 60_000);
    }
}
