//! Changes at which a careless update loses its digits or divides by zero.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

use circuit::{
    Branch, Change, Complex64, Law, Network, Node, OhmsRead, Port, VoltsRead, magnitude, ohms_read, volts_read,
};

const EARTH: Node = Node(0);

fn source(emf: f64, ohms: f64) -> Law {
    Law::Source { emf: Complex64::from(emf), series: Complex64::from(ohms) }
}

fn tied(port: Port) -> (Complex64, Complex64) {
    let Port::Tied { open_volts, source_impedance } = port else { panic!("{port:?}") };
    (open_volts, source_impedance)
}

fn near(got: Complex64, want: f64, share: f64) {
    assert!((got - want).l1_norm() <= share * want.abs(), "got {got}, want {want}");
}

/// Makes a bridge of four arms of 100 ohm on 10 V: the arms are 1-2, 2-0, 1-3, 3-0, the middle 2-3.
fn bridge(middle: Law) -> (Network, [Branch; 5]) {
    let mut network = Network::new(4);
    network.add(Node(1), EARTH, source(10.0, 0.5));
    let arms = [(1, 2), (2, 0), (1, 3), (3, 0)].map(|(a, b)| network.add(Node(a), Node(b), Law::ohms(100.0)));
    let middle = network.add(Node(2), Node(3), middle);
    (network, [arms[0], arms[1], arms[2], arms[3], middle])
}

#[test]
fn open_in_a_bridge_circuit_leaves_a_floating_corner() {
    let (network, [upper, lower, .., middle]) = bridge(Law::ohms(50.0));
    let solved = network.solve().unwrap();
    let open = |branch| Change::Law(branch, Law::Open);
    let changed = solved.with(&[open(upper), open(lower), open(middle)]).unwrap();
    assert!(!changed.refactored());
    let Port::Floating { highest_volts } = changed.port(Node(2), EARTH) else { panic!() };
    // Computed by hand: the other arms load 10 V behind 0.5 ohm with 200 ohm.
    assert!((highest_volts - 10.0 * 200.0 / 200.5).abs() < 1e-9);
    assert_eq!(changed.current(middle), Complex64::ZERO);
    // Any two of them leave the corner hanging on the third.
    for (pair, want) in [([upper, middle], 0.0), ([lower, middle], 1.0), ([upper, lower], 0.5)] {
        let changed = solved.with(&pair.map(open)).unwrap();
        let (volts, _) = tied(changed.port(Node(2), EARTH));
        // Computed by hand: nothing flows, so the corner takes the far end's potential.
        near(volts - 1.0, want * 10.0 * 200.0 / 200.5 - 1.0, 1e-9);
    }
}

#[test]
fn closing_the_middle_of_a_bridge_ties_what_floated() {
    let mut network = Network::new(4);
    network.add(Node(1), EARTH, source(10.0, 0.0));
    network.add(Node(1), Node(2), Law::ohms(30.0));
    let middle = network.add(Node(2), Node(3), Law::Open);
    let solved = network.solve().unwrap();
    assert!(!solved.same_island(Node(3), EARTH));
    let changed = solved.with(&[Change::Law(middle, Law::ohms(0.01))]).unwrap();
    let (volts, ohms) = tied(changed.port(Node(3), EARTH));
    near(volts, 10.0, 1e-12);
    near(ohms, 30.01, 1e-12);
    assert!(!changed.refactored());
}

#[test]
fn bridge_between_two_floating_islands_joins_them_and_not_the_earth() {
    let mut network = Network::new(5);
    network.add(Node(1), Node(2), Law::ohms(8.0));
    network.add(Node(3), Node(4), source(9.0, 1.0));
    let solved = network.solve().unwrap();
    assert_eq!(solved.port(Node(1), Node(3)), Port::Floating { highest_volts: 9.0 });
    let wire = |a, b| Change::Bridge { a: Node(a), b: Node(b), impedance: Complex64::ZERO };
    let joined = solved.with(&[wire(1, 3)]).unwrap();
    near(tied(joined.port(Node(2), Node(4))).0, 9.0, 1e-12);
    assert!(!joined.same_island(Node(1), EARTH));
    let loaded = solved.with(&[wire(1, 3), wire(2, 4)]).unwrap();
    // Computed by hand: 9 V over 1 + 8 ohm.
    near(loaded.current(Branch(0)), 1.0, 1e-12);
    near(loaded.current(loaded.bridge(1)), 1.0, 1e-12);
    assert!(!loaded.same_island(Node(2), EARTH));
    assert!(!loaded.refactored());
}

#[test]
fn source_in_an_island_of_its_own_drives_its_loop_only() {
    // Computed by hand: 24 V over 2 + 10 ohm; a lead from one end to earth carries nothing.
    let mut network = Network::new(3);
    network.add(Node(1), Node(2), source(24.0, 2.0));
    let load = network.add(Node(1), Node(2), Law::ohms(10.0));
    let solved = network.solve().unwrap();
    near(solved.current(load), 2.0, 1e-12);
    let changed = solved.with(&[Change::Bridge { a: Node(2), b: EARTH, impedance: Complex64::from(0.001) }]).unwrap();
    near(changed.current(load), 2.0, 1e-12);
    assert!(magnitude(changed.current(changed.bridge(0))) < 1e-12);
    near(tied(changed.port(Node(1), EARTH)).0, 20.0, 1e-12);
}

