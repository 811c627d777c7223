//! Folding: which items stay when only some parts matter. What matters stays with a way to the supply on either side.

use super::{Item, Net};
use machine::model::PartId;

/// Says for every item whether it stays.
pub(crate) fn kept(items: &[Item], net: &Net, only: &[PartId]) -> Vec<bool> {
    let asked = |chain: usize| net.chains[chain].steps.iter().any(|step| only.contains(&items[step.item].part));
    let mut stays = vec![false; net.chains.len()];
    let (before, after) = (ways(net, true), ways(net, false));
    for chain in (0..net.chains.len()).filter(|chain| asked(*chain)) {
        stays[chain] = true;
        follow(net, &before, net.chains[chain].from, true, &mut stays);
        follow(net, &after, net.chains[chain].to, false, &mut stays);
    }
    let mut kept = vec![false; items.len()];
    for (chain, _) in net.chains.iter().zip(&stays).filter(|(_, stays)| **stays) {
        chain.steps.iter().for_each(|step| kept[step.item] = true);
    }
    kept
}

fn follow(net: &Net, next: &[Option<usize>], mut bar: usize, back: bool, stays: &mut [bool]) {
    while let Some(chain) = next[bar] {
        stays[chain] = true;
        bar = if back { net.chains[chain].from } else { net.chains[chain].to };
    }
}

/// Gives for every bar the chain by which the shortest way leads to a rail: back to the left, or on to the right.
fn ways(net: &Net, back: bool) -> Vec<Option<usize>> {
    let mut cost = vec![usize::MAX; net.bars.len()];
    let mut next = vec![None; net.bars.len()];
    let ends = |chain: usize| {
        let chain = &net.chains[chain];
        if back { (chain.to, chain.from) } else { (chain.from, chain.to) }
    };
    for (bar, cost) in cost.iter_mut().enumerate() {
        let leads_on = (0..net.chains.len()).any(|chain| ends(chain).0 == bar);
        if !leads_on {
            // A dead end costs more than any way to a rail.
            let rail = matches!(net.bars[bar], super::Bar::Left(_) | super::Bar::Right(_));
            *cost = if rail { 0 } else { 100_000 };
        }
    }
    for _ in 0..net.bars.len() {
        for chain in 0..net.chains.len() {
            let (here, there) = ends(chain);
            let through = cost[there].saturating_add(net.chains[chain].steps.len().max(1));
            if through < cost[here] {
                cost[here] = through;
                next[here] = Some(chain);
            }
        }
    }
    next
}
