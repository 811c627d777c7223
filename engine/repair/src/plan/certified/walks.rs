//! The shortest ways through modes. Internal to the bound.

use super::super::core::{Core, CoreFix};

/// Most modes for which ways are worked out; with more, switching is taken as free.
const MOST_MODES: usize = 6;

/// Prices of walking through modes from the present one.
#[derive(Debug, Clone)]
pub(super) struct Walks {
    /// Least price from one mode to another, over others where that is cheaper.
    between: Vec<Vec<f64>>,
    /// `[set of modes][last]`: least price of a walk that visits the set and ends there.
    ending: Vec<Vec<f64>>,
    start: usize,
    free: bool,
}

impl Walks {
    pub(super) fn new(core: &Core, start: usize) -> Self {
        let modes = core.switch.len().max(1);
        if modes > MOST_MODES {
            return Self { between: Vec::new(), ending: Vec::new(), start, free: true };
        }
        let mut between = vec![vec![0.0; modes]; modes];
        for (from, row) in core.switch.iter().enumerate() {
            (0..modes).filter(|&to| to != from).for_each(|to| between[from][to] = row[to]);
        }
        for (via, from, to) in triples(modes) {
            between[from][to] = between[from][to].min(between[from][via] + between[via][to]);
        }
        let mut ending = vec![vec![f64::INFINITY; modes]; 1 << modes];
        ending[1 << start][start] = 0.0;
        for set in 0..1usize << modes {
            for (last, next) in (0..modes).flat_map(|a| (0..modes).map(move |b| (a, b))) {
                if set >> next & 1 == 0 {
                    let price = ending[set][last] + between[last][next];
                    let grown = set | 1 << next;
                    ending[grown][next] = ending[grown][next].min(price);
                }
            }
        }
        Self { between, ending, start, free: false }
    }

    /// Every set of modes with the present one in it; one that allows everything where switching is free.
    pub(super) fn sets(&self) -> Vec<u64> {
        if self.free {
            return vec![u64::MAX];
        }
        (0..self.ending.len() as u64).filter(|set| set >> self.start & 1 == 1).collect()
    }

    /// Least price of visiting these modes in any order.
    pub(super) fn any(&self, set: u64) -> f64 {
        self.row(set).iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// The same when a fix and its check come last.
    pub(super) fn last(&self, set: u64, fix: &CoreFix) -> f64 {
        let set = fix.mode.map_or(set, |mode| set | 1 << mode);
        let price = |(mode, walk): (usize, &f64)| {
            let here = self.free || fix.mode.is_none_or(|m| m == mode);
            let check = if self.free { 0.0 } else { fix.check_mode.map_or(0.0, |to| self.between[mode][to]) };
            if here { walk + check } else { f64::INFINITY }
        };
        self.row(set).iter().enumerate().map(price).fold(f64::INFINITY, f64::min)
    }

    /// The same when a fix and its check come at any time.
    pub(super) fn with(&self, set: u64, fix: &CoreFix) -> f64 {
        self.any([fix.mode, fix.check_mode].into_iter().flatten().fold(set, |set, mode| set | 1 << mode))
    }

    fn row(&self, set: u64) -> &[f64] {
        if self.free {
            return &[0.0];
        }
        usize::try_from(set).ok().and_then(|at| self.ending.get(at)).map_or(&[], Vec::as_slice)
    }
}

fn triples(count: usize) -> impl Iterator<Item = (usize, usize, usize)> {
    (0..count * count * count).map(move |at| (at / (count * count), at / count % count, at % count))
}
