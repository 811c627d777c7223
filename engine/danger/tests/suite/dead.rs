//! Deadness: what makes a proof, and each thing whose lack unmakes it.

use crate::support::{bench, branch_of, good_record, place, terminal, unplugged};
use danger::{
    Against, DEAD_LIMIT_VOLTS, DeadFact, DeadReading, DeadRecord, EarthCheck, Energy, Isolator, KnownSource,
    MeterCheck, Pair, Secured, Store, WhyNot, WhyNotDone, WorkPoint, judge_dead, required_measurements,
};
use machine::Machine;

fn block(machine: &Machine) -> WorkPoint {
    WorkPoint::place(machine, place(machine, "block"))
}

fn judged(spoil: impl Fn(&mut DeadRecord)) -> Result<(), Vec<WhyNot>> {
    let machine = bench();
    let energy = unplugged(&machine);
    let mut record = good_record(&block(&machine), energy.epoch());
    spoil(&mut record);
    judge_dead(&machine, &energy, &record).map(|_| ())
}

fn reading(record: &mut DeadRecord, index: usize) -> &mut DeadReading {
    let mut readings = record.facts.iter_mut().filter_map(|fact| match fact {
        DeadFact::Reading(reading) => Some(reading),
        _ => None,
    });
    readings.nth(index).unwrap()
}

#[test]
fn every_conductor_is_asked_to_every_other_and_to_earth_once() {
    let machine = bench();
    let work = block(&machine);
    let names: Vec<&str> = work.terminals().map(|id| machine.terminals[id.index()].name.as_str()).collect();
    assert_eq!(names, ["CH", "block.L1", "block.N"]);
    let pairs = required_measurements(&work);
    // n conductors: n (n - 1) / 2 pairs, and n to earth.
    assert_eq!(pairs.len(), 3 + 3);
    let to_earth = pairs.iter().filter(|pair| pair.ends().1 == Against::Earth).count();
    assert_eq!(to_earth, 3);
    let mut once = pairs.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), pairs.len());
}

#[test]
fn the_frame_belongs_to_every_work_point_and_hidden_points_to_none() {
    let machine = bench();
    let frame = machine.supply.frame;
    let heater = WorkPoint::at(&machine, &[terminal(&machine, "heater.1")]);
    assert!(heater.terminals().any(|id| id == frame));
    let house = WorkPoint::at(&machine, &[terminal(&machine, "house.L1"), machine.supply.earth]);
    assert_eq!(house.terminals().collect::<Vec<_>>(), [frame]);
}

#[test]
fn a_full_record_proves_the_block_dead() {
    assert_eq!(judged(|_| {}), Ok(()));
}

#[test]
fn one_pair_left_out_proves_nothing() {
    let machine = bench();
    let pair = Pair::between(terminal(&machine, "block.L1"), terminal(&machine, "block.N"));
    let left_out = judged(|record| {
        record.facts.retain(|fact| !matches!(fact, DeadFact::Reading(reading) if reading.pair == pair));
    });
    assert_eq!(left_out, Err(vec![WhyNot::Missing(pair)]));
}

#[test]
fn volts_on_either_range_are_live() {
    let over = DEAD_LIMIT_VOLTS + 0.1;
    for range in [0, 1] {
        let why = judged(|record| {
            let reading = reading(record, 1);
            if range == 0 { reading.ac_volts = over } else { reading.dc_volts = -over }
        });
        assert!(matches!(why.unwrap_err().as_slice(), [WhyNot::Live { volts, .. }] if *volts > DEAD_LIMIT_VOLTS));
    }
}

#[test]
fn no_figure_is_no_reading() {
    let why = judged(|record| reading(record, 0).ac_volts = f64::NAN).unwrap_err();
    assert!(matches!(why.as_slice(), [WhyNot::Missing(_)]));
}

#[test]
fn the_last_reading_of_a_pair_counts() {
    let better = judged(|record| {
        let mut bad = *reading(record, 0);
        bad.dc_volts = 40.0;
        record.facts.insert(2, DeadFact::Reading(bad));
    });
    assert_eq!(better, Ok(()));
    let worse = judged(|record| {
        let mut bad = *reading(record, 0);
        bad.dc_volts = 40.0;
        let end = record.facts.len() - 1;
        record.facts.insert(end, DeadFact::Reading(bad));
    });
    assert!(matches!(worse.unwrap_err().as_slice(), [WhyNot::Live { .. }]));
}

#[test]
fn the_meter_is_proved_before_and_after() {
    assert_eq!(judged(|record| drop(record.facts.remove(0))), Err(vec![WhyNot::MeterNotProvedBefore]));
    assert_eq!(judged(|record| drop(record.facts.pop())), Err(vec![WhyNot::MeterNotProvedAfter]));
    let both_before = judged(|record| {
        let last = record.facts.pop().unwrap();
        record.facts.insert(0, last);
    });
    assert_eq!(both_before, Err(vec![WhyNot::MeterNotProvedAfter]));
}

#[test]
fn a_meter_that_shows_nothing_on_a_live_source_proves_nothing() {
    let dead_meter =
        DeadFact::Meter(MeterCheck { source: KnownSource::Supply, expected_volts: 120.0, read_volts: 0.0 });
    let weak = DeadFact::Meter(MeterCheck { source: KnownSource::ProvingUnit, expected_volts: 9.0, read_volts: 9.0 });
    for bad in [dead_meter, weak] {
        let after = judged(|record| *record.facts.last_mut().unwrap() = bad.clone());
        assert_eq!(after, Err(vec![WhyNot::MeterNotProvedAfter]));
        // A good check earlier does not help when the last one before the readings failed.
        let before = judged(|record| record.facts.insert(1, bad.clone()));
        assert_eq!(before, Err(vec![WhyNot::MeterNotProvedBefore]));
    }
}

