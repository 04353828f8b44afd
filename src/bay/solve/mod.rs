//! What a two-pole indicator shows between two conductors of a linear network.
//!
//! Steady state at one frequency, by nodal analysis: every branch that is made stands as a complex admittance, a source
//! as a current beside its own. The matrix is symmetric and, thanks to the leakage of every node, its real part is
//! positive definite, so `L·D·Lᵀ` needs no pivoting and keeps one order of elimination for all states of a network:
//! [`Compiled`] fixes order and pattern once, [`Solver`] fills in one state after another.
//!
//! An indicator is never part of the network. Its reading follows from the open voltage and the source impedance of the
//! pair: `|V · Z / (Z + Zₜₕ)|` (Thévenin).
//!
//! Definitions and check values: `tests/reference/circuits/README.md`.

mod compiled;
mod complex;
mod merge;
mod network;
mod order;
mod report;
mod solver;

pub use compiled::Compiled;
pub use complex::Complex;
pub use network::{Branch, BranchId, Made, Network, NodeId, Part};
pub use report::Report;
pub use solver::{Port, Solved, Solver};

/// Ohms from every node to the reference: keeps an island solvable and is small beside any real insulation.
pub const LEAKAGE_OHM: f64 = 1e9;

/// The line between none and live, in volts AC: the limit of extra-low voltage (trade facts A15 and C28).
pub const LIVE_VOLTS: f64 = 50.0;

/// Ohms of an indicator that loads little and so also shows a voltage that is only induced.
pub const HIGH_OHM: f64 = 200_000.0;

/// Ohms of an indicator with its load switched in, which tells a feed from a phantom voltage. This one decides what is
/// live.
pub const LOW_OHM: f64 = 7_000.0;

/// A source that delivers more, in amperes, feeds a short circuit: a protective device would have opened.
pub const OVERCURRENT_A: f64 = 100.0;

/// Why a network has no solution.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unsolvable {
    /// Ideal sources and zero-ohm links close a loop: its current is unbounded, or its voltages contradict.
    #[error("the ideal source `{0}` closes a loop in which nothing limits the current")]
    IdealSourceLoop(String),
    /// Two faults force the same thing to be made and open at once.
    #[error("two faults contradict each other at `{0}`")]
    Conflict(String),
    /// A branch has a value that no part can have.
    #[error("`{branch}`: {says}")]
    Part { branch: String, says: &'static str },
}
