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

/// Every kind of act that files may hold, in the order of the contract.
#[cfg(test)]
pub(super) fn act_kinds() -> [&'static str; 36] {
    act::KINDS
}