#[test]
fn an_earth_to_which_a_live_leg_shows_little_is_none() {
    let loose = DeadFact::Earth(EarthCheck { which: "cold water pipe".into(), leg_volts: 61.0 });
    let why = judged(|record| record.facts[1] = loose.clone());
    assert_eq!(why, Err(vec![WhyNot::EarthNotProved]));
    assert_eq!(judged(|record| drop(record.facts.remove(1))), Err(vec![WhyNot::EarthNotProved]));
}

#[test]
fn off_but_not_secured_is_not_dead() {
    let machine = bench();
    let mut energy = Energy::found();
    let record = good_record(&block(&machine), 0);
    assert!(judge_dead(&machine, &energy, &record).unwrap_err().contains(&WhyNot::FeedOn));
    energy.isolate(Isolator::Breaker);
    assert!(judge_dead(&machine, &energy, &record).unwrap_err().contains(&WhyNot::NotSecured));
    assert_eq!(energy.secure(Secured::PlugInSight), Err(WhyNotDone::DoesNotFit));
}

#[test]
fn a_capacitor_not_measured_down_is_not_dead() {
    let machine = bench();
    let cap = Store::Capacitor(branch_of(&machine, "cap"));
    let bus = Store::Bus(place(&machine, "console"));
    let mut energy = Energy::found();
    energy.isolate(Isolator::Plug);
    energy.secure(Secured::PlugInSight).unwrap();
    assert_eq!(energy.discharged(cap, 34.0), Err(WhyNotDone::StillCharged));
    assert_eq!(energy.discharged(cap, f64::NAN), Err(WhyNotDone::StillCharged));
    let record = good_record(&block(&machine), energy.epoch());
    let why = judge_dead(&machine, &energy, &record).unwrap_err();
    assert_eq!(why, [WhyNot::Charged(cap), WhyNot::Charged(bus)]);
    energy.discharged(cap, 1.0).unwrap();
    energy.discharged(bus, 0.0).unwrap();
    assert!(judge_dead(&machine, &energy, &record).is_ok());
}

#[test]
fn energising_spends_the_proof() {
    let machine = bench();
    let mut energy = unplugged(&machine);
    let record = good_record(&block(&machine), energy.epoch());
    let proof = judge_dead(&machine, &energy, &record).unwrap();
    assert!(proof.holds(&machine, &energy));
    energy.energise();
    assert!(!proof.holds(&machine, &energy));
    energy.isolate(Isolator::Plug);
    energy.secure(Secured::PlugInSight).unwrap();
    assert!(!proof.holds(&machine, &energy), "isolating again does not bring it back");
    assert!(judge_dead(&machine, &energy, &record).unwrap_err().contains(&WhyNot::Stale));
}

#[test]
fn walking_away_from_a_plug_spends_the_proof_and_from_a_lock_does_not() {
    let machine = bench();
    for (secured, still) in [(Secured::PlugInSight, false), (Secured::LockedAndTagged, true)] {
        let mut energy = unplugged(&machine);
        energy.secure(secured).unwrap();
        let proof = judge_dead(&machine, &energy, &good_record(&block(&machine), energy.epoch())).unwrap();
        energy.left_alone();
        assert_eq!(proof.holds(&machine, &energy), still);
    }
}

#[test]
fn an_insulation_test_charges_and_spends_the_proof() {
    let machine = bench();
    let mut energy = unplugged(&machine);
    let proof = judge_dead(&machine, &energy, &good_record(&block(&machine), energy.epoch())).unwrap();
    energy.charged_by_test();
    assert!(!proof.holds(&machine, &energy));
}

#[test]
fn a_proof_is_of_one_machine() {
    let machine = bench();
    let energy = unplugged(&machine);
    let proof = judge_dead(&machine, &energy, &good_record(&block(&machine), energy.epoch())).unwrap();
    let mut other = bench();
    other.id = "another".into();
    assert!(!proof.holds(&other, &energy));
}

#[test]
fn a_machine_without_a_plug_is_not_isolated_by_pulling_one() {
    let mut machine = bench();
    machine.supply.receptacle = None;
    let energy = unplugged(&bench());
    assert!(!energy.is_isolated(&machine));
    let record = good_record(&block(&machine), energy.epoch());
    assert!(judge_dead(&machine, &energy, &record).unwrap_err().contains(&WhyNot::FeedOn));
}

#[test]
fn what_is_lacking_is_said_with_the_machines_names() {
    let machine = bench();
    let pair = Pair::between(terminal(&machine, "block.N"), terminal(&machine, "block.L1"));
    assert_eq!(WhyNot::Missing(pair).say(&machine), "measure `block.L1` to `block.N`, AC and DC");
    let live = WhyNot::Live { pair: Pair::to_earth(terminal(&machine, "CH")), volts: 57.04 };
    assert_eq!(live.say(&machine), "`CH` to the proven earth shows 57.0 V; it is not dead, find out what feeds it");
    let cap = WhyNot::Charged(Store::Capacitor(branch_of(&machine, "cap")));
    assert_eq!(cap.say(&machine), "discharge the motor capacitor through a resistor and measure it");
}
