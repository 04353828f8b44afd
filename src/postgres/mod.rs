//! The private database cluster.
