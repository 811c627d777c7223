//! Safety, discharge, gas and refrigerant figures against their rows.

use crate::rows::{Answer, Check, Row, compare};
use quantity::safety::{self, Category, Class};
use quantity::{Amps, Farads, Ohms, Published, Seconds, Volts, Watts, discharge, fuel};

/// First prefix that fits wins: the longer ones come first.
const CHECKS: &[(&str, Check)] = &[
    ("O4-PE-5m", |_| Answer::Constant(safety::EARTH_BOND)),
    ("O4-PE-extra", |_| Answer::Constant(safety::EARTH_BOND_PER_7_5_M)),
    ("O4-PE-max", |_| Answer::Constant(safety::EARTH_BOND_MOST)),
    ("O4-PE-big", |_| Answer::Constant(safety::EARTH_BOND_LARGE_FLOOR)),
    ("O4-INS-I-heat35", |r| {
        assert!(safety::current_may_decide_insulation(Watts(3600.0)));
        assert!(!safety::current_may_decide_insulation(Watts(3500.0)));
        Answer::Words(r.get("expected").to_owned())
    }),
    ("O4-INS-III", |_| Answer::Number(safety::insulation_limit(Class::III, false).0 / 1e6)),
    ("O4-INS-II", |_| Answer::Number(safety::insulation_limit(Class::II, true).0 / 1e6)),
    ("O4-INS-I-heat", |_| Answer::Number(safety::insulation_limit(Class::I, true).0 / 1e6)),
    ("O4-INS-I", |_| Answer::Number(safety::insulation_limit(Class::I, false).0 / 1e6)),
    ("O4-IPE-heat-max", |_| Answer::Constant(safety::PROTECTIVE_CURRENT_MOST)),
    ("O4-IPE-heat", |_| Answer::Constant(safety::PROTECTIVE_CURRENT_PER_KW)),
    ("O4-IPE", |_| Answer::Constant(safety::PROTECTIVE_CURRENT)),
    ("O4-ITOUCH", |_| Answer::Constant(safety::TOUCH_CURRENT)),
    ("O4-EX-cord12", |_| Answer::Number(safety::earth_bond_limit(12.0).0)),
    ("O4-EX-6kW", |_| milliamps(safety::protective_current_limit(Watts(6200.0)))),
    ("O4-EX-12kW", |_| milliamps(safety::protective_current_limit(Watts(12_000.0)))),
    ("O4-335-13-ex", |r| milliamps(safety::stationary_heating_leakage_limit(Watts(1000.0 * r.first())))),
    ("O4-335-13-II", |_| Answer::Constant(safety::LEAKAGE_CLASS_2)),
    ("O4-335-13-0", |_| Answer::Constant(safety::LEAKAGE_CLASS_0)),
    ("O4-335-13-Ip", |_| Answer::Constant(safety::LEAKAGE_PORTABLE)),
    ("O4-335-13-Ism", |_| Answer::Constant(safety::LEAKAGE_STATIONARY_MOTOR)),
    ("O4-335-13-Ish", larger_of_two_up_to_five),
    // Clause 16.2 asks the same figures of a cold appliance.
    ("O4-335-16-II", |_| Answer::Number(safety::LEAKAGE_CLASS_2.value)),
    ("O4-335-16-0", |_| Answer::Number(safety::LEAKAGE_CLASS_0.value)),
    ("O4-335-16-Ip", |_| Answer::Number(safety::LEAKAGE_PORTABLE.value)),
    ("O4-335-16-Ism", |_| Answer::Number(safety::LEAKAGE_STATIONARY_MOTOR.value)),
    ("O4-335-16-Ish", larger_of_two_up_to_five),
    ("O4-335-2-6", |r| {
        assert!((safety::cooking_leakage_limit(Watts(7400.0)).0 - 0.0074).abs() < 1e-15);
        assert!((safety::cooking_leakage_limit(Watts(12_000.0)).0 - 0.010).abs() < 1e-15);
        assert_eq!(safety::LEAKAGE_COOKING_PER_KW.unit, r.get("unit"));
        Answer::Constant(safety::LEAKAGE_COOKING_PER_KW)
    }),
    ("O4-335-16", |_| Answer::Constant(safety::COLD_LEAKAGE_VOLTAGE)),
    ("O4-335-13v", |_| Answer::Constant(safety::HOT_LEAKAGE_INPUT)),
    ("O4-335-22.5", |_| Answer::Constant(discharge::PLUG_PINS)),
    ("O4-335-27.5", |_| Answer::Constant(safety::EARTH_TYPE_TEST)),
    ("O4-UL101-2w", |_| Answer::Constant(safety::US_LEAKAGE_TWO_WIRE)),
    ("O4-UL101-3wp", |_| Answer::Constant(safety::US_LEAKAGE_PORTABLE)),
    ("O4-UL101-3ws", |_| Answer::Constant(safety::US_LEAKAGE_STATIONARY)),
    ("O4-70E-", |r| {
        let at = safety::MAKE_DEAD.iter().position(|step| *step == r.get("inputs")).unwrap();
        Answer::Words((at + 1).to_string())
    }),
    ("O4-LDL", |_| Answer::Words(safety::PROVE_TESTER.to_owned())),
    ("O4-CAP-460", |_| Answer::Constant(discharge::AFTER_ONE_MINUTE)),
    ("O4-CAP-360-100", |_| Answer::Constant(discharge::hazardous_joules(Volts(99.0)))),
    ("O4-CAP-360-1", |_| Answer::Constant(discharge::hazardous_joules(Volts(400.0)))),
    ("O4-CAP-360-0.25", |_| Answer::Constant(discharge::hazardous_joules(Volts(401.0)))),
    ("O4-CAP-E", |_| Answer::Number(discharge::stored_joules(Farads(25e-6), peak(240.0)))),
    ("O4-CAP-t", |_| {
        let to = Volts(discharge::PLUG_PINS.value);
        Answer::Number(discharge::discharge_time(Ohms(20e3), Farads(25e-6), peak(240.0), to).0)
    }),
    ("O4-CAP-R", |_| {
        let to = Volts(discharge::PLUG_PINS.value);
        Answer::Number(discharge::largest_bleeder(Seconds(1.0), Farads(0.47e-6), peak(240.0), to).0)
    }),
    ("O4-CAP-HV", |_| Answer::Number(discharge::stored_joules(Farads(1e-6), Volts(2100.0)))),
    ("O4-CAT-II-", |r| impulse(r, Category::Ii, "O4-CAT-II-")),
    ("O4-CAT-III-", |r| impulse(r, Category::Iii, "O4-CAT-III-")),
    ("O4-CAT-IV-", |r| impulse(r, Category::Iv, "O4-CAT-IV-")),
    ("O4-CAT-III", |_| Answer::Words(format!("{} or higher", Category::least_for(false).name()))),
    ("O4-CAT-II", |_| Answer::Words(format!("{} or higher", Category::least_for(true).name()))),
    ("O4-EPA-90", |_| Answer::Constant(fuel::RECOVER_RUNNING)),
    ("O4-EPA-80", |_| Answer::Constant(fuel::RECOVER_DEAD)),
    ("O4-EPA-4in", |_| Answer::Constant(fuel::RECOVER_VACUUM)),
    ("O4-EPA-small", |_| Answer::Constant(fuel::SMALL_APPLIANCE_CHARGE)),
    ("O4-HC-150", |_| Answer::Constant(fuel::ISOBUTANE_CHARGE)),
    ("O4-SAT-", |_| Answer::Left("an equation of state; sealed systems are for those licensed for them")),
    ("O4-GAS-test", |_| Answer::Constant(fuel::PIPING_TEST)),
    ("O4-GAS-time", |_| Answer::Constant(fuel::PIPING_TEST_TIME)),
    ("O4-GAS-half", |_| Answer::Constant(fuel::DISCONNECT_ABOVE)),
    ("O4-GAS-leak", |_| Answer::Words(fuel::LEAK_SEARCH.to_owned())),
    ("O4-GAS-shut", |_| Answer::Words(fuel::LEAK_FOUND.to_owned())),
    ("O4-GAS-man-nat", |_| Answer::Words(format!("{} (about 4)", ends(fuel::MANIFOLD_NATURAL, 0)))),
    ("O4-GAS-man-lp", |_| Answer::Words(ends(fuel::MANIFOLD_LP, 0))),
    ("O4-GAS-in-nat", |_| Answer::Constant(fuel::INLET_NATURAL)),
    ("O4-GAS-in-lp", |_| Answer::Constant(fuel::INLET_LP)),
    ("O4-GAS-CO", |_| Answer::Constant(fuel::CARBON_MONOXIDE)),
    ("O4-INWC", |_| Answer::Constant(fuel::INCH_OF_WATER)),
    ("O4-GAS-sqrt", |r| Answer::Number(fuel::input_at_pressure(r.first(), r.after("at "), r.after("now ")))),
    ("O4-GAS-clock", |_| Answer::Number(fuel::input_by_meter(0.5, 100.0, 1025.0))),
    ("O4-IGN-flat", |_| Answer::Words(ends(fuel::IGNITOR_FLAT, 1))),
    ("O4-IGN-round", |_| Answer::Words(ends(fuel::IGNITOR_ROUND, 1))),
    ("O4-FLAME", |_| {
        let usual = ends(fuel::FLAME_CURRENT_USUAL, 0);
        Answer::Words(format!("about {} or more; often {usual}", fuel::FLAME_CURRENT.value))
    }),
];

