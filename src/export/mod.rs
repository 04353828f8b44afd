//! What leaves the house: a marking as text a person enjoys reading.

pub mod text;
