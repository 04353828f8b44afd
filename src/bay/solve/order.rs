//! The order of elimination and the pattern of the factor.

/// The pattern of `L` for a fixed order of elimination. Positions count in that order.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// The position of each unknown.
    pub place: Vec<u32>,
    /// Where each column begins in `rows`; one more than there are columns.
    pub starts: Vec<u32>,
    /// The rows below the diagonal of each column, ascending.
    pub rows: Vec<u32>,
    /// For each column and each pair of its rows `p < q`: the slot in `rows` of the entry (q, p).
    pub targets: Vec<u32>,
}

impl Pattern {
    /// Fixes order and pattern for unknowns `0..count` joined by `pairs`, by minimum degree: the unknown with the
    /// fewest neighbours left goes next, its neighbours become neighbours of each other.
    pub fn new(count: usize, pairs: impl Iterator<Item = (usize, usize)>) -> Self {
        let mut neighbours: Vec<Vec<u32>> = vec![Vec::new(); count];
        for (a, b) in pairs.filter(|(a, b)| a != b) {
            insert(&mut neighbours[a], b as u32);
            insert(&mut neighbours[b], a as u32);
        }
        let (place, columns) = eliminate(neighbours);
        let mut starts = vec![0];
        let mut rows = Vec::new();
        for column in columns {
            let mut below: Vec<u32> = column.iter().map(|&unknown| place[unknown as usize]).collect();
            below.sort_unstable();
            rows.extend(below);
            starts.push(rows.len() as u32);
        }
        let mut pattern = Self { place, starts, rows, targets: Vec::new() };
        pattern.targets = pattern.updates();
        pattern
    }

    /// The number of unknowns.
    pub fn count(&self) -> usize {
        self.place.len()
    }

    /// The rows of a column and the slot of the first.
    pub fn column(&self, column: usize) -> (usize, &[u32]) {
        let (from, to) = (self.starts[column] as usize, self.starts[column + 1] as usize);
        (from, &self.rows[from..to])
    }

    /// The slot of the entry for two positions. Every pair given to [`Pattern::new`] and all fill has one.
    pub fn slot(&self, one: u32, other: u32) -> Option<u32> {
        let (from, rows) = self.column(one.min(other) as usize);
        rows.binary_search(&one.max(other)).ok().map(|at| (from + at) as u32)
    }

    fn updates(&self) -> Vec<u32> {
        let mut targets = Vec::new();
        for column in 0..self.count() {
            let rows = self.column(column).1;
            for (at, &low) in rows.iter().enumerate() {
                // Elimination joins all neighbours of a column, so the slot exists.
                targets.extend(rows[at + 1..].iter().filter_map(|&high| self.slot(low, high)));
            }
        }
        targets
    }
}

/// The position of each unknown, and for each position the unknowns that it still had as neighbours.
fn eliminate(mut neighbours: Vec<Vec<u32>>) -> (Vec<u32>, Vec<Vec<u32>>) {
    let count = neighbours.len();
    let mut place = vec![0; count];
    let mut left: Vec<u32> = (0..count as u32).collect();
    let mut columns = Vec::with_capacity(count);
    while let Some(at) = (0..left.len()).min_by_key(|&at| (neighbours[left[at] as usize].len(), left[at])) {
        let unknown = left.swap_remove(at);
        place[unknown as usize] = columns.len() as u32;
        let around = std::mem::take(&mut neighbours[unknown as usize]);
        for &one in &around {
            let own = &mut neighbours[one as usize];
            if let Ok(gone) = own.binary_search(&unknown) {
                own.remove(gone);
            }
            for &other in around.iter().filter(|&&other| other != one) {
                insert(own, other);
            }
        }
        columns.push(around);
    }
    (place, columns)
}

fn insert(sorted: &mut Vec<u32>, value: u32) {
    if let Err(at) = sorted.binary_search(&value) {
        sorted.insert(at, value);
    }
}
