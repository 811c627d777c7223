//! The belief against its definition, and what must hold of any belief.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a test may fail loudly")]

use diagnosis::likelihood::{meant, of_reading, of_seen, slipped};
use diagnosis::suspects::suspects;
use diagnosis::{Assumptions, Belief, Evidence, Measured, Suspect, reasons::reasons};
use machine::model::{FaultId, Machine, ObservationId, PartId, RepairId, StateId, TerminalId, VariantId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen};

const DRYER: &str = include_str!("../../../machines/dryer-timer-240.toml");

fn dryer() -> Machine {
    machine::read(DRYER).machine.unwrap()
}

fn index<T>(list: &[T], is: impl Fn(&T) -> bool) -> u16 {
    u16::try_from(list.iter().position(is).unwrap()).unwrap()
}

fn fault(machine: &Machine, id: &str) -> FaultId {
    FaultId(index(&machine.faults, |f| f.id == id))
}

fn repair_of(machine: &Machine, fault_id: &str) -> RepairId {
    machine.faults[fault(machine, fault_id).index()].repair
}

fn seen(machine: &Machine, state: &str, what: &str, value: &str) -> Seen {
    let state = StateId(index(&machine.states, |s| s.id == state));
    let what = index(&machine.observations, |o| o.id == what);
    let values = &machine.observations[usize::from(what)].values;
    let value = u8::try_from(index(values, |v| v.id == value)).unwrap();
    Seen { state, what: ObservationId(what), value }
}

fn reported(machine: &Machine, state: &str, what: &str, value: &str) -> Evidence {
    Evidence::Reported(seen(machine, state, what, value))
}

fn ohms(machine: &Machine, a: &str, b: &str, measured: Measured) -> Evidence {
    let terminal = |name: &str| TerminalId(index(&machine.terminals, |t| t.name == name));
    let probe = Probe::Across(terminal(a), terminal(b));
    let reading = Reading { quantity: Quantity::Ohms, probe, condition: Condition::isolated(StateId(0)) };
    Evidence::Read { reading, measured }
}

fn cold_but_tumbling(machine: &Machine) -> Vec<Evidence> {
    vec![reported(machine, "heat", "drum", "yes"), reported(machine, "heat", "heats", "none")]
}

fn share(belief: &Belief<'_, '_>, faults: &[FaultId]) -> f64 {
    let wanted = Suspect::of(faults);
    belief.shares().into_iter().find(|(suspect, _)| **suspect == wanted).map_or(0.0, |(_, share)| share)
}

