//! Baywitness: the witness beside the bay.
//!
//! An assessor watches one candidate isolate one circuit and prove it dead and taps what happens; the service works
//! out what was done, in what order, what was missed and which errors end the attempt.
//!
//! # The map of the house
//!
//! A pure core knows no screen, no clock and no database:
//!
//! - [`reading`] turns TOML and JSON into a tree that remembers its lines, and collects every fault in it;
//! - [`bay`] holds what stands in the bay: the bay as an electrical network, the tests a complete proof needs, the hidden
//!   causes that they show, and the circuit as a picture;
//! - [`marking`] goes from observations to findings and a verdict;
//! - [`planning`] finds clashes between planned sessions and spreads a block of candidates over bays and assessors;
//! - [`candidates`] holds what may be kept of a candidate, and reads files of candidates;
//! - [`seal`] holds the canonical bytes of the evidence and its hash chain.
//!
//! Around it stand [`store`] (the only place with SQL), [`export`] (what leaves the house, row by row), [`exporter`] (carries
//! rows from the one through the other), [`postgres`] (the private
//! database cluster), [`config`] (every setting), [`clock`] (the only place that asks what time it is) and [`web`]
//! (one file per group of pages).
//!
//! Arrows run one way: `web` → `exporter` → `store` → `export`, `seal` → `marking` → `bay` → `reading`. A test in `tests/it/house.rs` holds them.
//!
//! The heart is [`marking::mark`]; no other path computes a verdict.

pub mod bay;
pub mod candidates;
pub mod clock;
pub mod config;
pub mod demo;
pub mod export;
pub mod exporter;
pub mod keeper;
pub mod marking;
pub mod paper;
pub mod planning;
pub mod postgres;
pub mod reading;
pub mod seal;
pub mod store;
pub mod web;
