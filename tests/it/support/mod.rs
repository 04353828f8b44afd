//! What the tests stand on.

pub mod centre;
pub mod db;
pub mod script;
