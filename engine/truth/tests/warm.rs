//! The unit's stepped warm-up against the closed solution of first-order heat, and its own words for slow.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{FaultId, StateId, ZoneId};
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
