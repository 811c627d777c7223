//! Holds solutions, changes and sensitivities against exact complex rationals.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

#[path = "support/exact.rs"]
mod exact;
#[path = "support/generated.rs"]
mod generated;

use circuit::{Branch, Change, Changed, Complex64, Network, Node, Port};
use exact::{Exact, ExactSolution};
use generated::{Range, Sequence};

/// Share of a value that may be off, and what is of no account: volts, amperes, ohms.
const SHARE: f64 = 1e-9;
const FLOOR_VOLTS: f64 = 1e-9;
const FLOOR_AMPERES: f64 = 1e-9;
const FLOOR_OHMS: f64 = 1e-7;

fn close(got: Complex64, want: &Exact, floor: f64, what: &str) {
    let want = exact::rounded(want);
    let off = (got - want).l1_norm();
    assert!(off <= SHARE * want.l1_norm() + floor, "{what}: got {got}, exactly {want}, off {off:e}");
}

/// Holds every current, every voltage and a few ports of a changed network.
fn hold(changed: &Changed<'_>, network: &Network, random: &mut Sequence, what: &str) {
    let laws = exact::laws(network);
    let want = exact::solve(network, &laws, None);
    for k in 0..u32::try_from(network.branch_count()).unwrap() {
        close(changed.current(Branch(k)), want.amperes(Branch(k)), FLOOR_AMPERES, &format!("{what}, current of {k}"));
    }
    let nodes = u32::try_from(network.node_count()).unwrap();
    for a in 0..nodes {
        for b in 0..a {
            hold_volts(changed, &want, Node(a), Node(b), what);
        }
    }
    for _ in 0..2 {
        let (a, b) = (Node(random.below(nodes)), Node(random.below(nodes)));
        if let Port::Tied { source_impedance, .. } = changed.port(a, b) {
            let want = exact::source_impedance(network, &laws, a, b);
            close(source_impedance, &want, FLOOR_OHMS, &format!("{what}, impedance {a:?} {b:?}"));
        }
    }
}

fn hold_volts(changed: &Changed<'_>, want: &ExactSolution, a: Node, b: Node, what: &str) {
    match changed.voltage(a, b) {
        Some(volts) => {
            assert!(want.tied(a, b), "{what}: {a:?} and {b:?} are not tied");
            close(volts, &want.volts(a, b), FLOOR_VOLTS, &format!("{what}, volts {a:?} {b:?}"));
        }
        None => assert!(!want.tied(a, b), "{what}: {a:?} and {b:?} are tied"),
    }
}

fn run(range: Range, reactive: bool, seed: u64, networks: u32) -> (u32, u32) {
    let mut random = Sequence(seed);
    let (mut changes_made, mut refactored) = (0, 0);
    for n in 0..networks {
        let size = 5 + random.below(4);
        let network = generated::network(&mut random, size, range, reactive);
        let solved = network.solve().unwrap();
        hold(&solved.unchanged(), &network, &mut random, &format!("{n}"));
        for _ in 0..3 {
            let count = 1 + random.below(3);
            let changes: Vec<Change> =
                (0..count).map(|_| generated::change(&mut random, &network, range, reactive)).collect();
            let Ok(changed) = solved.with(&changes) else { panic!("{n}: {network:?} {changes:?}") };
            let what = format!("{n}, {network:?}, {changes:?}");
            hold(&changed, &generated::laid_in(&network, &changes), &mut random, &what);
            changes_made += 1;
            refactored += u32::from(changed.refactored());
        }
    }
    (changes_made, refactored)
}

#[test]
fn machine_like_phasors_agree_with_exact_arithmetic() {
    let (made, refactored) = run(Range::Machine, true, 1, 40);
    assert!(refactored * 50 <= made, "{refactored} of {made} changes needed a fresh factorisation");
}

#[test]
fn resistances_agree_with_exact_arithmetic() {
    run(Range::Machine, false, 2, 40);
}

#[test]
fn leaks_and_strays_up_to_1e12_ohm_agree_with_exact_arithmetic() {
    run(Range::Wide, true, 3, 40);
}

/// Puts an impedance a little up and down and gives the exact central difference of what `read` gives.
fn slope(network: &Network, branch: Branch, read: impl Fn(&[Option<(Exact, Exact)>]) -> Exact) -> Exact {
    let laws = exact::laws(network);
    let step = Complex64::from(libm::ldexp(1.0, -30));
    let at = |step: Complex64| {
        let mut moved = laws.clone();
        if let Some((_, z)) = &mut moved[branch.0 as usize] {
            *z += exact::exact(step);
        }
        read(&moved)
    };
    (at(step) - at(-step)) / exact::exact(step + step)
}

/// Holds the three sensitivities of a port and one of a current, under changes.
fn hold_slopes(changed: &Changed<'_>, network: &Network, random: &mut Sequence, what: &str) {
    let nodes = u32::try_from(network.node_count()).unwrap();
    let branches = u32::try_from(network.branch_count()).unwrap();
    let (a, b) = (Node(random.below(nodes)), Node(random.below(nodes)));
    let branch = Branch(random.below(branches));
    let other = Branch(random.below(branches));
    let by_ohm = slope(network, branch, |laws| exact::solve(network, laws, None).amperes(other).clone());
    let scale = 1e-9 * (1.0 + changed.current(branch).l1_norm());
    close(changed.current_adjoint(other).per_ohm(branch), &by_ohm, scale, &format!("{what}, {other:?} by {branch:?}"));
    let Some(adjoint) = changed.port_adjoint(a, b) else { return };
    let by_ohm = slope(network, branch, |laws| exact::solve(network, laws, None).volts(a, b));
    close(adjoint.per_ohm(branch), &by_ohm, scale, &format!("{what}, {a:?} {b:?} by {branch:?}"));
    let by_ohm = slope(network, branch, |laws| exact::source_impedance(network, laws, a, b));
    close(adjoint.source_impedance_per_ohm(branch), &by_ohm, 1e-9, &format!("{what}, ohms {a:?} {b:?} by {branch:?}"));
    // The network is linear: one volt more of emf is one volt of emf alone.
    let mut laws = exact::laws(network);
    laws.iter_mut().flatten().for_each(|law| law.0 = exact::exact(Complex64::ZERO));
    if let Some(law) = &mut laws[branch.0 as usize] {
        law.0 = exact::exact(Complex64::ONE);
    }
    let by_volt = exact::solve(network, &laws, None).volts(a, b);
    close(adjoint.per_emf(branch), &by_volt, 1e-10, &format!("{what}, {a:?} {b:?} by emf of {branch:?}"));
}

#[test]
fn sensitivities_agree_with_exact_differences() {
    let mut random = Sequence(4);
    for n in 0..60 {
        let range = if n % 3 == 0 { Range::Wide } else { Range::Machine };
        let size = 5 + random.below(3);
        let network = generated::network(&mut random, size, range, true);
        let solved = network.solve().unwrap();
        let count = random.below(4);
        let changes: Vec<Change> = (0..count).map(|_| generated::change(&mut random, &network, range, true)).collect();
        let Ok(changed) = solved.with(&changes) else { panic!("{n}: {network:?} {changes:?}") };
        let what = format!("{n}, {network:?}, {changes:?}");
        hold_slopes(&changed, &generated::laid_in(&network, &changes), &mut random, &what);
    }
}
