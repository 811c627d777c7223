//! The order in which a given set of covers comes off, with the fewest walks between sides. Knows no minutes.
//!
//! Standing on a side, taking off everything that can come off there never hurts: it only makes more possible. So an
//! order is a sequence of sides, and a breadth-first search over the sets so reached finds the fewest changes.

use crate::graph::{Graph, Set, members};
use std::collections::BTreeSet;

/// Sets looked at before the search gives up being exact; a machine of ten sides stays far under it.
const MOST_SETS: usize = 20_000;

/// An order of opening.
#[derive(Clone, Debug)]
pub(crate) struct Order {
    /// Bits in order.
    pub(crate) sequence: Vec<usize>,
    /// Times one changes sides.
    pub(crate) walks: u64,
    /// No order has fewer.
    pub(crate) proven: bool,
}

/// The largest part of the set that can come off in some order.
pub(crate) fn orderable(graph: &Graph, set: Set) -> Set {
    let mut off: Set = 0;
    loop {
        let before = off;
        for bit in members(set & !off) {
            if ready(graph, bit, off) {
                off |= 1 << bit;
            }
        }
        if off == before {
            return off;
        }
    }
}

/// Orders the whole set; `None` when no order is legal.
pub(crate) fn order(graph: &Graph, set: Set) -> Option<Order> {
    if set == 0 {
        return Some(Order { sequence: Vec::new(), walks: 0, proven: true });
    }
    if orderable(graph, set) != set {
        return None;
    }
    let mut seen: BTreeSet<Set> = BTreeSet::new();
    let mut layer: Vec<(Set, Vec<usize>)> = vec![(0, Vec::new())];
    let mut walks = 0;
    let mut proven = true;
    loop {
        let mut next = Vec::new();
        for (off, sequence) in &layer {
            for side in 0..graph.sides {
                let (now, more) = clear_side(graph, set, *off, side);
                if more.is_empty() || !seen.insert(now) {
                    continue;
                }
                let mut whole = sequence.clone();
                whole.extend(more);
                if now == set {
                    return Some(Order { sequence: whole, walks, proven });
                }
                next.push((now, whole));
            }
        }
        if seen.len() > MOST_SETS {
            proven = false;
            seen.clear();
            next.sort_by_key(|(off, _)| (std::cmp::Reverse(off.count_ones()), *off));
            next.truncate(1);
        }
        layer = next;
        walks += 1;
    }
}

/// Takes off everything of the set that can come off on this side, lowest id first.
fn clear_side(graph: &Graph, set: Set, mut off: Set, side: usize) -> (Set, Vec<usize>) {
    let mut sequence = Vec::new();
    while let Some(bit) = members(set & !off).find(|&bit| graph.side[bit] == side && ready(graph, bit, off)) {
        off |= 1 << bit;
        sequence.push(bit);
    }
    (off, sequence)
}

fn ready(graph: &Graph, bit: usize, off: Set) -> bool {
    graph.needs[bit].iter().any(|way| way & !off == 0)
}
