//! What leaves the house.

pub mod calendar;
pub mod text;
