//! Compares generated networks with a general circuit simulator, run as a program.
//!
//! SOURCE: ngspice (Debian package `ngspice`), run live.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

#[path = "support/generated.rs"]
mod generated;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

use circuit::{Branch, Change, Changed, Complex64, Law, Network, Node, VoltsRead, volts_read};
use generated::{Range, Sequence};

/// Angular frequency of 60 Hz.
const OMEGA: f64 = 2.0 * std::f64::consts::PI * 60.0;

/// Is one deck: many networks side by side, tied by nothing but node 0.
struct Deck {
    elements: String,
    prints: String,
    /// What the solver says of each printed quantity.
    ours: BTreeMap<String, (Complex64, f64)>,
}

impl Deck {
    fn new() -> Self {
        Self { elements: "* generated networks\n".to_owned(), prints: String::new(), ours: BTreeMap::new() }
    }

    /// Writes a network whose nodes and branches get a prefix. Islands are tied to node 0 by one ohm.
    fn lay(&mut self, prefix: &str, network: &Network) {
        for k in 0..u32::try_from(network.branch_count()).unwrap() {
            let (a, b) = network.ends(Branch(k)).unwrap();
            let (a, b, middle) = (node(prefix, a), node(prefix, b), format!("{prefix}m{k}"));
            match network.law(Branch(k)).unwrap() {
                Law::Open => {}
                Law::Source { emf, series } => {
                    let degrees = libm::atan2(emf.im, emf.re).to_degrees();
                    let volts = circuit::magnitude(emf);
                    writeln!(self.elements, "V{prefix}{k} {a} {middle} DC 0 AC {volts:?} {degrees:?}").unwrap();
                    self.impedance(prefix, k, &middle, &b, series);
                }
                Law::Impedance(z) => {
                    // An ammeter in front of each branch.
                    writeln!(self.elements, "V{prefix}{k} {a} {middle} DC 0 AC 0 0").unwrap();
                    self.impedance(prefix, k, &middle, &b, z);
                }
            }
        }
        for (n, tied) in tied_to_lower(network).into_iter().enumerate().skip(1) {
            if !tied {
                writeln!(self.elements, "R{prefix}t{n} {prefix}n{n} 0 1").unwrap();
            }
        }
    }

    fn impedance(&mut self, prefix: &str, k: u32, a: &str, b: &str, z: Complex64) {
        let far = format!("{prefix}r{k}");
        let resistor_end = if z.im == 0.0 { b } else { &far };
        if z.re > 0.0 {
            writeln!(self.elements, "R{prefix}{k} {a} {resistor_end} {:?}", z.re).unwrap();
        } else {
            writeln!(self.elements, "VZ{prefix}{k} {a} {resistor_end} DC 0 AC 0 0").unwrap();
        }
        if z.im > 0.0 {
            writeln!(self.elements, "L{prefix}{k} {far} {b} {:?}", z.im / OMEGA).unwrap();
        } else if z.im < 0.0 {
            writeln!(self.elements, "C{prefix}{k} {far} {b} {:?}", -1.0 / (OMEGA * z.im)).unwrap();
        }
    }

    /// Asks for a quantity, whose name the simulator prints back.
    fn ask(&mut self, tag: String, expression: &str, ours: Complex64, floor: f64) {
        writeln!(self.prints, "echo TAG {tag}\nprint {expression}").unwrap();
        self.ours.insert(tag, (ours, floor));
    }

    /// Asks for every current and every voltage to the island's lowest node.
    fn ask_all(&mut self, prefix: &str, network: &Network, changed: &Changed<'_>) {
        for k in 0..u32::try_from(network.branch_count()).unwrap() {
            if network.law(Branch(k)).unwrap().conducts() {
                let ours = changed.current(Branch(k));
                self.ask(format!("{prefix}i{k}"), &format!("i(v{prefix}{k})"), ours, 1e-4);
            }
        }
        for n in 1..u32::try_from(network.node_count()).unwrap() {
            let lowest = (0..=n).find(|&m| changed.same_island(Node(n), Node(m))).unwrap();
            if lowest != n {
                let ours = changed.voltage(Node(n), Node(lowest)).unwrap();
                self.ask(format!("{prefix}n{n}"), &difference(prefix, Node(n), Node(lowest)), ours, 6e-3);
            }
        }
    }

    /// Runs the simulator and compares: `share` of the value, and that share of a thousand floors. Gives how many
    /// quantities were compared; `None` where the simulator finds its own matrix singular and prints nothing.
    ///
    /// At a share of 0.1 % the floors are 6 mV and 0.1 mA.
    fn hold(&self, name: &str, share: f64) -> Option<usize> {
        let text = format!(
            "{}.control\nset numdgt=15\nset noaskquit\nac lin 1 60 60\n{}quit\n.endc\n.end\n",
            self.elements, self.prints
        );
        let printed = simulate(name, &text)?;
        assert_eq!(printed.len(), self.ours.len(), "{name}: not every quantity was printed");
        for (tag, (ours, floor)) in &self.ours {
            let theirs = printed[tag];
            let off = circuit::magnitude(ours - theirs);
            let bound = share * (1e3 * floor + circuit::magnitude(theirs));
            assert!(off <= bound, "{name} {tag}: ours {ours}, ngspice {theirs}");
        }
        Some(self.ours.len())
    }
}

