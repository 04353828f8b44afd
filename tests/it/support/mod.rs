//! What tests share.

pub mod script;
