//! How long prediction, belief and the first proposal take on the shipped machines, native, one core. Prints its figures.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a benchmark prints its figures and may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence, Measured};
use machine::Machine;
use machine::model::{FaultId, StateId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen};
use repair::{Bench, Prices, advise};
use std::time::{Duration, Instant};

const MACHINES: [(&str, &str, &str); 2] = [
    ("dryer-timer-240", include_str!("../../../machines/dryer-timer-240.toml"), "heat"),
    ("range-control-240", include_str!("../../../machines/range-control-240.toml"), "bake"),
];

/// Starts from nothing, of which the middle one counts.
const STARTS: usize = 7;

fn main() {
    for (name, text, id) in MACHINES {
        let machine = machine::read(text).machine.unwrap();
        let state = machine.state(id).unwrap();
        println!(
            "{name}: {} branches, {} terminals, {} faults",
            machine.branches.len(),
            machine.terminals.len(),
            machine.faults.len()
        );
        call(text, id);
        predictions(&machine, state);
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

/// Weighs one report and plans the first proposal, all pairs in play, and weighs a reading; each of some fresh starts.
fn call(text: &str, state: &str) {
    let mut took: [Vec<Duration>; 6] = Default::default();
    for _ in 0..STARTS {
        let mut machine = None;
        let reading = timed(|| machine = machine::read(text).machine);
        let machine = machine.unwrap();
        let predictor = Predictor::new(&machine, Meter::ordinary());
        took[0].push(reading + timed(|| singles(&predictor)));
        let state = machine.state(state).unwrap();
        let mut belief = None;
        took[1].push(timed(|| belief = Some(Belief::new(&predictor, Assumptions::default()))));
        let mut belief = belief.unwrap();
        let what = predictor.observed_in(state).next().unwrap();
        took[2].push(timed(|| belief.take(Evidence::Reported(Seen { state, what, value: 0 }))));
        let bench = Bench { trouble: vec![state], ..Bench::default() };
        let propose = |nodes| timed(|| drop(advise(&belief, &bench, &Prices::default(), nodes)));
        took[3].push(propose(0));
        took[4].push(propose(2_000));
        let block = &machine.supply.block;
        let probe = Probe::Across(block[0].1, block[1].1);
        let reading = Reading { quantity: Quantity::Volts, probe, condition: Condition::running(state) };
        let measured = Measured::Value(240.0);
        took[5].push(timed(|| belief.take(Evidence::Read { reading: reading.clone(), measured })));
    }
    let [load, prior, report, proposal, refined, reading] = took.map(|mut each| {
        each.sort();
        each[each.len() / 2].as_secs_f64() * 1e3
    });
    println!("  load and settle every single fault in every state {load:.1} ms; prior over all pairs {prior:.1} ms");
    println!("  first report over all pairs {report:.1} ms; one reading more {reading:.1} ms");
    println!("  first proposal {proposal:.1} ms; planned again with 2,000 nodes {refined:.1} ms");
    println!("  most memory so far {:.1} MiB", most_memory());
}

/// Settles every single fault in every state.
fn singles(predictor: &Predictor<'_>) {
    for state in predictor.state_ids() {
        predictor.fault_ids().for_each(|fault| drop(predictor.settle(state, &[fault])));
    }
}

/// Gives the most memory that this process ever held, MiB; nothing where the system does not say.
fn most_memory() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok()).map_or(f64::NAN, |kib| kib / 1024.0)
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
