//! Temperature sensors against their rows.

use crate::rows::{Answer, Check, Row, compare};
use quantity::thermistor::{BetaCurve, SteinhartHart, beta_from_points};
use quantity::{Celsius, Ohms, platinum, thermocouple};

/// First prefix that fits wins: the longer ones come first.
const CHECKS: [(&str, Check); 17] = [
    ("O2-CVD-A", |_| Answer::Number(platinum::A)),
    ("O2-CVD-B", |_| Answer::Number(platinum::B)),
    ("O2-CVD-C", |_| Answer::Number(platinum::C)),
    ("O2-PT1000-", |r| Answer::Number(platinum::resistance(Ohms(1000.0), at(r)).0)),
    ("O2-PT100-", |r| Answer::Number(platinum::resistance(Ohms(100.0), at(r)).0)),
    ("O2-PTTOLR-", |r| Answer::Number(class(r).tolerance(Ohms(1000.0), at(r)).0)),
    ("O2-PTTOL-", |r| Answer::Number(class(r).tolerance_kelvins(at(r)))),
    ("O2-PTINV-", |r| Answer::Number(platinum::temperature(Ohms(1000.0), Ohms(r.after("R="))).unwrap().0)),
    ("O2-KCJC-", |r| {
        let found = thermocouple::temperature(r.after("measured "), Celsius(r.after("terminals ")));
        Answer::Number(found.unwrap().0)
    }),
    ("O2-KTOL-", |r| {
        let class = if r.id().starts_with("O2-KTOL-1") { thermocouple::Class::One } else { thermocouple::Class::Two };
        Answer::Number(class.tolerance_kelvins(at(r)))
    }),
    ("O2-K-", |r| Answer::Number(thermocouple::millivolts(at(r)).unwrap())),
    ("O2-NTC10k-", |r| Answer::Number(curve(r).resistance(at(r)).0)),
    ("O2-NTCINV-", |r| Answer::Number(curve(r).temperature(Ohms(r.after("; R="))).0)),
    ("O2-NTCBETA", |_| {
        // The two points stand in the row's inputs: 32554 ohm at 0 C; 3602 ohm at 50 C.
        Answer::Number(beta_from_points((Celsius(0.0), Ohms(32554.0)), (Celsius(50.0), Ohms(3602.0))))
    }),
    ("O2-SHINV-", |r| Answer::Number(TEN_K.resistance(at(r)).0)),
    ("O2-SHFIT-", |r| {
        // The three points stand in the row's inputs: 32654 ohm at 0 C; 10000 ohm at 25 C; 1752 ohm at 70 C.
        let points = [(0.0, 32654.0), (25.0, 10000.0), (70.0, 1752.0)].map(|(t, ohms)| (Celsius(t), Ohms(ohms)));
        let fit = SteinhartHart::from_points(points).unwrap();
        Answer::Number(match r.rest("O2-SHFIT-") {
            "A" => fit.a,
            "B" => fit.b,
            _ => fit.c,
        })
    }),
    ("O2-SH-", |r| {
        let stated = SteinhartHart { a: r.after("A="), b: r.after("B="), c: r.after("C=") };
        Answer::Number(stated.temperature(Ohms(r.after("R="))).0)
    }),
];

/// The coefficient set of the `O2-SH` rows.
const TEN_K: SteinhartHart = SteinhartHart { a: 0.001_129_148, b: 0.000_234_125, c: 8.767_41e-8 };

fn at(row: &Row) -> Celsius {
    Celsius(row.after("t="))
}

fn class(row: &Row) -> platinum::Class {
    if row.id().contains("-A-") { platinum::Class::A } else { platinum::Class::B }
}

fn curve(row: &Row) -> BetaCurve {
    BetaCurve::at_25(Ohms(row.after("R25=")), row.after("B="))
}

#[test]
fn sensors_agree_with_every_row() {
    let (compared, left) = compare(include_str!("02_sensors.csv"), &CHECKS);
    assert_eq!((compared, left.len()), (148, 0));
}

#[test]
fn platinum_comes_back_from_every_temperature_it_is_defined_for() {
    for step in -200..=850 {
        let t = f64::from(step);
        let ohms = platinum::resistance(Ohms(100.0), Celsius(t));
        let back = platinum::temperature(Ohms(100.0), ohms).unwrap();
        assert!((back.0 - t).abs() < 1e-7, "{t} came back as {}", back.0);
    }
    assert_eq!(platinum::temperature(Ohms(100.0), Ohms(5.0)), None);
    assert_eq!(platinum::temperature(Ohms(100.0), Ohms(f64::INFINITY)), None);
}

#[test]
fn type_k_comes_back_from_every_temperature_it_is_defined_for() {
    for step in -250..1372 {
        let t = f64::from(step);
        let emf = thermocouple::millivolts(Celsius(t)).unwrap();
        let back = thermocouple::temperature(emf, Celsius(0.0)).unwrap();
        assert!((back.0 - t).abs() < 1e-3, "{t} came back as {}", back.0);
    }
    assert_eq!(thermocouple::temperature(100.0, Celsius(25.0)), None);
    assert_eq!(thermocouple::millivolts(Celsius(2000.0)), None);
}

#[test]
fn thermistors_come_back_from_every_kitchen_temperature() {
    let beta = BetaCurve::at_25(Ohms(10_000.0), 3950.0);
    for step in -40..=300 {
        let t = f64::from(step);
        assert!((beta.temperature(beta.resistance(Celsius(t))).0 - t).abs() < 1e-9);
        assert!((TEN_K.temperature(TEN_K.resistance(Celsius(t))).0 - t).abs() < 1e-7);
    }
}

#[test]
fn three_points_that_are_two_fit_nothing() {
    let twice = (Celsius(0.0), Ohms(32654.0));
    assert_eq!(SteinhartHart::from_points([twice, twice, (Celsius(25.0), Ohms(10_000.0))]), None);
}
