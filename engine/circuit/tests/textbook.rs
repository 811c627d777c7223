//! Textbook networks whose answers can be worked out on paper.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

use circuit::{
    Branch, Change, CircuitError, Complex64, Law, Network, Node, OhmsRead, Port, VoltsRead, magnitude, ohms_read,
    volts_read,
};

fn near(got: Complex64, want: Complex64) {
    assert!((got - want).l1_norm() <= 1e-9 * (1.0 + want.l1_norm()), "got {got}, want {want}");
}

fn volts(v: f64) -> Law {
    Law::Source { emf: Complex64::from(v), series: Complex64::ZERO }
}

/// A source of 12 V, 10 ohm and 20 ohm to the reference.
fn divider() -> (Network, [Branch; 3]) {
    let mut network = Network::new(3);
    let source = network.add(Node(1), Node(0), volts(12.0));
    let upper = network.add(Node(1), Node(2), Law::ohms(10.0));
    let lower = network.add(Node(2), Node(0), Law::ohms(20.0));
    (network, [source, upper, lower])
}

#[test]
fn divider_shares_by_resistance() {
    // Computed by hand: 12 V * 20 / 30 = 8 V behind 10 // 20 = 6.667 ohm, 0.4 A.
    let (network, [source, upper, lower]) = divider();
    let solved = network.solve().unwrap();
    near(solved.current(upper), Complex64::from(0.4));
    near(solved.current(lower), Complex64::from(0.4));
    near(solved.current(source), Complex64::from(-0.4));
    let Port::Tied { open_volts, source_impedance } = solved.port(Node(2), Node(0)) else { panic!() };
    near(open_volts, Complex64::from(8.0));
    near(source_impedance, Complex64::from(20.0 / 3.0));
}

#[test]
fn meter_loads_the_divider() {
    // Computed by hand: 8 V behind 20/3 ohm into 20/3 ohm reads half.
    let (network, _) = divider();
    let port = network.solve().unwrap().port(Node(2), Node(0));
    let VoltsRead::Value(read) = volts_read(&port, Complex64::from(20.0 / 3.0)) else { panic!() };
    near(read, Complex64::from(4.0));
    let VoltsRead::Value(read) = volts_read(&port, Complex64::from(f64::INFINITY)) else { panic!() };
    near(read, Complex64::from(8.0));
}

#[test]
fn opened_branch_leaves_a_dead_island_that_floats() {
    // Computed by hand: with the upper resistor and the lower one open, node 2 hangs free beside 12 V.
    let (network, [_, upper, lower]) = divider();
    let solved = network.solve().unwrap();
    let changed = solved.with(&[Change::Law(upper, Law::Open), Change::Law(lower, Law::Open)]).unwrap();
    assert!(!changed.refactored());
    assert_eq!(changed.port(Node(2), Node(0)), Port::Floating { highest_volts: 12.0 });
    assert_eq!(changed.current(upper), Complex64::ZERO);
    assert_eq!(changed.voltage(Node(2), Node(0)), None);
    assert!(changed.same_island(Node(1), Node(0)));
}

#[test]
fn open_resistor_reads_over_range() {
    let mut network = Network::new(3);
    let element = network.add(Node(1), Node(2), Law::ohms(20.0));
    let solved = network.solve().unwrap();
    assert_eq!(ohms_read(&solved.port(Node(1), Node(2)), 60e6), OhmsRead::Ohms(20.0));
    let changed = solved.with(&[Change::Law(element, Law::Open)]).unwrap();
    assert_eq!(ohms_read(&changed.port(Node(1), Node(2)), 60e6), OhmsRead::OverRange);
}

#[test]
fn loop_without_impedance_is_named() {
    let mut network = Network::new(2);
    let source = network.add(Node(1), Node(0), volts(12.0));
    let wire = network.add(Node(0), Node(1), Law::Open);
    let solved = network.solve().unwrap();
    let error = solved.with(&[Change::Law(wire, Law::ohms(0.0))]).unwrap_err();
    assert_eq!(error, CircuitError::IdealLoop { branches: vec![source, wire], contradictory: true });
}

