//! Holds what settles in time against closed forms, an outside solver, and the balance of energy.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

#[path = "../examples/heat_up/oven.rs"]
mod oven;
#[path = "transient/support.rs"]
mod support;

use circuit::{Node, RcNetwork, Transient, TransientError};
use oven::Ovens;
use support::{Random, grown};

const ROOM: Node = Node(0);

/// One capacity that loses to the reference: time constant `tau`, end `rise`.
fn first_order(tau: f64, rise: f64) -> (Transient, Node) {
    let mut network = RcNetwork::new();
    let node = network.add_node(tau * 4.0);
    network.join(node, ROOM, 4.0);
    network.feed(node, rise * 4.0).unwrap();
    (network.solve().unwrap(), node)
}

fn reference() -> Vec<csv::StringRecord> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/thermal.csv");
    csv::Reader::from_path(path).unwrap().records().map(Result::unwrap).collect()
}

/// Reads the number that follows a word in the inputs of a row.
fn after(text: &str, word: &str) -> Option<f64> {
    let rest = text.split_once(word)?.1;
    rest.split([' ', ';']).next().unwrap().parse().ok()
}

fn ovens() -> Ovens {
    Ovens::read(include_str!("reference/oven.json")).unwrap()
}

// SOURCE: tests/reference/thermal.csv, O10-RC: T0 + dT (1 - exp(-t/tau)), and -tau ln(1 - f).
#[test]
fn single_capacity_follows_the_closed_form() {
    let mut held = 0;
    for row in reference().iter().filter(|row| row[0].starts_with("O10-RC-")) {
        let (inputs, expected): (_, f64) = (&row[3], row[4].parse().unwrap());
        let tau = after(inputs, "tau=").unwrap();
        if let Some(share) = after(inputs, "share ") {
            // The table's 0.632121 stands for 1 - 1/e: its own times at tau are exact.
            let share = if (share - 0.632_121).abs() < 1e-9 { -libm::expm1(-1.0) } else { share };
            let (transient, node) = first_order(tau, 10.0);
            let seconds = transient.first_time(&[0.0], node, 10.0 * share).unwrap().unwrap();
            assert!((seconds - expected).abs() <= 1e-9 * expected, "{}: {seconds}", &row[0]);
        } else {
            let (from, rise) = (after(inputs, "from ").unwrap(), after(inputs, "final rise ").unwrap());
            let (transient, node) = first_order(tau, rise);
            let now = from + transient.curve(&[0.0], node, &[after(inputs, "t=").unwrap()]).unwrap()[0];
            // The table has ten significant digits.
            assert!((now - expected).abs() <= 1e-7, "{}: {now}", &row[0]);
        }
        held += 1;
    }
    assert_eq!(held, 13);
}

// SOURCE: tests/reference/thermal.csv, O10-LIN: scipy solve_ivp and matrix exponential.
#[test]
fn oven_reaches_its_temperatures_when_the_reference_does() {
    let (ovens, mut held) = (ovens(), 0);
    for row in reference().iter().filter(|row| row[0].starts_with("O10-LIN-")) {
        let (case, target) = row[0].strip_prefix("O10-LIN-").unwrap().rsplit_once('-').unwrap();
        let target: f64 = target.trim_end_matches('C').parse().unwrap();
        let seconds = ovens.oven(case).unwrap().seconds_to(target).unwrap().unwrap();
        let expected: f64 = row[4].parse().unwrap();
        // The table allows 0.05 s; both are exact to its ten digits.
        assert!((seconds - expected).abs() <= 1e-4, "{}: {seconds}", &row[0]);
        held += 1;
    }
    assert_eq!(held, 24);
}

