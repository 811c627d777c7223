//! How long prediction, belief and the first proposal take on the shipped machines, native, one core. Prints its figures.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a benchmark prints its figures and may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence};
use machine::Machine;
use machine::model::{FaultId, StateId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen};
use repair::{Bench, Prices, advise};
use std::time::{Duration, Instant};

const MACHINES: [(&str, &str, &str); 2] = [
    ("dryer-timer-240", include_str!("../../../machines/dryer-timer-240.toml"), "heat"),
    ("range-control-240", include_str!("../../../machines/range-control-240.toml"), "bake"),
];

fn main() {
    for (name, text, state) in MACHINES {
        let machine = machine::read(text).machine.unwrap();
        let state = machine.state(state).unwrap();
        println!(
            "{name}: {} branches, {} terminals, {} faults",
            machine.branches.len(),
            machine.terminals.len(),
            machine.faults.len()
        );
        predictions(&machine, state);
        proposal(&machine, state);
    }
}

/// Predicts one reading under every single fault and every pair, each for the first time.
fn predictions(machine: &Machine, state: StateId) {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let block = &machine.supply.block;
    let reading = |quantity, condition| Reading { quantity, probe: Probe::Across(block[0].1, block[1].1), condition };
    let faults: Vec<FaultId> = predictor.fault_ids().collect();
    let singles: Vec<Vec<FaultId>> = faults.iter().map(|&f| vec![f]).collect();
    let pairs: Vec<Vec<FaultId>> =
        faults.iter().enumerate().flat_map(|(i, &a)| faults[i + 1..].iter().map(move |&b| vec![a, b])).collect();
    for (what, reading) in [
        ("ohms, isolated", reading(Quantity::Ohms, Condition::isolated(state))),
        ("volts, running", reading(Quantity::Volts, Condition::running(state))),
    ] {
        for (sets, kind) in [(&singles, "singles"), (&pairs, "pairs")] {
            let took = timed(|| sets.iter().for_each(|set| _ = predictor.predict(&reading, set)));
            println!(
                "  {what}: {} {kind}, {} us each (settling and tolerances included)",
                sets.len(),
                micros(took, sets.len())
            );
        }
    }
}

/// Weighs one report and plans the first proposal, all pairs in play.
fn proposal(machine: &Machine, state: StateId) {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let what = predictor.observed_in(state).next().unwrap();
    let reported = Evidence::Reported(Seen { state, what, value: 0 });
    let update = timed(|| belief.take(reported.clone()));
    let bench = Bench { trouble: vec![state], ..Bench::default() };
    let propose = |nodes| timed(|| drop(advise(&belief, &bench, &Prices::default(), nodes)));
    let (first, again) = (propose(0), propose(0));
    let refined = propose(2_000);
    println!(
        "  first report over all pairs {} ms; first proposal {} ms, once predictions are known {} ms, refined by 2,000 nodes {} ms",
        update.as_millis(),
        first.as_millis(),
        again.as_millis(),
        refined.as_millis()
    );
}

fn timed(work: impl FnOnce()) -> Duration {
    let begun = Instant::now();
    work();
    begun.elapsed()
}

fn micros(took: Duration, count: usize) -> f64 {
    let each = took.as_secs_f64() * 1e6 / f64::from(u32::try_from(count).unwrap());
    (each * 10.0).round() / 10.0
}
