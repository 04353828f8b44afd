//! Whether a set of tests shows a cause, from the readings alone.

use crate::bay::solve::LIVE_VOLTS;
use std::collections::{HashSet, VecDeque};

/// Readings with one cause, in volts, by setting and pair. A setting is a place with one bit for each switch, and above
/// them one for the lamp: set when it is out.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Settings of the switches.
    pub starts: usize,
    /// The first pairs are those of the conductors at the point; the rest reach true earth.
    pub own: usize,
    pub pairs: usize,
    /// `2 · starts` rows of `pairs` readings.
    pub volts: Vec<f64>,
}

/// One test: which switches had been thrown an odd number of times since the start, with the bit of the lamp, and the
/// pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tried {
    pub thrown: usize,
    pub pair: usize,
}

/// What became of one cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    pub dangerous: bool,
    /// The test that shows it at the latest, whatever the start; `None` where some start hides it.
    pub by: Option<usize>,
    pub missed: Option<MissedFrom>,
    pub addition: Option<Walk>,
}

/// A start from which no test shows the cause, and the most that they show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MissedFrom {
    pub start: usize,
    /// Whether no other start shows it either.
    pub everywhere: bool,
    pub volts: f64,
}

/// Throws of switches, by their place, and the pair to test after each; at once where there are none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Walk {
    pub thrown: Vec<usize>,
    pub pair: usize,
}

/// One bit for each start; at most 2⁸ of them.
type Starts = [u64; 4];

impl Table {
    /// The reading of a pair in a setting.
    pub fn at(&self, setting: usize, pair: usize) -> f64 {
        self.volts.get(setting * self.pairs + pair).copied().unwrap_or(0.0)
    }

    /// Whether no indicator could tell the two apart: every reading within a volt or two of the other.
    pub fn reads_like(&self, other: &Self) -> bool {
        const SAME: f64 = 2.0;
        self.volts.len() == other.volts.len()
            && self.volts.iter().zip(&other.volts).all(|(one, other)| (one - other).abs() <= SAME)
    }

    /// The largest reading of any pair in any setting of the switches, with the lamp as at `end`.
    pub fn worst(&self, end: usize) -> f64 {
        let lamp = end & self.starts;
        let from = lamp * self.pairs;
        self.volts.iter().skip(from).take(self.starts * self.pairs).fold(0.0, |worst, volts| worst.max(*volts))
    }
}

/// Judges one cause against the tests, which end with the switches thrown as `end` says.
pub fn judge(table: &Table, tried: &[Tried], end: usize) -> Judged {
    let mut judged = Judged { dangerous: table.worst(end) >= LIVE_VOLTS, by: None, missed: None, addition: None };
    if !judged.dangerous {
        return judged;
    }
    let mut missed = Starts::default();
    for start in 0..table.starts {
        let volts = |tried: &Tried| table.at(start ^ tried.thrown, tried.pair);
        match tried.iter().position(|tried| volts(tried) >= LIVE_VOLTS) {
            Some(by) => judged.by = judged.by.max(Some(by)),
            None => {
                missed[start / 64] |= 1 << (start % 64);
                let most = tried.iter().map(volts).fold(0.0, f64::max);
                judged.missed.get_or_insert(MissedFrom { start, everywhere: false, volts: most });
            }
        }
    }
    let count: u32 = missed.iter().map(|word| word.count_ones()).sum();
    if let Some(from) = &mut judged.missed {
        from.everywhere = count as usize == table.starts;
        judged.by = None;
        judged.addition = addition(table, tried, end, missed);
    }
    judged
}

/// The fewest throws from the end after which one pair shows the cause from every start that missed it; a pair already
/// used goes first among equals.
fn addition(table: &Table, tried: &[Tried], end: usize, missed: Starts) -> Option<Walk> {
    let mut pairs: Vec<usize> = (0..table.own).collect();
    pairs.sort_by_key(|pair| !tried.iter().any(|tried| tried.pair == *pair));
    let mut best: Option<Walk> = None;
    for pair in pairs {
        let most = best.as_ref().map_or(MOST_THROWS + 1, |walk| walk.thrown.len());
        if let Some(walk) = shortest(table, pair, end, missed, most) {
            best = Some(walk);
        }
    }
    best
}

/// Longest walk looked for: S1, S2, S1 and one more is the longest that a single fault asks for.
const MOST_THROWS: usize = 4;

/// The shortest walk with fewer than `below` throws, breadth first over where the switches stand and what is still
/// hidden.
fn shortest(table: &Table, pair: usize, end: usize, missed: Starts, below: usize) -> Option<Walk> {
    let hidden_after = |thrown: usize, mut hidden: Starts| {
        for start in 0..table.starts {
            if table.at(start ^ thrown, pair) >= LIVE_VOLTS {
                hidden[start / 64] &= !(1 << (start % 64));
            }
        }
        hidden
    };
    let switches = table.starts.trailing_zeros() as usize;
    let mut seen = HashSet::new();
    let mut next = VecDeque::from([(end, hidden_after(end, missed), Vec::new())]);
    while let Some((thrown, hidden, walk)) = next.pop_front() {
        if walk.len() >= below {
            return None;
        }
        if hidden == Starts::default() {
            return Some(Walk { thrown: walk, pair });
        }
        for switch in 0..switches {
            let there = thrown ^ (1 << switch);
            let left = hidden_after(there, hidden);
            if seen.insert((there, left)) {
                let mut longer = walk.clone();
                longer.push(switch);
                next.push_back((there, left, longer));
            }
        }
    }
    None
}
