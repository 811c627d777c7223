//! Columns: every bar gets a channel, every item a cell between two channels. Contacts keep to the left, loads and what
//! is behind them to the right.

use crate::graph::{Bar, Chain, Item, Net};
use std::ops::Range;

/// Rounds of moving items between columns.
const CELL_ROUNDS: usize = 4;
/// What a cell's distance from where an item would rather be costs, units.
const MOVED: f64 = 0.25;

/// Channels of bars.
#[derive(Clone, Debug)]
pub(crate) struct Columns {
    pub(crate) channels: Vec<usize>,
    pub(crate) count: usize,
    pub(crate) past_load: Vec<bool>,
}

/// Gives the least number of cells of a chain.
fn length(chain: &Chain) -> usize {
    chain.steps.len().max(1)
}

/// Assigns channels to the bars of these chains.
pub(crate) fn assign(items: &[Item], net: &Net, chains: &[usize]) -> Columns {
    let bars = net.bars.len();
    let chains: Vec<&Chain> = chains.iter().map(|chain| &net.chains[*chain]).collect();
    let mut early = vec![0; bars];
    let mut past_load = vec![false; bars];
    relax(bars, || {
        let mut moved = false;
        for chain in &chains {
            let at_least = early[chain.from] + length(chain);
            let past = past_load[chain.from] || chain.steps.iter().any(|step| items[step.item].is_load());
            moved |= early[chain.to] < at_least || (past && !past_load[chain.to]);
            early[chain.to] = early[chain.to].max(at_least);
            past_load[chain.to] |= past;
        }
        moved
    });
    let count = chains.iter().map(|chain| early[chain.to]).max().unwrap_or(1);
    let mut late = vec![count; bars];
    relax(bars, || {
        let mut moved = false;
        for chain in &chains {
            let at_most = late[chain.to].saturating_sub(length(chain));
            moved |= late[chain.from] > at_most;
            late[chain.from] = late[chain.from].min(at_most);
        }
        moved
    });
    let mut channels: Vec<usize> = (0..bars)
        .map(|bar| match net.bars[bar] {
            Bar::Left(_) => 0,
            Bar::Right(_) => count,
            _ if past_load[bar] => late[bar],
            _ => early[bar],
        })
        .collect();
    pull_ends_in(net, &chains, &mut channels);
    Columns { channels, count, past_load }
}

fn relax(most: usize, mut turn: impl FnMut() -> bool) {
    for _ in 0..=most {
        if !turn() {
            return;
        }
    }
}

/// Moves dead ends next to what they hang on.
fn pull_ends_in(net: &Net, chains: &[&Chain], channels: &mut [usize]) {
    for bar in 0..net.bars.len() {
        if matches!(net.bars[bar], Bar::Left(_) | Bar::Right(_)) {
            continue;
        }
        let into =
            chains.iter().filter(|chain| chain.to == bar).map(|chain| channels[chain.from] + length(chain)).max();
        let out = chains.iter().filter(|chain| chain.from == bar).map(|chain| channels[chain.to] - length(chain)).min();
        match (into, out) {
            (Some(near), None) => channels[bar] = near,
            (None, Some(near)) => channels[bar] = near,
            _ => {}
        }
    }
}

/// Where a chain's items would stand if there were room for all: up to the load to the left, from there to the right.
fn wished(items: &[Item], chain: &Chain, channels: &[usize], past_load: &[bool]) -> Vec<usize> {
    let (from, to, count) = (channels[chain.from], channels[chain.to], chain.steps.len());
    let load = chain.steps.iter().position(|step| items[step.item].is_load());
    let left = match load {
        _ if past_load[chain.from] => 0,
        Some(load) => load,
        None => count,
    };
    (0..count).map(|step| if step < left { from + step } else { to - (count - step) }).collect()
}

/// Gives the cell of every item of these chains, so that wide items share columns.
///
/// `needs` holds the width that each item of each chain needs. Chain by chain the items move, in their order, to where
/// they widen the columns least; a move away from the wished cell costs a little.
pub(crate) fn cells(
    items: &[Item],
    net: &Net,
    chains: &[usize],
    columns: &Columns,
    needs: &[Vec<f64>],
) -> Vec<Vec<usize>> {
    let chain = |at: usize| &net.chains[chains[at]];
    let wishes: Vec<Vec<usize>> =
        (0..chains.len()).map(|at| wished(items, chain(at), &columns.channels, &columns.past_load)).collect();
    let mut cells = wishes.clone();
    for _ in 0..CELL_ROUNDS {
        for at in 0..chains.len() {
            let mut widths = vec![0.0_f64; columns.count];
            for (other, taken) in cells.iter().enumerate().filter(|(other, _)| *other != at) {
                taken.iter().zip(&needs[other]).for_each(|(cell, need)| widths[*cell] = widths[*cell].max(*need));
            }
            let room = columns.channels[chain(at).from]..columns.channels[chain(at).to];
            cells[at] = place_chain(&needs[at], &wishes[at], room, &widths);
        }
    }
    cells
}

/// Places the items of one chain into the cells of `room`, each after the one before, at least cost.
fn place_chain(needs: &[f64], wishes: &[usize], room: Range<usize>, widths: &[f64]) -> Vec<usize> {
    // best[cell]: least cost with the items so far in cells up to this one, and where the last of them stands.
    let width = room.len();
    let mut from: Vec<Vec<usize>> = Vec::new();
    let mut best = vec![0.0; width + 1];
    for (need, wish) in needs.iter().zip(wishes) {
        let (mut next, mut back) = (vec![f64::INFINITY; width + 1], vec![0; width + 1]);
        for cell in 0..width {
            let at = room.start + cell;
            let moved = f64::from(u16::try_from(at.abs_diff(*wish)).unwrap_or(u16::MAX));
            let here = best[cell] + (need - widths[at]).max(0.0) + MOVED * moved;
            (next[cell + 1], back[cell + 1]) = (next[cell], back[cell]);
            if here < next[cell + 1] {
                (next[cell + 1], back[cell + 1]) = (here, cell);
            }
        }
        best = next;
        from.push(back);
    }
    let mut end = width;
    let mut placed: Vec<usize> = from
        .iter()
        .rev()
        .map(|back| {
            end = back[end];
            room.start + end
        })
        .collect();
    placed.reverse();
    placed
}

#[cfg(test)]
mod tests {
    use super::place_chain;

    #[test]
    fn wide_items_go_where_columns_are_wide_and_keep_their_order() {
        let widths = [20.0, 20.0, 60.0, 20.0, 60.0];
        assert_eq!(place_chain(&[20.0, 55.0, 20.0], &[0, 1, 2], 0..5, &widths), [0, 2, 3]);
        assert_eq!(place_chain(&[20.0, 55.0], &[2, 3], 2..4, &widths), [2, 3]);
        assert!(place_chain(&[], &[], 1..4, &widths).is_empty());
    }
}
