//! Tasks and checklists as text: the TOML of task files and checklist files, in the order and look of one written by hand.
//!
//! Whatever was read can be written, and reads as exactly the same again: [`Criterion::read_toml`] what [`criterion`] wrote,
//! [`ChecklistFile::read_toml`] what [`checklist_file`] wrote, and [`Task::read_toml`](super::Task::read_toml) what
//! [`task_file`] wrote. Parameters that have the contract's default are left out, as a person would leave them out. A text over
//! [1 MiB](crate::reading::from_json::LONGEST) is not read again.

mod decided;
mod task;

#[cfg(test)]
mod tests;
#[cfg(test)]
pub(crate) mod tests_task;

pub use decided::decided;
pub use task::{head, task_file};

use super::{Checklist, ChecklistFile, Criterion, Fails};
use crate::reading::to_toml;

/// A checklist that stands on its own, as a whole document: format, title, pass mark and stages.
pub fn checklist_file(file: &ChecklistFile) -> String {
    let (format, title) = (to_toml::text(ChecklistFile::FORMAT), to_toml::text(&file.title));
    let head = format!("format = {format}\ntitle = {title}\npass_percent = {}\n", file.pass_percent);
    format!("{head}\n{}", checklist(&file.checklist))
}

/// The part of a task file or checklist file that holds the checklist: `[[checklist.stages]]` and its criteria. It ends
/// with one newline and may follow any other part.
pub fn checklist(checklist: &Checklist) -> String {
    let mut parts = Vec::new();
    for stage in &checklist.stages {
        parts.push(format!("[[checklist.stages]]\ntitle = {}\n", to_toml::text(&stage.title)));
        parts.extend(stage.criteria.iter().map(|one| format!("[[checklist.stages.criteria]]\n{}", criterion(one))));
    }
    parts.join("\n")
}

/// The keys of one criterion, each on its line, without a table's head.
pub fn criterion(criterion: &Criterion) -> String {
    let mut text = String::new();
    let mut line = |key: &str, value: String| text.push_str(&format!("{key} = {value}\n"));
    line("id", to_toml::text(criterion.id.as_str()));
    line("says", to_toml::text(&criterion.says));
    line("weight", criterion.weight.to_string());
    line("fails", to_toml::text(fails(criterion.fails)));
    line("decided", decided(&criterion.decided));
    for (key, feedback) in [("when_met", &criterion.when_met), ("when_not_met", &criterion.when_not_met)] {
        if let Some(feedback) = feedback {
            line(key, to_toml::text(feedback));
        }
    }
    line("source", to_toml::text(&criterion.source));
    text
}

fn fails(fails: Fails) -> &'static str {
    match fails {
        Fails::Ordinary => "ordinary",
        Fails::Must => "must",
        Fails::Automatic => "automatic",
    }
}
