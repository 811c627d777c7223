//! What is asked of work by kind of machine, against the published figures.

use danger::{Duty, Topic, duties};
use std::path::Path;

fn of(id: &str) -> Vec<Duty> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../machines");
    let text = |id: &str| std::fs::read_to_string(folder.join(format!("{id}.toml"))).ok();
    duties(&machine::read_with(&text(id).unwrap(), &text).machine.unwrap())
}

fn said(duties: &[Duty], about: Topic) -> Vec<&str> {
    duties.iter().filter(|duty| duty.about == about).map(|duty| duty.say.as_str()).collect()
}

#[test]
fn a_storage_water_heaters_circuit_carries_a_quarter_more_than_its_load() {
    // NEC 422.13: 4500 W at 240 V are 18.75 A, times 1.25 are 23.4 A; the next standard size is 25 A (240.6), and a breaker
    // for it alone at most 1.5 times its current, 28.1 A, the next size 30 A (422.11(E)).
    let all = of("water-heater-240");
    let said = said(&all, Topic::BranchCircuit);
    assert!(said[0].starts_with("the breaker carries 23.4 A: at least 25 A"), "{said:?}");
    assert!(said[1].contains("at most 30 A"), "{said:?}");
}

#[test]
fn a_microwave_oven_asks_for_a_trained_hand_interlocks_together_and_the_survey_meter() {
    let all = of("microwave-120");
    let high = said(&all, Topic::HighVoltage);
    assert_eq!(high.len(), 3);
    assert!(high[0].contains("trained hand") && high[1].contains("together") && high[2].contains("5 mW/cm²"));
    assert!(said(&of("hood-120"), Topic::HighVoltage).is_empty());
}

#[test]
fn gas_refrigerant_and_bond_come_with_their_machines() {
    let gas = of("range-gas-120");
    assert!(said(&gas, Topic::FuelGas)[0].contains("never a flame"));
    assert_eq!(said(&gas, Topic::TipOver).len(), 1);
    assert!(said(&of("freezer-120"), Topic::Refrigerant)[0].contains("licence"));
    // EN 50678: 0.3 ohm up to 5 m of cord; 0.3 Mohm with heating elements, 1 Mohm without.
    assert!(said(&of("dishwasher-120"), Topic::Bond)[0].contains("at most 0.3 ohm"));
    assert!(said(&of("dishwasher-120"), Topic::Insulation)[0].contains("at least 0.3 Mohm"));
    assert!(said(&of("room-air-120"), Topic::Insulation)[0].contains("at least 1 Mohm"));
    assert!(said(&of("dryer-timer-240"), Topic::Cord)[0].contains("must be removed"));
    assert_eq!(said(&of("range-control-240"), Topic::Cord).len(), 5);
}

#[test]
fn every_duty_names_its_source() {
    for id in ["dryer-timer-240", "induction-240", "range-gas-120", "refrigerator-timer-120", "washer-front-120"] {
        for duty in of(id) {
            assert!(!duty.source.is_empty() && !duty.say.is_empty(), "{id}: {duty:?}");
        }
    }
}
