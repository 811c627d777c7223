//! Which nodes hang together, by union-find on the graph. Never looks at a solution.

use crate::network::Laid;

/// Is a disjoint-set forest over `0..n`.
#[derive(Debug, Clone)]
pub(crate) struct Forest {
    parent: Vec<usize>,
}

impl Forest {
    pub(crate) fn new(n: usize) -> Self {
        Self { parent: (0..n).collect() }
    }

    /// Finds the representative, halving the path on the way.
    pub(crate) fn find(&mut self, mut i: usize) -> usize {
        while self.parent[i] != i {
            let up = self.parent[self.parent[i]];
            self.parent[i] = up;
            i = up;
        }
        i
    }

    /// Joins two sets under the lower representative. False if they were one already.
    pub(crate) fn join(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        self.parent[a.max(b)] = a.min(b);
        a != b
    }

    /// Lists the representative of each node: the lowest node of its set.
    pub(crate) fn labels(&mut self) -> Vec<usize> {
        (0..self.parent.len()).map(|i| self.find(i)).collect()
    }
}

/// Joins whatever the conducting branches join.
pub(crate) fn conducting(nodes: usize, branches: &[Laid]) -> Forest {
    let mut forest = Forest::new(nodes);
    for laid in branches {
        if laid.law.conducts() {
            forest.join(laid.a, laid.b);
        }
    }
    forest
}