fn node(prefix: &str, node: Node) -> String {
    if node.0 == 0 { "0".to_owned() } else { format!("{prefix}n{}", node.0) }
}

fn difference(prefix: &str, a: Node, b: Node) -> String {
    let (a, b) = (node(prefix, a), node(prefix, b));
    match (a.as_str(), b.as_str()) {
        ("0", b) => format!("-v({b})"),
        (a, "0") => format!("v({a})"),
        (a, b) => format!("v({a})-v({b})"),
    }
}

/// Tells for each node whether a conducting path leads to a lower one.
fn tied_to_lower(network: &Network) -> Vec<bool> {
    let mut label: Vec<u32> = (0..u32::try_from(network.node_count()).unwrap()).collect();
    loop {
        let before = label.clone();
        for k in 0..u32::try_from(network.branch_count()).unwrap() {
            if network.law(Branch(k)).unwrap().conducts() {
                let (a, b) = network.ends(Branch(k)).unwrap();
                let low = label[a.0 as usize].min(label[b.0 as usize]);
                label[a.0 as usize] = low;
                label[b.0 as usize] = low;
            }
        }
        if before == label {
            return label.iter().zip(0..).map(|(low, n)| *low < n).collect();
        }
    }
}

/// Runs a deck and reads what it prints after each tag; `None` where the simulator finds its matrix singular.
fn simulate(name: &str, deck: &str) -> Option<BTreeMap<String, Complex64>> {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.cir"));
    std::fs::write(&path, deck).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(&path).output().unwrap_or_else(|error| {
        panic!("cannot run `ngspice` ({error}); install it with `apt-get update && apt-get install -y ngspice`")
    });
    let text = String::from_utf8_lossy(&output.stdout);
    let (mut tag, mut printed) = (None, BTreeMap::new());
    for line in text.lines() {
        if let Some(name) = line.trim().strip_prefix("TAG ") {
            tag = Some(name.to_owned());
        } else if let (Some((_, value)), Some(name)) = (line.split_once(" = "), tag.clone()) {
            let mut parts = value.split(',').map(|part| part.trim().parse::<f64>());
            let re = parts.next().unwrap().unwrap();
            let im = parts.next().map_or(0.0, Result::unwrap);
            printed.insert(name, Complex64::new(re, im));
            tag = None;
        }
    }
    let said = String::from_utf8_lossy(&output.stderr);
    if printed.is_empty() && said.contains("singular matrix") {
        return None;
    }
    assert!(!printed.is_empty(), "ngspice printed nothing: {said}");
    Some(printed)
}

/// Generates networks, changes each by the low-rank path, lays a meter across a port, and compares the lot.
fn run(name: &str, range: Range, share: f64, seed: u64, decks: u32) {
    let mut random = Sequence(seed);
    let mut singular = 0;
    for d in 0..decks {
        let mut deck = Deck::new();
        for n in 0..20 {
            let size = 6 + random.below(20);
            let network = generated::network(&mut random, size, range, true);
            let solved = network.solve().unwrap();
            let count = random.below(4);
            let changes: Vec<Change> =
                (0..count).map(|_| generated::change(&mut random, &network, range, true)).collect();
            let changed = solved.with(&changes).unwrap();
            let mut laid_in = generated::laid_in(&network, &changes);
            let prefix = format!("x{n}y");
            deck.lay(&prefix, &laid_in);
            deck.ask_all(&prefix, &laid_in, &changed);
            let (a, b) = (Node(random.below(size)), Node(random.below(size)));
            let ohms = random.pick(&[10e6, 3e3]);
            if let VoltsRead::Value(read) = volts_read(&changed.port(a, b), Complex64::from(ohms))
                && a != b
            {
                // The network once more, with the meter in it.
                laid_in.add(a, b, Law::ohms(ohms));
                let metered = format!("x{n}z");
                deck.lay(&metered, &laid_in);
                deck.ask(format!("{metered}meter"), &difference(&metered, a, b), read, 6e-3);
            }
        }
        match deck.hold(&format!("{name}-{d}"), share) {
            Some(compared) => assert!(compared > 500),
            None => singular += 1,
        }
    }
    assert!(20 * singular <= decks, "the simulator gave up on {singular} of {decks} decks");
}

#[test]
fn machine_like_networks_agree_with_the_simulator() {
    run("machine", Range::Machine, 1e-6, 21, 74);
}

/// 1e12 ohm is left to exact arithmetic: with it the simulator itself is off by more than 0.1 % here and there.
#[test]
fn networks_with_leaks_and_strays_agree_with_the_simulator() {
    run("leaky", Range::Leaky, 1e-4, 22, 30);
}
