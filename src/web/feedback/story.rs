//! The candidate's page: how it came out, what to change, what went well, and all that was seen.

use super::catalogue;
use crate::marking::decision::Standing;
use crate::marking::words::describe;
use crate::marking::{Act, Criterion, Fails, Outcome, VerdictOutcome};
use crate::store::feedback::LINK_DAYS;
use crate::store::results::SignedResult;
use crate::web::cards::evidence;
use crate::web::causes::Causes;
use crate::web::marking::state;
use crate::web::marking::tiles::{self, Rounds};
use crate::web::page::Page;
use crate::web::sessions::{Loaded, Marked};
use crate::web::sheet::{StageBlock, stages};
use crate::web::show::{self, Sign};
use askama::Template;
use time::{Duration, PrimitiveDateTime};

/// Most things to change that are put first.
const MOST_CHANGES: usize = 3;
/// Most things that went well.
const MOST_PRAISE: usize = 5;

/// What the candidate reads.
#[derive(Template)]
#[template(path = "feedback/show.html")]
pub struct CandidatePage {
    pub page: Page,
    pub candidate: String,
    pub task: String,
    pub signed_day: String,
    pub outcome: &'static str,
    pub verdict: Sign,
    pub what_next: &'static str,
    pub open_until: String,
    pub changes: Vec<Change>,
    pub praise: Vec<Praise>,
    pub timeline: Vec<Moment>,
    pub rounds: Rounds,
    pub causes: Causes,
    pub marks: String,
    pub stages: Vec<StageBlock>,
    pub review: &'static str,
    pub caution: &'static str,
    pub code: String,
}

/// One thing to change: what was seen, why it matters, what to do next time.
pub struct Change {
    pub criterion: String,
    pub seen: String,
    pub minute: Option<String>,
    pub why: String,
    pub next: String,
}

/// One thing that went well, with the act that shows it.
pub struct Praise {
    pub says: String,
    pub cites: String,
}

/// One line of the timeline.
pub struct Moment {
    pub minute: String,
    pub says: String,
}

impl CandidatePage {
    /// The page of a signed session; `signed` is in the centre's time zone.
    pub fn of(loaded: &Loaded, marked: &Marked, result: &SignedResult, signed: PrimitiveDateTime) -> Self {
        let outcome = result.verdict.outcome;
        Self {
            page: Page::of_nobody(),
            candidate: loaded.candidate.name.clone(),
            task: loaded.task.title.clone(),
            signed_day: show::day(signed),
            outcome: catalogue::outcome(outcome),
            verdict: show::verdict(outcome),
            what_next: catalogue::what_next(outcome),
            open_until: show::day(signed.saturating_add(Duration::days(LINK_DAYS))),
            changes: changes(loaded, marked),
            praise: praise(loaded, marked),
            timeline: timeline(loaded, marked),
            rounds: tiles::rounds_made(&loaded.task, &marked.log, &marked.marking),
            causes: Causes::of(&loaded.task, &marked.log, &marked.marking),
            marks: show::marks(&result.verdict),
            stages: stages(&loaded.task, marked),
            review: catalogue::REVIEW,
            caution: catalogue::CAUTION,
            code: result.head.chars().take(16).collect(),
        }
    }

    /// Whether the attempt was passed.
    pub fn passed(&self) -> bool {
        self.verdict == show::verdict(VerdictOutcome::Pass)
    }
}

/// Findings with this outcome, what weighs most first.
fn with_outcome<'a>(loaded: &'a Loaded, marked: &'a Marked, outcome: Outcome) -> Vec<(&'a Criterion, &'a Standing)> {
    let standing =
        |criterion: &Criterion| marked.decided.findings.iter().find(|one| one.proposed.criterion == criterion.id);
    let mut found: Vec<_> = loaded
        .task
        .checklist
        .criteria()
        .filter_map(|criterion| standing(criterion).map(|standing| (criterion, standing)))
        .filter(|(_, standing)| standing.outcome == outcome)
        .collect();
    let gravity = |fails| match fails {
        Fails::Automatic => 0,
        Fails::Must => 1,
        Fails::Ordinary => 2,
    };
    found.sort_by_key(|(criterion, _)| (gravity(criterion.fails), std::cmp::Reverse(criterion.weight)));
    found
}

fn changes(loaded: &Loaded, marked: &Marked) -> Vec<Change> {
    let change = |(criterion, standing): (&Criterion, &Standing)| {
        let advice = catalogue::advice_on(&criterion.decided);
        // Where the assessor's word differs from what was worked out, the assessor's reason is what was seen.
        let reason = standing.decision.as_ref().and_then(|decision| decision.reason.clone());
        let seen = if standing.outcome == standing.proposed.outcome { None } else { reason };
        Change {
            criterion: criterion.says.clone(),
            seen: seen.unwrap_or_else(|| standing.proposed.says.clone()),
            minute: standing.proposed.at_ms.map(show::clock),
            why: advice.why.to_owned(),
            next: criterion.when_not_met.clone().unwrap_or_else(|| advice.next.to_owned()),
        }
    };
    with_outcome(loaded, marked, Outcome::NotMet).into_iter().take(MOST_CHANGES).map(change).collect()
}

/// Praise cites an act; what rests on no act is not praised.
fn praise(loaded: &Loaded, marked: &Marked) -> Vec<Praise> {
    let praise = |(criterion, standing): (&Criterion, &Standing)| {
        let last = evidence(&loaded.task, &marked.log, standing).pop()?;
        Some(Praise {
            says: criterion.when_met.clone().unwrap_or_else(|| criterion.says.clone()),
            cites: format!("{} at {}", last.says, last.minute),
        })
    };
    with_outcome(loaded, marked, Outcome::Met).into_iter().filter_map(praise).take(MOST_PRAISE).collect()
}

/// What was seen, without what is about the record itself.
fn timeline(loaded: &Loaded, marked: &Marked) -> Vec<Moment> {
    let about_the_attempt = |act: &Act| {
        !matches!(
            act,
            Act::Remark { .. }
                | Act::Unsure { .. }
                | Act::Struck { .. }
                | Act::ViewBlocked
                | Act::ViewClear
                | Act::Ticked { .. }
        )
    };
    let moment = |seen: &crate::marking::Observation| Moment {
        minute: show::clock(seen.at_ms),
        says: describe(&seen.act, &loaded.task),
    };
    let seen = state::standing(&marked.log);
    seen.into_iter().filter(|seen| about_the_attempt(&seen.act)).map(moment).collect()
}
