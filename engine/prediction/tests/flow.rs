//! Water and gas: what comes through follows from the circuit and from the chain of what drives it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use machine::Machine;
use machine::model::{FaultId, StateId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Shown};

fn boiler() -> Machine {
    machine::read(include_str!("../../machine/tests/good/gas-boiler.toml")).machine.unwrap()
}

fn seen<'m>(machine: &'m Machine, what: &str, faults: &[&str]) -> &'m str {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let id = |fault: &&str| FaultId(machine.faults.iter().position(|f| f.id == **fault).unwrap().try_into().unwrap());
    let mut faults: Vec<FaultId> = faults.iter().map(id).collect();
    faults.sort_unstable();
    let seen = predictor.observe(StateId(1), &faults);
    let one = seen.into_iter().find(|seen| machine[seen.what].id == what).unwrap();
    &machine[one.what].values[usize::from(one.value)].id
}

#[test]
fn a_worn_igniter_glows_and_does_not_open_the_valve_in_series_with_it() {
    let machine = boiler();
    assert_eq!(seen(&machine, "flame", &[]), "full");
    // 34 ohms worn to 47.6: 120 V / 48.8 ohms = 2.46 A, 2.95 V over the coil that needs 3.5 (leads and source left out).
    assert_eq!(seen(&machine, "flame", &["igniter:weak"]), "none");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let at = |name: &str| machine.terminals.iter().position(|t| t.name == name).unwrap().try_into().unwrap();
    let terminal = |name: &str| machine::model::TerminalId(at(name));
    let reading = Reading {
        quantity: Quantity::Volts,
        probe: Probe::Across(terminal("gas-valve.A"), terminal("gas-valve.B")),
        condition: Condition::running(StateId(1)),
    };
    let Shown::Value { value, .. } = predictor.predict(&reading, &[]).shown else { unreachable!() };
    assert!((value - 120.0 / 35.2 * 1.2).abs() < 0.05, "{value}");
}

#[test]
fn gas_that_comes_to_a_cold_igniter_is_said_to_come_unlit() {
    let machine = boiler();
    assert_eq!(seen(&machine, "flame", &["gas-valve:stuck-open"]), "full");
    assert_eq!(seen(&machine, "flame", &["gas-valve:stuck-open", "igniter:open"]), "unlit");
    assert_eq!(seen(&machine, "flame", &["gas-valve:stuck-open", "igniter:weak"]), "full");
    assert_eq!(seen(&machine, "flame", &["igniter:open"]), "none");
    // An open coil has all the volts across it and pulls nothing.
    assert_eq!(seen(&machine, "flame", &["gas-valve:coil-open"]), "none");
    assert_eq!(seen(&machine, "flame", &["cock:shut"]), "none");
    assert_eq!(seen(&machine, "flame", &["cock:low"]), "weak");
    assert_eq!(seen(&machine, "flame", &["burner:fouled"]), "weak");
}

#[test]
fn water_comes_no_better_than_its_worst_part_and_not_without_the_motor() {
    let machine = boiler();
    assert_eq!(seen(&machine, "water", &[]), "strong");
    assert_eq!(seen(&machine, "water", &["filter:restricted"]), "weak");
    assert_eq!(seen(&machine, "water", &["filter:restricted", "circuit:blocked"]), "none");
    assert_eq!(seen(&machine, "water", &["pump:broken"]), "none");
    assert_eq!(
        (seen(&machine, "water", &["pump:jammed"]), seen(&machine, "motor", &["pump:jammed"])),
        ("none", "hums")
    );
}

