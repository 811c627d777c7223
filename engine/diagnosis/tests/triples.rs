//! Three faults at once: against full enumeration where nothing is left out, and by the bound where something is.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a test may fail loudly")]

use diagnosis::suspects::suspects;
use diagnosis::{Assumptions, Belief, Evidence, Measured, Suspect};
use machine::Machine;
use machine::model::{FaultId, ObservationId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen};

/// The kettle cut down to the faults named, so that every triple can be written out.
fn small(faults: &[&str]) -> Machine {
    let mut machine = machine::read(include_str!("../../machine/tests/good/guarded-kettle.toml")).machine.unwrap();
    for fault in &mut machine.faults {
        if !faults.contains(&fault.id.as_str()) {
            fault.weight = 0.0;
        }
    }
    machine
}

const FEW: [&str; 12] = [
    "1:open",
    "2:open",
    "3:open",
    "4:open",
    "5:open",
    "element:open",
    "element:part-shorted",
    "element:damp",
    "lamp:open",
    "switch:c1-open",
    "cord:x-open",
    "block:l1-burnt",
];

fn index<T>(list: &[T], is: impl Fn(&T) -> bool) -> u16 {
    u16::try_from(list.iter().position(is).unwrap()).unwrap()
}

fn fault(machine: &Machine, id: &str) -> FaultId {
    FaultId(index(&machine.faults, |f| f.id == id))
}

fn ohms(machine: &Machine, a: &str, b: &str, measured: Measured) -> Evidence {
    let terminal = |name: &str| TerminalId(index(&machine.terminals, |t| t.name == name));
    let probe = Probe::Across(terminal(a), terminal(b));
    let reading = Reading { quantity: Quantity::Ohms, probe, condition: Condition::isolated(StateId(0)) };
    Evidence::Read { reading, measured }
}

fn told(machine: &Machine, observe: &str, value: u8) -> Evidence {
    let what = ObservationId(index(&machine.observations, |o| o.id == observe));
    Evidence::Reported(Seen { state: machine.state("boil").unwrap(), what, value })
}

/// Three things broken, each shown by a reading of its own and once more: a slip is likelier than a third fault, two
/// slips are not.
fn three_broken(machine: &Machine) -> Vec<Evidence> {
    let open = |a: &str, b: &str| ohms(machine, a, b, Measured::OverRange);
    let once = || [open("element.1", "element.2"), open("element.2", "block.N"), open("lamp.2", "block.N")];
    let told = vec![told(machine, "heats", 0), told(machine, "pilot", 0)];
    told.into_iter().chain(once()).chain(once()).collect()
}

fn weighed<'p, 'm>(predictor: &'p Predictor<'m>, items: &[Evidence], assumed: &Assumptions) -> Belief<'p, 'm> {
    let mut belief = Belief::new(predictor, assumed.clone());
    items.iter().for_each(|item| belief.take(item.clone()));
    belief
}

fn share(belief: &Belief<'_, '_>, suspect: &Suspect) -> f64 {
    belief.shares().into_iter().find(|(other, _)| *other == suspect).map_or(0.0, |(_, share)| share)
}

/// Prior of a triple as it is defined: three that met by chance; a cause with its effect and a third.
fn prior(machine: &Machine, three: [FaultId; 3], assumed: &Assumptions) -> f64 {
    let weight = |id: FaultId| machine.faults[id.index()].weight;
    let total: f64 = machine.faults.iter().map(|fault| fault.weight).sum();
    let [a, b, c] = three;
    let brought = |effect: FaultId, cause: FaultId| {
        let causes = &machine.faults[effect.index()].caused_by;
        causes.iter().filter(|(by, _)| *by == cause).map(|(_, share)| share * weight(effect)).sum::<f64>()
    };
    let both = |one: FaultId, other: FaultId| brought(one, other) + brought(other, one);
    for (one, other) in [(a, b), (a, c), (b, c)] {
        if machine.faults[one.index()].part == machine.faults[other.index()].part && both(one, other) <= 0.0 {
            return 0.0;
        }
    }
    let p = assumed.pairs / total;
    p * p * weight(a) * weight(b) * weight(c)
        + p * (both(a, b) * weight(c) + both(a, c) * weight(b) + both(b, c) * weight(a))
}

