//! Laws that hold in every network: Kirchhoff, each branch's own law, reciprocity, passivity, and that a change by
//! the low-rank path equals the changed network solved afresh.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

#[path = "support/generated.rs"]
mod generated;

use circuit::{Branch, Change, Changed, CircuitError, Complex64, Law, Network, Node, Port};
use generated::{Range, Sequence};

fn branches(network: &Network) -> impl Iterator<Item = Branch> + use<> {
    (0..u32::try_from(network.branch_count()).unwrap()).map(Branch)
}

fn nodes(network: &Network) -> impl Iterator<Item = Node> + use<> {
    (0..u32::try_from(network.node_count()).unwrap()).map(Node)
}

/// Holds Kirchhoff's laws and every branch's own against a network in which the changes are laid in.
fn hold_laws(changed: &Changed<'_>, network: &Network) {
    let mut sums = vec![(Complex64::ZERO, 0.0); network.node_count()];
    for branch in branches(network) {
        let (a, b) = network.ends(branch).unwrap();
        let current = changed.current(branch);
        for (node, sign) in [(a, 1.0), (b, -1.0)] {
            let (sum, size) = &mut sums[node.0 as usize];
            *sum += current * sign;
            *size += current.l1_norm();
        }
        match network.law(branch).unwrap() {
            Law::Open => assert_eq!(current, Complex64::ZERO),
            Law::Impedance(z) => hold_branch(changed, (a, b), Complex64::ZERO, z, current),
            Law::Source { emf, series } => hold_branch(changed, (a, b), emf, series, current),
        }
    }
    for (sum, size) in sums {
        assert!(sum.l1_norm() <= 1e-9 * size + 1e-9, "{sum} A left of {size} A");
    }
}

fn hold_branch(changed: &Changed<'_>, (a, b): (Node, Node), emf: Complex64, z: Complex64, current: Complex64) {
    let volts = changed.voltage(a, b).unwrap();
    let off = (volts - emf - z * current).l1_norm();
    // A billionth of the voltages about in these networks, and currents to a picoampere.
    assert!(off <= 3e-7 + 1e-12 * z.l1_norm(), "{volts} V across, {emf} + {z} * {current} V inside");
}

/// Compares every current, every voltage, and the impedance of every port at a node, of two solutions.
fn hold_equal(changed: &Changed<'_>, fresh: &Changed<'_>, network: &Network, what: &dyn Fn() -> String) {
    let near = |got: Complex64, want: Complex64, floor: f64| {
        let off = (got - want).l1_norm();
        assert!(off <= 1e-8 * want.l1_norm() + floor, "got {got}, fresh {want}, off {off:e}: {}", what());
    };
    // A hard short draws tens of kiloamperes here; beside them a zero is known to their last digits only.
    let largest = branches(network).map(|k| fresh.current(k).l1_norm()).fold(0.0, f64::max);
    branches(network).for_each(|k| near(changed.current(k), fresh.current(k), 1e-9 + 1e-12 * largest));
    for node in nodes(network) {
        let other = Node(node.0 / 2);
        match (changed.port(node, other), fresh.port(node, other)) {
            (
                Port::Tied { open_volts: got, source_impedance: got_z },
                Port::Tied { open_volts: want, source_impedance: want_z },
            ) => {
                near(got, want, 1e-8);
                near(got_z, want_z, 1e-6);
            }
            (Port::Floating { highest_volts: got }, Port::Floating { highest_volts: want }) => {
                assert!((got - want).abs() <= 1e-9 * want + 1e-6, "got {got}, fresh {want}: {}", what());
            }
            (got, want) => panic!("got {got:?}, fresh {want:?}: {}", what()),
        }
    }
}

#[test]
fn kirchhoff_and_every_branch_law_hold_under_changes() {
    let mut random = Sequence(11);
    for n in 0..200 {
        let range = if n % 2 == 0 { Range::Machine } else { Range::Wide };
        let size = 8 + random.below(30);
        let network = generated::network(&mut random, size, range, true);
        let solved = network.solve().unwrap();
        for count in 0..4 {
            let changes: Vec<Change> =
                (0..count).map(|_| generated::change(&mut random, &network, range, true)).collect();
            hold_laws(&solved.with(&changes).unwrap(), &generated::laid_in(&network, &changes));
        }
    }
}

/// Lists single changes of every branch: opened, closed hard, at 16 ohm, at 20 kohm; and a bridge at every node.
fn single_changes(network: &Network) -> Vec<Change> {
    let contact = Law::ohms(0.015_625);
    let of_branch = |k: Branch| [Law::Open, contact, Law::ohms(16.0), Law::ohms(20e3)].map(|law| Change::Law(k, law));
    let of_node = |a: Node| Change::Bridge { a, b: Node(a.0 / 3), impedance: Complex64::from(0.031_25) };
    branches(network).flat_map(of_branch).chain(nodes(network).skip(1).map(of_node)).collect()
}