#[test]
fn the_belief_equals_full_enumeration() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let assumed = Assumptions::default();
    let mut evidence = cold_but_tumbling(&machine);
    evidence.push(ohms(&machine, "cut-off.1", "cut-off.2", Measured::Value(0.3)));
    evidence.push(ohms(&machine, "heater.1", "heater.2", Measured::Value(10.4)));
    let mut belief = Belief::new(&predictor, assumed.clone());
    evidence.iter().for_each(|item| belief.take(item.clone()));

    // The definition, with nothing shared but the likelihood of one item: prior times every likelihood, summed over the
    // sizes that a burnt joint can have, then over the suspects. A trouble told that is none is one of as many as the
    // machine has things to be seen; with nothing wrong one is told all the same.
    let listed = suspects(&machine, &assumed);
    let single: f64 = listed.iter().filter(|(s, _)| s.0.len() == 1).map(|(_, w)| w).sum();
    let troubles = f64::from(u32::try_from(machine.observations.len()).unwrap());
    let of = |item: &Evidence, suspect: &Suspect, size: usize| match item {
        Evidence::Reported(seen) => {
            let at = predictor.observed_in(seen.state).position(|what| what == seen.what).unwrap();
            let values = machine.observations[seen.what.index()].values.len();
            let way = &predictor.ways(seen.state, &suspect.0)[size];
            let sound = predictor.ways(seen.state, &[])[0].values[at];
            let told = |actual: u8| match (seen.value == sound, actual == sound, suspect.0.is_empty()) {
                (false, true, true) => 1.0 / troubles,
                (false, true, false) => assumed.wrong_report / troubles,
                _ => of_seen(seen.value, actual, values, assumed.wrong_report),
            };
            let (other, chance) = way.close_to[at].unwrap_or((0, 0.0));
            (1.0 - chance) * told(way.values[at]) + chance * told(other)
        }
        Evidence::Read { reading, measured } => {
            let predicted = predictor.predict(reading, &suspect.0);
            of_reading(*measured, &predicted, reading.quantity, predictor.meter(), assumed.slip)
        }
        _ => unreachable!("no such item here"),
    };
    let weights: Vec<f64> = listed
        .iter()
        .map(|(suspect, weight)| {
            let shares = predictor.size_shares(&suspect.0);
            let of_size = |size: usize| evidence.iter().map(|item| of(item, suspect, size)).product::<f64>();
            let over_sizes: f64 = shares.iter().enumerate().map(|(size, share)| share * of_size(size)).sum();
            weight * over_sizes
        })
        .collect();
    let broad = |item: &Evidence| match item {
        Evidence::Reported(seen) => {
            1.0 / f64::from(u32::try_from(machine.observations[seen.what.index()].values.len()).unwrap())
        }
        Evidence::Read { reading, measured } => slipped(*measured, reading.quantity, predictor.meter()),
        _ => unreachable!("no such item here"),
    };
    let other = evidence.iter().fold(assumed.not_as_described * single, |w, item| w * broad(item));
    let total: f64 = weights.iter().sum::<f64>() + other;
    for ((suspect, _), weight) in listed.iter().zip(&weights) {
        let expected = weight / total;
        let found = share(&belief, &suspect.0);
        assert!((found - expected).abs() < 1e-9 + belief.dropped(), "{suspect:?}: {found} is not {expected}");
    }
    assert!((belief.not_as_described() - other / total).abs() < 1e-9 + belief.dropped());
    assert!(belief.dropped() < 1e-6);
}

#[test]
fn shares_sum_to_one_after_every_item() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let mut items = cold_but_tumbling(&machine);
    items.push(ohms(&machine, "heater.1", "heater.2", Measured::OverRange));
    items.push(Evidence::Repaired(repair_of(&machine, "heater:open")));
    items.push(reported(&machine, "heat", "heats", "none"));
    for item in items {
        belief.take(item);
        let sum: f64 = belief.shares().iter().map(|(_, share)| share).sum::<f64>() + belief.not_as_described();
        assert!((sum - 1.0).abs() < 1e-9 + belief.dropped(), "{sum}");
    }
}

#[test]
fn the_order_of_evidence_does_not_matter() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut items = cold_but_tumbling(&machine);
    items.push(ohms(&machine, "heater.1", "heater.2", Measured::Value(10.4)));
    items.push(ohms(&machine, "cut-off.1", "cut-off.2", Measured::OverRange));
    let weigh = |order: &[usize]| {
        let mut belief = Belief::new(&predictor, Assumptions::default());
        order.iter().for_each(|&at| belief.take(items[at].clone()));
        share(&belief, &[fault(&machine, "cut-off:open")])
    };
    let straight = weigh(&[0, 1, 2, 3]);
    for order in [[3, 2, 1, 0], [1, 3, 0, 2], [2, 0, 3, 1]] {
        assert!((weigh(&order) - straight).abs() < 1e-9);
    }
}

#[test]
fn an_open_heater_is_found_by_one_reading_and_says_why() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    cold_but_tumbling(&machine).into_iter().for_each(|item| belief.take(item));
    belief.take(ohms(&machine, "heater.1", "heater.2", Measured::OverRange));
    let (leader, _) = belief.shares()[0];
    assert_eq!(leader.0.as_ref(), [fault(&machine, "heater:open")]);
    let repairs = belief.repair_shares();
    assert_eq!(repairs[0].0, repair_of(&machine, "heater:open"));
    assert!(repairs[0].1 > 0.9, "{}", repairs[0].1);
    let why = reasons(&belief, leader);
    assert!(why[0].log_ratio > 0.0);
    assert!(why[0].say.contains("read OL"), "{}", why[0].say);
}

