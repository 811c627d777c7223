//! A heater's cold against hot resistance by what its wire is made of.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use machine::model::{Law, Resistance};

const RANGE: &str = include_str!("../../../machines/range-control-240.toml");

fn bake(keys: &str) -> Vec<Resistance> {
    let text = RANGE.replacen("name = \"bake element\"\n", &format!("name = \"bake element\"\n{keys}\n"), 1);
    assert_ne!(text, RANGE);
    let read = machine::read(&text);
    assert!(read.diagnostics.is_empty(), "{:?}", read.diagnostics);
    let machine = read.machine.unwrap();
    let of_bake = |b: &&machine::model::Branch| machine[b.part].id == "bake";
    let laws = machine.branches.iter().filter(of_bake).filter_map(|b| match b.law {
        Law::Resistance(r) => Some(r),
        _ => None,
    });
    laws.collect()
}

fn cold_over_hot(keys: &str) -> f64 {
    let lengths = bake(keys);
    lengths.iter().map(|r| r.cold_ohms).sum::<f64>() / lengths.iter().map(|r| r.hot_ohms).sum::<f64>()
}

/// GB/T 1234, row Cr20Ni80 (read on a page that reprints it): 1.010 at 700 °C, 1.025 at 400 °C.
#[test]
fn nickel_chromium_is_a_per_cent_or_two_higher_hot() {
    assert!((cold_over_hot("alloy = \"nickel-chromium\"") - 1.0 / 1.010).abs() < 1e-9);
    assert!((cold_over_hot("alloy = \"nickel-chromium\"\nwire_c = 400") - 1.0 / 1.025).abs() < 1e-9);
}

/// Makers of the wire print 1.04 at 1000 °C; from memory.
#[test]
fn iron_chromium_aluminium_is_four_per_cent_higher_hot_at_a_thousand_degrees() {
    assert!((cold_over_hot("alloy = \"iron-chromium-aluminium\"\nwire_c = 1000") - 1.0 / 1.04).abs() < 1e-9);
}

/// 240 V squared over 3000 W is 19.2 ohm, whatever the wire: the rating is that of the hot element.
#[test]
fn hot_resistance_keeps_to_the_rating_whatever_the_wire() {
    for keys in ["alloy = \"nickel-chromium\"", "alloy = \"iron-chromium-aluminium\"", "cold_ratio = 0.9", ""] {
        let hot: f64 = bake(keys).iter().map(|r| r.hot_ohms).sum();
        assert!((hot - 19.2).abs() < 1e-9, "{hot} with {keys}");
    }
    assert!((cold_over_hot("cold_ratio = 0.9") - 0.9).abs() < 1e-9);
    assert!((cold_over_hot("") - 0.94).abs() < 1e-9);
}

#[test]
fn heater_with_both_a_ratio_and_an_alloy_is_refused() {
    let both = "name = \"bake element\"\nalloy = \"nickel-chromium\"\ncold_ratio = 0.9\n";
    let read = machine::read(&RANGE.replacen("name = \"bake element\"\n", both, 1));
    assert!(read.machine.is_none());
    assert_eq!(read.diagnostics[0].code, "m028-choose-one");
}