// SOURCE: tests/reference/thermal.csv, O10-SS: numpy linalg.solve.
#[test]
fn oven_ends_at_the_reference_temperature() {
    let (ovens, mut held) = (ovens(), 0);
    for row in reference().iter().filter(|row| row[0].starts_with("O10-SS-")) {
        let oven = ovens.oven(row[0].strip_prefix("O10-SS-").unwrap()).unwrap();
        let steady = oven.transient.steady(&[0.0; 4]).unwrap().unwrap();
        let (end, expected) = (oven.room_c + steady[oven.cavity.0 as usize - 1], row[4].parse::<f64>().unwrap());
        assert!((end - expected).abs() <= 1e-9 * expected, "{}: {end}", &row[0]);
        assert_eq!(oven.seconds_to(end + 1e-3).unwrap(), None);
        held += 1;
    }
    assert_eq!(held, 8);
}

#[test]
fn what_flows_in_is_stored_or_lost() {
    let mut random = Random(7);
    for _ in 0..60 {
        let grown = grown(&mut random);
        let transient = grown.network.solve().unwrap();
        let end = 30.0;
        // Simpson's rule over 2000 steps: its error is far below what is compared.
        let steps = 2000_u32;
        let mut lost = 0.0;
        for n in 0..=steps {
            let weight = if n == 0 || n == steps { 1.0 } else { f64::from(2 + 2 * (n % 2)) };
            let now = transient.at(&grown.start, end * f64::from(n) / f64::from(steps)).unwrap();
            let flow: f64 = now.iter().zip(&grown.losses).map(|(value, g)| value * g).sum();
            lost += weight * flow * end / f64::from(steps) / 3.0;
        }
        let held = |state: &[f64]| state.iter().zip(&grown.capacities).map(|(value, c)| value * c).sum::<f64>();
        let fed = end * grown.inflows.iter().sum::<f64>();
        let stored = held(&transient.at(&grown.start, end).unwrap()) - held(&grown.start);
        let size = fed.abs() + held(&grown.start).abs() + 1.0;
        assert!((fed - stored - lost).abs() <= 1e-6 * size, "{fed} in, {stored} stored, {lost} lost");
    }
}

#[test]
fn two_shorter_times_make_a_longer_one() {
    let mut random = Random(11);
    for _ in 0..60 {
        let grown = grown(&mut random);
        let transient = grown.network.solve().unwrap();
        let there = transient.at(&transient.at(&grown.start, 3.0).unwrap(), 8.5).unwrap();
        let at_once = transient.at(&grown.start, 11.5).unwrap();
        for (a, b) in there.iter().zip(&at_once) {
            assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs()), "{a} against {b}");
        }
    }
}

#[test]
fn slope_at_the_start_is_what_the_flows_say() {
    let mut random = Random(13);
    for _ in 0..60 {
        let grown = grown(&mut random);
        let transient = grown.network.solve().unwrap();
        let step = 1e-6;
        let soon = transient.at(&grown.start, step).unwrap();
        for (n, slope) in grown.slopes().into_iter().enumerate() {
            let moved = (soon[n] - grown.start[n]) / step;
            assert!((moved - slope).abs() <= 1e-2 + 1e-3 * slope.abs(), "node {n}: {moved} against {slope}");
        }
    }
}

#[test]
fn no_crossing_comes_before_the_first_time() {
    let mut random = Random(17);
    let (mut passed, mut never) = (0, 0);
    for _ in 0..300 {
        let grown = grown(&mut random);
        let transient = grown.network.solve().unwrap();
        let node = Node(1 + random.below(u32::try_from(grown.start.len()).unwrap()));
        let target = f64::from(random.below(200)) - 60.5;
        let start = grown.start[node.0 as usize - 1];
        let found = transient.first_time(&grown.start, node, target).unwrap();
        let until = found.unwrap_or(4000.0);
        let times: Vec<f64> = (0..400).map(|n| until * f64::from(n) / 400.0).collect();
        for (t, value) in times.iter().zip(transient.curve(&grown.start, node, &times).unwrap()) {
            assert_eq!(value < target, start < target, "{value} at {t} s has passed {target} before {found:?}");
        }
        if let Some(seconds) = found {
            let there = transient.curve(&grown.start, node, &[seconds]).unwrap()[0];
            assert!((there - target).abs() <= 1e-8 * (1.0 + target.abs()), "{there} is not {target}");
            passed += 1;
        } else {
            never += 1;
        }
    }
    assert!(passed > 60 && never > 60, "{passed} passed, {never} never");
}

