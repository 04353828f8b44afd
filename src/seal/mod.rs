//! The canonical bytes of the evidence, its hash chain and its commitments.
//!
//! Pure. Each thing recorded is one [`Entry`], written as one line of text; each hash covers the hash before it and
//! the line, so that anybody with `sh` and `sha256sum` can check a log without us. Free text and the candidate's
//! details stay outside the lines: a line holds a salted commitment to them, which says nothing once text and salt
//! are erased, and the chain still verifies.

pub mod chain;
pub mod clocks;
pub mod commitment;
pub mod digest;
pub mod entry;
mod line;
pub mod numbers;

pub use commitment::Salt;
pub use digest::Digest;
pub use entry::{CommittedAct, Content, Entry, Origin};
pub use line::LineFault;

#[cfg(test)]
mod tests;
