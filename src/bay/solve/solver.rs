//! One state of a network after another: stamped, factorised, and read between pairs of nodes.

use super::compiled::Stamp;
use super::merge::Merged;
use super::{Compiled, Complex, LEAKAGE_OHM, Made, Network, NodeId, Unsolvable};

/// Solves states of one network, in buffers that it keeps.
#[derive(Debug)]
pub struct Solver<'n> {
    compiled: &'n Compiled,
    /// `L` below its diagonal.
    lower: Vec<Complex>,
    /// While stamping the diagonal, afterwards `1/D`.
    inverse: Vec<Complex>,
    /// While stamping the injected currents, afterwards `L⁻¹` times them.
    forward: Vec<Complex>,
    merged: Merged,
    /// All zero between two uses.
    work: Vec<Complex>,
}

/// The two numbers that say what any indicator shows between two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Port {
    /// Volts between the nodes with nothing connected.
    pub open: Complex,
    /// Ohms seen from the nodes.
    pub impedance: Complex,
}

impl Port {
    /// The volts that an indicator of so many ohms shows. Finite and never negative.
    pub fn reading(self, ohm: f64) -> f64 {
        let divider = (Complex::real(ohm) + self.impedance).inverse();
        (self.open * Complex::real(ohm) * divider).abs()
    }
}

/// A solved state.
#[derive(Debug)]
pub struct Solved<'s, 'n> {
    pub(super) solver: &'s mut Solver<'n>,
    pub(super) made: &'s Made,
}

impl<'n> Solver<'n> {
    /// Buffers for the states of this network.
    pub fn new(compiled: &'n Compiled) -> Self {
        let count = compiled.pattern.count();
        Self {
            compiled,
            lower: vec![Complex::ZERO; compiled.pattern.rows.len()],
            inverse: vec![Complex::ZERO; count],
            forward: vec![Complex::ZERO; count],
            merged: Merged::apart(compiled.network.node_count()),
            work: vec![Complex::ZERO; count],
        }
    }

    /// The network whose states are solved.
    pub fn network(&self) -> &'n Network {
        &self.compiled.network
    }

    /// Solves one state.
    pub fn solve<'s>(&'s mut self, made: &'s Made) -> Result<Solved<'s, 'n>, Unsolvable> {
        self.lower.fill(Complex::ZERO);
        self.forward.fill(Complex::ZERO);
        self.inverse.fill(Complex::real(1.0 / LEAKAGE_OHM));
        let compiled = self.compiled;
        if compiled.may_merge {
            self.merged = Merged::of(&compiled.network, made)?;
            self.leak_merged();
            made.places().filter(|&at| at < compiled.stamps.len()).for_each(|at| self.stamp_merged(at));
        } else {
            made.places().filter_map(|at| compiled.stamps.get(at)).for_each(|stamp| self.stamp(stamp));
        }
        self.factorise();
        Ok(Solved { solver: self, made })
    }

    fn stamp(&mut self, stamp: &Stamp) {
        let Some(admittance) = stamp.admittance else { return };
        let [a, b] = stamp.ends;
        if a == b {
            return;
        }
        if let Some(a) = a {
            self.inverse[a as usize] += admittance;
            self.forward[a as usize] += stamp.current;
        }
        if let Some(b) = b {
            self.inverse[b as usize] += admittance;
            self.forward[b as usize] -= stamp.current;
        }
        if let Some(slot) = stamp.slot {
            self.lower[slot as usize] -= admittance;
        }
    }

    /// Stamps a branch whose ends may be tied to others: the known difference goes to the side of the currents.
    fn stamp_merged(&mut self, at: usize) {
        let compiled = self.compiled;
        let (stamp, branch) = (compiled.stamps[at], &compiled.network.branches()[at]);
        let Some(admittance) = stamp.admittance else { return };
        let ((a, above_a), (b, above_b)) = (self.merged.find(branch.a), self.merged.find(branch.b));
        let position = |node: NodeId| node.at().checked_sub(1).map(|unknown| compiled.pattern.place[unknown]);
        let ends = [position(a), position(b)];
        let slot = match ends {
            [Some(a), Some(b)] if a != b => compiled.pattern.slot(a, b),
            _ => None,
        };
        let current = stamp.current - admittance * (above_a - above_b);
        self.stamp(&Stamp { admittance: Some(admittance), current, ends, slot });
    }

    /// Every node leaks, also one that another stands for; such a one keeps a row of its own that says nothing.
    fn leak_merged(&mut self) {
        let compiled = self.compiled;
        self.inverse.fill(Complex::ZERO);
        let leak = Complex::real(1.0 / LEAKAGE_OHM);
        for unknown in 0..compiled.pattern.count() {
            let place = compiled.pattern.place[unknown] as usize;
            let (root, above) = self.merged.find(NodeId(unknown as u32 + 1));
            if root.at() != unknown + 1 {
                self.inverse[place] += Complex::ONE;
            }
            if let Some(root) = root.at().checked_sub(1) {
                let root = compiled.pattern.place[root] as usize;
                self.inverse[root] += leak;
                self.forward[root] -= leak * above;
            }
        }
    }

    /// `A = L·D·Lᵀ` in place, and `L⁻¹` times the injected currents on the way.
    fn factorise(&mut self) {
        let pattern = &self.compiled.pattern;
        let mut targets = pattern.targets.iter();
        for column in 0..pattern.count() {
            let inverse = self.inverse[column].inverse();
            self.inverse[column] = inverse;
            let current = self.forward[column];
            let (from, rows) = pattern.column(column);
            for (at, &row) in rows.iter().enumerate() {
                let unscaled = self.lower[from + at];
                let later = rows.len() - at - 1;
                if unscaled.is_zero() {
                    if later > 0 {
                        targets.nth(later - 1);
                    }
                    continue;
                }
                let scaled = unscaled * inverse;
                self.inverse[row as usize] -= scaled * unscaled;
                self.forward[row as usize] -= scaled * current;
                for (next, &target) in (from + at + 1..).zip(targets.by_ref().take(later)) {
                    // The rows after this one still hold their unscaled values.
                    let other = self.lower[next];
                    self.lower[target as usize] -= scaled * other;
                }
                self.lower[from + at] = scaled;
            }
        }
    }
}

