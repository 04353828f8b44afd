//! The bay as a network: what an indicator shows, which tests are needed, and which hidden causes they show.

mod bays;
mod coverage;
mod drawing;
mod network;
mod plan;
mod readings;
