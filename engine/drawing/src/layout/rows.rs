//! Rows: chains that follow each other share one, the rest is ordered so that few lines cross and bars stay short.

use crate::graph::{Bar, Net};
use std::collections::BTreeMap;

/// What a crossing costs, in levels of the longest bar.
const CROSSING: usize = 2000;
/// What a bar costs for each row that it spans.
const SPAN: usize = 20;
/// Rounds of moving rows about.
const ROUNDS: usize = 12;
/// Most rows moved together.
const MOST_MOVED: usize = 4;

/// Chains one behind the other.
#[derive(Clone, Debug)]
struct Path {
    chains: Vec<usize>,
    group: usize,
}

/// Counts the paths of a group.
pub(crate) fn count(net: &Net, group: usize) -> usize {
    paths(net, &[group]).len()
}

/// Gives the row of every chain of these groups, from 0.
pub(crate) fn assign(net: &Net, groups: &[usize], channels: &[usize]) -> Vec<(usize, usize)> {
    let paths = paths(net, groups);
    let board = Board::new(net, channels, &paths);
    let mut levels = order(&board, &paths);
    compact(net, channels, &paths, &board, &mut levels);
    paths.iter().zip(&levels).flat_map(|(path, level)| path.chains.iter().map(|chain| (*chain, *level))).collect()
}

/// Joins chains to paths: at every bar the longest way in goes on with the longest way out.
fn paths(net: &Net, groups: &[usize]) -> Vec<Path> {
    let mine: Vec<usize> = (0..net.chains.len()).filter(|chain| groups.contains(&net.chains[*chain].group)).collect();
    let (before, after) = (depths(net, &mine, false), depths(net, &mine, true));
    let mut next: BTreeMap<usize, usize> = BTreeMap::new();
    for bar in (0..net.bars.len()).filter(|bar| matches!(net.bars[*bar], Bar::Terminal(_) | Bar::Bend(_))) {
        let chains = || mine.iter().copied();
        let steps = |chain: usize| net.chains[chain].steps.len().max(1);
        let into = chains().filter(|chain| net.chains[*chain].to == bar);
        let out = chains().filter(|chain| net.chains[*chain].from == bar);
        let into = into.max_by_key(|chain| (before[net.chains[*chain].from] + steps(*chain), usize::MAX - chain));
        let out = out.max_by_key(|chain| (after[net.chains[*chain].to] + steps(*chain), usize::MAX - chain));
        if let (Some(into), Some(out)) = (into, out) {
            next.insert(into, out);
        }
    }
    let followers: Vec<usize> = next.values().copied().collect();
    let mut found = Vec::new();
    for group in groups {
        let starts = mine.iter().filter(|chain| net.chains[**chain].group == *group && !followers.contains(chain));
        let mut of_group: Vec<Path> = starts
            .map(|start| Path {
                chains: std::iter::successors(Some(*start), |chain| next.get(chain).copied()).collect(),
                group: *group,
            })
            .collect();
        of_group.sort_by_key(|path| {
            let end = path.chains.last().map(|chain| net.bars[net.chains[*chain].to]);
            let rail = matches!(end, Some(Bar::Right(_)));
            let first = path.chains.iter().flat_map(|chain| &net.chains[*chain].steps).map(|step| step.item).min();
            (end.filter(|_| rail).is_none(), end.filter(|_| rail), first)
        });
        found.extend(of_group);
    }
    found
}

/// Gives for every bar the longest way to a left end, or (`on`) to a right end, in items.
fn depths(net: &Net, mine: &[usize], on: bool) -> Vec<usize> {
    let mut depth = vec![0; net.bars.len()];
    for _ in 0..=net.bars.len() {
        let before = depth.clone();
        for chain in mine.iter().map(|chain| &net.chains[*chain]) {
            let (near, far) = if on { (chain.from, chain.to) } else { (chain.to, chain.from) };
            depth[near] = depth[near].max(depth[far] + chain.steps.len().max(1));
        }
        if depth == before {
            break;
        }
    }
    depth
}

/// Orders paths within their groups, moving one or a few neighbours at a time, while it gets better; gives each its row.
fn order(board: &Board, paths: &[Path]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..paths.len()).collect();
    let mut levels = order.clone();
    let mut known = board.cost(&levels);
    for _ in 0..ROUNDS {
        let before = known;
        for count in 1..=MOST_MOVED.min(paths.len()) {
            for from in 0..=paths.len() - count {
                for to in 0..=paths.len() - count {
                    let moved = from.min(to)..from.max(to) + count;
                    let group = paths[order[moved.start]].group;
                    if from == to || order[moved.clone()].iter().any(|path| paths[*path].group != group) {
                        continue;
                    }
                    turn(&mut order[moved.clone()], from < to, count);
                    order.iter().enumerate().for_each(|(level, path)| levels[*path] = level);
                    let cost = board.cost(&levels);
                    if cost < known {
                        known = cost;
                        break;
                    }
                    turn(&mut order[moved], from > to, count);
                }
            }
        }
        if known == before {
            break;
        }
    }
    order.iter().enumerate().for_each(|(level, path)| levels[*path] = level);
    levels
}

