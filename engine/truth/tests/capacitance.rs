//! Capacitance as the meter shows it: fast prediction against the separate truth, and both against figures by hand.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{BranchId, FaultId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Reading};
use truth::{Probe, Quantity, Shown, Unit};

/// The kettle with a capacitor in the place of its lamp: the element lies in parallel until a lead is lifted.
fn machine() -> Machine {
    let text = include_str!("../../machine/tests/good/guarded-kettle.toml");
    let lamp = "id = \"lamp\"\nkind = \"lamp\"\nname = \"pilot lamp\"\nplace = \"base\"\nwatts = 1\nvolts = 120";
    let pilot = "[[observe]]\nid = \"pilot\"\nwhat = \"lights\"\npart = \"lamp\"\n";
    assert!(text.contains(lamp) && text.contains(pilot));
    let capacitor = "id = \"cap\"\nkind = \"capacitor\"\nplace = \"base\"\nmicrofarads = 20";
    let text = text.replace(lamp, capacitor).replace(pilot, "").replace("lamp.", "cap.");
    let read = machine::read(&text);
    read.machine.unwrap_or_else(|| panic!("{:?}", read.diagnostics))
}

fn terminal(machine: &Machine, name: &str) -> TerminalId {
    TerminalId(u16::try_from(machine.terminals.iter().position(|t| t.name == name).unwrap()).unwrap())
}

fn fault(machine: &Machine, id: &str) -> FaultId {
    FaultId(u16::try_from(machine.faults.iter().position(|f| f.id == id).unwrap()).unwrap())
}

fn across(machine: &Machine, a: &str, b: &str, lifted: &[BranchId]) -> Reading {
    let probe = prediction::Probe::Across(terminal(machine, a), terminal(machine, b));
    let condition = Condition { lifted: lifted.to_vec(), ..Condition::isolated(StateId(0)) };
    Reading { quantity: prediction::Quantity::Farads, probe, condition }
}

/// Microfarads as predicted and as the truth has them; `None` for over-range. Asserts that the two agree.
fn shown(machine: &Machine, reading: &Reading, faults: &[FaultId]) -> Option<f64> {
    let prediction::Probe::Across(a, b) = reading.probe else { panic!() };
    let fast = Predictor::new(machine, Meter::ordinary()).predict(reading, faults).shown;
    let mut unit = Unit::nominal(machine, faults);
    let condition = &reading.condition;
    let slow = unit.read(Quantity::Farads, Probe::Across(a, b), condition.state, condition.plugged, &condition.lifted);
    match (fast, slow) {
        (prediction::Shown::OverRange, Shown::OverRange) => None,
        (prediction::Shown::Value { value, .. }, Shown::Value(figure)) => {
            assert!((value - figure).abs() <= 1e-6 * value.abs() + 1e-13, "{reading:?} {faults:?}: {value} {figure}");
            Some(value * 1e6)
        }
        other => panic!("{reading:?} with {faults:?}: {other:?}"),
    }
}

#[test]
fn a_capacitor_with_its_lead_lifted_reads_what_it_has() {
    let machine = machine();
    let reading = across(&machine, "cap.1", "cap.2", &machine.leads_at(terminal(&machine, "cap.2")));
    let of = |id: &str| shown(&machine, &reading, &[fault(&machine, id)]);
    assert!((shown(&machine, &reading, &[]).unwrap() - 20.0).abs() < 1e-6);
    // Four tenths are left of a weak one; an open one leaves what lies between the leads; a short cannot be charged.
    assert!((of("cap:weak").unwrap() - 8.0).abs() < 1e-6);
    assert!(of("cap:open").unwrap() < 0.02);
    assert_eq!(of("cap:shorted"), None);
}

#[test]
fn with_its_leads_on_the_element_beside_it_is_read() {
    let machine = machine();
    let reading = across(&machine, "cap.1", "cap.2", &[]);
    // Some twelve ohm beside a reactance of 133: 1 / (2 pi 60 Hz 20 uF).
    assert_eq!(shown(&machine, &reading, &[]), None);
    // With the element open it is alone again.
    assert!((shown(&machine, &reading, &[fault(&machine, "element:open")]).unwrap() - 20.0).abs() < 0.1);
}

#[test]
fn truth_and_prediction_agree_with_every_fault_between_any_points() {
    let machine = machine();
    let points: Vec<&str> = machine.terminals.iter().filter(|t| !t.hidden).map(|t| t.name.as_str()).collect();
    let (mut charged, mut refused) = (0, 0);
    for id in 0..machine.faults.len() {
        let faults = [FaultId(u16::try_from(id).unwrap())];
        for (at, a) in points.iter().enumerate() {
            let reading = across(&machine, a, points[(at + 1 + id) % points.len()], &[]);
            match shown(&machine, &reading, &faults) {
                Some(_) => charged += 1,
                None => refused += 1,
            }
        }
    }
    assert!(charged > 100 && refused > 100, "{charged} {refused}");
}

#[test]
fn the_width_of_a_capacitance_is_its_tolerance() {
    let machine = machine();
    let reading = across(&machine, "cap.1", "cap.2", &machine.leads_at(terminal(&machine, "cap.2")));
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let sigma = |faults: &[FaultId]| match predictor.predict(&reading, faults).shown {
        prediction::Shown::Value { value, sigma, .. } => sigma / value,
        other => panic!("{other:?}"),
    };
    // 95 % of sound ones lie within 10 %, and a weak one's share has 5 % one sigma.
    assert!((sigma(&[]) - 0.05).abs() < 1e-6, "{}", sigma(&[]));
    assert!((sigma(&[fault(&machine, "cap:weak")]) - 0.05).abs() < 1e-6);
}
