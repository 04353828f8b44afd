//! What kept its place in an order.

use std::collections::HashSet;

/// The members of a longest increasing run of different numbers: what stood still if everything else was moved, so that
/// the least possible is said to have moved. Patience sorting, in `n log n`.
pub(super) fn steady(numbers: &[usize]) -> HashSet<usize> {
    // For each length the index of the smallest number that ends such a run, and for each number its predecessor.
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = Vec::with_capacity(numbers.len());
    for (at, number) in numbers.iter().enumerate() {
        let length = ends.partition_point(|&end| numbers[end] < *number);
        before.push(length.checked_sub(1).map(|shorter| ends[shorter]));
        if length == ends.len() {
            ends.push(at);
        } else {
            ends[length] = at;
        }
    }
    let mut steady = HashSet::with_capacity(ends.len());
    let mut next = ends.last().copied();
    while let Some(at) = next {
        steady.insert(numbers[at]);
        next = before[at];
    }
    steady
}
