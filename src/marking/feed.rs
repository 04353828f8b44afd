//! What a task cannot feed: rules of a checklist that ask for something its bay does not have.

use super::checklist::Pattern;
use super::{Checklist, CriterionId, Decided, Log, Outcome, Rule, Task};
use crate::bay::{Bay, CircuitId, DeviceId, ItemId, PointId, SourceId, SwitchId};

/// A criterion that this task can never settle by what is done in its bay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfed {
    pub criterion: CriterionId,
    /// Why, as a sentence.
    pub says: String,
}

/// The criteria of the task's own checklist that its bay cannot feed: rules that are not applicable whatever is done, and
/// act patterns that name what is not there.
pub fn unfed(task: &Task) -> Vec<Unfed> {
    let nothing = super::mark_without_coverage(task, &Log::default());
    let reason = |criterion: &super::Criterion| {
        let missing = match &criterion.decided {
            Decided::Rule(Rule::Happened { act } | Rule::Never { act }) => missing(&task.bay, &task.checklist, act),
            Decided::Rule(Rule::Before { first, then }) => {
                missing(&task.bay, &task.checklist, first).or_else(|| missing(&task.bay, &task.checklist, then))
            }
            _ => None,
        };
        missing.or_else(|| {
            let mut findings = nothing.findings.iter();
            let finding = findings.find(|finding| finding.criterion == criterion.id)?;
            (finding.outcome == Outcome::NotApplicable).then(|| finding.says.clone())
        })
    };
    let unfed = |criterion| reason(criterion).map(|says| Unfed { criterion: criterion.id.clone(), says });
    task.checklist.criteria().filter_map(unfed).collect()
}

/// What a pattern names and the bay, or the checklist, lacks.
fn missing(bay: &Bay, checklist: &Checklist, act: &Pattern) -> Option<String> {
    let at = act.fields.get("point").and_then(|point| point.as_str());
    act.fields.iter().find_map(|(field, value)| {
        let name = value.as_str()?;
        if matches!(field.as_str(), "first" | "second") {
            return unreached(bay, at, name);
        }
        let (what, there) = match field.as_str() {
            "circuit" => ("circuit", CircuitId::new(name).is_some_and(|id| bay.circuit(&id).is_some())),
            "device" => ("device", DeviceId::new(name).is_some_and(|id| bay.device(&id).is_some())),
            "switch" => ("switch", SwitchId::new(name).is_some_and(|id| bay.switch(&id).is_some())),
            "point" => ("point", PointId::new(name).is_some_and(|id| bay.point(&id).is_some())),
            "item" => ("item on the table", ItemId::new(name).is_some_and(|id| bay.item(&id).is_some())),
            "source" => ("supply", SourceId::new(name).is_some_and(|id| bay.source(&id).is_some())),
            "criterion" => ("criterion", CriterionId::new(name).is_some_and(|id| checklist.criterion(&id).is_some())),
            _ => return None,
        };
        (!there).then(|| format!("There is no {what} called “{name}” in this task."))
    })
}

/// A conductor of a test that can be reached at no point that the test could be made at.
fn unreached(bay: &Bay, at: Option<&str>, letters: &str) -> Option<String> {
    let mut points = bay.circuits.iter().flat_map(|circuit| &circuit.points);
    let there = points.any(|point| {
        at.is_none_or(|at| point.id.as_str() == at) && point.conductors.iter().any(|one| one.letters() == letters)
    });
    let whereabouts = at.map_or_else(|| "at any point".to_owned(), |at| format!("at “{at}”"));
    (!there).then(|| format!("No {letters} can be reached {whereabouts}, so the test with it cannot be made."))
}