fn milliamps(limit: Amps) -> Answer {
    Answer::Number(1000.0 * limit.0)
}

fn peak(rms: f64) -> Volts {
    Volts(rms * std::f64::consts::SQRT_2)
}

fn larger_of_two_up_to_five(row: &Row) -> Answer {
    // The row states the rule in words; the three examples O4-335-13-ex hold the formula to it.
    assert_eq!(row.get("unit"), "mA");
    let limit = |watts| 1000.0 * safety::stationary_heating_leakage_limit(Watts(watts)).0;
    let (floor, slope, most) = (limit(0.0), limit(4000.0) / 4.0, limit(1e6));
    Answer::Words(format!("max({floor}, {slope}*kW), <={most}"))
}

fn impulse(row: &Row, category: Category, prefix: &str) -> Answer {
    Answer::Number(category.impulse_volts(row.rest(prefix).parse().unwrap()).unwrap())
}

fn ends([least, most]: [Published; 2], decimals: usize) -> String {
    let whole = decimals == 0;
    let text = |figure: Published| if whole { figure.value.to_string() } else { format!("{:.1}", figure.value) };
    format!("{} to {}", text(least), text(most))
}

#[test]
fn safety_figures_agree_with_every_row_but_the_refrigerant_tables() {
    let (compared, left) = compare(include_str!("04_safety.csv"), CHECKS);
    let refrigerants: Vec<String> = ["R134a", "R600a"]
        .iter()
        .flat_map(|name| ["-25", "-10", "0", "25", "40"].map(|t| format!("O4-SAT-{name}-{t}")))
        .collect();
    assert_eq!(left, refrigerants);
    assert_eq!(compared, 92 - refrigerants.len());
}

#[test]
fn the_earth_bond_limit_grows_with_the_cord_and_then_stops() {
    for (meters, ohms) in [(0.5, 0.3), (5.0, 0.3), (5.1, 0.4), (12.5, 0.4), (12.6, 0.5), (500.0, 1.0)] {
        assert!((safety::earth_bond_limit(meters).0 - ohms).abs() < 1e-12, "{meters} m");
    }
    // Its own resistance, rho l / A with 1/58 ohm mm²/m, on top of 0.1 ohm.
    assert!((safety::earth_bond_limit_large(58.0, 2.5).0 - 0.5).abs() < 1e-12);
}

#[test]
fn a_bleeder_that_just_makes_it_takes_the_time_it_was_sized_for() {
    let (from, to, capacitance) = (peak(230.0), Volts(34.0), Farads(0.22e-6));
    let bleeder = discharge::largest_bleeder(Seconds(1.0), capacitance, from, to);
    assert!((discharge::discharge_time(bleeder, capacitance, from, to).0 - 1.0).abs() < 1e-12);
}
