//! The search for the least way in.
//!
//! Best first over sets of covers. A set is grown only by what some target or some cover in it asks for, so every set
//! looked at is part of some whole way; the key (ticks with the least walking the sides can cost, hazards, covers)
//! never falls as a set grows, and a bound on what is still to come is added to the ticks. Exact: the search stops
//! when no set left can beat the best way found. Covers beyond need are grown too while they could save a walk.

use crate::exposure::Open;
use crate::graph::{Graph, Set, members, minutes, ticks};
use crate::order::{Order, order, orderable};
use crate::plan::{Blocked, Means, Teardown};
use crate::{WALK_MINUTES, back};
use machine::access::Access;
use machine::model::{CoverId, PlaceId};
use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

/// Sets expanded before the search takes the best way it has; a machine of 25 covers stays far under it.
const MOST_EXPANDED: usize = 20_000;

/// Ticks, hazards, covers: compared in this order.
type Key = (u64, u64, u64);

/// Plans the least way to all the places from what is off now, any number of people and every tool at hand.
///
/// Cost is minutes off and on, and [`WALK_MINUTES`] there and back for each change of side; at equal minutes the way
/// with fewer hazards wins, then the one with fewer covers, then the lower ids.
///
/// # Errors
/// [`Blocked`] names the place that cannot be reached and what stands before it.
pub fn plan_teardown(access: &Access, targets: &[PlaceId], open: &Open) -> Result<Teardown, Blocked> {
    plan_teardown_with(access, targets, open, &Means::default())
}

/// Plans as [`plan_teardown`] with the people and tools on hand.
///
/// # Errors
/// As [`plan_teardown`]; covers that take more than is on hand are no way in.
pub fn plan_teardown_with(
    access: &Access,
    targets: &[PlaceId],
    open: &Open,
    means: &Means,
) -> Result<Teardown, Blocked> {
    let graph = Graph::of(access, targets, open, means)?;
    let way = Search::new(&graph).run();
    let covers: Vec<CoverId> = way.order.sequence.iter().map(|&bit| graph.ids[bit]).collect();
    Ok(back::teardown(access, &covers, open, means, way.proven && way.order.proven))
}

/// Gives the minutes, in and back, that reaching the place costs beyond what is off now; 0 when it is open.
///
/// # Errors
/// As [`plan_teardown`].
pub fn marginal_minutes(access: &Access, place: PlaceId, open: &Open) -> Result<f64, Blocked> {
    let graph = Graph::of(access, &[place], open, &Means::default())?;
    let way = Search::new(&graph).run();
    Ok(minutes(way.key.0))
}

/// A whole way in.
struct Way {
    key: Key,
    order: Order,
    proven: bool,
}

struct Search<'a> {
    graph: &'a Graph,
    /// Ticks of one change of side, there and back.
    walk: u64,
    /// For each cover, every cover that bears on it, itself included.
    bearing: Vec<Set>,
    best: Option<Way>,
    seen: BTreeSet<Set>,
    queue: BinaryHeap<Reverse<(Key, Set)>>,
}

impl<'a> Search<'a> {
    fn new(graph: &'a Graph) -> Self {
        let walk = ticks(2.0 * WALK_MINUTES);
        let bearing = bearing(graph);
        Self { graph, walk, bearing, best: None, seen: BTreeSet::new(), queue: BinaryHeap::new() }
    }

    fn run(mut self) -> Way {
        self.push(0);
        let mut expanded = 0;
        while let Some(Reverse((bound, set))) = self.queue.pop() {
            if self.best.as_ref().is_some_and(|best| bound >= best.key) {
                break;
            }
            expanded += 1;
            if expanded > MOST_EXPANDED {
                return self.cut_short(set);
            }
            self.expand(set);
        }
        self.best.unwrap_or_else(nothing_to_do)
    }

    /// Grows the set to some whole way by the cheapest choice each time.
    ///
    /// INVARIANT: ends, because every choice adds a cover, and all covers together are a whole way.
    fn cut_short(mut self, mut set: Set) -> Way {
        while !self.whole(set) {
            let Some(next) = self.choices(set).into_iter().min_by_key(|&next| (self.bound(next), next)) else { break };
            set = next;
        }
        self.note(set);
        let mut way = self.best.unwrap_or_else(nothing_to_do);
        way.proven = false;
        way
    }

