//! Faults that come and go in a real unit: how often they do and show, and that a sitting is of one piece.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{FaultId, PartId};
use truth::{DrawSettings, Unit, Workshop};

fn kettle() -> Machine {
    machine::read(include_str!("../../machine/tests/good/guarded-kettle.toml")).machine.unwrap()
}

fn fault(machine: &Machine, id: &str) -> FaultId {
    FaultId(u16::try_from(machine.faults.iter().position(|f| f.id == id).unwrap()).unwrap())
}

fn always() -> DrawSettings {
    DrawSettings { intermittents: 1e9, ..DrawSettings::default() }
}

fn units<'m>(machine: &'m Machine, id: &str, settings: &DrawSettings) -> Vec<Unit<'m>> {
    let workshop = Workshop::new(machine);
    (0..400).map(|seed| workshop.unit(seed, settings, &[fault(machine, id)])).collect()
}

fn share(count: usize, of: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap()) / f64::from(u32::try_from(of).unwrap())
}

#[test]
fn units_come_and_go_in_the_share_that_is_described() {
    let machine = kettle();
    let described = machine.faults[fault(&machine, "1:open").index()].intermittent.as_ref().unwrap().share;
    let units = units(&machine, "1:open", &DrawSettings { intermittents: 3.0, ..DrawSettings::default() });
    let found = share(units.iter().filter(|unit| !unit.come_and_go().is_empty()).count(), units.len());
    // Three sigmas of 400 draws.
    assert!((found - 3.0 * described).abs() < 0.07, "{found} of {described} times three");
    assert!(self::units(&machine, "element:open", &always()).iter().all(|unit| unit.come_and_go().is_empty()));
}

#[test]
fn a_unit_shows_as_its_customer_saw_it_until_someone_sits_down_to_it() {
    let machine = kettle();
    let boil = machine.state("boil").unwrap();
    let mut hid = 0;
    for mut unit in units(&machine, "1:open", &always()) {
        assert!(unit.differs(boil));
        unit.sit_down();
        let hides = unit.showing().is_empty();
        hid += usize::from(hides);
        // A sitting is of one piece, and what hides is no cure.
        assert!((0..3).all(|_| unit.differs(boil) != hides));
        assert!(!unit.sound());
        assert_eq!(unit.faults(), [fault(&machine, "1:open")]);
    }
    assert!((share(hid, 400) - 0.5).abs() < 0.08, "{hid} of 400 hide");
}

#[test]
fn moving_the_lead_brings_it_out_and_moving_another_part_does_not() {
    let machine = kettle();
    let part = |id: &str| PartId(u16::try_from(machine.parts.iter().position(|p| p.id == id).unwrap()).unwrap());
    let (mut out, mut hidden) = (0, 0);
    for mut unit in units(&machine, "1:open", &always()) {
        unit.sit_down();
        let before = unit.showing();
        unit.move_part(part("5"));
        unit.warm_up();
        assert_eq!(unit.showing(), before);
        if before.is_empty() {
            hidden += 1;
            unit.move_part(part("1"));
            out += usize::from(!unit.showing().is_empty());
        }
    }
    // The usual chance that a fault shows once it is provoked.
    assert!((share(out, hidden) - 0.8).abs() < 0.09, "{out} of {hidden}");
}