/// A hot node warms a cool one, and both then lose all: the cool one passes the target on its way up, though it ends
/// below. Closed form for `C1 = C2 = 1`, `G12 = 1`, losses 0.1 each: x2 = 50 (exp(-0.1 t) - exp(-2.1 t)).
#[test]
fn target_passed_on_the_way_to_a_lower_end_is_found() {
    let mut network = RcNetwork::new();
    let (hot, cool) = (network.add_node(1.0), network.add_node(1.0));
    network.join(hot, cool, 1.0);
    network.join(hot, ROOM, 0.1);
    network.join(cool, ROOM, 0.1);
    let transient = network.solve().unwrap();
    let seconds = transient.first_time(&[100.0, 0.0], cool, 40.0).unwrap().unwrap();
    assert!((50.0 * (libm::exp(-0.1 * seconds) - libm::exp(-2.1 * seconds)) - 40.0).abs() < 1e-10);
    assert!(seconds < 1.6, "{seconds} is the way down");
    // The highest it gets is 40.9: reckoned from the slope's zero at ln(21) / 2.
    assert_eq!(transient.first_time(&[100.0, 0.0], cool, 41.0).unwrap(), None);
    assert!(transient.first_time(&[100.0, 0.0], cool, 40.8).unwrap().is_some());
}

#[test]
fn node_without_a_loss_climbs_for_ever() {
    let mut network = RcNetwork::new();
    let (a, b) = (network.add_node(2.0), network.add_node(3.0));
    network.join(a, b, 7.0);
    network.feed(a, 10.0).unwrap();
    let transient = network.solve().unwrap();
    assert_eq!(transient.steady(&[0.0, 0.0]).unwrap(), None);
    // 10 W into 5 J/K: 2 K/s for both in the end, and the total is exact at every time.
    let state = transient.at(&[0.0, 0.0], 100.0).unwrap();
    assert!((2.0 * state[0] + 3.0 * state[1] - 1000.0).abs() < 1e-9);
    assert!((transient.first_time(&[0.0, 0.0], b, 400.0).unwrap().unwrap() - 200.0).abs() < 1.0);
    // Drawn off at the other end as much: the mean stays, and the start decides it.
    network.feed(b, -10.0).unwrap();
    let steady = network.solve().unwrap().steady(&[5.0, 0.0]).unwrap().unwrap();
    assert!((2.0 * steady[0] + 3.0 * steady[1] - 10.0).abs() < 1e-9);
    assert!((steady[0] - steady[1] - 10.0 / 7.0).abs() < 1e-9);
}

#[test]
fn end_value_is_approached_and_never_reached() {
    let (transient, node) = first_order(45.0, 180.0);
    assert_eq!(transient.first_time(&[0.0], node, 180.0).unwrap(), None);
    assert_eq!(transient.first_time(&[0.0], node, -1.0).unwrap(), None);
    assert_eq!(transient.first_time(&[20.0], node, 20.0).unwrap(), Some(0.0));
    assert!(transient.first_time(&[0.0], node, 179.999_999).unwrap().is_some());
}

/// A loss of a 10^15th of the join: the eigenvalue of the matrix alone would be lost in rounding.
#[test]
fn very_small_loss_still_sets_the_end() {
    let mut network = RcNetwork::new();
    let (a, b) = (network.add_node(1.0), network.add_node(4.0));
    network.join(a, b, 1e9);
    network.join(b, ROOM, 1e-6);
    network.feed(a, 1e-4).unwrap();
    let end = network.solve().unwrap().steady(&[0.0, 0.0]).unwrap().unwrap();
    assert!((end[1] - 100.0).abs() < 1e-4, "{end:?}");
}