#[test]
fn triples_equal_full_enumeration_where_nothing_is_left_out() {
    let machine = small(&FEW);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    // Nothing that comes and goes: the likelihood of all items is then the product of those of each, sizes apart.
    let assumed = Assumptions { intermittents: 0.0, ..Assumptions::default() };
    let items = three_broken(&machine);
    let (belief, widened) = weighed(&predictor, &items, &assumed).with_triples(usize::MAX);
    let ids: Vec<FaultId> = FEW.iter().map(|id| fault(&machine, id)).collect();
    let mut listed = suspects(&machine, &assumed);
    let single: f64 = listed.iter().filter(|(s, _)| s.0.len() == 1).map(|(_, w)| w).sum();
    let mut triples = 0;
    for (at, &a) in ids.iter().enumerate() {
        for (next, &b) in ids.iter().enumerate().skip(at + 1) {
            for &c in &ids[next + 1..] {
                let weight = prior(&machine, [a, b, c], &assumed);
                if weight > 0.0 {
                    listed.push((Suspect::of(&[a, b, c]), weight));
                    triples += 1;
                }
            }
        }
    }
    assert_eq!(triples, widened.triples);
    assert!(widened.left_out_at_most.abs() < 1e-15);
    // Ohms of isolated parts do not hang on a size that runs feel; a damp element and a burnt block are summed over it.
    let mixed = |suspect: &Suspect| {
        let sizes = predictor.size_shares(&suspect.0);
        let of = |item: &Evidence, size: usize| match item {
            Evidence::Read { reading, measured } => {
                let each = predictor.predict_ways(reading, &suspect.0);
                let predicted = if each.len() == 1 { &each[0] } else { &each[size] };
                diagnosis::likelihood::of_reading(
                    *measured,
                    predicted,
                    reading.quantity,
                    predictor.meter(),
                    assumed.slip,
                )
            }
            _ => told_by(&predictor, &assumed, item, suspect, size),
        };
        let all = |size: usize| items.iter().map(|item| of(item, size)).product::<f64>();
        sizes.iter().enumerate().map(|(size, share)| share * all(size)).sum::<f64>()
    };
    let weights: Vec<f64> = listed.iter().map(|(suspect, weight)| weight * mixed(suspect)).collect();
    let broad = |item: &Evidence| match item {
        Evidence::Read { reading, measured } => {
            diagnosis::likelihood::slipped(*measured, reading.quantity, predictor.meter())
        }
        Evidence::Reported(seen) => {
            1.0 / f64::from(u32::try_from(machine.observations[seen.what.index()].values.len()).unwrap())
        }
        _ => panic!("no such item here"),
    };
    let other = items.iter().fold(assumed.not_as_described * single, |w, item| w * broad(item));
    let total: f64 = weights.iter().sum::<f64>() + other;
    for ((suspect, _), weight) in listed.iter().zip(&weights) {
        let (found, expected) = (share(&belief, suspect), weight / total);
        assert!((found - expected).abs() < 1e-9 + belief.dropped(), "{suspect:?}: {found} is not {expected}");
    }
    let truth = Suspect::of(&["element:open", "3:open", "5:open"].map(|id| fault(&machine, id)));
    assert_eq!(*belief.shares()[0].0, truth, "{}", belief.shares()[0].1);
}

