//! A file of candidates, from bytes to what taking it would do.
//!
//! Four steps, each of which a person can see and put right: [`decode`] bytes to text, [`cells`] text to rows of cells,
//! [`columns`] cells to fields, [`rows`] fields to candidates and to what differs from those who are there. Nothing is
//! guessed silently: what is detected is shown, and can be changed. [`written`] gives rows back that were not taken.

pub mod cells;
pub mod columns;
pub mod decode;
pub mod rows;
pub mod written;

pub use cells::{Separator, Table};
pub use columns::{Column, Columns};
pub use decode::Encoding;
pub use rows::Outcome;

/// Largest file, in bytes.
pub const LARGEST: usize = 2 * 1024 * 1024;
/// Most rows.
pub const MOST_ROWS: usize = 10_000;
/// Most columns.
pub const MOST_COLUMNS: usize = 64;
/// Longest cell that is looked at, in characters.
pub const LONGEST_CELL: usize = 4_000;