/// Reads a port that must be tied.
fn tied(port: Port) -> (Complex64, Complex64) {
    let Port::Tied { open_volts, source_impedance } = port else { panic!("{port:?}") };
    (open_volts, source_impedance)
}

/// Lays a Wheatstone bridge on 10 V: `r1` from the top to the left corner, `r2` on to earth, `r3`, `rx` on the right.
fn wheatstone(r1: f64, r2: f64, r3: f64, rx: f64, galvanometer: Law) -> (Network, Branch) {
    let mut network = Network::new(4);
    network.add(Node(1), Node(0), volts(10.0));
    for (a, b, ohms) in [(1, 2, r1), (2, 0, r2), (1, 3, r3), (3, 0, rx)] {
        network.add(Node(a), Node(b), Law::ohms(ohms));
    }
    let galvanometer = network.add(Node(2), Node(3), galvanometer);
    (network, galvanometer)
}

#[test]
fn balanced_wheatstone_bridge_shows_nothing() {
    // Textbook: balance at rx = r3 r2 / r1. Computed by hand: 300 * 200 / 100 = 600 ohm.
    let (network, galvanometer) = wheatstone(100.0, 200.0, 300.0, 600.0, Law::ohms(25.0));
    let solved = network.solve().unwrap();
    near(solved.current(galvanometer), Complex64::ZERO);
    near(solved.voltage(Node(2), Node(3)).unwrap(), Complex64::ZERO);
}

#[test]
fn unbalanced_wheatstone_bridge_follows_thevenin() {
    // Textbook: V = Vs (r2/(r1+r2) - rx/(r3+rx)), behind r1//r2 + r3//rx.
    // Computed by hand: 10 (200/300 - 400/700) = 0.952381 V behind 66.6667 + 171.4286 = 238.0952 ohm.
    let (network, galvanometer) = wheatstone(100.0, 200.0, 300.0, 400.0, Law::Open);
    let solved = network.solve().unwrap();
    let (volts, ohms) = tied(solved.port(Node(2), Node(3)));
    near(volts, Complex64::from(20.0 / 21.0));
    near(ohms, Complex64::from(5000.0 / 21.0));
    // Computed by hand: a galvanometer of 11.9048 ohm makes 250 ohm, 3.809524 mA.
    let changed = solved.with(&[Change::Law(galvanometer, Law::ohms(250.0 / 21.0))]).unwrap();
    near(changed.current(galvanometer), Complex64::from(20.0 / 21.0 / 250.0));
}

/// Makes an impedance of a reactance in ohms.
fn reactance(ohms: f64) -> Law {
    Law::Impedance(Complex64::new(0.0, ohms))
}

#[test]
fn series_rlc_divides_in_magnitude_and_phase() {
    // Textbook: Z = R + j(XL - XC), phase of the current -atan((XL - XC)/R). Computed by hand for 100 V, 30 ohm,
    // XL 70, XC 30: Z = 50 ohm at 53.13 degrees, I = 2 A lagging, VL = 140 V leading the source by 36.87 degrees.
    let mut network = Network::new(4);
    network.add(Node(1), Node(0), volts(100.0));
    let resistor = network.add(Node(1), Node(2), Law::ohms(30.0));
    network.add(Node(2), Node(3), reactance(70.0));
    network.add(Node(3), Node(0), reactance(-30.0));
    let solved = network.solve().unwrap();
    near(solved.current(resistor), Complex64::new(1.2, -1.6));
    let coil = solved.voltage(Node(2), Node(3)).unwrap();
    near(coil, Complex64::new(112.0, 84.0));
    assert!((magnitude(coil) - 140.0).abs() < 1e-9);
    assert!((libm::atan2(coil.im, coil.re).to_degrees() - 36.869_897_645_844_02).abs() < 1e-9);
    near(solved.voltage(Node(3), Node(0)).unwrap(), Complex64::new(-48.0, -36.0));
}

