//! Hidden causes on pages: what the tests would have shown, and what would have looked dead.

use super::show::{self, Drawing};
use crate::marking::words::describe;
use crate::marking::{HiddenCause, Log, Marking, Task};

/// Which hidden causes were shown and missed, in words. Feedback only; it never changes a mark.
pub struct Causes {
    /// How many were shown, in a sentence; or why nothing could be worked out.
    pub summary: String,
    /// Missed ones, those with the same reason together.
    pub missed: Vec<Missed>,
    pub shown: Vec<Shown>,
}

/// Causes that were missed in the same way.
pub struct Missed {
    pub causes: Vec<String>,
    /// At which setting the tests would have passed, and with what reading.
    pub missed_at: String,
    /// The smallest addition that would have shown them.
    pub addition: String,
    /// The circuit with the first of them in it.
    pub drawing: Option<Drawing>,
}

/// A cause that the tests show.
pub struct Shown {
    pub says: String,
    /// The act that shows it, with its minute.
    pub by: String,
}

impl Causes {
    /// The hidden causes of a marking, with the acts of its log.
    pub fn of(task: &Task, log: &Log, marking: &Marking) -> Self {
        let coverage = &marking.coverage;
        if let Some(why) = &coverage.why_not {
            return Self {
                summary: format!("This could not be worked out. {why}"),
                missed: Vec::new(),
                shown: Vec::new(),
            };
        }
        let shown =
            coverage.hidden_causes.iter().filter(|cause| cause.shown).map(|cause| shown(task, log, cause)).collect();
        Self { summary: summary(coverage.shown, coverage.of), missed: missed(task, &coverage.hidden_causes), shown }
    }
}

impl Causes {
    /// How many were missed.
    pub fn missed_count(&self) -> usize {
        self.missed.iter().map(|group| group.causes.len()).sum()
    }
}

fn summary(shown: u32, of: u32) -> String {
    match (shown, of) {
        (_, 0) => "This bay has no hidden cause that tests at the point could show.".to_owned(),
        (shown, of) if shown == of => {
            format!("The tests would have shown all {of} of the hidden causes thought of here.")
        }
        (0, of) => format!("The tests would have shown none of the {of} hidden causes thought of here."),
        (shown, of) => format!("The tests would have shown {shown} of the {of} hidden causes thought of here."),
    }
}

fn missed(task: &Task, causes: &[HiddenCause]) -> Vec<Missed> {
    let mut groups: Vec<Missed> = Vec::new();
    for cause in causes.iter().filter(|cause| !cause.shown) {
        let missed_at = cause.missed_at.clone().unwrap_or_default();
        let addition = cause.addition.clone().unwrap_or_default();
        match groups.iter_mut().find(|group| group.missed_at == missed_at && group.addition == addition) {
            Some(group) => group.causes.push(cause.says.clone()),
            None => {
                let id = format!("cause-{}", groups.len() + 1);
                let scene = cause.scene.as_ref();
                let drawing = scene.map(|scene| Drawing::circuit(&task.bay, &scene.state, &scene.faults, &id));
                groups.push(Missed { causes: vec![cause.says.clone()], missed_at, addition, drawing });
            }
        }
    }
    groups
}

fn shown(task: &Task, log: &Log, cause: &HiddenCause) -> Shown {
    let act = log.observations().iter().find(|seen| Some(seen.id) == cause.by);
    let by = act.map(|seen| format!("{} at {}", describe(&seen.act, task), show::clock(seen.at_ms)));
    Shown { says: cause.says.clone(), by: by.unwrap_or_default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cause(says: &str, missed_at: Option<&str>) -> HiddenCause {
        HiddenCause {
            id: says.into(),
            says: says.into(),
            shown: missed_at.is_none(),
            by: None,
            missed_at: missed_at.map(str::to_owned),
            addition: missed_at.map(|_| "Test again.".to_owned()),
            like: None,
            scene: None,
        }
    }

    #[test]
    fn causes_missed_alike_stand_together_and_none_is_lost() {
        let task = Task::read_toml(include_str!("../demo/tasks/stairwell.toml")).unwrap();
        let groups =
            missed(&task, &[cause("a", Some("x")), cause("b", None), cause("c", Some("y")), cause("d", Some("x"))]);
        let together: Vec<Vec<String>> = groups.into_iter().map(|group| group.causes).collect();
        assert_eq!(together, [vec!["a".to_owned(), "d".to_owned()], vec!["c".to_owned()]]);
    }

    #[test]
    fn the_summary_counts_plainly() {
        assert!(summary(3, 3).contains("all 3"));
        assert!(summary(0, 3).contains("none of the 3"));
        assert!(summary(2, 3).contains("2 of the 3"));
        assert!(summary(0, 0).contains("no hidden cause"));
    }
}
