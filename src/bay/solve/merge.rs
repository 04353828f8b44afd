//! Nodes that zero-ohm links and ideal sources tie together.

use super::{Complex, Made, Network, NodeId, Part, Unsolvable};

/// For each node the node that stands for it and how far its voltage lies above that one's.
#[derive(Debug, Clone)]
pub(super) struct Merged {
    parent: Vec<u32>,
    above: Vec<Complex>,
}

impl Merged {
    /// Every node for itself.
    pub fn apart(count: usize) -> Self {
        Self { parent: (0..count as u32).collect(), above: vec![Complex::ZERO; count] }
    }

    /// Ties the nodes of a state together: links first, so that a loop with a source in it is always found at a source.
    pub fn of(network: &Network, made: &Made) -> Result<Self, Unsolvable> {
        let mut merged = Self::apart(network.node_count());
        let ideal = || made.places().filter_map(|at| network.branches().get(at)).filter(|it| is_ideal(it.part));
        for branch in ideal().filter(|branch| matches!(branch.part, Part::Link { .. })) {
            merged.tie(branch.a, branch.b, Complex::ZERO);
        }
        for branch in ideal() {
            let Part::Source { volts, deg, .. } = branch.part else { continue };
            if !merged.tie(branch.a, branch.b, Complex::polar(volts, deg)) {
                return Err(Unsolvable::IdealSourceLoop(branch.name.clone()));
            }
        }
        Ok(merged)
    }

    /// The node that stands for this one, and how far this one's voltage lies above it.
    pub fn find(&self, node: NodeId) -> (NodeId, Complex) {
        let (mut at, mut above) = (node.at(), Complex::ZERO);
        while self.parent[at] as usize != at {
            above += self.above[at];
            at = self.parent[at] as usize;
        }
        (NodeId(at as u32), above)
    }

    /// Sets V(a) − V(b). False where the two were tied already. The reference always stands for its group.
    fn tie(&mut self, a: NodeId, b: NodeId, volts: Complex) -> bool {
        let ((root_a, above_a), (root_b, above_b)) = (self.find(a), self.find(b));
        if root_a == root_b {
            return false;
        }
        // V(root_a) − V(root_b)
        let between = volts + above_b - above_a;
        let (under, over, above) =
            if root_a == NodeId::REFERENCE { (root_b, root_a, -between) } else { (root_a, root_b, between) };
        self.parent[under.at()] = over.0;
        self.above[under.at()] = above;
        true
    }
}

/// Whether a part holds its ends at a fixed voltage to each other whatever flows.
pub(super) fn is_ideal(part: Part) -> bool {
    matches!(part, Part::Link { ohm: 0.0 } | Part::Source { series_ohm: 0.0, .. })
}

/// Groups of nodes joined by pairs, for patterns and islands.
pub(super) fn groups(count: usize, pairs: impl Iterator<Item = (NodeId, NodeId)>) -> Vec<Vec<NodeId>> {
    let mut merged = Merged::apart(count);
    for (a, b) in pairs {
        merged.tie(a, b, Complex::ZERO);
    }
    let mut groups: Vec<Vec<NodeId>> = vec![Vec::new(); count];
    for node in (0..count as u32).map(NodeId) {
        groups[merged.find(node).0.at()].push(node);
    }
    groups.retain(|group| !group.is_empty());
    groups
}
