//! Weights by age: the ratio of Weibull hazards against scipy, what is usual, and the file's own word.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::faults::Fault;
use machine::{Machine, read};

fn oven(change: impl Fn(String) -> String) -> Machine {
    let path = format!("{}/tests/good/oven.toml", env!("CARGO_MANIFEST_DIR"));
    read(&change(std::fs::read_to_string(path).unwrap())).machine.unwrap()
}

fn fault<'m>(machine: &'m Machine, id: &str) -> &'m Fault {
    &machine[machine.fault(id).unwrap()]
}

/// SOURCE: scipy 1.17.1, `weibull_min`: pdf over sf at the age by the same at 7 years, scale 11.
#[test]
fn a_weight_goes_with_the_hazard_of_a_weibull_life() {
    let machine = oven(|text| text);
    for (shape, age, ratio) in [
        (2.0, 10.5, 1.5),
        (1.5, 12.0, 1.309_307_341_415_954),
        (0.8, 1.0, 1.475_773_161_594_552),
        (1.3, 3.0, 0.775_544_932_414_036),
    ] {
        let fault = Fault { wear: shape, ..fault(&machine, "bake:open").clone() };
        let times = fault.weight_at(Some(age)) / fault.weight;
        assert!((times / ratio - 1.0).abs() < 1e-12, "shape {shape} at {age}: {times}");
    }
    let steep = Fault { wear: 5.0, ..fault(&machine, "bake:open").clone() };
    assert!((steep.weight_at(Some(30.0)) / steep.weight - 4.0).abs() < 1e-12, "by 4 at most");
    assert!((steep.weight_at(Some(0.0)) / steep.weight - 0.25).abs() < 1e-12, "a quarter at least");
    assert_eq!(steep.weight_at(None).to_bits(), steep.weight.to_bits());
}

#[test]
fn the_installation_knows_no_age_and_a_control_fails_early() {
    let machine = oven(|text| text);
    let old = |id: &str| fault(&machine, id).weight_at(Some(15.0)) / fault(&machine, id).weight;
    assert!(old("bake:open") > 1.2 && old("board:dead") < 0.9, "{} {}", old("bake:open"), old("board:dead"));
    assert!((old("breaker:pole2-open") - 1.0).abs() < 1e-12);
}

#[test]
fn the_files_word_counts_and_must_be_a_shape() {
    let with = |wear: &str| {
        let wear = format!("[supply.fault.house.leg2-lost]\nwear = {wear}\n");
        move |text: String| text.replace("[supply.fault.house.leg2-lost]\n", &wear)
    };
    let machine = oven(with("2.0"));
    assert_eq!(fault(&machine, "house:leg2-lost").wear.to_bits(), 2.0_f64.to_bits());
    let path = format!("{}/tests/good/oven.toml", env!("CARGO_MANIFEST_DIR"));
    let text = with("9")(std::fs::read_to_string(path).unwrap());
    let said: Vec<String> = read(&text).diagnostics.iter().map(|of| of.render("oven.toml", &text)).collect();
    assert!(said.iter().any(|of| of.contains("oven.toml:29") && of.contains("from 0.2 to 5")), "{said:?}");
}

#[test]
fn what_a_shop_learned_of_an_age_counts_from_there_on() {
    let machine = oven(|text| text);
    let taught =
        Fault { wear: 1.0, at_ages: vec![(0.0, 0.5), (4.0, 1.0), (9.0, 3.0)], ..fault(&machine, "bake:open").clone() };
    let times = |age| taught.weight_at(Some(age)) / taught.weight;
    for (age, expected) in [(0.0, 0.5), (3.9, 0.5), (4.0, 1.0), (20.0, 3.0)] {
        assert!((times(age) - expected).abs() < 1e-12, "{age}");
    }
}
