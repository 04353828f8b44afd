//! What an indicator shows at the point of work in every setting, for one set of faults after another.

use super::judge::Table;
use crate::bay::network::{State, Unbuildable, Wired};
use crate::bay::solve::{LOW_OHM, Made, NodeId, Solver, Unsolvable};
use crate::bay::{Bay, Conductor, Setting};
use std::collections::HashMap;

/// Works out tables. Many faults change nothing in many settings, so what was solved once is kept by the branches made.
pub(super) struct Tables<'w> {
    wired: &'w Wired,
    solver: Solver<'w>,
    solved: HashMap<Made, u32>,
    rows: Vec<f64>,
    state: State,
    /// Places among all switches of those of the circuit.
    switches: std::ops::Range<usize>,
    pairs: Vec<[Conductor; 2]>,
    /// The nodes of the pairs, then those of each conductor and true earth.
    ends: Vec<[NodeId; 2]>,
}

impl<'w> Tables<'w> {
    pub fn new(bay: &Bay, wired: &'w Wired, state: &State) -> Result<Self, Unbuildable> {
        let id = &bay.isolate.point;
        let missing = || Unbuildable { element: id.to_string(), says: "no such point".into() };
        let (point, nodes) = bay.point(id).zip(wired.point(id)).ok_or_else(missing)?;
        let pairs = crate::bay::plan::pairs(point);
        let node = |conductor| nodes.iter().find(|(there, _)| *there == conductor).map(|(_, node)| *node);
        let between = pairs.iter().filter_map(|[one, other]| Some([node(*one)?, node(*other)?]));
        let to_earth = nodes.iter().map(|(_, node)| [*node, NodeId::REFERENCE]);
        let ends = between.chain(to_earth).collect();
        let before = bay.circuits.iter().take_while(|circuit| circuit.id != bay.isolate.circuit);
        let first = before.map(|circuit| circuit.switches.len()).sum();
        let count = bay.circuit(&bay.isolate.circuit).map_or(0, |circuit| circuit.switches.len());
        Ok(Self {
            wired,
            solver: Solver::new(wired.compiled()),
            solved: HashMap::new(),
            rows: Vec::new(),
            state: state.clone(),
            switches: first..first + count,
            pairs,
            ends,
        })
    }

    /// The pairs of conductors at the point.
    pub fn pairs(&self) -> &[[Conductor; 2]] {
        &self.pairs
    }

    /// The bit of a place in a table that says that the lamp is out.
    pub fn lamp_bit(&self) -> usize {
        1 << self.switches.len()
    }

    /// The readings in every setting with these faults; with the lamp in and with it out as asked for.
    pub fn of(&mut self, faults: &[usize], lamps: [bool; 2]) -> Result<Table, Unsolvable> {
        let starts = self.lamp_bit();
        let mut table = Table { starts, own: self.pairs.len(), pairs: self.ends.len(), volts: Vec::new() };
        table.volts.resize(2 * starts * table.pairs, 0.0);
        for at in 0..2 * starts {
            let lamp_in = at & starts == 0;
            if !lamps[usize::from(!lamp_in)] {
                continue;
            }
            self.state.lamp_in = lamp_in;
            for (bit, place) in self.switches.clone().enumerate() {
                let setting = if at >> bit & 1 == 0 { Setting::First } else { Setting::Second };
                if let Some(stands) = self.state.settings.get_mut(place) {
                    *stands = setting;
                }
            }
            let row = self.row(faults)?;
            table.volts[at * table.pairs..][..table.pairs].copy_from_slice(&self.rows[row..][..table.pairs]);
        }
        Ok(table)
    }

    /// Where the readings of the present state begin among the rows.
    fn row(&mut self, faults: &[usize]) -> Result<usize, Unsolvable> {
        let made = self.wired.made(&self.state, faults)?;
        if let Some(&row) = self.solved.get(&made) {
            return Ok(row as usize);
        }
        let row = self.rows.len();
        let mut solved = self.solver.solve(&made)?;
        self.rows.extend(self.ends.iter().map(|[a, b]| solved.reading(*a, *b, LOW_OHM)));
        self.solved.insert(made, row as u32);
        Ok(row)
    }
}
