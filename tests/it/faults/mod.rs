//! What breaks in earnest, and what must be there afterwards: everything that was acknowledged, once, in whole chains.
//!
//! Kills of a process leave the page cache alone; a loss of power is not among these.

mod app_killed;
mod database_killed;
mod dropped;
mod judge;
mod repeated;
mod rig;
