//! The private database cluster, for when no database is named: found, made, started and stopped by the program.
//!
//! It listens on a Unix socket only, in a folder that only its own account can enter, and keeps what it acknowledges.
//! Everything here blocks; start it from `main`, before the runtime, and stop it after the runtime has ended.

mod account;
mod cluster;
mod folder;
mod installed;
mod leftover;

pub use cluster::{Cluster, ClusterError};
