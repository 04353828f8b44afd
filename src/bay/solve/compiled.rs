//! A network with its order of elimination fixed.

use super::merge::{groups, is_ideal};
use super::order::Pattern;
use super::{Branch, Complex, Network, NodeId, Part};

/// A network made ready: order, pattern and admittances, good for every state.
#[derive(Debug, Clone)]
pub struct Compiled {
    pub(super) network: Network,
    pub(super) pattern: Pattern,
    /// One for each branch.
    pub(super) stamps: Vec<Stamp>,
    /// Whether some branch has 0 ohm, so that nodes may become one.
    pub(super) may_merge: bool,
}

/// Where a branch goes in the matrix, as long as its ends stand for themselves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stamp {
    /// `None` for a branch of 0 ohm, which is merged instead.
    pub admittance: Option<Complex>,
    /// The current of a source into `a`, in amperes.
    pub current: Complex,
    /// Positions of its ends; `None` for the reference.
    pub ends: [Option<u32>; 2],
    /// The slot between its ends, where both are unknown and differ.
    pub slot: Option<u32>,
}

impl Compiled {
    /// Fixes the order for every branch that may be made.
    pub fn new(network: Network) -> Self {
        let may_merge = network.branches().iter().any(|branch| is_ideal(branch.part));
        let mut pairs: Vec<(NodeId, NodeId)> = network.branches().iter().map(|branch| (branch.a, branch.b)).collect();
        if may_merge {
            pairs = with_merging(&network, &pairs);
        }
        // The reference is no unknown; the others count from 0.
        let unknown = |(a, b): (NodeId, NodeId)| Some((a.at().checked_sub(1)?, b.at().checked_sub(1)?));
        let pattern = Pattern::new(network.node_count() - 1, pairs.into_iter().filter_map(unknown));
        let stamps = network.branches().iter().map(|branch| stamp(&network, &pattern, branch)).collect();
        Self { network, pattern, stamps, may_merge }
    }

    /// The network itself.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Entries of the factor below its diagonal.
    pub fn entries(&self) -> usize {
        self.pattern.rows.len()
    }
}

fn stamp(network: &Network, pattern: &Pattern, branch: &Branch) -> Stamp {
    let position = |node: NodeId| node.at().checked_sub(1).map(|unknown| pattern.place[unknown]);
    let ends = [position(branch.a), position(branch.b)];
    let slot = match ends {
        [Some(a), Some(b)] if a != b => pattern.slot(a, b),
        _ => None,
    };
    let admittance = network.admittance(branch.part);
    let current = match (branch.part, admittance) {
        (Part::Source { volts, deg, .. }, Some(admittance)) => admittance * Complex::polar(volts, deg),
        _ => Complex::ZERO,
    };
    Stamp { admittance, current, ends, slot }
}

/// Pairs that can meet once nodes have become one: any node of a group may stand for all of it, so each of its nodes
/// may have every neighbour of the group.
fn with_merging(network: &Network, pairs: &[(NodeId, NodeId)]) -> Vec<(NodeId, NodeId)> {
    let ideal = network.branches().iter().filter(|branch| is_ideal(branch.part)).map(|branch| (branch.a, branch.b));
    let groups = groups(network.node_count(), ideal);
    let mut of = vec![0; network.node_count()];
    for (at, group) in groups.iter().enumerate() {
        for node in group {
            of[node.at()] = at;
        }
    }
    let mut all = Vec::new();
    for (a, b) in pairs {
        for &one in &groups[of[a.at()]] {
            all.extend(groups[of[b.at()]].iter().map(|&other| (one, other)));
        }
    }
    all
}
