//! What each command does.

mod export;
mod files;
mod once;
mod retain;
mod serve;

pub use export::{ExportArgs, export};
pub use files::{coverage, mark, plan};
pub use retain::{RetainArgs, retain};
pub use serve::{centre_add, serve};