impl Solved<'_, '_> {
    /// Open voltage from `b` to `a` and the impedance seen there.
    ///
    /// With `w = L⁻¹(eₐ − e_b)` the voltage is `wᵀ·D⁻¹·L⁻¹·i` and the impedance `wᵀ·D⁻¹·w`; `w` lives on the two ways up
    /// the elimination tree, so no whole solve is needed.
    pub fn between(&mut self, a: NodeId, b: NodeId) -> Port {
        let pattern = &self.solver.compiled.pattern;
        let ((root_a, above_a), (root_b, above_b)) = (self.solver.merged.find(a), self.solver.merged.find(b));
        let mut port = Port { open: above_a - above_b, impedance: Complex::ZERO };
        if root_a == root_b {
            return port;
        }
        let position = |node: NodeId| node.at().checked_sub(1).map(|unknown| pattern.place[unknown] as usize);
        let (mut one, mut other) = (position(root_a), position(root_b));
        let Solver { lower, inverse, forward, work, .. } = &mut *self.solver;
        if let Some(one) = one {
            work[one] += Complex::ONE;
        }
        if let Some(other) = other {
            work[other] -= Complex::ONE;
        }
        while let Some(column) = lesser(one, other) {
            let weight = std::mem::take(&mut work[column]);
            let (from, rows) = pattern.column(column);
            if !weight.is_zero() {
                let part = weight * inverse[column];
                port.open += part * forward[column];
                port.impedance += part * weight;
                for (at, &row) in rows.iter().enumerate() {
                    work[row as usize] -= lower[from + at] * weight;
                }
            }
            let parent = rows.first().map(|&row| row as usize);
            one = if one == Some(column) { parent } else { one };
            other = if other == Some(column) { parent } else { other };
        }
        port
    }

    /// The volts that an indicator of so many ohms shows between two nodes.
    pub fn reading(&mut self, a: NodeId, b: NodeId, ohm: f64) -> f64 {
        self.between(a, b).reading(ohm)
    }

    /// The voltage of every node to the reference, in the order of adding.
    pub fn voltages(&self) -> Vec<Complex> {
        let solver = &*self.solver;
        let pattern = &solver.compiled.pattern;
        let mut volts: Vec<Complex> = solver.forward.iter().zip(&solver.inverse).map(|(&one, &by)| one * by).collect();
        for column in (0..pattern.count()).rev() {
            let (from, rows) = pattern.column(column);
            let below = rows
                .iter()
                .zip(from..)
                .fold(Complex::ZERO, |sum, (&row, slot)| sum + solver.lower[slot] * volts[row as usize]);
            volts[column] -= below;
        }
        let of = |node: usize| {
            let (root, above) = solver.merged.find(NodeId(node as u32));
            let own = root.at().checked_sub(1).map_or(Complex::ZERO, |at| volts[pattern.place[at] as usize]);
            own + above
        };
        (0..solver.compiled.network.node_count()).map(of).collect()
    }
}

fn lesser(one: Option<usize>, other: Option<usize>) -> Option<usize> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}
