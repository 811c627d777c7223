//! Slow ovens told apart by what a thermometer shows some minutes after the start.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence, Measured, Suspect};
use machine::model::{FaultId, Machine, ObservationId, StateId, TerminalId, ZoneId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen, ZoneReading};

const RANGE: &str = include_str!("../../../machines/range-control-240.toml");

fn range() -> Machine {
    machine::read(RANGE).machine.unwrap()
}

fn index<T>(list: &[T], is: impl Fn(&T) -> bool) -> u16 {
    u16::try_from(list.iter().position(is).unwrap()).unwrap()
}

fn fault(machine: &Machine, id: &str) -> FaultId {
    FaultId(index(&machine.faults, |f| f.id == id))
}

fn state(machine: &Machine, id: &str) -> StateId {
    StateId(index(&machine.states, |s| s.id == id))
}

fn seen(machine: &Machine, what: &str, value: &str) -> Seen {
    let what = index(&machine.observations, |o| o.id == what);
    let value = index(&machine.observations[usize::from(what)].values, |v| v.id == value);
    Seen { state: state(machine, "preheat"), what: ObservationId(what), value: u8::try_from(value).unwrap() }
}

fn after(machine: &Machine, minutes: f64) -> ZoneReading {
    let zone = ZoneId(index(&machine.zones, |z| z.heat.is_some()));
    ZoneReading::after_minutes(state(machine, "preheat"), zone, minutes).unwrap()
}

/// What an oven with this fault shows five and ten minutes after the start.
fn thermometer(predictor: &Predictor<'_>, faults: &[FaultId]) -> Vec<Evidence> {
    let readings = [5.0, 10.0].map(|minutes| after(predictor.machine(), minutes));
    let shown = readings.map(|reading| {
        let celsius = predictor.zone_temperature(&reading, faults).unwrap().celsius;
        Evidence::Warmed { reading, celsius }
    });
    shown.to_vec()
}

fn share(belief: &Belief<'_, '_>, id: &str) -> f64 {
    let wanted = Suspect::of(&[fault(belief.machine(), id)]);
    belief.shares().into_iter().find(|(suspect, _)| **suspect == wanted).map_or(0.0, |(_, share)| share)
}

fn times_likelier(predictor: &Predictor<'_>, truth: &str, other: &str) -> f64 {
    let machine = predictor.machine();
    let mut belief = Belief::new(predictor, Assumptions::default());
    let before = share(&belief, truth) / share(&belief, other);
    for item in thermometer(predictor, &[fault(machine, truth)]) {
        belief.take(item);
    }
    share(&belief, truth) / share(&belief, other).max(1e-12) / before
}

#[test]
fn supply_of_208_volts_one_dead_element_and_a_drifted_sensor_are_told_apart_by_two_temperatures() {
    let machine = range();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let truths = ["house:two-of-three", "bake:open", "sensor:drifted"];
    for truth in truths {
        for other in truths.into_iter().filter(|other| *other != truth) {
            let times = times_likelier(&predictor, truth, other);
            assert!(times > 4.0, "{truth} against {other}: {times} times");
        }
    }
}

/// Two legs of three phases: 120 V each at 120 degrees, so the square root of 3 times 120 V, 207.8 V, between them and
/// three quarters of the watts; by hand. 208 V and a low supply share a curve: only a leg to neutral tells them apart.
#[test]
fn supply_of_208_volts_heats_slower_but_both_elements_glow() {
    let machine = range();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let (preheat, zone) = (state(&machine, "preheat"), ZoneId(index(&machine.zones, |z| z.heat.is_some())));
    let two_of_three = fault(&machine, "house:two-of-three");
    let warm = |faults: &[FaultId]| predictor.warm_up(preheat, faults, 1.0, zone, 175.0).unwrap();
    let (sound, slow) = (warm(&[]), warm(&[two_of_three]));
    assert!((slow.watts / sound.watts - 0.75).abs() < 0.002, "{} of {}", slow.watts, sound.watts);
    assert!(slow.seconds.unwrap() > 1.25 * sound.seconds.unwrap());
    assert!((predictor.supply_volts_with(&[two_of_three]) - 207.846).abs() < 1e-3);
    let shown = predictor.observe(preheat, &[two_of_three]);
    assert!(shown.contains(&seen(&machine, "oven", "slow")));
    for element in ["bake", "broil"] {
        assert!(!shown.contains(&seen(&machine, element, "none")), "{element} is dark");
    }
    let mut belief = Belief::new(&predictor, Assumptions::default());
    belief.take(Evidence::Reported(seen(&machine, "oven", "slow")));
    belief.take(Evidence::Watched(seen(&machine, "bake", "weak")));
    belief.take(Evidence::Watched(seen(&machine, "broil", "weak")));
    for item in thermometer(&predictor, &[two_of_three]) {
        belief.take(item);
    }
    assert!(share(&belief, "bake:open") < 1e-3 && share(&belief, "broil:open") < 1e-3);
    let terminal = |name: &str| TerminalId(index(&machine.terminals, |t| t.name == name));
    let probe = Probe::Across(terminal("block.L1"), terminal("block.N"));
    let reading = Reading { quantity: Quantity::Volts, probe, condition: Condition::running(StateId(0)) };
    belief.take(Evidence::Read { reading, measured: Measured::Value(119.5) });
    assert!(share(&belief, "house:low") < 0.1 * share(&belief, "house:two-of-three"));
    let probe = Probe::Across(terminal("block.L1"), terminal("block.L2"));
    let reading = Reading { quantity: Quantity::Volts, probe, condition: Condition::running(StateId(0)) };
    belief.take(Evidence::Read { reading, measured: Measured::Value(207.0) });
    assert!(share(&belief, "house:two-of-three") > 0.5, "{}", share(&belief, "house:two-of-three"));
}

#[test]
fn temperature_far_from_every_prediction_is_doubted_and_not_impossible() {
    let machine = range();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let before = share(&belief, "bake:open");
    belief.take(Evidence::Warmed { reading: after(&machine, 5.0), celsius: 290.0 });
    let total: f64 = belief.shares().iter().map(|(_, share)| share).sum();
    assert!((total + belief.not_as_described() - 1.0).abs() < 1e-9);
    assert!(share(&belief, "bake:open") > 0.1 * before);
}

#[test]
fn order_of_temperatures_does_not_matter() {
    let machine = range();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let items = thermometer(&predictor, &[fault(&machine, "broil:open")]);
    let (mut one, mut other) =
        (Belief::new(&predictor, Assumptions::default()), Belief::new(&predictor, Assumptions::default()));
    items.iter().for_each(|item| one.take(item.clone()));
    items.iter().rev().for_each(|item| other.take(item.clone()));
    assert!((share(&one, "broil:open") - share(&other, "broil:open")).abs() < 1e-9);
}