#[test]
fn mistakes_are_said_with_their_node() {
    let built = |capacity: f64, g: f64, to: Node| {
        let mut network = RcNetwork::new();
        let a = network.add_node(1.0);
        let b = network.add_node(capacity);
        network.join(a, if to == Node(2) { b } else { to }, g);
        network.solve().map(|_| ()).unwrap_err()
    };
    assert_eq!(built(0.0, 1.0, Node(2)), TransientError::BadCapacity { node: Node(2) });
    assert_eq!(built(f64::NAN, 1.0, Node(2)), TransientError::BadCapacity { node: Node(2) });
    assert_eq!(built(1.0, -1.0, Node(2)), TransientError::BadConductance { a: Node(1), b: Node(2) });
    assert_eq!(built(1.0, 1.0, Node(9)), TransientError::NoSuchNode { node: Node(9) });
    assert_eq!(built(1.0, 1.0, Node(1)), TransientError::JoinedToItself { node: Node(1) });
    let mut network = RcNetwork::new();
    assert_eq!(network.feed(ROOM, 1.0), Err(TransientError::NoSuchNode { node: ROOM }));
    let node = network.add_node(1.0);
    assert_eq!(network.feed(node, f64::INFINITY), Err(TransientError::BadInflow { node }));
    let (transient, node) = first_order(1.0, 1.0);
    assert_eq!(transient.at(&[], 1.0), Err(TransientError::WrongLength { given: 0, nodes: 1 }));
    assert_eq!(transient.at(&[f64::NAN], 1.0), Err(TransientError::BadStart));
    assert_eq!(transient.at(&[0.0], -1.0), Err(TransientError::BadTime));
    assert_eq!(transient.first_time(&[0.0], Node(0), 1.0), Err(TransientError::NoSuchNode { node: Node(0) }));
    assert_eq!(transient.first_time(&[0.0], node, f64::NAN), Err(TransientError::BadTarget));
}

fn spoilt(from: &str, to: &str) -> String {
    let text = include_str!("reference/oven.json").replacen(from, to, 1);
    Ovens::read(&text).and_then(|ovens| ovens.times()).unwrap_err()
}

#[test]
fn mistakes_of_an_oven_file_are_named() {
    assert!(spoilt("\"C_wall\": 26000.0,", "").starts_with("`parameters` has no `C_wall`"));
    assert!(spoilt("\"supply_V\": 208", "\"volts\": 208").starts_with("case `208_both` cannot have `volts`"));
    assert!(spoilt("\"supply_V\": 208", "\"bake\": 1").starts_with("case `208_both` has no `supply_V`"));
    assert!(spoilt("\"C_wall\": 26000.0", "\"C_wall\": 0").contains("`C_wall` is 0, and must be above 0"));
    assert!(spoilt("\"G_leak\": 7.5", "\"G_leak\": -7.5").contains("`240_leaky_door`: `G_leak` is -7.5"));
    let message = spoilt("\"C_wall\": 26000.0", "\"C_wall\": \"much\"");
    assert!(message.ends_with("expected a number at line 9 column 18"), "{message}");
}

#[test]
fn times_print_as_one_object_with_null_for_never() {
    let text = include_str!("reference/oven.json").replacen("\"supply_V\": 208", "\"supply_V\": 20", 1);
    let printed = oven::print(&Ovens::read(&text).unwrap().times().unwrap());
    let object: serde_json::Value = serde_json::from_str(&printed).unwrap();
    assert_eq!(object.as_object().unwrap().len(), 8);
    assert!(object["208_both"]["seconds_to_175C"].is_null());
    assert!((object["240_both"]["seconds_to_175C"].as_f64().unwrap() - 395.515_956_3).abs() < 1e-4);
}
