//! How the shipped range's oven warms up, and what its curve tells apart.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use machine::model::{FaultId, Machine, StateId, ZoneId};
use prediction::{Meter, NoWarmUp, Predictor, WarmUp};

const RANGE: &str = include_str!("../../../machines/range-control-240.toml");

fn machine(text: &str) -> Machine {
    let read = machine::read(text);
    assert!(read.diagnostics.is_empty(), "{:?}", read.diagnostics);
    read.machine.unwrap()
}

/// The shipped range, changed so that bake runs both elements.
fn both() -> Machine {
    let text = RANGE.replacen(
        "requested_in = [\"broil\", \"preheat\"]",
        "requested_in = [\"bake\", \"broil\", \"preheat\"]",
        1,
    );
    assert_ne!(text, RANGE);
    machine(&text)
}

fn index<T>(list: &[T], is: impl Fn(&T) -> bool) -> u16 {
    u16::try_from(list.iter().position(is).unwrap()).unwrap()
}

fn warm(machine: &Machine, state: &str, faults: &[&str], volts: f64, target_c: f64) -> Result<WarmUp, NoWarmUp> {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let state = StateId(index(&machine.states, |s| s.id == state));
    let faults: Vec<FaultId> = faults.iter().map(|id| FaultId(index(&machine.faults, |f| f.id == *id))).collect();
    let zone = ZoneId(index(&machine.zones, |z| z.heat.is_some()));
    predictor.warm_up(state, &faults, volts / predictor.supply_volts(), zone, target_c)
}

fn bake(machine: &Machine, faults: &[&str], volts: f64) -> WarmUp {
    warm(machine, "bake", faults, volts, 175.0).unwrap()
}

fn at(warm: &WarmUp, seconds: f64) -> f64 {
    warm.curve.iter().find(|(t, _)| (t - seconds).abs() < 1e-9).unwrap().1
}

#[test]
fn supply_volts_are_those_between_the_legs() {
    let volts = |text: &str| Predictor::new(&machine(text), Meter::ordinary()).supply_volts();
    assert!((volts(RANGE) - 240.0).abs() < 1e-9);
    // 120 V a third of a turn apart: the square root of 3 times 120.
    let wye = RANGE.replacen("kind = \"split-phase\"", "kind = \"two-of-three-phases\"", 1);
    assert!((volts(&wye) - 207.846).abs() < 1e-3);
}

/// The oven of engine/circuit/tests/reference/oven.json has the same heat network, and rises with the watts alone.
///
/// SOURCE: engine/circuit/tests/reference/thermal.csv, O10-LIN-240_both: scipy solve_ivp and matrix exponential.
#[test]
fn oven_takes_as_long_as_the_outside_solver_says_for_its_watts() {
    let range = machine(RANGE);
    for (celsius, seconds) in [(100.0, 217.829_839_7), (150.0, 332.752_113_8), (175.0, 395.515_956_3)] {
        for (faults, volts) in [(&[][..], 240.0), (&[], 208.0), (&["block:l1-burnt"], 240.0)] {
            let watts = bake(&range, faults, volts).watts;
            let target = 22.0 + (celsius - 22.0) * watts / 6200.0;
            let found = warm(&range, "bake", faults, volts, target).unwrap().seconds.unwrap();
            assert!((found - seconds).abs() < 1e-4, "{found} s to {target} degrees on {watts} W");
        }
    }
}

/// The bake element is rated 3000 W at 240 V; the conductors take a little.
#[test]
fn watts_are_those_of_the_rating_less_what_the_conductors_take() {
    let watts = bake(&machine(RANGE), &[], 240.0).watts;
    assert!((2900.0..3000.0).contains(&watts), "{watts}");
}

