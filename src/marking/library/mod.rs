//! The starter criteria: what a thorough isolation checklist asks for, for each scheme, shipped with the program.
//!
//! Pure data. The criteria stand in TOML files beside this one, which say in their head what each key means; they are read
//! once with the reader of task files, so that each is a [`Criterion`] like any other. A centre copies them and changes
//! its copy; nothing here is a rule of law, and the source and its standing are shown wherever one of them is.

mod read;

#[cfg(test)]
mod tests;

use super::{Checklist, ChecklistFile, Criterion, CriterionId, Stage};
use crate::bay::Standards;
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// A criterion that is shipped with the program, as one scheme has it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Starter {
    pub criterion: Criterion,
    /// Where it stands in the scheme's order.
    pub stage: StarterStage,
    /// What it protects from, in one sentence.
    pub why: String,
    /// The edition of its source; `None` for common practice. It stands in the criterion's source too.
    pub edition: Option<String>,
    /// How far its source was checked.
    pub status: Status,
    /// Whether it stands in the scheme's [`checklist`]; the others are there to be picked.
    pub ready_made: bool,
    /// The trade facts it rests on, such as `B09`.
    pub rests_on: Vec<String>,
}

/// The stages that starter criteria know, in no order: each scheme has its own, see [`stages`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StarterStage {
    Before,
    Off,
    StoredEnergy,
    Securing,
    Equipment,
    Proving,
    Earthing,
    Guarding,
    Handover,
    Restoring,
}

/// How far a source was checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Status {
    /// The instrument's own text was read.
    #[serde(rename = "read")]
    Read,
    /// A second-hand page was read: an extract, an article, a manual.
    #[serde(rename = "read-2")]
    ReadSecondHand,
    /// From memory, not checked against a text.
    #[serde(rename = "memory")]
    Memory,
    /// Common practice, no source.
    #[serde(rename = "practice")]
    Practice,
    /// Worked out by counting or from circuit laws.
    #[serde(rename = "computed")]
    Computed,
}

impl Status {
    /// The word in the library's files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::ReadSecondHand => "read-2",
            Self::Memory => "memory",
            Self::Practice => "practice",
            Self::Computed => "computed",
        }
    }

    /// What it means, as a sentence for whoever picks a criterion.
    pub fn says(self) -> &'static str {
        match self {
            Self::Read => "The source itself was read.",
            Self::ReadSecondHand => "The source was read second-hand. Check it before you quote it.",
            Self::Memory => "The source is quoted from memory. Check it before you quote it.",
            Self::Practice => "This is common practice. It has no published source.",
            Self::Computed => "This follows from counting or from circuit laws.",
        }
    }
}

/// One stage of a scheme: which, and its title there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SchemeStage {
    pub stage: StarterStage,
    pub title: String,
}

/// What the library holds for one scheme.
#[derive(Debug, Clone, PartialEq)]
struct Scheme {
    standards: Standards,
    title: String,
    pass_percent: u8,
    stages: Vec<SchemeStage>,
    /// In the order of the stages.
    criteria: Vec<Starter>,
}

static SCHEMES: LazyLock<Vec<Scheme>> =
    LazyLock::new(|| read::shipped().expect("the shipped files, which the tests of this module read"));

fn scheme(standards: Standards) -> &'static Scheme {
    let found = SCHEMES.iter().find(|scheme| scheme.standards == standards);
    found.expect("the shipped files hold every scheme, which the reader makes sure of")
}

/// The starter criteria of a scheme, in the order of its stages; those that are not ready-made included.
pub fn criteria(standards: Standards) -> &'static [Starter] {
    &scheme(standards).criteria
}

/// The starter criterion of this name in a scheme.
pub fn criterion(standards: Standards, id: &CriterionId) -> Option<&'static Starter> {
    criteria(standards).iter().find(|starter| starter.criterion.id == *id)
}

/// The stages of a scheme with their titles, in the order in which the scheme works.
pub fn stages(standards: Standards) -> &'static [SchemeStage] {
    &scheme(standards).stages
}

/// A scheme's ready-made checklist: its stages in order, each with its ready-made criteria; a stage without one is left
/// out. It names nothing of any bay, so it fits every task.
pub fn checklist(standards: Standards) -> Checklist {
    let scheme = scheme(standards);
    let stages = scheme.stages.iter().filter_map(|stage| {
        let ready = scheme.criteria.iter().filter(|starter| starter.ready_made && starter.stage == stage.stage);
        let criteria: Vec<Criterion> = ready.map(|starter| starter.criterion.clone()).collect();
        (!criteria.is_empty()).then(|| Stage { title: stage.title.clone(), criteria })
    });
    Checklist { stages: stages.collect() }
}

/// The ready-made checklist with a title and a pass mark, as a document of its own.
pub fn checklist_file(standards: Standards) -> ChecklistFile {
    let scheme = scheme(standards);
    ChecklistFile { title: scheme.title.clone(), pass_percent: scheme.pass_percent, checklist: checklist(standards) }
}
