//! What a centre knows of a candidate, and how a file of candidates is read.
//!
//! Pure. [`details`] says what may stand in each field, whether it was typed on a page or came in a file; [`fold`] makes
//! of a name the words that a search looks for.

pub mod details;
pub mod fold;

pub use details::{Adjustments, Details};
