//! The planner against the exact optimum on small problems cut from the shipped machines: a complaint is compiled as in
//! a call, then only its likeliest suspects and its most telling tests are kept, so that the optimum can be computed.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test stops where something is not as it should be")]

#[path = "support/legality.rs"]
mod legality;
#[path = "support/policy.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod policy;

use diagnosis::{Assumptions, Belief, Evidence};
use machine::Machine;
use machine::model::StateId;
use policy::enumerate;
use prediction::{Meter, Predictor, Seen};
use repair::compile::compile;
use repair::plan::exact::Exact;
use repair::plan::{Planner, Problem, ProblemError, ProblemParts, Settings, Situation};
use repair::{Bench, Prices};

/// Suspects and tests kept; the exact solver's states grow without mercy.
const SUSPECTS: usize = 5;
const TESTS: usize = 6;
/// Mode a call starts in: running.
const RUNNING: usize = 0;

/// Every trouble that a single fault shows in this state, as a complaint of its own.
fn complaints(predictor: &Predictor<'_>, state: StateId) -> Vec<Seen> {
    let sound = predictor.observe(state, &[]);
    let mut told: Vec<Seen> = Vec::new();
    for fault in predictor.fault_ids() {
        for seen in predictor.observe(state, &[fault]) {
            if !sound.contains(&seen) && !told.contains(&seen) {
                told.push(seen);
            }
        }
    }
    told
}

/// Keeps the likeliest suspects and the first tests (they stand in order of information per minute).
fn cut(parts: &ProblemParts) -> ProblemParts {
    let mut order: Vec<usize> =
        (0..parts.hypotheses.len()).filter(|&h| parts.hypotheses[h].faults.len() == 1).collect();
    order.sort_by(|&a, &b| parts.hypotheses[b].weight.total_cmp(&parts.hypotheses[a].weight).then(a.cmp(&b)));
    order.truncate(SUSPECTS);
    let mut cut = parts.clone();
    cut.hypotheses = order.iter().map(|&h| parts.hypotheses[h].clone()).collect();
    cut.tests.truncate(TESTS);
    for test in &mut cut.tests {
        test.outcomes = order.iter().map(|&h| test.outcomes[h].clone()).collect();
    }
    cut.repairs.retain(|r| cut.hypotheses.iter().any(|h| r.fixes.contains(&h.faults[0])));
    cut
}

/// Gaps to the optimum over every complaint of a machine.
fn gaps(text: &str) -> Vec<f64> {
    let machine: Machine = machine::read(text).machine.unwrap();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let prior = Belief::new(&predictor, Assumptions::default());
    let mut gaps = Vec::new();
    for state in predictor.state_ids() {
        for seen in complaints(&predictor, state) {
            let mut belief = prior.clone();
            belief.take(Evidence::Reported(seen));
            let bench = Bench { trouble: vec![state], ..Bench::default() };
            let compiled = compile(&belief, &bench, &Prices::default()).unwrap();
            let problem = Problem::new(cut(compiled.problem.parts())).unwrap();
            let start = problem.start(RUNNING);
            let (optimum, _) = Exact::new(&problem).solve(&start).unwrap();
            let mut shipped = |s: &Situation| {
                let mut planner = Planner::new(&problem, s, Settings::default())?;
                planner.finish();
                planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
            };
            let policy = enumerate(&problem, &start, &mut shipped).unwrap();
            legality::check(problem.parts(), RUNNING, &policy).unwrap();
            let gap = policy.cost() / optimum - 1.0;
            assert!(gap > -1e-9, "{seen:?}: {gap} below the optimum");
            gaps.push(gap);
        }
    }
    gaps
}

fn assert_near(mut gaps: Vec<f64>) {
    assert!(gaps.len() >= 8, "{} complaints", gaps.len());
    gaps.sort_by(f64::total_cmp);
    let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
    let near = gaps.iter().filter(|gap| **gap <= 0.01).count() as f64 / gaps.len() as f64;
    let high = gaps[(gaps.len() * 95).div_ceil(100) - 1];
    println!("{} complaints: mean gap {mean:.5}, 95th percentile {high:.5}, within 1 % {near:.3}", gaps.len());
    assert!(mean <= 0.003, "mean gap {mean}");
    assert!(high <= 0.015, "95th percentile {high}");
    assert!(near >= 0.92, "within 1 %: {near}");
}

#[test]
fn planner_stays_near_the_optimum_on_what_is_cut_from_the_dryer() {
    assert_near(gaps(include_str!("../../../machines/dryer-timer-240.toml")));
}

#[test]
fn planner_stays_near_the_optimum_on_what_is_cut_from_the_range() {
    assert_near(gaps(include_str!("../../../machines/range-control-240.toml")));
}
