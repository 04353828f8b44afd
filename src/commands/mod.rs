//! What each command does.

mod files;
mod serve;

pub use files::{coverage, mark, plan};
pub use serve::{centre_add, serve};