    fn expand(&mut self, set: Set) {
        if !self.whole(set) {
            for next in self.choices(set) {
                self.push(next);
            }
            return;
        }
        self.note(set);
        let targets = self.graph.targets.iter().flatten();
        let covers = members(set).flat_map(|bit| &self.graph.needs[bit]);
        for next in targets.chain(covers).map(|way| set | way).filter(|&next| next != set).collect::<Vec<_>>() {
            self.push(next);
        }
    }

    fn push(&mut self, set: Set) {
        let bound = self.bound(set);
        let hopeless = self.best.as_ref().is_some_and(|best| bound >= best.key);
        if !hopeless && self.seen.insert(set) {
            self.queue.push(Reverse((bound, set)));
        }
    }

    /// Takes the set as a way in if it is the best so far.
    fn note(&mut self, set: Set) {
        let Some(order) = order(self.graph, set) else { return };
        let key = self.key(set, order.walks, 0);
        if self.best.as_ref().is_none_or(|best| key < best.key) {
            self.best = Some(Way { key, order, proven: true });
        }
    }

    fn whole(&self, set: Set) -> bool {
        let off = orderable(self.graph, set);
        off == set && self.graph.targets.iter().all(|ways| met(ways, off))
    }

    /// Supersets of which every whole way that contains the set contains one.
    fn choices(&self, set: Set) -> Vec<Set> {
        let grow = |ways: &[Set]| ways.iter().map(|way| set | way).collect::<Vec<_>>();
        if let Some(ways) = self.graph.targets.iter().find(|ways| !met(ways, set)) {
            return grow(ways);
        }
        let stuck = set & !orderable(self.graph, set);
        if let Some(bit) = members(stuck).find(|&bit| !met(&self.graph.needs[bit], set)) {
            return grow(&self.graph.needs[bit]);
        }
        // Covers that wait for each other in a ring: the first of them to come off needs none of the ring.
        let ways = members(stuck).flat_map(|bit| &self.graph.needs[bit]).filter(|way| *way & stuck == 0);
        ways.map(|way| set | way).collect()
    }

    /// Never more than the key of any whole way that contains the set.
    fn bound(&self, set: Set) -> Key {
        let sides: BTreeSet<usize> = members(set).map(|bit| self.graph.side[bit]).collect();
        self.key(set, (sides.len() as u64).saturating_sub(1), self.to_come(set))
    }

    fn key(&self, set: Set, walks: u64, to_come: u64) -> Key {
        let ticks = self.graph.cost(set).saturating_add(walks.saturating_mul(self.walk)).saturating_add(to_come);
        (ticks, members(set).map(|bit| self.graph.hazards[bit]).sum(), u64::from(set.count_ones()))
    }

    /// Ticks that the set still lacks at least: what asks for covers apart from each other is added up.
    fn to_come(&self, set: Set) -> u64 {
        let covers = members(set).map(|bit| &self.graph.needs[bit]);
        let asking = self.graph.targets.iter().chain(covers).filter(|ways| !met(ways, set));
        let mut asks: Vec<(Reverse<u64>, Set)> = asking.map(|ways| self.ask(ways, set)).collect();
        asks.sort_unstable();
        let mut counted: Set = 0;
        let mut total: u64 = 0;
        for (Reverse(ticks), bearing) in asks {
            if bearing & counted == 0 {
                counted |= bearing;
                total = total.saturating_add(ticks);
            }
        }
        total
    }

    /// The least that one of the alternatives adds, and every cover outside the set that could bear on it.
    fn ask(&self, ways: &[Set], set: Set) -> (Reverse<u64>, Set) {
        let least = ways.iter().map(|way| self.graph.cost(way & !set)).min().unwrap_or(0);
        let named = ways.iter().fold(0, |all, way| all | way);
        let bearing = members(named).fold(0, |all, bit| all | self.bearing[bit]);
        (Reverse(least), bearing & !set)
    }
}

fn met(ways: &[Set], set: Set) -> bool {
    ways.iter().any(|way| way & !set == 0)
}

fn nothing_to_do() -> Way {
    Way { key: (0, 0, 0), order: Order { sequence: Vec::new(), walks: 0, proven: true }, proven: true }
}

fn bearing(graph: &Graph) -> Vec<Set> {
    let mut bearing: Vec<Set> = (0..graph.ids.len()).map(|bit| 1 << bit).collect();
    loop {
        let mut grew = false;
        for bit in 0..bearing.len() {
            let named = graph.needs[bit].iter().fold(0, |all: Set, way| all | way);
            let all = members(named).fold(bearing[bit], |all, other| all | bearing[other]);
            grew |= all != bearing[bit];
            bearing[bit] = all;
        }
        if !grew {
            return bearing;
        }
    }
}
