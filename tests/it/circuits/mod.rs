//! The network solver against the reference cases of an independent circuit simulator, against a dense solution, and
//! against the laws of linear networks.

mod cases;
mod coverage;
mod dense;
mod format;
mod laws;
