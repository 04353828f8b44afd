//! What was seen, on a common scale of minutes: a lane for each stage, where the key was, and what lies between two good
//! proofs, so that a test outside of them shows at once.

pub mod picture;
#[cfg(test)]
mod tests;

use super::decision::Standing;
use super::known::{Known, struck};
use super::observation::{Place, Shows};
use super::{Act, CriterionId, Decided, Log, Observation, ObservationId, Outcome, Rule, Task};
use crate::bay::ItemId;
use std::collections::{HashMap, HashSet};

/// Where an act belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Lane {
    Authority,
    Securing,
    Equipment,
    Proving,
    Testing,
    Finishing,
}

impl Lane {
    /// Every lane, from the top of the picture.
    pub const ALL: [Self; 6] =
        [Self::Authority, Self::Securing, Self::Equipment, Self::Proving, Self::Testing, Self::Finishing];
}

/// What a mark looks like: one shape for each, never told by colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shape {
    /// Seen: a disc.
    Seen,
    /// A finding that is not met rests on it: a diamond.
    NotMet,
    /// Taken back: a cross.
    Struck,
    /// The assessor stepped in: a hexagon.
    SteppedIn,
}

impl Shape {
    /// Every shape, in the order of the legend.
    pub const ALL: [Self; 4] = [Self::Seen, Self::NotMet, Self::Struck, Self::SteppedIn];

    /// The character that stands for it in text.
    pub fn character(self) -> &'static str {
        match self {
            Self::Seen => "●",
            Self::NotMet => "◆",
            Self::Struck => "✕",
            Self::SteppedIn => "⬣",
        }
    }
}

/// One act on the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    pub id: ObservationId,
    /// Session time in milliseconds.
    pub at_ms: u64,
    pub lane: Lane,
    pub shape: Shape,
    /// The criteria that are not met and rest on it.
    pub against: Vec<CriterionId>,
    /// Whether it is a test that does not lie between two good proofs of its instrument.
    pub outside: bool,
}

/// From and until, as session time in milliseconds.
pub type Span = (u64, u64);

/// Where a key was, and for how long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeySpan {
    pub item: ItemId,
    pub place: Place,
    pub span: Span,
}

/// Everything that the picture and its table show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Timeline {
    /// Start, and end or last act.
    pub span: Span,
    /// By their times; at one time in the order of recording.
    pub marks: Vec<Mark>,
    /// By key, then by time.
    pub keys: Vec<KeySpan>,
    /// Between two good proofs of one instrument with no failed one in between.
    pub bands: Vec<Span>,
    /// How many tests were made.
    pub tests: usize,
    /// When the clock was stopped.
    pub pauses: Vec<Span>,
    /// When the marker could not see.
    pub blocked: Vec<Span>,
}

impl Timeline {
    /// The timeline of a log. Which acts bear a finding that is not met follows from the findings as they stand, so that
    /// one which the assessor overruled leaves no mark.
    pub fn of(task: &Task, log: &Log, findings: &[Standing]) -> Self {
        let known = Known::fold(task, log, &HashSet::new());
        let bands = bands(&known);
        let mut marks = marks(&known, &against(findings), &bands);
        marks.extend(struck_marks(log));
        marks.sort_by_key(|mark| mark.at_ms);
        Self {
            span: known.span,
            marks,
            keys: keys(&known),
            bands: bands.iter().map(|band| band.span).collect(),
            tests: known.tests.len(),
            pauses: pauses(&known),
            blocked: known.blocked.clone(),
        }
    }

    /// How many marks have this shape.
    pub fn count(&self, shape: Shape) -> usize {
        self.marks.iter().filter(|mark| mark.shape == shape).count()
    }

    /// The tests that lie outside of every band of their instrument.
    pub fn outside(&self) -> impl Iterator<Item = &Mark> {
        self.marks.iter().filter(|mark| mark.outside)
    }
}

/// The lane of an act of the candidate. The clock, and what is about the record itself, has none.
pub fn lane(act: &Act) -> Option<Lane> {
    Some(match act {
        Act::Started
        | Act::Identified { .. }
        | Act::SourceListed { .. }
        | Act::PermissionAsked { .. }
        | Act::PermissionGiven { .. } => Lane::Authority,
        Act::LoadOff { .. }
        | Act::Switched { .. }
        | Act::Fitted { .. }
        | Act::Locked { .. }
        | Act::Posted { .. }
        | Act::Key { .. }
        | Act::Removed { .. }
        | Act::ControlTried { .. } => Lane::Securing,
        Act::Picked { .. } | Act::Returned { .. } | Act::Inspected { .. } => Lane::Equipment,
        Act::Proved { .. } => Lane::Proving,
        Act::Opened { .. }
        | Act::Closed { .. }
        | Act::LampOut { .. }
        | Act::LampIn { .. }
        | Act::Operated { .. }
        | Act::Tested { .. }
        | Act::Touched { .. } => Lane::Testing,
        Act::Declared { .. } | Act::Ended { .. } => Lane::Finishing,
        _ => return None,
    })
}

