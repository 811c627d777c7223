//! Published figures. `figures/safety.csv` carries each with its source; `memory` there means not checked again.

use danger::{BLEED_OHMS, DEAD_LIMIT_VOLTS, discharge_seconds};

/// A row of the table: id, expected, unit, source.
fn expected(id: &str) -> f64 {
    let table = include_str!("figures/safety.csv");
    let row = table.lines().find(|line| line.starts_with(&format!("{id},"))).unwrap();
    fields(row)[4].parse().unwrap()
}

/// Splits a line at commas outside quotes.
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            other => fields.last_mut().unwrap().push(other),
        }
    }
    fields
}

#[test]
fn twenty_kilohm_brings_a_motor_capacitor_under_the_plug_pin_limit_in_little_over_a_second() {
    // Row O4-CAP-t: 25 uF from 240 V peak, 339.4 V, to 34 V; computed there from t = R C ln(V0 / V).
    let seconds = discharge_seconds(25e-6, BLEED_OHMS, 240.0 * std::f64::consts::SQRT_2, 34.0);
    assert!((seconds / expected("O4-CAP-t") - 1.0).abs() < 1e-6, "{seconds}");
}

#[test]
fn the_largest_bleeder_of_a_filter_takes_one_second() {
    // Row O4-CAP-R: 0.47 uF from 240 V peak to 34 V within 1 s (IEC 60335-1 cl. 22.5).
    let seconds = discharge_seconds(0.47e-6, expected("O4-CAP-R"), 240.0 * std::f64::consts::SQRT_2, 34.0);
    assert!((seconds - 1.0).abs() < 1e-6, "{seconds}");
}

#[test]
fn what_counts_as_none_lies_under_every_published_limit() {
    assert!(DEAD_LIMIT_VOLTS < expected("O4-335-22.5"));
    assert!(DEAD_LIMIT_VOLTS < expected("O4-CAP-460"));
}

#[test]
fn nothing_discharges_in_no_time_when_there_is_nothing() {
    for (farads, ohms, from, to) in
        [(0.0, 1.0, 2.0, 1.0), (1.0, 1.0, 1.0, 2.0), (1.0, 1.0, 2.0, 0.0), (f64::NAN, 1.0, 2.0, 1.0)]
    {
        assert!(discharge_seconds(farads, ohms, from, to).abs() < f64::EPSILON);
    }
}
