//! A checklist while it is being written: single changes to it, and what is not valid yet.
//!
//! A draft is a [`ChecklistFile`] that need not be valid: a stage may be empty, two criteria may bear one identifier. Each
//! [`Edit`] either is made whole or says why it cannot be and changes nothing.

mod wanting;

#[cfg(test)]
mod tests;

pub use wanting::{Place, Wanting, wanting};

use super::{Checklist, ChecklistFile, Criterion, Fails, Stage};

/// Longest title of a checklist or a stage, in characters; as in files.
pub const LONGEST_TITLE: usize = crate::bay::read::LABEL;

/// Most stages of a checklist, and most criteria of one stage; as in files.
pub const MOST: usize = crate::bay::read::MANY;

/// Heaviest criterion, in marks; as in files.
pub const HEAVIEST: u16 = 1_000;

/// Where a criterion stands in a draft: its stage and its place there, both counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct At {
    pub stage: usize,
    pub place: usize,
}

/// One step in the order of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    Up,
    Down,
}

/// One change of a draft.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    Title(String),
    PassPercent(u8),
    AddStage(String),
    RenameStage(usize, String),
    MoveStage(usize, Way),
    /// With what is in it.
    RemoveStage(usize),
    /// Adds criteria at the end of a stage; those whose identifier the draft holds already are left out.
    Add(usize, Vec<Criterion>),
    Remove(At),
    /// One step up or down; from the edge of a stage into the next one.
    Move(At, Way),
    /// To the end of another stage.
    MoveTo(At, usize),
    Weigh(At, u16, Fails),
    /// Takes in the wording, rule and source of a criterion; weight and what follows if it is not met stay.
    Reword(At, Box<Criterion>),
}

/// What has changed since the page was made, so that the change no longer has its place.
const GONE: &str = "What this was about is not there any more. Look at the checklist as it stands now.";

/// A draft with a title and nothing in it.
pub fn empty(title: &str) -> ChecklistFile {
    ChecklistFile { title: title.to_owned(), pass_percent: 70, checklist: Checklist { stages: Vec::new() } }
}

impl Edit {
    /// Makes the change. Answers what was done, as a sentence in the past; or why it cannot be done, with nothing changed.
    pub fn make(self, draft: &mut ChecklistFile) -> Result<String, String> {
        match self {
            Self::Title(title) => {
                let title = named(&title, "The checklist needs a title.")?;
                let says = format!("Changed the title from “{}” to “{title}”.", draft.title);
                draft.title = title;
                Ok(says)
            }
            Self::PassPercent(percent) if percent <= 100 => {
                let says = format!("Changed the pass mark from {} % to {percent} %.", draft.pass_percent);
                draft.pass_percent = percent;
                Ok(says)
            }
            Self::PassPercent(_) => Err("The pass mark is a whole number from 0 to 100.".into()),
            Self::AddStage(_) | Self::RenameStage(..) | Self::MoveStage(..) | Self::RemoveStage(_) => {
                self.in_stages(&mut draft.checklist.stages)
            }
            _ => self.in_criteria(&mut draft.checklist.stages),
        }
    }

    fn in_stages(self, stages: &mut Vec<Stage>) -> Result<String, String> {
        match self {
            Self::AddStage(title) => {
                let title = named(&title, "The stage needs a name.")?;
                if stages.len() >= MOST {
                    return Err(format!("A checklist has at most {MOST} stages."));
                }
                let says = format!("Added the stage “{title}”.");
                stages.push(Stage { title, criteria: Vec::new() });
                Ok(says)
            }
            Self::RenameStage(stage, title) => {
                let title = named(&title, "The stage needs a name.")?;
                let stage = stages.get_mut(stage).ok_or(GONE)?;
                let says = format!("Renamed the stage “{}” to “{title}”.", stage.title);
                stage.title = title;
                Ok(says)
            }
            Self::MoveStage(stage, way) => {
                let title = stages.get(stage).ok_or(GONE)?.title.clone();
                let other = step(stage, way, stages.len()).ok_or("That stage stands at the edge already.")?;
                stages.swap(stage, other);
                Ok(format!("Moved the stage “{title}” {}.", words(way)))
            }
            Self::RemoveStage(stage) if stage < stages.len() => {
                let gone = stages.remove(stage);
                Ok(match gone.criteria.len() {
                    0 => format!("Removed the stage “{}”.", gone.title),
                    1 => format!("Removed the stage “{}” and its criterion.", gone.title),
                    many => format!("Removed the stage “{}” and its {many} criteria.", gone.title),
                })
            }
            _ => Err(GONE.into()),
        }
    }

