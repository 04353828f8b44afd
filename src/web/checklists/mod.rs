//! Checklists.
