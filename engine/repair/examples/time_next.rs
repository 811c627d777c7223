//! Times the parts of one proposal.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "an example that prints")]
use diagnosis::{Assumptions, Belief, Evidence};
use machine::model::*;
use prediction::{Meter, Predictor, Seen};
use repair::{Bench, Prices};
use std::time::Instant;
fn main() {
    let text = std::fs::read_to_string(std::env::args().nth(1).unwrap()).unwrap();
    let m = machine::read(&text).machine.unwrap();
    let p = Predictor::new(&m, Meter::ordinary());
    let heat = StateId(m.states.iter().position(|s| s.id == "heat").unwrap() as u16);
    let obs = |n: &str| ObservationId(m.observations.iter().position(|o| o.id == n).unwrap() as u16);
    let t = Instant::now();
    let mut b = Belief::new(&p, Assumptions::default());
    println!("prior {:?} {}", t.elapsed(), b.shares().len());
    b.take(Evidence::Reported(Seen { state: heat, what: obs("drum"), value: 1 }));
    println!("first report {:?} {}", t.elapsed(), b.shares().len());
    b.take(Evidence::Reported(Seen { state: heat, what: obs("heats"), value: 0 }));
    println!("second report {:?} {}", t.elapsed(), b.shares().len());
    let bench = Bench { trouble: vec![heat], ..Bench::default() };
    let c = repair::candidates::candidates(&m, &bench, &std::collections::BTreeSet::new());
    println!("candidates {}", c.len());
    for _ in 0..2 {
        let t = Instant::now();
        let compiled = repair::compile::compile(&b, &bench, &Prices::default()).unwrap();
        println!("compile {:?} hyps {} tests {} repairs {}", t.elapsed(), compiled.hypotheses.len(), compiled.tests.len(), compiled.repairs.len());
        for nodes in [0, 1000, 20000] {
            let t = Instant::now();
            let mut pl = repair::plan::Planner::new(&compiled.problem, &compiled.situation, Default::default()).unwrap();
            let pr = pl.advance(nodes);
            println!("plan {nodes} {:?} {:?} best {:?} {}", t.elapsed(), pr, pl.proposals()[0].action, pl.proposals()[0].expected_cost);
        }
    }
}