#[test]
fn low_supply_dead_element_and_sound_oven_are_told_apart_by_the_curve() {
    let range = both();
    let sound = bake(&range, &[], 240.0);
    let low = bake(&range, &[], 208.0);
    let dead = bake(&range, &["bake:open"], 240.0);
    let ends: Vec<f64> = [&sound, &low, &dead].iter().map(|warm| warm.seconds.unwrap()).collect();
    // A minute apart at least: what a clock and a thermometer in the oven can show.
    assert!(ends[0] + 60.0 < ends[1] && ends[1] + 60.0 < ends[2], "{ends:?}");
    // From the third minute on they differ by more than an oven thermometer errs, 10 K (common practice, no source).
    for seconds in [180.0, 240.0, 300.0] {
        let [a, b, c] = [&sound, &low, &dead].map(|warm| at(warm, seconds));
        assert!(a > b + 10.0 && b > c + 10.0, "{a}, {b}, {c} at {seconds} s");
    }
}

#[test]
fn low_supply_gives_the_square_of_its_share_in_watts() {
    let range = both();
    let (sound, low) = (bake(&range, &[], 240.0), bake(&range, &[], 208.0));
    let square = (208.0_f64 / 240.0) * (208.0 / 240.0);
    assert!((low.watts / sound.watts - square).abs() < 1e-9, "{} of {}", low.watts, sound.watts);
    assert!(((low.ends_c - 22.0) / (sound.ends_c - 22.0) - square).abs() < 1e-9);
}

#[test]
fn rise_is_in_proportion_to_the_watts_at_every_moment() {
    let range = both();
    let (sound, dead) = (bake(&range, &[], 240.0), bake(&range, &["broil:open"], 240.0));
    let share = dead.watts / sound.watts;
    assert!((0.45..0.5).contains(&share), "{share}");
    // At 177 °C the control lets go.
    for (seconds, celsius) in sound.curve.into_iter().filter(|(_, celsius)| *celsius < 176.9) {
        let expected = 22.0 + share * (celsius - 22.0);
        assert!((at(&dead, seconds) - expected).abs() < 1e-6, "at {seconds} s");
    }
}

#[test]
fn oven_without_heat_stays_at_rest_and_never_gets_there() {
    let range = machine(RANGE);
    for faults in [&["bake:open"][..], &["control:dead"], &["house:leg1-lost"]] {
        let warm = bake(&range, faults, 240.0);
        assert!(warm.watts < 1.0, "{faults:?} gives {} W", warm.watts);
        assert_eq!(warm.seconds, None);
        assert_eq!(warm.curve.len(), 241);
        assert!(warm.curve.iter().all(|(_, celsius)| (celsius - 22.0).abs() < 0.5));
    }
}

/// The control lets go below 90 V of its 120 V: at 150 V between the legs nothing heats at all.
#[test]
fn control_lets_go_of_the_heat_on_a_supply_too_low_for_it() {
    let range = machine(RANGE);
    assert!(bake(&range, &[], 190.0).watts > 1000.0);
    assert!(bake(&range, &[], 150.0).watts < 1.0);
}

#[test]
fn curve_starts_at_rest_and_ends_just_past_the_target() {
    let warm = bake(&machine(RANGE), &[], 240.0);
    let seconds = warm.seconds.unwrap();
    let (first, last) = (warm.curve.first().unwrap(), warm.curve.last().unwrap());
    assert!(first.0.abs() < 1e-9 && (first.1 - 22.0).abs() < 1e-9);
    assert!(last.0 >= seconds && last.0 < seconds + 30.0 && last.1 >= 175.0);
}

#[test]
fn zone_without_heat_and_mad_numbers_are_refused() {
    let range = machine(RANGE);
    assert_eq!(warm(&range, "bake", &[], f64::NAN, 175.0), Err(NoWarmUp::BadSupply));
    assert_eq!(warm(&range, "bake", &[], -240.0, 175.0), Err(NoWarmUp::BadSupply));
    assert_eq!(warm(&range, "bake", &[], 240.0, f64::INFINITY), Err(NoWarmUp::BadTarget));
    let predictor = Predictor::new(&range, Meter::ordinary());
    assert_eq!(predictor.warm_up(StateId(0), &[], 1.0, ZoneId(9), 175.0), Err(NoWarmUp::NoHeat));
}
