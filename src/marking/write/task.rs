//! A task as a whole document.

use super::checklist;
use crate::bay::write;
use crate::marking::Task;
use crate::reading::to_toml;

/// A task file in TOML: head, bay, checklist. An adjustment agreed with a candidate is no part of it.
pub fn task_file(task: &Task) -> String {
    format!("{}\n{}\n{}", head(task), write::bay(&task.bay), checklist(&task.checklist))
}

/// The keys that come before every table: format, title, standards, minutes, pass mark and briefing.
pub fn head(task: &Task) -> String {
    let mut text = String::new();
    let mut line = |key: &str, value: String| text.push_str(&format!("{key} = {value}\n"));
    line("format", to_toml::text(Task::FORMAT));
    line("title", to_toml::text(&task.title));
    line("standards", to_toml::text(task.bay.standards.word()));
    line("minutes", task.minutes.to_string());
    line("pass_percent", task.pass_percent.to_string());
    line("briefing", to_toml::long_text(&task.briefing));
    text
}
