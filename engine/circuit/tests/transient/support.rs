//! Grows networks of capacities from a seed, some with parts that nothing ties to the reference.

use circuit::{Node, RcNetwork};

/// Is a small pseudo-random sequence.
///
/// SOURCE: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (2014), SplitMix64, from memory.
pub(crate) struct Random(pub(crate) u64);

impl Random {
    /// Draws below `n`.
    pub(crate) fn below(&mut self, n: u32) -> u32 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        u32::try_from((z ^ (z >> 31)) % u64::from(n)).unwrap()
    }
}

/// Is a network with the numbers that it was made of.
pub(crate) struct Grown {
    pub(crate) network: RcNetwork,
    pub(crate) capacities: Vec<f64>,
    pub(crate) inflows: Vec<f64>,
    pub(crate) losses: Vec<f64>,
    pub(crate) joins: Vec<(usize, usize, f64)>,
    pub(crate) start: Vec<f64>,
}

impl Grown {
    /// Gives each node's slope at the start from the flows alone.
    pub(crate) fn slopes(&self) -> Vec<f64> {
        let flow = |n: usize| {
            let across = |&(a, b, g): &(usize, usize, f64)| match n {
                _ if n == a => g * (self.start[b] - self.start[a]),
                _ if n == b => g * (self.start[a] - self.start[b]),
                _ => 0.0,
            };
            self.inflows[n] - self.losses[n] * self.start[n] + self.joins.iter().map(across).sum::<f64>()
        };
        (0..self.start.len()).map(|n| flow(n) / self.capacities[n]).collect()
    }
}

/// Grows a network of two to six nodes.
pub(crate) fn grown(random: &mut Random) -> Grown {
    let count = 2 + random.below(5) as usize;
    let mut network = RcNetwork::new();
    let mut grown = Grown {
        capacities: (0..count).map(|_| f64::from(1 + random.below(40))).collect(),
        inflows: (0..count).map(|_| f64::from(random.below(3)) * 25.0).collect(),
        losses: (0..count).map(|_| f64::from(random.below(3)) * 0.25).collect(),
        joins: Vec::new(),
        start: (0..count).map(|_| f64::from(random.below(80))).collect(),
        network: RcNetwork::new(),
    };
    let nodes: Vec<Node> = grown.capacities.iter().map(|&c| network.add_node(c)).collect();
    for a in 0..count {
        network.join(nodes[a], Node(0), grown.losses[a]);
        network.feed(nodes[a], grown.inflows[a]).unwrap();
        for b in a + 1..count {
            if random.below(3) == 0 {
                let g = f64::from(1 + random.below(8)) * 0.5;
                network.join(nodes[a], nodes[b], g);
                grown.joins.push((a, b, g));
            }
        }
    }
    grown.network = network;
    grown
}
