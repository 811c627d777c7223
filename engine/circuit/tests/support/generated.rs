//! Makes ladder-like networks and changes from a seed. All values are dyadic fractions or whole numbers, so that
//! exact arithmetic starts from the very numbers that the solver gets.

use circuit::{Branch, Change, Complex64, Law, Network, Node};

/// Is a small pseudo-random sequence.
///
/// SOURCE: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (2014), SplitMix64, from memory.
pub(crate) struct Sequence(pub(crate) u64);

impl Sequence {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Draws below `n`.
    pub(crate) fn below(&mut self, n: u32) -> u32 {
        u32::try_from(self.next() % u64::from(n.max(1))).unwrap_or(0)
    }

    pub(crate) fn pick<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(u32::try_from(list.len()).unwrap_or(1)) as usize]
    }
}

/// Says what values a network may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Range {
    /// Contacts, loads and reactances up to 65 kohm; what is open is truly open.
    Machine,
    /// Leaks up to 1e9 ohm and strays as well; what is open is truly open.
    Leaky,
    /// Leaks of 1e9 and 1e12 ohm and strays as well; what is open may be 1e12 ohm.
    Wide,
}

const CONTACTS: [f64; 3] = [0.007_812_5, 0.015_625, 0.062_5];
const LOADS: [f64; 7] = [1.5, 5.0, 16.0, 60.0, 360.0, 1200.0, 65_536.0];
const REACTANCES: [(f64, f64); 6] =
    [(0.5, 5.25), (2.0, 19.0), (40.0, 1131.0), (0.0, -107.0), (0.0, 61.0), (0.25, -2653.0)];
const LEAKS: [f64; 3] = [1e6, 1e9, 1e12];
const SMALLER_LEAKS: [f64; 2] = [1e6, 1e9];
const STRAY: Complex64 = Complex64::new(0.0, -17_683_883.0);
const VOLTS: [f64; 4] = [120.0, -120.0, 230.0, 24.0];

/// Draws the law of a branch; `reactive` allows inductance and capacitance.
pub(crate) fn law(random: &mut Sequence, range: Range, reactive: bool) -> Law {
    match random.below(10) {
        0..=3 => Law::ohms(random.pick(&CONTACTS)),
        4..=5 => Law::ohms(random.pick(&LOADS)),
        6 if reactive => {
            let (re, im) = random.pick(&REACTANCES);
            Law::Impedance(Complex64::new(re, im))
        }
        7 if range == Range::Wide => Law::ohms(random.pick(&LEAKS)),
        7 if range == Range::Leaky => Law::ohms(random.pick(&SMALLER_LEAKS)),
        8 if range != Range::Machine && reactive => Law::Impedance(STRAY),
        9 if range == Range::Wide => Law::ohms(1e12),
        9 => Law::Open,
        _ => Law::ohms(random.pick(&LOADS)),
    }
}

fn source(random: &mut Sequence, reactive: bool) -> Complex64 {
    Complex64::new(random.pick(&VOLTS), if reactive { random.pick(&[0.0, 0.0, 60.0, -208.0]) } else { 0.0 })
}

/// Makes a network: one or two supply legs with an ammeter each, a ladder of nodes, rungs and short cuts.
pub(crate) fn network(random: &mut Sequence, nodes: u32, range: Range, reactive: bool) -> Network {
    let mut network = Network::new(nodes);
    let mut laid = 1;
    for _ in 0..=random.below(2) {
        let series = random.pick(&[Complex64::ZERO, Complex64::new(0.062_5, 0.0), Complex64::new(0.125, 0.062_5)]);
        let series = if reactive { series } else { Complex64::from(series.re) };
        let emf = source(random, reactive);
        network.add(Node(laid), Node(0), Law::Source { emf, series });
        network.add(Node(laid), Node(laid + 1), Law::ohms(0.0));
        laid += 2;
    }
    for node in laid..nodes {
        // Most nodes follow a near neighbour: a ladder. Some start a new rail.
        let back = 1 + random.below(3).min(node - 1);
        let law = law(random, range, reactive);
        network.add(Node(node - back), Node(node), law);
    }
    for _ in 0..nodes.div_ceil(2) {
        let a = random.below(nodes);
        let b = if random.below(2) == 0 { 0 } else { random.below(nodes) };
        let law = law(random, range, reactive);
        network.add(Node(a), Node(b), law);
    }
    if random.below(4) == 0 {
        // A source that may stand in an island of its own.
        let (a, b) = (random.below(nodes), random.below(nodes));
        network.add(Node(a), Node(b), Law::Source { emf: source(random, reactive), series: Complex64::from(3.0) });
    }
    network
}

/// Draws one change.
pub(crate) fn change(random: &mut Sequence, network: &Network, range: Range, reactive: bool) -> Change {
    let nodes = u32::try_from(network.node_count()).unwrap_or(1);
    let branches = u32::try_from(network.branch_count()).unwrap_or(1);
    if random.below(6) == 0 {
        let impedance = match law(random, range, reactive) {
            Law::Impedance(z) => z,
            Law::Open | Law::Source { .. } => Complex64::from(5.0),
        };
        return Change::Bridge { a: Node(random.below(nodes)), b: Node(random.below(nodes)), impedance };
    }
    let branch = Branch(random.below(branches));
    match network.law(branch) {
        Some(Law::Source { series, .. }) if random.below(2) == 0 => {
            Change::Law(branch, Law::Source { emf: source(random, reactive), series })
        }
        _ if random.below(3) == 0 => Change::Law(branch, Law::Open),
        _ if random.below(8) == 0 => {
            let series = Complex64::from(random.pick(&[0.062_5, 3.0, 1200.0]));
            Change::Law(branch, Law::Source { emf: source(random, reactive), series })
        }
        _ => Change::Law(branch, law(random, range, reactive)),
    }
}

/// Lays changes into a network of its own, bridges last.
pub(crate) fn laid_in(network: &Network, changes: &[Change]) -> Network {
    let mut changed = network.clone();
    for change in changes {
        match *change {
            Change::Law(branch, law) => changed.set_law(branch, law).unwrap(),
            Change::Bridge { a, b, impedance } => {
                changed.add(a, b, Law::Impedance(impedance));
            }
        }
    }
    changed
}
