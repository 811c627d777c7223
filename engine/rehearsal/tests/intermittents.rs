//! Faults that come and go, drawn by the truth and weighed by the belief: what is believed comes true as often.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use diagnosis::{Assumptions, Belief, Evidence, Measured, Suspect};
use machine::Machine;
use machine::faults::{Intermittent, Stir};
use machine::model::{Branch, FaultId, StateId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading};
use rehearsal::{Rehearsal, Settings, Strategy};
use truth::{DrawSettings, Shown, Workshop};

fn bench_heater() -> Machine {
    machine::read(include_str!("bench-heater.toml")).machine.unwrap()
}

/// The bench heater, with every fault come and go in three of ten cases: else few units of a test would.
fn fickle_heater() -> Machine {
    let mut machine = bench_heater();
    for fault in &mut machine.faults {
        let by = vec![Stir::Moved];
        fault.intermittent = Some(Intermittent { share: 0.3, shows: 0.4, provoked: 0.8, by });
    }
    machine
}

fn settings() -> Settings {
    let draw = DrawSettings { prior_factor: 1.0, unrelated_pairs: 0.0, ..DrawSettings::default() };
    Settings { draw, nodes: 0, ..Settings::default() }
}

/// A reading across everything that lies open between two points.
fn readings(machine: &Machine) -> Vec<Reading> {
    let open = |b: &&Branch| {
        [b.from, b.to].iter().all(|end| !machine.terminals[end.index()].hidden) && !machine[b.part].installation
    };
    let across = |(from, to)| Reading {
        quantity: Quantity::Ohms,
        probe: Probe::Across(from, to),
        condition: Condition::isolated(StateId(0)),
    };
    machine.branches.iter().filter(open).map(|b| across((b.from, b.to))).collect()
}

#[test]
fn what_is_believed_to_come_and_go_or_hide_does_so_as_often() {
    let machine = fickle_heater();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let settings = settings();
    let rehearsal = Rehearsal::new(&predictor, 21, settings.clone()).unwrap();
    let readings = readings(&machine);
    let mut claims: Vec<(f64, bool)> = Vec::new();
    for call in 0..300 {
        let case = rehearsal.case(rehearsal.call_seed(call));
        let mut unit = case.unit.clone();
        let mut belief = Belief::new(&predictor, settings.assumptions.clone());
        case.complaint.all().into_iter().for_each(|seen| belief.take(Evidence::Reported(seen)));
        belief.take(Evidence::ComesAndGoes(case.complaint.comes_and_goes));
        for sitting in 0..2 {
            unit.sit_down();
            if sitting > 0 {
                belief.take(Evidence::Stirred(diagnosis::Stirred::Again));
            }
            for reading in &readings {
                let Probe::Across(a, b) = reading.probe else { continue };
                let probe = truth::Probe::Across(a, b);
                let shown = unit.read(truth::Quantity::Ohms, probe, StateId(0), false, &[]);
                let measured = match shown {
                    Shown::Value(value) => Measured::Value(value),
                    Shown::OverRange => Measured::OverRange,
                };
                belief.take(Evidence::Read { reading: reading.clone(), measured });
            }
            // What is believed of the whole: that the trouble hides now.
            let hides: f64 = belief.shares().iter().map(|(suspect, share)| share * belief.hides(suspect)).sum();
            let fickle: f64 =
                belief.shares().iter().map(|(suspect, share)| share * belief.comes_and_goes(suspect)).sum();
            claims.push((hides, unit.showing() != unit.faults()));
            claims.push((fickle, !unit.come_and_go().is_empty()));
        }
    }
    let bins = [(0.0, 0.02), (0.02, 0.3), (0.3, 0.8), (0.8, 1.001)];
    let (mut seen, mut middle) = (0, 0);
    for (from, to) in bins {
        let inside: Vec<&(f64, bool)> = claims.iter().filter(|(claim, _)| (from..to).contains(claim)).collect();
        let count = f64::from(u32::try_from(inside.len()).unwrap());
        if inside.len() < 20 {
            continue;
        }
        let claimed = inside.iter().map(|(claim, _)| claim).sum::<f64>() / count;
        let so = inside.iter().map(|(_, so)| f64::from(u8::from(*so))).sum::<f64>() / count;
        // Four sigmas, and what the customer's and the belief's assumptions differ by.
        let width = 4.0 * (claimed * (1.0 - claimed) / count).sqrt() + 0.05;
        println!("{from} to {to}: {count} claims of {claimed}, {so} so");
        assert!((so - claimed).abs() < width, "{count} claims of {claimed} between {from} and {to}: {so} were so");
        seen += 1;
        middle += usize::from(from > 0.01) * inside.len();
    }
    assert!(seen >= 3 && middle >= 60, "{seen} bins, {middle} claims that are no plain no");
}

#[test]
fn a_visit_to_a_unit_that_hides_ends_and_is_judged_by_what_is_left_of_the_fault() {
    let machine = fickle_heater();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let with = Rehearsal::new(&predictor, 5, settings()).unwrap();
    let mut fickle = 0;
    for call in 0..60 {
        let case = with.case(with.call_seed(call));
        let visit = with.visit(&case, Strategy::Tool).unwrap();
        fickle += usize::from(!case.unit.come_and_go().is_empty());
        // Whatever comes and goes, a visit ends, and only a cured machine counts as right.
        assert!(visit.steps <= settings().most_steps + 1 && !(visit.right && visit.callback), "{visit:?}");
    }
    assert!(fickle >= 5, "{fickle} of 60 come and go");
}

#[test]
fn without_a_share_no_unit_comes_and_goes() {
    let machine = bench_heater();
    let workshop = Workshop::new(&machine);
    let none = DrawSettings { intermittents: 0.0, ..DrawSettings::default() };
    assert!((0..200).all(|seed| workshop.draw(seed, &none).come_and_go().is_empty()));
    let ids: Vec<FaultId> = (0..).map(FaultId).take(machine.faults.len()).collect();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let belief = Belief::new(&predictor, Assumptions { intermittents: 0.0, ..Assumptions::default() });
    assert!(ids.iter().all(|&fault| belief.comes_and_goes(&Suspect::of(&[fault])) < 1e-15));
}