#[test]
fn hard_short_draws_what_source_and_wiring_let_through() {
    // Computed by hand: 120 V over 0.06 + 0.01 + 0.001 ohm.
    let mut network = Network::new(3);
    network.add(Node(1), EARTH, source(120.0, 0.06));
    let joint = network.add(Node(1), Node(2), Law::ohms(0.01));
    let heater = network.add(Node(2), EARTH, Law::ohms(20.0));
    let solved = network.solve().unwrap();
    let shorted = solved.with(&[Change::Law(heater, Law::ohms(0.001))]).unwrap();
    near(shorted.current(heater), 120.0 / 0.071, 1e-12);
    near(shorted.current(joint), 120.0 / 0.071, 1e-12);
    let dead = solved.with(&[Change::Law(heater, Law::ohms(0.0))]).unwrap();
    near(dead.current(heater), 120.0 / 0.07, 1e-12);
    assert!(magnitude(tied(dead.port(Node(2), EARTH)).0) < 1e-9);
    assert!(!shorted.refactored() && !dead.refactored());
}

#[test]
fn closed_contact_beside_a_leak_reads_millivolts_and_not_what_cancellation_left() {
    // The leg hangs on 1e12 ohm behind an open contact of 1e12 ohm; the fault welds the contact, and a load of
    // 1200 ohm then draws 0.1 A through its 0.012 ohm. Computed by hand: 120 * 0.012 / 1200.012 V across it.
    let mut network = Network::new(4);
    network.add(Node(1), EARTH, source(120.0, 0.0));
    let contact = network.add(Node(1), Node(2), Law::ohms(1e12));
    let lead = network.add(Node(2), Node(3), Law::ohms(1e12));
    network.add(Node(3), EARTH, Law::ohms(1200.0));
    let solved = network.solve().unwrap();
    let changes = [Change::Law(contact, Law::ohms(0.012)), Change::Law(lead, Law::ohms(0.0))];
    let changed = solved.with(&changes).unwrap();
    let (volts, ohms) = tied(changed.port(Node(1), Node(2)));
    near(volts, 120.0 * 0.012 / 1200.012, 1e-9);
    near(ohms, 0.012 * 1200.0 / 1200.012, 1e-9);
    let VoltsRead::Value(read) = volts_read(&changed.port(Node(1), Node(2)), Complex64::from(10e6)) else { panic!() };
    near(read, 0.001_2, 1e-4);
}

#[test]
fn impedance_that_the_correction_would_cancel_away_forces_a_fresh_factorisation() {
    // Computed by hand: 0.01 ohm in series with 5 ohm, seen after 1e12 ohm was lowered to 0.01 ohm.
    let mut network = Network::new(3);
    network.add(Node(1), EARTH, source(120.0, 5.0));
    let contact = network.add(Node(1), Node(2), Law::ohms(1e12));
    let solved = network.solve().unwrap();
    let changed = solved.with(&[Change::Law(contact, Law::ohms(0.01))]).unwrap();
    near(tied(changed.port(Node(2), EARTH)).1, 5.01, 1e-12);
    assert!(changed.refactored());
}

#[test]
fn two_contacts_in_series_raised_to_1e12_ohm_share_the_voltage() {
    // Computed by hand: equal resistances share equally; the node between them is at half.
    let mut network = Network::new(4);
    network.add(Node(1), EARTH, source(120.0, 0.0));
    let contacts = [(1, 2), (2, 3)].map(|(a, b)| network.add(Node(a), Node(b), Law::ohms(0.01)));
    network.add(Node(3), EARTH, Law::ohms(10.0));
    let solved = network.solve().unwrap();
    let changed = solved.with(&contacts.map(|c| Change::Law(c, Law::ohms(1e12)))).unwrap();
    near(tied(changed.port(Node(2), EARTH)).0, 60.0, 1e-9);
    near(changed.current(contacts[0]), 60e-12, 1e-9);
    assert!(changed.refactored());
}

#[test]
fn two_contacts_in_series_truly_open_leave_the_piece_between_them_floating() {
    let mut network = Network::new(4);
    network.add(Node(1), EARTH, source(120.0, 0.0));
    let contacts = [(1, 2), (2, 3)].map(|(a, b)| network.add(Node(a), Node(b), Law::ohms(0.01)));
    network.add(Node(3), EARTH, Law::ohms(10.0));
    network.add(Node(1), EARTH, Law::ohms(40.0));
    let solved = network.solve().unwrap();
    let changed = solved.with(&contacts.map(|c| Change::Law(c, Law::Open))).unwrap();
    assert_eq!(changed.port(Node(2), EARTH), Port::Floating { highest_volts: 120.0 });
    assert!(magnitude(tied(changed.port(Node(3), EARTH)).0) < 1e-12);
    assert!(!changed.refactored());
}

