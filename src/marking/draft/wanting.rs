//! What a draft still wants before it can be published.

use crate::marking::{ChecklistFile, Stage, write};
use std::collections::HashMap;

/// Where something is wanting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The checklist as a whole.
    Checklist,
    /// A stage, counted from 0.
    Stage(usize),
    /// A criterion.
    Criterion(super::At),
}

/// Something that is not valid yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanting {
    pub place: Place,
    /// What is wrong and what to do, as a sentence.
    pub says: String,
}

impl Wanting {
    /// What is wrong with the place it is at in front, for where it is not shown beside that place.
    pub fn told(&self, draft: &ChecklistFile) -> String {
        let stages = &draft.checklist.stages;
        let (stage, criterion) = match self.place {
            Place::Checklist => return self.says.clone(),
            Place::Stage(stage) => (stages.get(stage), None),
            Place::Criterion(at) => {
                let stage = stages.get(at.stage);
                (stage, stage.and_then(|stage| stage.criteria.get(at.place)))
            }
        };
        let at = match (stage, criterion) {
            (_, Some(criterion)) => &criterion.says,
            (Some(stage), None) => &stage.title,
            (None, None) => return self.says.clone(),
        };
        format!("“{at}”: {}", self.says)
    }
}

/// Everything that keeps a draft from being published, in the order of the page. Empty exactly where its file can be read.
pub fn wanting(draft: &ChecklistFile) -> Vec<Wanting> {
    let stages = &draft.checklist.stages;
    let mut found = Vec::new();
    let mut add = |place, says: String| found.push(Wanting { place, says });
    if stages.is_empty() {
        add(Place::Checklist, "There is no stage yet. Add one, then put criteria into it.".into());
    }
    let named = count(stages);
    for (at, stage) in stages.iter().enumerate() {
        if stage.criteria.is_empty() {
            add(Place::Stage(at), "This stage is empty. Add a criterion, or remove the stage.".into());
        }
        for (place, criterion) in stage.criteria.iter().enumerate() {
            if named.get(criterion.id.as_str()).is_some_and(|&times| times > 1) {
                let says = format!("Another criterion is called “{}” too. Remove one of them.", criterion.id);
                add(Place::Criterion(super::At { stage: at, place }), says);
            }
        }
    }
    if found.is_empty() {
        // Whatever the pages let through, the reader of files has the last word.
        if let Err(faults) = ChecklistFile::read_toml(&write::checklist_file(draft)) {
            let says = |fault: &crate::reading::Fault| format!("{}: {}.", fault.path, fault.says);
            found.extend(faults.as_slice().iter().map(|fault| Wanting { place: Place::Checklist, says: says(fault) }));
        }
    }
    found
}

fn count(stages: &[Stage]) -> HashMap<&str, usize> {
    let mut named = HashMap::new();
    for criterion in stages.iter().flat_map(|stage| &stage.criteria) {
        *named.entry(criterion.id.as_str()).or_insert(0) += 1;
    }
    named
}
