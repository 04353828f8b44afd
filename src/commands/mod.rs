//! What each command does.

mod files;
mod serve;

pub use files::{mark, plan};
pub use serve::serve;
