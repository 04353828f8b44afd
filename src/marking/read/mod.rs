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

pub(in crate::marking) use alone::criterion as criterion_alone;

#[cfg(test)]
mod tests;
