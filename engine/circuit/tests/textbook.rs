//! Textbook networks whose answers can be worked out on paper.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

use circuit::{
    Branch, Change, CircuitError, Complex64, Law, Network, Node, OhmsRead, Port, VoltsRead, ohms_read, volts_read,
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