#[test]
fn a_starter_starts_its_motor_and_lets_go() {
    let machine = boiler();
    assert_eq!(seen(&machine, "motor", &[]), "runs");
    assert_eq!(seen(&machine, "motor", &["starter:open"]), "hums");
    assert_eq!(seen(&machine, "motor", &["starter:stuck-closed"]), "runs");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let lead = machine.parts.iter().position(|part| part.id == "7").unwrap();
    let branch = machine.branches.iter().position(|b| b.part.index() == lead).unwrap().try_into().unwrap();
    let reading = Reading {
        quantity: Quantity::Amps,
        probe: Probe::Around(machine::model::BranchId(branch)),
        condition: Condition::running(StateId(1)),
    };
    let amps = |faults: &[FaultId]| match predictor.predict(&reading, faults).shown {
        Shown::Value { value, .. } => value,
        _ => f64::NAN,
    };
    let stuck =
        FaultId(machine.faults.iter().position(|f| f.id == "starter:stuck-closed").unwrap().try_into().unwrap());
    assert!(amps(&[]) < 1e-6 && amps(&[stuck]) > 4.0, "{} {}", amps(&[]), amps(&[stuck]));
}

#[test]
fn a_motor_without_a_start_winding_does_not_run_on_an_open_one() {
    let text = include_str!("../../machine/tests/good/fan-heater.toml");
    let machine = machine::read(text).machine.unwrap();
    let fan = machine.observations.iter().position(|o| o.id == "fan").unwrap();
    let state = machine.observations[fan].states[0];
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let open = FaultId(machine.faults.iter().position(|f| f.id == "fan:run-open").unwrap().try_into().unwrap());
    let value = |faults: &[FaultId]| {
        predictor.observe(state, faults).into_iter().find(|seen| seen.what.index() == fan).unwrap().value
    };
    assert!(value(&[]) > 0);
    assert_eq!(value(&[open]), 0);
}

/// The gas range: its control feels the flame of the oven a minute after it lit, and shuts the gas again without it.
#[test]
fn a_gas_valve_opens_first_and_is_shut_again_where_no_flame_is_felt() {
    let machine = shipped_machine("range-gas-120");
    let seen = |state: &str, what: &str, faults: &[&str]| {
        let faults: Vec<_> = faults.iter().map(|id| machine.fault(id).unwrap()).collect();
        let (state, what) = (machine.state(state).unwrap(), machine.observation(what).unwrap());
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let seen = predictor.observe(state, &faults).into_iter().find(|seen| seen.what == what).unwrap();
        machine[what].values[usize::from(seen.value)].id.clone()
    };
    assert_eq!((seen("bake", "flame", &[]), seen("steady", "flame", &[])), ("full".into(), "full".into()));
    assert_eq!(seen("steady", "display", &[]), "normal");
    // The flame rod fouled: it lights, and goes out again with its code.
    let fouled = ["flame-rod:dead"];
    assert_eq!((seen("bake", "flame", &fouled), seen("steady", "flame", &fouled)), ("full".into(), "none".into()));
    assert_eq!((seen("bake", "display", &fouled), seen("steady", "display", &fouled)), ("normal".into(), "g3".into()));
    // No spark: gas comes and does not light, and is shut again.
    let no_spark = ["module:open"];
    assert_eq!((seen("bake", "flame", &no_spark), seen("steady", "flame", &no_spark)), ("unlit".into(), "none".into()));
    // One electrode alone is one burner alone.
    assert_eq!(seen("lf", "lf", &["lf-electrode:dead"]), "unlit");
    assert_eq!(seen("rf", "rf", &["lf-electrode:dead"]), "full");
}

/// The ice maker: the ice comes loose by the heater's watts and the cam motor's together.
#[test]
fn a_heater_drives_what_it_warms() {
    let machine = shipped_machine("ice-maker-120");
    let ice = |faults: &[&str]| {
        let faults: Vec<_> = faults.iter().map(|id| machine.fault(id).unwrap()).collect();
        let (state, what) = (machine.state("eject").unwrap(), machine.observation("ice").unwrap());
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let seen = predictor.observe(state, &faults).into_iter().find(|seen| seen.what == what).unwrap();
        machine[what].values[usize::from(seen.value)].id.clone()
    };
    assert_eq!(ice(&[]), "strong");
    assert_eq!(ice(&["heater:open"]), "none");
    assert_eq!(ice(&["cam:stalled"]), "none");
}

fn shipped_machine(id: &str) -> Machine {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../machines");
    let text = |id: &str| std::fs::read_to_string(folder.join(format!("{id}.toml"))).ok();
    machine::read_with(&text(id).unwrap(), &text).machine.unwrap()
}
