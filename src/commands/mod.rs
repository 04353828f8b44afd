//! What each command does.

mod export;
mod files;
mod serve;

pub use export::{ExportArgs, export};
pub use files::{coverage, mark, plan};
pub use serve::{centre_add, serve};
