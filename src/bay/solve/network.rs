//! Nodes and branches of a network, and which branches are made.

use super::{Complex, Unsolvable};

/// A node of a [`Network`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub(super) u32);

/// A branch of a [`Network`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BranchId(pub(super) u32);

impl NodeId {
    /// The node at 0 V: the star point of the source, which is true earth.
    pub const REFERENCE: Self = Self(0);

    /// Its place in the order of adding; the reference is 0.
    pub fn at(self) -> usize {
        self.0 as usize
    }
}

impl BranchId {
    /// Its place in the order of adding.
    pub fn at(self) -> usize {
        self.0 as usize
    }
}

/// What a branch is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part {
    /// A conductor or a contact; with 0 ohm its ends are one node.
    Link { ohm: f64 },
    /// A resistance in series with a reactance; a positive one is inductive.
    Load { ohm: f64, reactance_ohm: f64 },
    /// A capacitance, in nanofarads.
    Capacitor { nf: f64 },
    /// A source of RMS `volts` from `b` to `a` at an angle in degrees; ideal with 0 series ohm.
    Source { volts: f64, deg: f64, series_ohm: f64 },
}

/// One branch between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    pub name: String,
    pub a: NodeId,
    pub b: NodeId,
    pub part: Part,
}

/// Every node and every branch that can be made in any state.
#[derive(Debug, Clone)]
pub struct Network {
    frequency_hz: f64,
    nodes: Vec<String>,
    branches: Vec<Branch>,
}

impl Network {
    /// A network with its reference node only, at a frequency in hertz.
    pub fn new(frequency_hz: f64, reference: &str) -> Self {
        Self { frequency_hz, nodes: vec![reference.to_owned()], branches: Vec::new() }
    }

    /// Adds a node. The name only serves reports.
    pub fn node(&mut self, name: impl Into<String>) -> NodeId {
        self.nodes.push(name.into());
        NodeId(u32::try_from(self.nodes.len() - 1).unwrap_or(u32::MAX))
    }

    /// Adds a branch between two nodes of this network.
    pub fn branch(
        &mut self,
        name: impl Into<String>,
        a: NodeId,
        b: NodeId,
        part: Part,
    ) -> Result<BranchId, Unsolvable> {
        let name = name.into();
        let says = match part {
            _ if a.at() >= self.nodes.len() || b.at() >= self.nodes.len() => Some("its ends are nodes of the network"),
            Part::Link { ohm } if !is_ohm(ohm) => Some("expected 0 ohm, or from 1e-6 to 1e12"),
            Part::Load { ohm, reactance_ohm }
                if !is_ohm(ohm) || !is_ohm(reactance_ohm.abs()) || (ohm == 0.0 && reactance_ohm == 0.0) =>
            {
                Some("expected 0 ohm or from 1e-6 to 1e12, and up to 1e12 ohm of reactance, not both 0")
            }
            Part::Capacitor { nf } if !(1e-9..=1e9).contains(&nf) => Some("expected a capacitance from 1e-9 to 1e9 nF"),
            Part::Source { volts, deg, series_ohm }
                if !(0.0..=1e9).contains(&volts.abs()) || !deg.is_finite() || !is_ohm(series_ohm) =>
            {
                Some("expected up to 1e9 volts, finite degrees, and 0 ohm or from 1e-6 to 1e12 in series")
            }
            _ => None,
        };
        if let Some(says) = says {
            return Err(Unsolvable::Part { branch: name, says });
        }
        self.branches.push(Branch { name, a, b, part });
        Ok(BranchId(u32::try_from(self.branches.len() - 1).unwrap_or(u32::MAX)))
    }

    /// The number of nodes, the reference included.
    pub fn node_count(&self) -> usize {
        self.nodes.len()
    }

    /// Every branch, in the order of adding.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// The identifiers of every branch, in the order of adding.
    pub fn branch_ids(&self) -> impl Iterator<Item = BranchId> + use<> {
        (0..self.branches.len() as u32).map(BranchId)
    }

    /// The name of a node.
    pub fn name(&self, node: NodeId) -> &str {
        self.nodes.get(node.at()).map_or("", String::as_str)
    }

    /// A state with no branch made.
    pub fn nothing_made(&self) -> Made {
        Made(vec![0; self.branches.len().div_ceil(64)])
    }

    /// The admittance of a branch, in siemens; `None` for one of 0 ohm.
    pub(super) fn admittance(&self, part: Part) -> Option<Complex> {
        let angular = std::f64::consts::TAU * self.frequency_hz;
        let impedance = match part {
            Part::Link { ohm } | Part::Source { series_ohm: ohm, .. } => Complex::real(ohm),
            Part::Load { ohm, reactance_ohm } => Complex::new(ohm, reactance_ohm),
            Part::Capacitor { nf } => return Some(Complex::new(0.0, angular * nf * 1e-9)),
        };
        (!impedance.is_zero()).then(|| impedance.inverse())
    }
}

/// 0, or within what double precision keeps apart from the leakage on one side and a contact on the other.
fn is_ohm(ohm: f64) -> bool {
    ohm == 0.0 || (1e-6..=1e12).contains(&ohm)
}

/// Which branches are made: one bit each. Equal sets are equal networks, so it serves as a key of what was solved.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Made(Vec<u64>);

impl Made {
    /// Makes or opens a branch.
    pub fn set(&mut self, branch: BranchId, made: bool) {
        if let Some(word) = self.0.get_mut(branch.at() / 64) {
            let bit = 1 << (branch.at() % 64);
            *word = if made { *word | bit } else { *word & !bit };
        }
    }

    /// Whether a branch is made.
    pub fn has(&self, branch: BranchId) -> bool {
        self.0.get(branch.at() / 64).is_some_and(|word| word >> (branch.at() % 64) & 1 == 1)
    }

    /// The places of the branches that are made, in order.
    pub(super) fn places(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().enumerate().flat_map(|(word, &bits)| {
            std::iter::successors(Some(bits), |left| Some(left & left.wrapping_sub(1)))
                .take_while(|left| *left != 0)
                .map(move |left| word * 64 + left.trailing_zeros() as usize)
        })
    }
}
