//! Drawn units: the same seed gives the same unit, sound ones look sound, faults show, repairs cure, the meter errs
//! within its limits and the hand slips as rarely as it should.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::StateId;
use truth::{DrawSettings, Probe, Quantity, Shown, Unit, Workshop};

fn dryer() -> Machine {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/dryer-timer-240.toml");
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

/// Ohms across the heater with one lead off, so that nothing lies in parallel.
fn heater_ohms(machine: &Machine, unit: &mut Unit<'_>) -> Shown {
    let (a, b) = (machine.terminal("heater.1").unwrap(), machine.terminal("heater.2").unwrap());
    let lifted = machine.leads_at(a);
    unit.read(Quantity::Ohms, Probe::Across(a, b), StateId(0), false, &lifted)
}

fn careful() -> DrawSettings {
    DrawSettings { wrong_terminal: 0.0, bad_contact: 0.0, bad_part: 0.0, false_look: 0.0, ..DrawSettings::default() }
}

#[test]
fn same_seed_gives_the_same_unit() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    for seed in 0..4 {
        let (mut one, mut other) = (workshop.draw(seed, &careful()), Unit::draw(&machine, seed, &careful()));
        assert_eq!(one.faults(), other.faults());
        assert_eq!(heater_ohms(&machine, &mut one), heater_ohms(&machine, &mut other));
    }
    let faults: std::collections::BTreeSet<_> = (0..12).map(|seed| workshop.draw(seed, &careful()).faults()).collect();
    assert!(faults.len() > 4, "seeds make no difference: {faults:?}");
}

#[test]
fn sound_units_of_any_values_look_sound() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    for seed in 0..12 {
        let unit = workshop.unit(seed, &DrawSettings::default(), &[]);
        let odd: Vec<_> = unit.state_ids().filter(|&state| unit.differs(state)).collect();
        assert!(odd.is_empty(), "seed {seed} differs in {odd:?}");
    }
}

#[test]
fn drawn_faults_show_until_they_are_cured() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    for seed in 0..12 {
        let mut unit = workshop.draw(seed, &careful());
        assert!(!unit.sound(), "seed {seed}: {:?} does not show", unit.faults());
        for fault in unit.faults() {
            unit.repair(machine.faults[fault.index()].repair);
        }
        assert!(unit.sound() && unit.faults().is_empty(), "seed {seed}");
    }
}

#[test]
fn repair_of_another_part_cures_nothing() {
    let machine = dryer();
    let heater = machine.fault("heater:open").unwrap();
    let mut unit = Workshop::new(&machine).unit(1, &careful(), &[heater]);
    assert!(unit.repair(machine.repair("belt:replace").unwrap()).cured.is_empty());
    assert!(!unit.sound());
    assert_eq!(unit.repair(machine.faults[heater.index()].repair).cured, [heater]);
    assert!(unit.sound());
}

#[test]
fn bad_new_part_leaves_the_fault_and_the_next_one_cures_it() {
    let machine = dryer();
    let heater = machine.fault("heater:open").unwrap();
    let repair = machine.faults[heater.index()].repair;
    let workshop = Workshop::new(&machine);
    let settings = DrawSettings { bad_part: 0.3, ..careful() };
    let mut bad = 0;
    for seed in 0..200 {
        let mut unit = workshop.unit(seed, &settings, &[heater]);
        let first = unit.repair(repair);
        assert_eq!(first.bad_part, first.cured.is_empty());
        bad += u32::from(first.bad_part);
        while unit.repair(repair).bad_part {}
        assert!(unit.faults().is_empty());
    }
    // 200 draws at 0.3: 60 with a standard deviation of 6.5.
    assert!((40..80).contains(&bad), "{bad}");
}

#[test]
fn meter_keeps_to_its_accuracy_and_repeats_within_its_noise() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    // Cold ohms of 240 V, 5300 W at the kind's cold ratio 0.94 and tolerance 7 % (docs/machine-format.md).
    let stated = 240.0 * 240.0 / 5300.0 * 0.94;
    for seed in 0..40 {
        let mut unit = workshop.unit(seed, &careful(), &[]);
        let Shown::Value(first) = heater_ohms(&machine, &mut unit) else { panic!("over-range at seed {seed}") };
        let Shown::Value(second) = heater_ohms(&machine, &mut unit) else { panic!("over-range at seed {seed}") };
        assert!((first - stated).abs() < 0.085 * stated + 0.5, "seed {seed}: {first}");
        assert!((first - second).abs() < 0.02 * stated + 0.3, "seed {seed}: {first} then {second}");
    }
}

#[test]
fn open_element_reads_over_range() {
    let machine = dryer();
    let open = machine.fault("heater:open").unwrap();
    let mut unit = Workshop::new(&machine).unit(3, &careful(), &[open]);
    assert_eq!(heater_ohms(&machine, &mut unit), Shown::OverRange);
}

#[test]
fn hand_slips_as_often_as_set() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    let settings = DrawSettings { wrong_terminal: 0.0, bad_contact: 0.2, ..careful() };
    let mut unit = workshop.unit(5, &settings, &[]);
    let slips = (0..400).filter(|_| heater_ohms(&machine, &mut unit) == Shown::OverRange).count();
    // 400 draws at 0.2: 80 with a standard deviation of 8.
    assert!((50..110).contains(&slips), "{slips}");
}

#[test]
fn look_shows_the_same_each_time_and_as_often_as_stated() {
    let machine = dryer();
    let open = machine.fault("heater:open").unwrap();
    let heater = machine.part("heater").unwrap();
    let workshop = Workshop::new(&machine);
    let mut shown = 0;
    for seed in 0..300 {
        let unit = workshop.unit(seed, &careful(), &[open]);
        assert_eq!(unit.look(heater), unit.look(heater));
        shown += u32::from(unit.look(heater));
    }
    // 300 draws at the file's 0.6: 180 with a standard deviation of 8.5.
    assert!((150..210).contains(&shown), "{shown}");
}

#[test]
fn worlds_differ_in_how_often_a_fault_comes() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    let count = |world: u64| {
        let settings = DrawSettings { world, unrelated_pairs: 0.0, ..careful() };
        let heater = machine.fault("heater:open").unwrap();
        (0..60).filter(|&seed| workshop.draw(seed, &settings).faults().contains(&heater)).count()
    };
    let counts: Vec<usize> = (0..4).map(count).collect();
    assert!(counts.iter().max() > counts.iter().min(), "{counts:?}");
}

#[test]
fn a_new_part_does_not_look_damaged_because_the_old_one_did() {
    let machine = dryer();
    let workshop = Workshop::new(&machine);
    let heater = machine.part("heater").unwrap();
    let replace = machine.repair("heater:replace").unwrap();
    // Half of all sound parts look damaged here, so that half of the new ones do too.
    let settings = DrawSettings { false_look: 0.5, ..careful() };
    let mut units: Vec<Unit<'_>> = (0..200).map(|seed| workshop.unit(seed, &settings, &[])).collect();
    units.retain(|unit| unit.misleads(heater));
    let before = units.len();
    units.iter_mut().for_each(|unit| _ = unit.repair(replace));
    let still = units.iter().filter(|unit| unit.misleads(heater)).count();
    assert!(before > 60 && still * 4 > before && still * 4 < 3 * before, "{still} of {before}");
}
