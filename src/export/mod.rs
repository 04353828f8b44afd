//! What leaves the house.

pub mod calendar;
pub mod person;
pub mod text;
