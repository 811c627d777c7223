//! Which branches of a changed network lie on a loop, and which stand alone between two sides of it.
//!
//! A branch that conducts and lies on no loop is a cut: it carries no current, whatever the values are, and opening it
//! or changing its impedance moves no other current and no voltage inside either side. Decided on the graph alone,
//! without a solution, in one walk over nodes and branches.
//!
//! SOURCE: R. E. Tarjan, "A note on finding the bridges of a graph", Information Processing Letters 2 (1974), from memory.

use crate::change::Folded;
use crate::network::{Branch, Laid, Network, Node};

/// Marks what has no number: no node above, not reached.
const NONE: usize = usize::MAX;

/// Is the loops and cuts of a network; bridges of a change are numbered after the network's own branches.
#[derive(Debug, Clone)]
pub struct Cuts {
    /// Node above each node in the walk and the branch to it; [`NONE`] for the first node of an island.
    above: Vec<(usize, usize)>,
    /// Number of each node in the walk.
    order: Vec<usize>,
    /// First node of each node's island in the walk.
    island: Vec<usize>,
    conducts: Vec<bool>,
    cut: Vec<bool>,
}

impl Cuts {
    /// Walks a network with changes laid over it.
    pub(crate) fn of(network: &Network, folded: &Folded) -> Self {
        let nodes = network.node_count();
        let own = network.branches().iter().enumerate();
        let laid: Vec<Laid> = own
            .map(|(k, laid)| Laid { law: folded.law(network, k), ..*laid })
            .chain(folded.bridges.iter().copied())
            .collect();
        let conducts: Vec<bool> = laid.iter().map(|laid| laid.law.conducts()).collect();
        let mut walk = Walk::new(nodes, &laid, &conducts);
        for node in 0..nodes {
            walk.island(node);
        }
        let cut = conducts.iter().zip(&walk.on_loop).map(|(conducts, on_loop)| *conducts && !on_loop).collect();
        Self { above: walk.above, order: walk.order, island: walk.island, conducts, cut }
    }

    /// Tells whether a branch conducts.
    #[must_use]
    pub fn conducts(&self, branch: Branch) -> bool {
        self.conducts.get(branch.index()).is_some_and(|conducts| *conducts)
    }

    /// Tells whether a branch conducts and lies on no loop.
    #[must_use]
    pub fn is_cut(&self, branch: Branch) -> bool {
        self.cut.get(branch.index()).is_some_and(|cut| *cut)
    }

    /// Tells whether a conductive path ties two nodes. A node that does not exist is tied to nothing.
    #[must_use]
    pub fn tied(&self, a: Node, b: Node) -> bool {
        match (self.island.get(a.index()), self.island.get(b.index())) {
            (Some(a), Some(b)) => a == b,
            _ => false,
        }
    }

    /// Lists the cuts that stand between two nodes that are tied: opening any of them parts the two. Empty for others.
    #[must_use]
    pub fn between(&self, a: Node, b: Node) -> Vec<Branch> {
        let mut cuts = Vec::new();
        self.on_the_way(a, b, |branch| {
            if self.cut[branch] {
                cuts.push(Branch::at(branch));
            }
        });
        cuts
    }

    /// Tells whether two nodes are tied by cuts alone: without a source among them there is no voltage between the two.
    #[must_use]
    pub fn tied_by_cuts(&self, a: Node, b: Node) -> bool {
        let mut alone = self.tied(a, b);
        self.on_the_way(a, b, |branch| alone &= self.cut[branch]);
        alone
    }

    /// Goes along the walk's tree from one node to another of the same island.
    fn on_the_way(&self, a: Node, b: Node, mut at: impl FnMut(usize)) {
        if !self.tied(a, b) {
            return;
        }
        let (mut a, mut b) = (a.index(), b.index());
        while a != b {
            let lower = if self.order[a] > self.order[b] { &mut a } else { &mut b };
            let (up, branch) = self.above[*lower];
            if up == NONE {
                break;
            }
            at(branch);
            *lower = up;
        }
    }
}

/// Is a walk in depth; each branch that is no part of its tree closes a loop.
struct Walk<'a> {
    laid: &'a [Laid],
    /// Where each node's branches begin in `touching`.
    begin: Vec<usize>,
    touching: Vec<usize>,
    above: Vec<(usize, usize)>,
    order: Vec<usize>,
    island: Vec<usize>,
    on_loop: Vec<bool>,
    visited: Vec<usize>,
    lowest: Vec<usize>,
}

