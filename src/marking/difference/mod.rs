//! What differs between two checklists, as data and in words.

mod order;
mod words;

#[cfg(test)]
mod tests;

use super::{ChecklistFile, Criterion, CriterionId, Decided, Fails, Stage};
use std::collections::{HashMap, HashSet};

/// One thing that differs.
#[derive(Debug, Clone, PartialEq)]
pub enum Difference {
    Title {
        from: String,
        to: String,
    },
    PassPercent {
        from: u8,
        to: u8,
    },
    StageAdded {
        title: String,
    },
    StageRemoved {
        title: String,
    },
    /// A stage that shares a criterion with the one it was, under another name.
    StageRenamed {
        from: String,
        to: String,
    },
    /// The stage stands elsewhere among the others.
    StageMoved {
        title: String,
    },
    Added {
        criterion: Criterion,
        stage: String,
    },
    Removed {
        criterion: Criterion,
        stage: String,
    },
    /// To another stage.
    Moved {
        id: CriterionId,
        says: String,
        from: String,
        to: String,
    },
    /// To another place in its stage.
    Reordered {
        id: CriterionId,
        says: String,
        stage: String,
    },
    /// A criterion with the same identifier differs.
    Changed {
        id: CriterionId,
        says: String,
        change: Change,
    },
}

/// What differs about one criterion.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    Says { from: String, to: String },
    Weight { from: u16, to: u16 },
    Fails { from: Fails, to: Fails },
    Decided { from: Decided, to: Decided },
    WhenMet { from: Option<String>, to: Option<String> },
    WhenNotMet { from: Option<String>, to: Option<String> },
    Source { from: String, to: String },
}

/// Everything that differs, in the order of the newer checklist, what was removed last. Empty exactly where the two are
/// equal. Criteria are the same where their identifiers are, stages where their titles are or, failing that, where they
/// share a criterion.
pub fn difference(older: &ChecklistFile, newer: &ChecklistFile) -> Vec<Difference> {
    let mut found = Vec::new();
    if older.title != newer.title {
        found.push(Difference::Title { from: older.title.clone(), to: newer.title.clone() });
    }
    if older.pass_percent != newer.pass_percent {
        found.push(Difference::PassPercent { from: older.pass_percent, to: newer.pass_percent });
    }
    let sides = Sides::of(&older.checklist.stages, &newer.checklist.stages);
    sides.stages(&mut found);
    sides.criteria(&mut found);
    found
}

/// A criterion's identifier and which of those with that identifier it is: a draft may hold two.
type Key<'a> = (&'a CriterionId, usize);

/// Where a criterion stands: its stage and itself.
type Held<'a> = (usize, &'a Criterion);

/// Both checklists with what belongs together found out.
struct Sides<'a> {
    older: &'a [Stage],
    newer: &'a [Stage],
    /// For each newer stage the older one that it was.
    was: Vec<Option<usize>>,
    in_older: HashMap<Key<'a>, Held<'a>>,
    older_keys: Vec<Key<'a>>,
    in_newer: HashMap<Key<'a>, Held<'a>>,
    newer_keys: Vec<Key<'a>>,
}

impl<'a> Sides<'a> {
    fn of(older: &'a [Stage], newer: &'a [Stage]) -> Self {
        let (older_keys, in_older) = keyed(older);
        let (newer_keys, in_newer) = keyed(newer);
        let was = pair_stages(older, newer, &in_older, &newer_keys, &in_newer);
        Self { older, newer, was, in_older, older_keys, in_newer, newer_keys }
    }

    fn stages(&self, found: &mut Vec<Difference>) {
        let kept: Vec<usize> = self.was.iter().flatten().copied().collect();
        let steady = order::steady(&kept);
        for (stage, was) in self.newer.iter().zip(&self.was) {
            let title = || stage.title.clone();
            let Some(was) = was else {
                found.push(Difference::StageAdded { title: title() });
                continue;
            };
            let from = &self.older[*was].title;
            if *from != stage.title {
                found.push(Difference::StageRenamed { from: from.clone(), to: title() });
            }
            if !steady.contains(was) {
                found.push(Difference::StageMoved { title: title() });
            }
        }
        let gone = (0..self.older.len()).filter(|at| !kept.contains(at));
        found.extend(gone.map(|at| Difference::StageRemoved { title: self.older[at].title.clone() }));
    }