#[test]
fn a_reading_that_nothing_explains_is_said_to_be_unexplained() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    cold_but_tumbling(&machine).into_iter().for_each(|item| belief.take(item));
    assert!(!belief.unexplained());
    // A heater of 470 ohm is in no file: neither sound nor open nor shorted.
    let odd = ohms(&machine, "heater.1", "heater.2", Measured::Value(470.0));
    belief.take(odd.clone());
    // Once it may be a slip: it is taken again first.
    assert!(!belief.unexplained());
    assert_eq!((belief.to_take_again(), belief.clashes()), (Some(2), vec![2]));
    belief.take(odd);
    assert!(belief.unexplained());
    assert_eq!((belief.to_take_again(), belief.clashes()), (None, vec![3]));
}

#[test]
fn a_single_slip_retaken_is_forgiven() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    cold_but_tumbling(&machine).into_iter().for_each(|item| belief.take(item));
    belief.take(ohms(&machine, "heater.1", "heater.2", Measured::Value(470.0)));
    belief.take(ohms(&machine, "heater.1", "heater.2", Measured::OverRange));
    assert!(!belief.unexplained());
    assert_eq!(belief.shares()[0].0.0.as_ref(), [fault(&machine, "heater:open")]);
}

#[test]
fn a_repair_leaves_what_it_does_not_cure_and_new_suspects_of_its_own() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    cold_but_tumbling(&machine).into_iter().for_each(|item| belief.take(item));
    belief.take(ohms(&machine, "heater.1", "heater.2", Measured::OverRange));
    belief.take(Evidence::Repaired(repair_of(&machine, "heater:open")));
    // A blocked vent may stand behind a burnt heater, so not all of it is cured.
    assert!(share(&belief, &[]) > 0.8, "{}", share(&belief, &[]));
    // Still cold: the new heater is bad, or a lead on it was left off, or the other half of a pair.
    belief.take(reported(&machine, "heat", "heats", "none"));
    belief.take(reported(&machine, "heat", "heats", "none"));
    let leads: f64 = belief
        .shares()
        .iter()
        .filter(|(suspect, _)| suspect.0.iter().any(|f| machine.faults[f.index()].id.starts_with('R')))
        .map(|(_, share)| share)
        .sum();
    assert!(share(&belief, &[fault(&machine, "heater:open")]) > 0.01);
    assert!(leads > 0.01, "{leads}");
}

#[test]
fn the_technicians_opinion_counts_as_he_says() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let (heater, belt) = (fault(&machine, "heater:open"), fault(&machine, "belt:broken"));
    let before = share(&belief, &[heater]) / share(&belief, &[belt]);
    let part: PartId = machine.faults[heater.index()].part;
    belief.take(Evidence::Opinion { part, times: 5.0 });
    let after = share(&belief, &[heater]) / share(&belief, &[belt]);
    assert!((after / before - 5.0).abs() < 1e-9);
}

#[test]
fn the_likelihood_of_what_a_meter_can_show_sums_to_one() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let terminal = |name: &str| TerminalId(index(&machine.terminals, |t| t.name == name));
    let probe = Probe::Across(terminal("heater.1"), terminal("heater.2"));
    let reading = Reading { quantity: Quantity::Ohms, probe, condition: Condition::isolated(StateId(0)) };
    for faults in [vec![], vec![fault(&machine, "heater:open")], vec![fault(&machine, "heater:part-shorted")]] {
        let predicted = predictor.predict(&reading, &faults);
        let meter = predictor.meter();
        let over = meant(Measured::OverRange, &predicted, Quantity::Ohms, meter);
        let steps = 200_000;
        let width = 40.0 / f64::from(steps);
        let figures: f64 = (0..steps)
            .map(|step| (f64::from(step) + 0.5) * width)
            .map(|x| meant(Measured::Value(x), &predicted, Quantity::Ohms, meter) * width)
            .sum();
        assert!((over + figures - 1.0).abs() < 1e-3, "{faults:?}: {over} + {figures}");
    }
}