#[test]
fn capacitor_draws_by_its_reactance() {
    // Textbook: XC = 1 / (2 pi f C). Computed by hand: 25 uF at 60 Hz is 106.103 ohm; 120 V drive 1.13097 A leading.
    let xc = 1.0 / (2.0 * std::f64::consts::PI * 60.0 * 25e-6);
    assert!((xc - 106.103).abs() < 1e-3);
    let mut network = Network::new(2);
    network.add(Node(1), Node(0), volts(120.0));
    let capacitor = network.add(Node(1), Node(0), reactance(-xc));
    let current = network.solve().unwrap().current(capacitor);
    assert!((current - Complex64::new(0.0, 1.130_97)).l1_norm() < 1e-5, "{current}");
}

#[test]
fn lost_neutral_shares_240_volts_by_the_loads() {
    // Computed by hand: 10 and 30 ohm in series across 240 V carry 6 A, so the legs show 60 V and 180 V.
    let mut network = Network::new(4);
    network.add(Node(1), Node(0), volts(120.0));
    network.add(Node(2), Node(0), volts(-120.0));
    network.add(Node(1), Node(3), Law::ohms(10.0));
    network.add(Node(3), Node(2), Law::ohms(30.0));
    let neutral = network.add(Node(3), Node(0), Law::ohms(0.05));
    let solved = network.solve().unwrap();
    let lost = solved.with(&[Change::Law(neutral, Law::Open)]).unwrap();
    near(lost.voltage(Node(1), Node(3)).unwrap(), Complex64::from(60.0));
    near(lost.voltage(Node(3), Node(2)).unwrap(), Complex64::from(180.0));
}

#[test]
fn lossless_resonance_has_no_single_answer() {
    // Textbook: a coil and a capacitor of equal reactance in parallel take any current of their own.
    let mut network = Network::new(2);
    network.add(Node(1), Node(0), reactance(50.0));
    network.add(Node(1), Node(0), reactance(-50.0));
    assert_eq!(network.solve().unwrap_err(), CircuitError::Singular);
}

#[test]
fn two_ammeters_side_by_side_leave_their_currents_open() {
    let mut network = Network::new(3);
    network.add(Node(1), Node(0), volts(12.0));
    let one = network.add(Node(1), Node(2), Law::ohms(0.0));
    let other = network.add(Node(1), Node(2), Law::ohms(0.0));
    network.add(Node(2), Node(0), Law::ohms(6.0));
    let error = network.solve().unwrap_err();
    assert_eq!(error, CircuitError::IdealLoop { branches: vec![one, other], contradictory: false });
    assert_eq!(error.to_string(), "branches 1, 2 form a loop with no impedance at all; give one of them a resistance");
    // One of them with any resistance at all is enough.
    network.set_law(other, Law::ohms(1e-6)).unwrap();
    near(network.solve().unwrap().current(one), Complex64::from(2.0));
}

#[test]
fn what_does_not_exist_or_is_no_number_is_named() {
    let mut network = Network::new(2);
    let branch = network.add(Node(1), Node(7), Law::ohms(1.0));
    assert_eq!(network.solve().unwrap_err(), CircuitError::NoSuchNode { node: Node(7) });
    let mut network = Network::new(2);
    network.add(Node(1), Node(0), Law::ohms(f64::NAN));
    assert_eq!(network.solve().unwrap_err(), CircuitError::NotFinite { branch });
    let (network, _) = divider();
    let solved = network.solve().unwrap();
    let missing = Change::Law(Branch(9), Law::Open);
    assert_eq!(solved.with(&[missing]).unwrap_err(), CircuitError::NoSuchBranch { branch: Branch(9) });
    let astray = Change::Bridge { a: Node(1), b: Node(9), impedance: Complex64::ONE };
    assert_eq!(solved.with(&[astray]).unwrap_err(), CircuitError::NoSuchNode { node: Node(9) });
    assert_eq!(solved.current(Branch(9)), Complex64::ZERO);
    assert!(!solved.same_island(Node(9), Node(9)));
}

#[test]
fn network_without_branches_is_all_islands() {
    let solved = Network::new(3).solve().unwrap();
    assert_eq!(solved.port(Node(1), Node(2)), Port::Floating { highest_volts: 0.0 });
    assert_eq!(tied(solved.port(Node(1), Node(1))), (Complex64::ZERO, Complex64::ZERO));
}
