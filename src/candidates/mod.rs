//! What a centre knows of a candidate, and how a file of candidates is read.
//!
//! Pure. [`details`] says what may stand in each field, whether it was typed on a page or came in a file; [`fold`] makes
//! of a name the words that a search looks for; [`mod@file`] reads a table of candidates that came as bytes, and works out what
//! taking it would do.

pub mod details;
pub mod file;
pub mod fold;

pub use details::{Adjustments, Details};