#[test]
fn what_was_watched_speaks_in_the_reasons_as_it_was_weighed() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let cold = seen(&machine, "heat", "heats", "none");
    let open = Suspect::of(&[fault(&machine, "heater:open")]);
    let before = belief.likelihood(&Evidence::Watched(cold), &open);
    belief.take(Evidence::Watched(cold));
    belief.take(Evidence::Watched(cold));
    assert_eq!(belief.likelihood_at(0, &open).to_bits(), before.to_bits());
    // Seen a second time in one run it tells next to nothing, and only then.
    assert!(belief.likelihood_at(1, &open) < 0.7 * before, "{} {before}", belief.likelihood_at(1, &open));
}

/// A machine whose heater and sensor differ between units.
fn dryer_in_builds() -> Machine {
    shipped::find("dryer-control-240").unwrap().read().unwrap()
}

#[test]
fn the_belief_over_builds_and_faults_equals_full_enumeration() {
    let machine = dryer_in_builds();
    assert_eq!(machine.builds.len(), 4);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let assumed = Assumptions { intermittents: 0.0, ..Assumptions::default() };
    let evidence = [
        reported(&machine, "heat", "heats", "none"),
        ohms(&machine, "heater.1", "heater.2", Measured::Value(12.3)),
        ohms(&machine, "sensor.1", "sensor.2", Measured::Value(11_600.0)),
    ];
    let mut belief = Belief::new(&predictor, assumed.clone());
    evidence.iter().for_each(|item| belief.take(item.clone()));
    // A machine of each build alone gives what its suspects are worth in it; their shares are those of the builds.
    let mut all: Vec<(usize, f64)> = Vec::new();
    for at in 0..machine.builds.len() {
        let mut alone = machine.clone();
        alone.builds = vec![machine::builds::Build { share: 1.0, ..machine.builds[at].clone() }];
        let predictor = Predictor::new(&alone, Meter::ordinary());
        let one = Belief::new(&predictor, assumed.clone());
        for (suspect, weight) in suspects(&alone, &assumed) {
            // A report is held against what any sound build may show, so it is asked of the belief over all.
            let likely: f64 = evidence[1..].iter().map(|item| one.likelihood(item, &suspect)).product();
            let told = one.likelihood(&evidence[0], &suspect);
            all.push((at, machine.builds[at].share * weight * likely * told));
        }
    }
    let sum: f64 = all.iter().map(|(_, weight)| weight).sum();
    for (at, share) in belief.builds().into_iter().enumerate() {
        let expected: f64 = all.iter().filter(|(of, _)| *of == at).map(|(_, weight)| weight / sum).sum();
        assert!((share - expected).abs() < 1e-6, "build {at}: {share} against {expected}");
    }
    assert!(belief.ways_of(VariantId(0))[1] > 0.95, "12.3 ohm is a heater of 4500 W, 240 V: {:?}", belief.builds());
}

#[test]
fn a_heater_of_other_watts_is_no_suspect_once_it_may_be_one() {
    let machine = dryer_in_builds();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    cold_but_tumbling(&machine).into_iter().for_each(|item| belief.take(item));
    // 240 V squared over 4500 W, cold 6 % less, and the meter's leads.
    belief.take(ohms(&machine, "heater.1", "heater.2", Measured::Value(12.2)));
    assert!(belief.not_as_described() < 0.05, "{}", belief.not_as_described());
    assert!(!belief.unexplained());
    let before = belief.ways_of(VariantId(0))[1];
    belief.take(Evidence::Repaired(repair_of(&machine, "cut-off:open")));
    assert!((belief.ways_of(VariantId(0))[1] - before).abs() < 0.01, "a repair makes no other build of it");
}

#[test]
fn a_look_settles_a_variant() {
    let machine = dryer_in_builds();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    belief.take(Evidence::Built { variant: VariantId(0), option: Some(0) });
    // Prior 0.3; taken for another in 1 of 100: 0.3 / (0.3 + 0.7 * 0.01), by Bayes' rule.
    assert!((belief.ways_of(VariantId(0))[1] - 0.3 / 0.307).abs() < 1e-9);
    let mut settled = machine.clone();
    settled.settle(&[(VariantId(0), Some(0))]);
    assert_eq!(settled.builds.len(), 2);
    assert!(settled.builds.iter().all(|build| build.options[0] == Some(0)));
}
