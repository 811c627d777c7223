//! Elements, alloys and copper against their rows.

use crate::rows::{Answer, Check, Row, compare};
use quantity::copper::{self, Awg, Strand};
use quantity::element::{self, Load};
use quantity::{Amps, Celsius, Ohms, Volts, Watts};

/// First prefix that fits wins: the longer ones come first.
const CHECKS: [(&str, Check); 20] = [
    ("O1-Rmin-", |r| Answer::Number(permitted(r).0)),
    ("O1-Rmax-", |r| Answer::Number(permitted(r).1)),
    ("O1-R-", |r| Answer::Number(element::hot_resistance(power(r), volts(r)).0)),
    ("O1-I-", |r| Answer::Number(element::running_current(power(r), volts(r)).0)),
    ("O1-TOL-", |r| Answer::Words(tolerance(r))),
    ("O1-P-", |r| {
        let supply = Volts(r.after("supply "));
        Answer::Number(element::power_on_supply(Watts(r.after("rated ")), Volts(r.after(" at ")), supply).0)
    }),
    ("O1-SERIES-120", |_| {
        let one = element::power_on_supply(Watts(2600.0), Volts(240.0), Volts(120.0)).0;
        Answer::Number(2.0 * one)
    }),
    ("O1-CT80-", |r| Answer::Number(element::nickel_chromium_factor(Celsius(r.after("t="))))),
    ("O1-COLD-2600", |_| {
        let hot = element::hot_resistance(Watts(2600.0), Volts(240.0));
        Answer::Number(element::cold_resistance(hot, Celsius(800.0)).0)
    }),
    ("O1-CU-RHO", |_| Answer::Number(copper::RESISTIVITY)),
    ("O1-CU-ALPHA", |_| Answer::Number(copper::COEFFICIENT)),
    ("O1-CU-F", |r| Answer::Number(copper::temperature_factor(Celsius(r.after("t="))))),
    ("O1-CU-RISE", |r| {
        let (cold, hot) = (Ohms(r.after("R1=")), Ohms(r.after("R2=")));
        Answer::Number(copper::winding_temperature(cold, Celsius(r.after("ohm at ")), hot).0)
    }),
    ("O1-AWG-D", |r| Answer::Number(gauge(r).diameter_mm())),
    ("O1-AWG-A", |r| Answer::Number(gauge(r).area_mm2())),
    ("O1-AWG-R", |r| Answer::Number(gauge(r).per_1000_feet(Celsius(20.0)).0)),
    ("O1-NEC8-ALPHA", |_| Answer::Number(copper::TABLE_8_COEFFICIENT)),
    ("O1-NEC8-S", |r| Answer::Number(gauge(r).table_8(Strand::Solid).unwrap().0)),
    ("O1-NEC8-T", |r| Answer::Number(gauge(r).table_8(Strand::Stranded).unwrap().0)),
    ("O1-VD-1", |_| {
        let gauge = Awg::new(10).unwrap();
        let lost = copper::voltage_drop(gauge, Strand::Stranded, 50.0, Amps(24.0), Celsius(75.0));
        Answer::Number(lost.unwrap().0)
    }),
];

fn power(row: &Row) -> Watts {
    Watts(row.after("P="))
}

fn volts(row: &Row) -> Volts {
    Volts(row.after("V="))
}

fn gauge(row: &Row) -> Awg {
    let number: String = row.get("inputs").chars().filter(char::is_ascii_digit).collect();
    Awg::new(number.parse().unwrap()).unwrap()
}

fn permitted(row: &Row) -> (f64, f64) {
    let range = element::permitted_resistance(Load::Heating, power(row), volts(row));
    (range.low(), range.high())
}

/// Words the permitted deviation as the table does, from what the formulas give at two ratings of the class.
fn tolerance(row: &Row) -> String {
    let input = |load, watts| {
        let range = element::permitted_input(load, Watts(watts));
        let percent = |end: f64| (100.0 * (end / watts - 1.0)).round();
        (percent(range.low()), percent(range.high()), (range.high() - watts).round())
    };
    match row.rest("O1-TOL-") {
        "all25" => {
            assert_eq!(input(Load::Heating, 20.0), input(Load::Motor, 20.0));
            format!("+{}", input(Load::Heating, 20.0).1)
        }
        "h25-200" => {
            let (low, high, _) = input(Load::Heating, 100.0);
            format!("{low}/+{high}")
        }
        "h200" => {
            let ((low, high, _), (_, _, watts)) = (input(Load::Heating, 2000.0), input(Load::Heating, 210.0));
            format!("{low}/+{high} or +{watts} W, the larger")
        }
        "m25-300" => format!("+{}", input(Load::Motor, 100.0).1),
        "m300" => {
            let ((_, high, _), (_, _, watts)) = (input(Load::Motor, 2000.0), input(Load::Motor, 310.0));
            format!("+{high} or +{watts} W, the larger")
        }
        "US" => {
            let range = element::permitted_range_input(Watts(100.0));
            format!("{}/+{}", range.low().round() - 100.0, range.high().round() - 100.0)
        }
        other => panic!("no tolerance `{other}`"),
    }
}

#[test]
fn resistance_and_power_agree_with_every_row() {
    let (compared, left) = compare(include_str!("01_resistance_power.csv"), &CHECKS);
    assert_eq!((compared, left.len()), (121, 0));
}

#[test]
fn table_8_agrees_with_the_gauge_formula() {
    // The printed figures carry three digits; the formula moved to 75 °C must round to within one of the last.
    for number in [8, 10, 12, 14, 16, 18] {
        let gauge = Awg::new(number).unwrap();
        let (printed, formula) = (gauge.table_8(Strand::Solid).unwrap().0, gauge.per_1000_feet(Celsius(75.0)).0);
        assert!((formula / printed - 1.0).abs() < 0.005, "AWG {number}: {formula} and {printed}");
    }
}

#[test]
fn alloy_factor_stays_within_its_table() {
    assert!((element::nickel_chromium_factor(Celsius(60.0)) - 1.003).abs() < 1e-12);
    assert!((element::nickel_chromium_factor(Celsius(-40.0)) - 1.0).abs() < 1e-12);
    assert!((element::nickel_chromium_factor(Celsius(5000.0)) - 1.025).abs() < 1e-12);
}

#[test]
fn a_motor_without_a_lower_limit_has_no_highest_resistance() {
    let range = element::permitted_resistance(Load::Motor, Watts(400.0), Volts(120.0));
    assert!(range.high().is_infinite() && range.low() > 0.0);
}