impl<'a> Walk<'a> {
    fn new(nodes: usize, laid: &'a [Laid], conducts: &[bool]) -> Self {
        let mut begin = vec![0; nodes + 1];
        let edges = || laid.iter().enumerate().zip(conducts).filter(|(_, on)| **on).map(|(edge, _)| edge);
        for (_, laid) in edges() {
            begin[laid.a] += 1;
            begin[laid.b] += 1;
        }
        let mut end = 0;
        for count in &mut begin {
            end += *count;
            *count = end;
        }
        let mut touching = vec![0; end];
        for (k, laid) in edges() {
            for node in [laid.a, laid.b] {
                begin[node] -= 1;
                touching[begin[node]] = k;
            }
        }
        Self {
            laid,
            begin,
            touching,
            above: vec![(NONE, NONE); nodes],
            order: vec![NONE; nodes],
            island: vec![NONE; nodes],
            on_loop: vec![false; laid.len()],
            visited: Vec::with_capacity(nodes),
            lowest: vec![NONE; nodes],
        }
    }

    /// Walks the island of a node, unless that has been done.
    fn island(&mut self, first: usize) {
        if self.order[first] != NONE {
            return;
        }
        let from = self.visited.len();
        let mut stack: Vec<(usize, usize)> = Vec::new();
        self.enter(first, first, &mut stack);
        while let Some((node, next)) = stack.last_mut() {
            let (node, at) = (*node, *next);
            if at == self.begin[node + 1] {
                stack.pop();
                continue;
            }
            *next += 1;
            let k = self.touching[at];
            let other = self.laid[k].a + self.laid[k].b - node;
            if self.order[other] == NONE {
                self.above[other] = (node, k);
                self.enter(other, first, &mut stack);
            } else if self.above[node].1 != k {
                self.on_loop[k] = true;
                self.lowest[node] = self.lowest[node].min(self.order[other]);
            }
        }
        // Upwards, children before parents: what reaches above a branch's upper node closes a loop over it.
        for at in (from..self.visited.len()).rev() {
            let node = self.visited[at];
            let (up, k) = self.above[node];
            if up != NONE {
                self.on_loop[k] |= self.lowest[node] <= self.order[up];
                self.lowest[up] = self.lowest[up].min(self.lowest[node]);
            }
        }
    }

    fn enter(&mut self, node: usize, first: usize, stack: &mut Vec<(usize, usize)>) {
        self.order[node] = self.visited.len();
        self.lowest[node] = self.order[node];
        self.island[node] = first;
        self.visited.push(node);
        stack.push((node, self.begin[node]));
    }
}

#[cfg(test)]
mod tests {
    use crate::{Branch, Change, Law, Network, Node};

    /// A triangle 0-1-2 with a tail 2-3-4, and 5 alone; a second branch beside 3-4 at will.
    fn triangle_with_a_tail() -> Network {
        let mut network = Network::new(6);
        for (a, b) in [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4)] {
            network.add(Node(a), Node(b), Law::ohms(1.0));
        }
        network
    }

    fn cuts(changes: &[Change]) -> Vec<u32> {
        let solved = triangle_with_a_tail().solve().unwrap();
        let cuts = solved.cuts(changes).unwrap();
        (0..5).filter(|k| cuts.is_cut(Branch(*k))).collect()
    }

    #[test]
    fn tail_is_cut_and_the_triangle_is_not() {
        assert_eq!(cuts(&[]), [3, 4]);
    }

    #[test]
    fn opening_one_side_of_a_loop_makes_cuts_of_the_others() {
        assert_eq!(cuts(&[Change::Law(Branch(1), Law::Open)]), [0, 2, 3, 4]);
    }

    #[test]
    fn bridge_over_the_tail_makes_loops_of_it() {
        let bridge = |a, b| Change::Bridge { a: Node(a), b: Node(b), impedance: crate::Complex64::ONE };
        assert_eq!(cuts(&[bridge(4, 3)]), [3]);
        assert!(cuts(&[bridge(4, 0)]).is_empty());
    }

    #[test]
    fn cuts_between_two_nodes_are_those_on_the_way() {
        let solved = triangle_with_a_tail().solve().unwrap();
        let cuts = solved.cuts(&[]).unwrap();
        assert_eq!(cuts.between(Node(1), Node(3)), [Branch(3)]);
        assert_eq!(cuts.between(Node(0), Node(2)), []);
        assert!(cuts.tied_by_cuts(Node(4), Node(2)) && !cuts.tied_by_cuts(Node(4), Node(1)));
        assert!(!cuts.tied(Node(5), Node(0)) && cuts.between(Node(5), Node(0)).is_empty());
    }
}