/// What the customer tells, by its definition: a trouble told that is none is one of as many as can be seen.
fn told_by(predictor: &Predictor<'_>, assumed: &Assumptions, item: &Evidence, suspect: &Suspect, size: usize) -> f64 {
    let Evidence::Reported(seen) = item else { panic!("no such item here") };
    let machine = predictor.machine();
    let at = predictor.observed_in(seen.state).position(|what| what == seen.what).unwrap();
    let values = machine.observations[seen.what.index()].values.len();
    let way = &predictor.ways(seen.state, &suspect.0)[size];
    let sound = predictor.ways(seen.state, &[])[0].values[at];
    let troubles = f64::from(u32::try_from(machine.observations.len()).unwrap());
    let told = |actual: u8| match (actual == sound, suspect.0.is_empty()) {
        (true, true) => 1.0 / troubles,
        (true, false) => assumed.wrong_report / troubles,
        _ => diagnosis::likelihood::of_seen(seen.value, actual, values, assumed.wrong_report),
    };
    let (other, chance) = way.close_to[at].unwrap_or((0, 0.0));
    (1.0 - chance) * told(way.values[at]) + chance * told(other)
}

#[test]
fn a_beam_of_pairs_finds_the_three_and_leaves_out_no_more_than_it_says() {
    let machine = small(&FEW);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let belief = weighed(&predictor, &three_broken(&machine), &Assumptions::default());
    assert!(belief.explains_badly(), "{}", belief.not_as_described());
    let (full, whole) = belief.with_triples(usize::MAX);
    let mut last = 0;
    for beam in [2, 6, 20] {
        let (few, widened) = belief.with_triples(beam);
        assert!(widened.triples > last && widened.triples < whole.triples);
        last = widened.triples;
        assert_eq!(few.shares()[0].0, full.shares()[0].0);
        // What the full enumeration holds of the triples that the beam left out, against what was left in.
        let kept: Vec<&Suspect> = few.shares().into_iter().map(|(suspect, _)| suspect).collect();
        let left: f64 = full.shares().iter().filter(|(s, _)| !kept.contains(s)).map(|(_, share)| share).sum();
        let bound = widened.left_out_at_most;
        println!("{beam}: {} triples, {left} left out, {bound} at most", widened.triples);
        assert!(left <= bound + full.dropped() + few.dropped() + 1e-12, "{left} is over {bound}");
    }
}

#[test]
fn two_faults_that_explain_everything_are_left_in_the_lead() {
    let machine = small(&FEW);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    // With the element open the meter sees the lamp beside it: 120 V x 120 V / 1 W, a tenth of it cold.
    let items = [told(&machine, "heats", 0), ohms(&machine, "element.1", "element.2", Measured::Value(1440.0))];
    let belief = weighed(&predictor, &items, &Assumptions::default());
    assert!(!belief.explains_badly());
    let (wider, _) = belief.with_triples(usize::MAX);
    let one = Suspect::of(&[fault(&machine, "element:open")]);
    assert_eq!(*wider.shares()[0].0, one);
    // A third fault is rarer than a second: what triples take is less than what pairs hold.
    assert!((share(&wider, &one) - share(&belief, &one)).abs() < 0.01);
    let (_, few) = belief.with_triples(3);
    assert!(few.left_out_at_most < 0.2, "{}", few.left_out_at_most);
    let sum: f64 = wider.shares().iter().map(|(_, share)| share).sum::<f64>() + wider.not_as_described();
    assert!((sum - 1.0).abs() < 1e-9 + wider.dropped());
}

#[test]
fn triples_live_through_a_repair() {
    let machine = small(&FEW);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut items = three_broken(&machine);
    items.push(Evidence::Repaired(machine.faults[fault(&machine, "element:open").index()].repair));
    let (wider, widened) = weighed(&predictor, &items, &Assumptions::default()).with_triples(usize::MAX);
    assert!(widened.triples > 100);
    let left = Suspect::of(&["3:open", "5:open"].map(|id| fault(&machine, id)));
    assert_eq!(*wider.shares()[0].0, left);
}
