//! The unit's stepped warm-up against the closed solution of first-order heat, and its own words for slow.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{FaultId, StateId, ZoneId};
use prediction::{Meter, Predictor, ZoneReading};
use truth::Unit;

fn described(name: &str) -> Machine {
    let path = format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn index<T>(list: &[T], is: impl Fn(&T) -> bool) -> u16 {
    u16::try_from(list.iter().position(is).unwrap()).unwrap()
}

fn celsius(machine: &Machine, state: &str, faults: &[&str], seconds: f64) -> f64 {
    let faults: Vec<FaultId> = faults.iter().map(|id| FaultId(index(&machine.faults, |f| f.id == *id))).collect();
    let zone = ZoneId(index(&machine.zones, |z| z.heat.is_some()));
    let state = StateId(index(&machine.states, |s| s.id == state));
    Unit::nominal(machine, &faults).celsius_after(state, zone, seconds).unwrap()
}

/// One store of heat: T - room = W / G (1 - exp(-G t / C)), first principles; the watts from its own early rise W t / C.
#[test]
fn stepped_air_of_the_dryer_follows_the_first_order_formula() {
    let dryer = described("dryer-timer-240");
    let (capacity, loses) = (30_000.0, 62.0);
    let watts = (celsius(&dryer, "dry", &[], 0.01) - 22.0) / 0.01 * capacity;
    assert!((4800.0..5300.0).contains(&watts), "{watts}");
    for seconds in [60.0, 120.0, 300.0, 400.0] {
        let expected = (22.0 + watts / loses * -libm::expm1(-loses * seconds / capacity)).min(68.0);
        let found = celsius(&dryer, "dry", &[], seconds);
        assert!((found - expected).abs() < 0.01, "{found} for {expected} after {seconds} s");
    }
}

#[test]
fn blocked_vent_slows_and_a_drifted_sensor_stops_the_heat() {
    let dryer = described("dryer-timer-240");
    let (sound, blocked) = (celsius(&dryer, "dry", &[], 120.0), celsius(&dryer, "dry", &["vent:blocked"], 120.0));
    assert!(blocked > 22.0 && blocked - 22.0 < 0.5 * (sound - 22.0), "{blocked} against {sound}");
    let range = described("range-control-240");
    assert!((celsius(&range, "preheat", &[], 3600.0) - 204.0).abs() < 0.01);
    // By hand from IEC 60751: what stands at 1773.3 / 1.15 ohm is 141.7 °C.
    assert!((celsius(&range, "preheat", &["sensor:drifted"], 3600.0) - 141.7).abs() < 0.2);
}

/// The oven of engine/circuit/tests/reference/oven.json has the range's heat network, and rises with the watts alone.
///
/// SOURCE: engine/circuit/tests/reference/thermal.csv, O10-LIN-240_both: scipy solve_ivp and matrix exponential.
#[test]
fn stepped_oven_is_where_the_outside_solver_says_for_its_watts() {
    let range = described("range-control-240");
    let predictor = Predictor::new(&range, Meter::ordinary());
    let (state, zone) = (StateId(index(&range.states, |s| s.id == "preheat")), ZoneId(0));
    for id in ["house:two-of-three", "bake:open", "broil:open"] {
        let fault = FaultId(index(&range.faults, |f| f.id == id));
        let watts = predictor.warm_up(state, &[fault], 1.0, zone, 175.0).unwrap().watts;
        for (table, seconds) in [(100.0, 217.829_839_7), (150.0, 332.752_113_8), (175.0, 395.515_956_3)] {
            let expected = 22.0 + (table - 22.0) * watts / 6200.0;
            let found = celsius(&range, "preheat", &[id], seconds);
            assert!((found - expected).abs() < 0.01, "{found} for {expected} after {seconds} s with {id}");
        }
    }
}

/// Stepping through time and the closed solution fight over every single fault.
#[test]
fn thermometer_of_the_unit_shows_what_is_predicted_for_every_single_fault() {
    for (name, state) in [("range-control-240", "preheat"), ("dryer-timer-240", "dry")] {
        let machine = described(name);
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let state = StateId(index(&machine.states, |s| s.id == state));
        let zone = ZoneId(index(&machine.zones, |z| z.heat.is_some()));
        for (fault, id) in machine.faults.iter().zip(0..) {
            for minutes in [3.0, 10.0] {
                let reading = ZoneReading::after_minutes(state, zone, minutes).unwrap();
                let predicted = predictor.zone_temperature(&reading, &[FaultId(id)]).unwrap().celsius;
                let unit = Unit::nominal(&machine, &[FaultId(id)]);
                let stepped = unit.celsius_after(state, zone, 60.0 * minutes).unwrap();
                assert!(
                    (predicted - stepped).abs() < 0.05,
                    "{}: {predicted} predicted, {stepped} stepped after {minutes} min",
                    fault.id
                );
            }
        }
    }
}