/// The criteria against each observation.
fn against(findings: &[Standing]) -> HashMap<ObservationId, Vec<CriterionId>> {
    let mut against: HashMap<ObservationId, Vec<CriterionId>> = HashMap::new();
    for finding in findings.iter().filter(|finding| finding.outcome == Outcome::NotMet) {
        for id in &finding.proposed.because {
            against.entry(*id).or_default().push(finding.proposed.criterion.clone());
        }
    }
    against
}

/// The acts that count. Help and stepping in stand on the lane of what the candidate did last.
fn marks(known: &Known, against: &HashMap<ObservationId, Vec<CriterionId>>, bands: &[Band]) -> Vec<Mark> {
    let mut last = Lane::Authority;
    let mut marks = Vec::with_capacity(known.acts.len());
    for seen in &known.acts {
        let assessors = matches!(seen.act, Act::SteppedIn { .. } | Act::Prompted { .. });
        let Some(lane) = lane(&seen.act).or_else(|| assessors.then_some(last)) else { continue };
        last = lane;
        let against = against.get(&seen.id).cloned().unwrap_or_default();
        let shape = match seen.act {
            Act::SteppedIn { .. } => Shape::SteppedIn,
            _ if !against.is_empty() => Shape::NotMet,
            _ => Shape::Seen,
        };
        marks.push(Mark { id: seen.id, at_ms: seen.at_ms, lane, shape, against, outside: false });
    }
    let outside: HashSet<ObservationId> = known
        .tests
        .iter()
        .filter(|test| !bands.iter().any(|band| band.holds(test.pos, test.item)))
        .map(|test| known.acts[test.pos].id)
        .collect();
    for mark in &mut marks {
        mark.outside = outside.contains(&mark.id);
    }
    marks
}

/// What was taken back, where it stood.
fn struck_marks(log: &Log) -> Vec<Mark> {
    let struck = struck(log.observations());
    let mark = |seen: &Observation| {
        let lane = lane(&seen.act)?;
        let (shape, against) = (Shape::Struck, Vec::new());
        Some(Mark { id: seen.id, at_ms: seen.at_ms, lane, shape, against, outside: false })
    };
    log.observations().iter().filter(|seen| struck.contains(&seen.id)).filter_map(mark).collect()
}

/// What lies between two good proofs of one instrument.
struct Band<'a> {
    item: &'a ItemId,
    /// Positions in the fold.
    from: usize,
    until: usize,
    span: Span,
}

impl Band<'_> {
    /// Whether a test with this instrument lies within; one with an unknown instrument may lie in any.
    fn holds(&self, pos: usize, item: Option<&ItemId>) -> bool {
        (self.from..self.until).contains(&pos) && item.is_none_or(|item| item == self.item)
    }
}

/// What counts as a good proof is what the task's own rules accept.
fn bands<'a>(known: &Known<'a>) -> Vec<Band<'a>> {
    let accepts = known.task.checklist.criteria().find_map(|criterion| match &criterion.decided {
        Decided::Rule(Rule::ProvedBeforeTesting { accepts } | Rule::ProvedAfterTesting { accepts }) => Some(accepts),
        _ => None,
    });
    let accepts = accepts.map_or(&Rule::PROOFS[..], Vec::as_slice);
    let mut since: HashMap<&ItemId, Option<usize>> = HashMap::new();
    let mut bands = Vec::new();
    for proof in known.proofs.iter().filter(|proof| accepts.contains(&proof.on)) {
        let good = (proof.shows == Shows::All).then_some(proof.pos);
        if let (Some(from), Some(until)) = (since.insert(proof.item, good).flatten(), good) {
            bands.push(Band { item: proof.item, from, until, span: (known.at(from), known.at(until)) });
        }
    }
    bands
}

/// From each place of a key to its next, or to the end.
fn keys(known: &Known) -> Vec<KeySpan> {
    let mut spans: Vec<KeySpan> = Vec::new();
    let mut open: HashMap<&ItemId, usize> = HashMap::new();
    for &(pos, item, place) in &known.keys {
        let at = known.at(pos);
        if let Some(&before) = open.get(item) {
            spans[before].span.1 = at;
            if spans[before].place == place {
                spans[before].span.1 = known.span.1;
                continue;
            }
        }
        open.insert(item, spans.len());
        spans.push(KeySpan { item: item.clone(), place, span: (at, known.span.1.max(at)) });
    }
    spans.sort_by(|one, other| (one.item.as_str(), one.span).cmp(&(other.item.as_str(), other.span)));
    spans
}

fn pauses(known: &Known) -> Vec<Span> {
    let mut spans = Vec::new();
    let mut since: Option<u64> = None;
    for seen in &known.acts {
        match seen.act {
            Act::Paused { .. } => since = since.or(Some(seen.at_ms)),
            Act::Resumed => spans.extend(since.take().map(|from| (from, seen.at_ms))),
            _ => {}
        }
    }
    spans.extend(since.map(|from| (from, known.span.1.max(from))));
    spans
}
