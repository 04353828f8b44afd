//! The numbers that each device gives its observations on a session, and which of them never arrived.

use super::entry::{Content, Entry};
use std::collections::{BTreeMap, BTreeSet};

/// A run of numbers of one device, both ends included.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Missing {
    /// The device, as it names itself.
    pub device: String,
    pub first: u32,
    pub last: u32,
}

/// The numbers that are missing: of those up to the highest that each device says it has made, the ones that no
/// observation bears, in time or late, and that no `gap` entry gives a reason for. A device that never stated its
/// highest number is left out. In the order of devices and numbers.
pub fn missing<'a>(highest: &BTreeMap<String, u32>, entries: impl IntoIterator<Item = &'a Entry>) -> Vec<Missing> {
    let mut there: BTreeMap<&str, BTreeSet<(u32, u32)>> = BTreeMap::new();
    for entry in entries {
        let (device, first, last) = match &entry.content {
            Content::Observed { .. } | Content::Late { .. } => (&entry.origin.device, entry.seq, entry.seq),
            Content::Gap { device, first, last, .. } => (device, *first, *last),
            Content::Opened { .. } | Content::Amendment { .. } | Content::Outcome { .. } | Content::Erasure { .. } => {
                continue;
            }
        };
        there.entry(device).or_default().insert((first, last));
    }
    let none = BTreeSet::new();
    let of_device = |(device, high): (&String, &u32)| {
        let holes = holes(*high, there.get(device.as_str()).unwrap_or(&none));
        holes.into_iter().map(|(first, last)| Missing { device: device.clone(), first, last }).collect::<Vec<_>>()
    };
    highest.iter().flat_map(of_device).collect()
}

/// The runs from 1 to `high` that none of `there` covers. These are in order of where they begin.
fn holes(high: u32, there: &BTreeSet<(u32, u32)>) -> Vec<(u32, u32)> {
    let (mut holes, mut covered) = (Vec::new(), 0u32);
    for (first, last) in there.iter().take_while(|(first, _)| *first <= high) {
        if *first > covered.saturating_add(1) {
            holes.push((covered + 1, first - 1));
        }
        covered = covered.max(*last);
    }
    if covered < high {
        holes.push((covered + 1, high));
    }
    holes
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_lies_between_and_after_is_missing() {
        let there = BTreeSet::from([(2, 2), (3, 3), (6, 8), (7, 7)]);
        assert_eq!(holes(10, &there), [(1, 1), (4, 5), (9, 10)]);
        assert_eq!(holes(6, &there), [(1, 1), (4, 5)]);
        assert_eq!(holes(0, &there), []);
        assert_eq!(holes(3, &BTreeSet::new()), [(1, 3)]);
        assert_eq!(holes(u32::MAX, &BTreeSet::from([(1, u32::MAX)])), []);
    }

    proptest! {
        /// Against the plain way: each number on its own.
        #[test]
        fn each_number_is_there_or_missing(high in 0u32..60, there in prop::collection::btree_set((1u32..70, 0u32..9), 0..20)) {
            let there: BTreeSet<_> = there.into_iter().map(|(first, more)| (first, first + more)).collect();
            let found: Vec<u32> = holes(high, &there).into_iter().flat_map(|(first, last)| first..=last).collect();
            let plain: Vec<u32> =
                (1..=high).filter(|n| !there.iter().any(|(first, last)| (first..=last).contains(&n))).collect();
            prop_assert_eq!(found, plain);
        }
    }
}