#[test]
fn parallel_path_under_an_ohm_meter_is_read_too() {
    // Computed by hand: a 20 ohm element open, 60 ohm beside it still closed.
    let mut network = Network::new(2);
    let element = network.add(Node(1), EARTH, Law::ohms(20.0));
    network.add(Node(1), EARTH, Law::ohms(60.0));
    let solved = network.solve().unwrap();
    assert_eq!(ohms_read(&solved.port(Node(1), EARTH), 60e6), OhmsRead::Ohms(15.0));
    let changed = solved.with(&[Change::Law(element, Law::Open)]).unwrap();
    let OhmsRead::Ohms(read) = ohms_read(&changed.port(Node(1), EARTH), 60e6) else { panic!() };
    assert!((read - 60.0).abs() < 1e-9);
}

#[test]
fn ohm_meter_on_a_live_port_reads_nothing_to_trust() {
    let mut network = Network::new(3);
    network.add(Node(1), EARTH, source(120.0, 5.0));
    let solved = network.solve().unwrap();
    assert_eq!(ohms_read(&solved.port(Node(1), EARTH), 60e6), OhmsRead::Live { volts: 120.0 });
    assert_eq!(ohms_read(&solved.port(Node(2), EARTH), 60e6), OhmsRead::Live { volts: 120.0 });
}

#[test]
fn third_island_counts_as_a_neighbour_of_two_dead_ones() {
    // 240 V between the legs of a split supply; two dead pieces of wire may each lie beside one of them.
    let mut network = Network::new(5);
    network.add(Node(1), EARTH, source(120.0, 0.1));
    network.add(Node(2), EARTH, source(-120.0, 0.1));
    let solved = network.solve().unwrap();
    assert_eq!(solved.port(Node(3), Node(4)), Port::Floating { highest_volts: 240.0 });
    assert_eq!(solved.port(Node(3), Node(2)), Port::Floating { highest_volts: 240.0 });
    assert_eq!(solved.port(Node(3), EARTH), Port::Floating { highest_volts: 120.0 });
}

#[test]
fn cutting_a_source_off_leaves_its_old_loop_dead() {
    let mut network = Network::new(3);
    let supply = network.add(Node(1), EARTH, source(120.0, 0.0));
    let lead = network.add(Node(1), Node(2), Law::ohms(0.01));
    let load = network.add(Node(2), EARTH, Law::ohms(10.0));
    let solved = network.solve().unwrap();
    for cut in [supply, lead] {
        let changed = solved.with(&[Change::Law(cut, Law::Open)]).unwrap();
        assert!(magnitude(changed.current(load)) < 1e-10);
        assert_eq!(changed.current(cut), Complex64::ZERO);
        assert!(magnitude(tied(changed.port(Node(2), EARTH)).0) < 1e-9);
        assert!(!changed.refactored());
    }
}

#[test]
fn change_undone_by_a_later_one_for_the_same_branch_counts_as_none() {
    let mut network = Network::new(2);
    network.add(Node(1), EARTH, source(120.0, 1.0));
    let load = network.add(Node(1), EARTH, Law::ohms(11.0));
    let solved = network.solve().unwrap();
    let changed = solved.with(&[Change::Law(load, Law::Open), Change::Law(load, Law::ohms(11.0))]).unwrap();
    near(changed.current(load), 10.0, 1e-12);
}

#[test]
fn branch_from_a_node_to_itself_carries_its_own_emf_alone() {
    // Computed by hand: 6 V over 2 ohm, whatever the node is at.
    let mut network = Network::new(2);
    network.add(Node(1), EARTH, source(120.0, 1.0));
    let ring = network.add(Node(1), Node(1), source(6.0, 2.0));
    let solved = network.solve().unwrap();
    near(solved.current(ring), -3.0, 1e-12);
    let lead = Change::Bridge { a: Node(1), b: Node(1), impedance: Complex64::from(0.01) };
    let changed = solved.with(&[lead]).unwrap();
    assert_eq!(changed.current(changed.bridge(0)), Complex64::ZERO);
    near(tied(changed.port(Node(1), EARTH)).0, 120.0, 1e-12);
}

#[test]
fn open_branch_can_become_a_source() {
    // Computed by hand: 24 V behind 2 ohm across a lamp of 10 ohm, in a piece that nothing else ties.
    let mut network = Network::new(3);
    let lamp = network.add(Node(1), Node(2), Law::ohms(10.0));
    let feed = network.add(Node(1), Node(2), Law::Open);
    let solved = network.solve().unwrap();
    let changed = solved.with(&[Change::Law(feed, source(24.0, 2.0))]).unwrap();
    near(changed.current(lamp), 2.0, 1e-12);
    near(changed.current(feed), -2.0, 1e-12);
    near(changed.current_adjoint(lamp).per_emf(feed), 1.0 / 12.0, 1e-12);
    assert_eq!(changed.port(Node(1), EARTH), Port::Floating { highest_volts: 20.0 });
}
