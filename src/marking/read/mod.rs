//! Reads tasks, checklists and logs: one file for each part of them.

mod act;
mod alone;
mod check;
mod checklist;
mod log;
mod observation;
mod pattern;
mod rule;
mod task;

#[cfg(test)]
mod tests;