/// Moves the first `count` paths to the end (`down`) or the last ones to the start.
fn turn(order: &mut [usize], down: bool, count: usize) {
    if down { order.rotate_left(count) } else { order.rotate_right(count) }
}

/// Lets paths share a row where neither stands in the other's way.
fn compact(net: &Net, channels: &[usize], paths: &[Path], board: &Board, levels: &mut [usize]) {
    let span = |path: &Path| {
        let bars = || path.chains.iter().flat_map(|chain| [net.chains[*chain].from, net.chains[*chain].to]);
        let of = |bar: usize| channels[bar];
        (bars().map(of).min().unwrap_or(0), bars().map(of).max().unwrap_or(0))
    };
    let spans: Vec<(usize, usize)> = paths.iter().map(span).collect();
    let mut known = board.cost(levels);
    for path in 0..paths.len() {
        let apart = |other: usize| spans[other].1 < spans[path].0 || spans[path].1 < spans[other].0;
        for level in (0..levels[path]).rev() {
            let mut sharers = (0..paths.len()).filter(|other| levels[*other] == level).peekable();
            if sharers.peek().is_none() || !sharers.all(apart) {
                continue;
            }
            let stood = std::mem::replace(&mut levels[path], level);
            let cost = board.cost(levels);
            if cost <= known {
                known = cost;
                break;
            }
            levels[path] = stood;
        }
    }
    let mut used: Vec<usize> = levels.to_vec();
    used.sort_unstable();
    used.dedup();
    for level in levels.iter_mut() {
        *level = used.binary_search(level).unwrap_or(0);
    }
}

/// What rows cost, worked out once for every bar: which paths join it, and which cross it where it passes their row.
struct Board {
    bars: Vec<OnBoard>,
}

struct OnBoard {
    rail: bool,
    joins: Vec<usize>,
    crossers: Vec<usize>,
}

impl Board {
    fn new(net: &Net, channels: &[usize], paths: &[Path]) -> Self {
        let on_board = |bar: usize| {
            let of = |test: &dyn Fn(usize) -> bool| {
                let tested = |path: &&(usize, &Path)| path.1.chains.iter().any(|chain| test(*chain));
                paths.iter().enumerate().collect::<Vec<_>>().iter().filter(tested).map(|(at, _)| *at).collect()
            };
            OnBoard {
                rail: matches!(net.bars[bar], Bar::Left(_) | Bar::Right(_)),
                joins: of(&|chain| net.chains[chain].from == bar || net.chains[chain].to == bar),
                crossers: of(&|chain| crosses(net, channels, chain, bar)),
            }
        };
        let bars = (0..net.bars.len()).map(on_board).filter(|bar: &OnBoard| !bar.joins.is_empty()).collect();
        Self { bars }
    }

    /// Counts crossings and lengths of bars; rails come down from the top.
    fn cost(&self, levels: &[usize]) -> usize {
        let mut cost = 0;
        for bar in &self.bars {
            let rows = || bar.joins.iter().map(|path| levels[*path]);
            let (Some(low), Some(high)) = (rows().min(), rows().max()) else { continue };
            cost += if bar.rail { high } else { SPAN * (high - low) };
            let low = if bar.rail { 0 } else { low };
            let crossed = bar.crossers.iter().filter(|path| low <= levels[**path] && levels[**path] <= high).count();
            cost += CROSSING * crossed;
        }
        cost
    }
}

/// Says whether a chain in a row that a bar spans runs across it.
fn crosses(net: &Net, channels: &[usize], chain: usize, bar: usize) -> bool {
    let chain = &net.chains[chain];
    if chain.from == bar || chain.to == bar {
        return false;
    }
    match (net.bars[bar], net.bars[chain.from], net.bars[chain.to]) {
        // Rails stand in their order, the first one outermost on the left and innermost on the right.
        (Bar::Left(mine), Bar::Left(other), _) => other < mine,
        (Bar::Right(mine), _, Bar::Right(other)) => mine < other,
        _ => channels[chain.from] < channels[bar] && channels[bar] < channels[chain.to],
    }
}
