//! Checklists of task files.

use super::rule;
use crate::bay::read::{Known, LABEL, MANY, Names, all, listed};
use crate::marking::{Checklist, Criterion, Decided, Stage};
use crate::reading::At;

/// Longest criterion and feedback, in characters.
const SENTENCE: usize = 2_000;

/// What a rule may name: what stands in the bay, and the criteria of its own checklist. `None` where these are not at
/// hand, so that any name will do.
pub(super) struct Named<'a> {
    pub bay: Option<&'a Known>,
    pub criteria: Option<&'a Names>,
}

/// Reads a checklist, of a task with this bay or of none.
pub(super) fn read(at: &At<'_>, bay: Option<&Known>) -> Option<Checklist> {
    let mut fields = at.fields()?;
    let stages = fields.some("stages", MANY).unwrap_or_default();
    let criteria = Names::gather("a criterion", stages.iter().flat_map(|stage| listed(stage, "criteria")));
    let named = Named { bay, criteria: Some(&criteria) };
    let stages = all(&stages, |at| stage(at, &named));
    fields.finish();
    Some(Checklist { stages: stages? })
}

fn stage(at: &At<'_>, named: &Named<'_>) -> Option<Stage> {
    let mut fields = at.fields()?;
    let title = fields.text("title", LABEL);
    let criteria = fields.some("criteria", MANY).and_then(|criteria| all(&criteria, |at| criterion(at, named)));
    fields.finish();
    Some(Stage { title: title?, criteria: criteria? })
}

pub(super) fn criterion(at: &At<'_>, named: &Named<'_>) -> Option<Criterion> {
    let mut fields = at.fields()?;
    let id = fields.id("id");
    let says = fields.text("says", SENTENCE);
    let weight = fields.whole("weight", 1..=1_000);
    let fails = fields.word("fails");
    let decided = fields.required("decided").and_then(|at| decided(&at, named));
    let when_met = fields.maybe("when_met", |at| at.text(SENTENCE));
    let when_not_met = fields.maybe("when_not_met", |at| at.text(SENTENCE));
    let source = fields.text("source", LABEL);
    fields.finish();
    Some(Criterion {
        id: id?,
        says: says?,
        weight: weight?,
        fails: fails?,
        decided: decided?,
        when_met: when_met?,
        when_not_met: when_not_met?,
        source: source?,
    })
}

fn decided(at: &At<'_>, named: &Named<'_>) -> Option<Decided> {
    match at.node.as_text() {
        Some("by_eye") => Some(Decided::ByEye),
        Some(other) => {
            let other = crate::reading::words::shown(other);
            at.fault(format!(
                "`{other}` is not known here, expected `by_eye` or a rule such as {{ rule = \"key_kept\" }}"
            ));
            None
        }
        None => rule::read(at, named).map(Decided::Rule),
    }
}