    fn criteria(&self, found: &mut Vec<Difference>) {
        let reordered = self.reordered();
        for key in &self.newer_keys {
            let (stage, criterion) = self.in_newer[key];
            let title = &self.newer[stage].title;
            let Some(&(was, before)) = self.in_older.get(key) else {
                found.push(Difference::Added { criterion: criterion.clone(), stage: title.clone() });
                continue;
            };
            let (id, says) = (criterion.id.clone(), criterion.says.clone());
            if self.was[stage] != Some(was) {
                let from = self.older[was].title.clone();
                found.push(Difference::Moved { id, says, from, to: title.clone() });
            } else if reordered.contains(key) {
                found.push(Difference::Reordered { id, says, stage: title.clone() });
            }
            let changed =
                |change| Difference::Changed { id: criterion.id.clone(), says: criterion.says.clone(), change };
            found.extend(changes(before, criterion).into_iter().map(changed));
        }
        for key in self.older_keys.iter().filter(|key| !self.in_newer.contains_key(*key)) {
            let (stage, criterion) = self.in_older[key];
            let stage = self.older[stage].title.clone();
            found.push(Difference::Removed { criterion: criterion.clone(), stage });
        }
    }

    /// Criteria that stayed in their stage but stand elsewhere among those that stayed with them; as few as explain it.
    fn reordered(&self) -> HashSet<Key<'a>> {
        let place: HashMap<Key, usize> = self.older_keys.iter().enumerate().map(|(at, key)| (*key, at)).collect();
        let mut found = HashSet::new();
        for stage in 0..self.newer.len() {
            let stayed = |key: &&Key<'a>| {
                let in_stage = self.in_newer.get(*key).is_some_and(|(at, _)| *at == stage);
                in_stage && self.in_older.get(*key).is_some_and(|(was, _)| self.was[stage] == Some(*was))
            };
            let stayed: Vec<Key> = self.newer_keys.iter().filter(stayed).copied().collect();
            let places: Vec<usize> = stayed.iter().map(|key| place[key]).collect();
            let steady = order::steady(&places);
            found.extend(stayed.into_iter().filter(|key| !steady.contains(&place[key])));
        }
        found
    }
}

/// Every criterion under its key, in the order of the stages.
fn keyed(stages: &[Stage]) -> (Vec<Key<'_>>, HashMap<Key<'_>, Held<'_>>) {
    let mut times: HashMap<&CriterionId, usize> = HashMap::new();
    let (mut keys, mut held) = (Vec::new(), HashMap::new());
    for (at, stage) in stages.iter().enumerate() {
        for criterion in &stage.criteria {
            let nth = times.entry(&criterion.id).or_default();
            keys.push((&criterion.id, *nth));
            held.insert((&criterion.id, *nth), (at, criterion));
            *nth += 1;
        }
    }
    (keys, held)
}

/// For each newer stage the older one that it was: the next with the same title, else the one that shares most criteria.
fn pair_stages(
    older: &[Stage],
    newer: &[Stage],
    in_older: &HashMap<Key<'_>, Held<'_>>,
    newer_keys: &[Key<'_>],
    in_newer: &HashMap<Key<'_>, Held<'_>>,
) -> Vec<Option<usize>> {
    let mut free: Vec<usize> = (0..older.len()).collect();
    let mut was = Vec::with_capacity(newer.len());
    for stage in newer {
        let same = free.iter().position(|&at| older[at].title == stage.title);
        was.push(same.map(|at| free.remove(at)));
    }
    for (at, was) in was.iter_mut().enumerate().filter(|(_, was)| was.is_none()) {
        let mut shared: HashMap<usize, usize> = HashMap::new();
        for key in newer_keys.iter().filter(|key| in_newer.get(*key).is_some_and(|(stage, _)| *stage == at)) {
            if let Some((from, _)) = in_older.get(key) {
                *shared.entry(*from).or_default() += 1;
            }
        }
        // The earliest of those that share most, so that the answer is always the same.
        let most = free.iter().copied().filter(|at| shared.contains_key(at));
        if let Some(most) = most.max_by_key(|at| (shared[at], usize::MAX - at)) {
            *was = Some(most);
            free.retain(|&one| one != most);
        }
    }
    was
}

fn changes(older: &Criterion, newer: &Criterion) -> Vec<Change> {
    fn differ<T: Clone + PartialEq>(from: &T, to: &T, change: impl Fn(T, T) -> Change) -> Option<Change> {
        (from != to).then(|| change(from.clone(), to.clone()))
    }
    [
        differ(&older.says, &newer.says, |from, to| Change::Says { from, to }),
        differ(&older.weight, &newer.weight, |from, to| Change::Weight { from, to }),
        differ(&older.fails, &newer.fails, |from, to| Change::Fails { from, to }),
        differ(&older.decided, &newer.decided, |from, to| Change::Decided { from, to }),
        differ(&older.when_met, &newer.when_met, |from, to| Change::WhenMet { from, to }),
        differ(&older.when_not_met, &newer.when_not_met, |from, to| Change::WhenNotMet { from, to }),
        differ(&older.source, &newer.source, |from, to| Change::Source { from, to }),
    ]
    .into_iter()
    .flatten()
    .collect()
}
