//! What the tests stand on.

pub mod centre;
pub mod db;
#[allow(dead_code, reason = "used by the tests that have an outside program to ask")]
pub mod outside;
pub mod script;