#[test]
fn every_single_change_equals_a_fresh_solution_without_leaving_the_low_rank_path() {
    let mut random = Sequence(12);
    for _ in 0..25 {
        let size = 8 + random.below(16);
        let network = generated::network(&mut random, size, Range::Machine, true);
        let solved = network.solve().unwrap();
        for change in single_changes(&network) {
            let changed = solved.with(&[change]).unwrap();
            let laid_in = generated::laid_in(&network, &[change]);
            let fresh = laid_in.solve().unwrap();
            let what = || format!("{network:?} {change:?}");
            hold_equal(&changed, &fresh.unchanged(), &laid_in, &what);
            assert!(!changed.refactored(), "{}", what());
        }
    }
}

#[test]
fn every_pair_of_changes_equals_a_fresh_solution() {
    let mut random = Sequence(13);
    for range in [Range::Machine, Range::Machine, Range::Wide] {
        let network = generated::network(&mut random, 9, range, true);
        let solved = network.solve().unwrap();
        let singles = single_changes(&network);
        for (i, &first) in singles.iter().enumerate() {
            for &second in &singles[..i] {
                let changes = [second, first];
                let laid_in = generated::laid_in(&network, &changes);
                let fresh = laid_in.solve().unwrap();
                let changed = solved.with(&changes).unwrap();
                hold_equal(&changed, &fresh.unchanged(), &laid_in, &|| format!("{network:?} {changes:?}"));
            }
        }
    }
}

#[test]
fn change_to_no_impedance_equals_a_fresh_solution_or_is_refused_with_it() {
    let mut random = Sequence(17);
    let (mut solved_so, mut refused) = (0, 0);
    for _ in 0..60 {
        let network = generated::network(&mut random, 12, Range::Machine, true);
        let solved = network.solve().unwrap();
        for branch in branches(&network) {
            let wire = Change::Law(branch, Law::ohms(0.0));
            let (a, b) = (Node(random.below(12)), Node(random.below(12)));
            let changes = [wire, Change::Bridge { a, b, impedance: Complex64::ZERO }];
            let laid_in = generated::laid_in(&network, &changes);
            match (solved.with(&changes), laid_in.solve()) {
                (Ok(changed), Ok(fresh)) => {
                    hold_equal(&changed, &fresh.unchanged(), &laid_in, &|| format!("{network:?} {changes:?}"));
                    solved_so += 1;
                }
                (Err(one), Err(other)) => {
                    assert_eq!(one, other);
                    assert!(matches!(one, CircuitError::IdealLoop { .. }), "{one}");
                    refused += 1;
                }
                (one, other) => panic!("{:?}, fresh {:?}: {network:?} {changes:?}", one.err(), other.err()),
            }
        }
    }
    assert!(solved_so > 300 && refused > 100, "{solved_so} solved, {refused} refused");
}

#[test]
fn current_in_one_branch_by_emf_in_another_is_the_same_the_other_way_round() {
    let mut random = Sequence(14);
    for _ in 0..100 {
        let network = generated::network(&mut random, 20, Range::Machine, true);
        let solved = network.solve().unwrap();
        let changes: Vec<Change> =
            (0..2).map(|_| generated::change(&mut random, &network, Range::Machine, true)).collect();
        let changed = solved.with(&changes).unwrap();
        let count = u32::try_from(network.branch_count()).unwrap();
        let (k, m) = (Branch(random.below(count)), Branch(random.below(count)));
        let (one, other) = (changed.current_adjoint(k).per_emf(m), changed.current_adjoint(m).per_emf(k));
        assert!((one - other).l1_norm() <= 1e-9 * one.l1_norm() + 1e-12, "{one} and {other}");
    }
}

#[test]
fn passive_parts_never_give_power() {
    let mut random = Sequence(15);
    for n in 0..100 {
        let range = if n % 2 == 0 { Range::Machine } else { Range::Wide };
        let network = generated::network(&mut random, 20, range, true);
        let solved = network.solve().unwrap();
        let changes = [generated::change(&mut random, &network, range, true)];
        let changed = solved.with(&changes).unwrap();
        for node in nodes(&network).skip(1) {
            if let Port::Tied { source_impedance, .. } = changed.port(node, Node(node.0 / 2)) {
                assert!(source_impedance.re >= -1e-7, "{source_impedance} at {node:?}");
            }
        }
    }
}

#[test]
fn power_of_all_branches_adds_up_to_zero() {
    // Tellegen's theorem: the sum of v i* over all branches vanishes.
    let mut random = Sequence(16);
    for _ in 0..100 {
        let network = generated::network(&mut random, 20, Range::Machine, true);
        let solved = network.solve().unwrap();
        let change = generated::change(&mut random, &network, Range::Machine, true);
        let changed = solved.with(&[change]).unwrap();
        let laid_in = generated::laid_in(&network, &[change]);
        let (mut sum, mut size) = (Complex64::ZERO, 0.0);
        for branch in branches(&laid_in) {
            let (a, b) = laid_in.ends(branch).unwrap();
            // Across islands the branch is open and its current zero.
            let power = changed.voltage(a, b).unwrap_or_default() * changed.current(branch).conj();
            sum += power;
            size += power.l1_norm();
        }
        assert!(sum.l1_norm() <= 1e-9 * size + 1e-9, "{sum} of {size}");
    }
}