    fn in_criteria(self, stages: &mut [Stage]) -> Result<String, String> {
        match self {
            Self::Add(stage, criteria) => add(stages, stage, criteria),
            Self::Remove(at) => {
                let gone = take(stages, at)?;
                Ok(format!("Removed “{}”.", gone.says))
            }
            Self::Move(at, way) => shift(stages, at, way),
            Self::MoveTo(at, stage) => {
                let there = stages.get(stage).ok_or(GONE)?;
                if there.criteria.len() >= MOST && stage != at.stage {
                    return Err(format!("A stage holds at most {MOST} criteria."));
                }
                let title = there.title.clone();
                let criterion = take(stages, at)?;
                let says = format!("Moved “{}” to the stage “{title}”.", criterion.says);
                stages[stage].criteria.push(criterion);
                Ok(says)
            }
            Self::Weigh(at, weight, fails) => {
                if !(1..=HEAVIEST).contains(&weight) {
                    return Err(format!("The weight is a whole number from 1 to {HEAVIEST}."));
                }
                let criterion = find(stages, at)?;
                (criterion.weight, criterion.fails) = (weight, fails);
                Ok(format!("“{}” now weighs {weight} and {}.", criterion.says, fails_words(fails)))
            }
            Self::Reword(at, newer) => {
                let criterion = find(stages, at)?;
                let says = format!("Took in “{}” as the library has it now.", newer.says);
                let (weight, fails) = (criterion.weight, criterion.fails);
                *criterion = Criterion { weight, fails, ..*newer };
                Ok(says)
            }
            _ => Err(GONE.into()),
        }
    }
}

fn add(stages: &mut [Stage], stage: usize, criteria: Vec<Criterion>) -> Result<String, String> {
    let known = |criterion: &Criterion| stages.iter().flat_map(|one| &one.criteria).any(|one| one.id == criterion.id);
    let (there, new): (Vec<_>, Vec<_>) = criteria.into_iter().partition(known);
    let stage = stages.get_mut(stage).ok_or(GONE)?;
    if new.is_empty() {
        return Err(match there.len() {
            0 => "Choose at least one criterion.".into(),
            _ => "The checklist holds each of these already.".into(),
        });
    }
    if stage.criteria.len() + new.len() > MOST {
        return Err(format!("A stage holds at most {MOST} criteria."));
    }
    let left_out = if there.is_empty() { "" } else { " What the checklist held already was left out." };
    let says = match &new[..] {
        [one] => format!("Added “{}” to the stage “{}”.{left_out}", one.says, stage.title),
        many => format!("Added {} criteria to the stage “{}”.{left_out}", many.len(), stage.title),
    };
    stage.criteria.extend(new);
    Ok(says)
}

fn shift(stages: &mut [Stage], at: At, way: Way) -> Result<String, String> {
    let says = find(stages, at)?.says.clone();
    if let Some(other) = step(at.place, way, stages[at.stage].criteria.len()) {
        stages[at.stage].criteria.swap(at.place, other);
        return Ok(format!("Moved “{says}” {}.", words(way)));
    }
    let next = step(at.stage, way, stages.len()).ok_or("That criterion stands at the edge already.")?;
    if stages[next].criteria.len() >= MOST {
        return Err(format!("A stage holds at most {MOST} criteria."));
    }
    let criterion = take(stages, at)?;
    let to = &mut stages[next];
    let place = if way == Way::Up { to.criteria.len() } else { 0 };
    to.criteria.insert(place, criterion);
    Ok(format!("Moved “{says}” to the stage “{}”.", to.title))
}

fn find(stages: &mut [Stage], at: At) -> Result<&mut Criterion, String> {
    let found = stages.get_mut(at.stage).and_then(|stage| stage.criteria.get_mut(at.place));
    found.ok_or_else(|| GONE.to_owned())
}

fn take(stages: &mut [Stage], at: At) -> Result<Criterion, String> {
    find(stages, at)?;
    Ok(stages[at.stage].criteria.remove(at.place))
}

fn step(from: usize, way: Way, of: usize) -> Option<usize> {
    match way {
        Way::Up => from.checked_sub(1),
        Way::Down => Some(from + 1).filter(|&to| to < of),
    }
}

/// A title without what surrounds it.
fn named(title: &str, missing: &str) -> Result<String, String> {
    let title = title.trim();
    if title.is_empty() {
        return Err(missing.to_owned());
    }
    if title.chars().count() > LONGEST_TITLE {
        return Err(format!("A title has at most {LONGEST_TITLE} characters."));
    }
    if title.chars().any(char::is_control) {
        return Err("The title holds a character that cannot be shown. Type it again without pasting.".into());
    }
    Ok(title.to_owned())
}

fn words(way: Way) -> &'static str {
    match way {
        Way::Up => "up",
        Way::Down => "down",
    }
}

/// What a criterion that is not met does, after “it”.
pub fn fails_words(fails: Fails) -> &'static str {
    match fails {
        Fails::Ordinary => "costs its marks if not met",
        Fails::Must => "fails the attempt if not met",
        Fails::Automatic => "is an automatic fail if not met",
    }
}
