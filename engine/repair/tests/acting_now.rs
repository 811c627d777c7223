//! What a certificate says acting now can lose, held against the exact optimum: it may be loose, it may never be too low.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test stops where something is not as it should be")]

#[path = "support/generate.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod generate;

use repair::plan::exact::Exact;
use repair::plan::{Action, Hypothesis, Problem, ProblemParts};

/// Mode the generated problems start in: live.
const LIVE: usize = 1;

/// A problem as a machine makes it: every fault has one repair, every repair works, and the job ends with a cure.
fn as_of_a_machine(seed: u64, faults: usize) -> ProblemParts {
    let mut parts = generate::small(seed, faults, [0.25, 1.0, 3.0][usize::try_from(seed % 3).unwrap()]);
    parts.repairs.truncate(faults);
    parts.repairs.iter_mut().for_each(|repair| repair.success = 1.0);
    parts.exit = None;
    // One pair, so that a repair may also cure in part.
    parts.hypotheses.push(Hypothesis { faults: vec![0, 1], weight: 0.4 });
    parts.tests.iter_mut().for_each(|test| {
        let row = test.outcomes[usize::try_from(seed % 2).unwrap()].clone();
        test.outcomes.push(row);
    });
    parts
}

/// Price of a repair for nothing from the closed machine back to the closed machine in the mode one came from.
fn if_wrong(parts: &ProblemParts, repair: usize) -> f64 {
    let mut covers = parts.repairs[repair].groups.clone();
    let mut at = 0;
    while at < covers.len() {
        for &parent in &parts.groups[covers[at]].parents {
            if !covers.contains(&parent) {
                covers.push(parent);
            }
        }
        at += 1;
    }
    let ways: f64 = covers.iter().map(|&g| parts.groups[g].open + parts.groups[g].close).sum();
    let round_trip = parts.switch[0][1] + parts.switch[1][0];
    parts.repairs[repair].cost + parts.repairs[repair].check.cost + ways + round_trip
}

#[test]
fn acting_now_loses_no_more_than_the_share_it_does_not_cure_times_the_price_of_being_wrong() {
    let (mut count, mut tight) = (0, 0);
    for seed in 3000..3120 {
        let parts = as_of_a_machine(seed, 4);
        let problem = Problem::new(parts.clone()).unwrap();
        let start = problem.start(LIVE);
        let mut exact = Exact::new(&problem);
        let (optimum, _) = exact.solve(&start).unwrap();
        let whole: f64 = parts.hypotheses.iter().map(|h| h.weight).sum();
        for (repair, of) in parts.repairs.iter().enumerate() {
            let step = problem.step(&start, &Action::Repair(vec![repair])).unwrap();
            let after = step.branches.iter().map(|branch| {
                branch.situation.as_ref().map_or(0.0, |left| branch.probability * exact.solve(left).unwrap().0)
            });
            let lost = step.cost + after.sum::<f64>() - optimum;
            let cures = |h: &&Hypothesis| h.faults.iter().all(|fault| of.fixes.contains(fault));
            let alone = parts.hypotheses.iter().filter(cures).map(|h| h.weight).sum::<f64>() / whole;
            let bound = (1.0 - alone) * if_wrong(&parts, repair);
            assert!(lost >= -1e-9 && lost <= bound + 1e-9, "seed {seed}, repair {repair}: {lost} above {bound}");
            (count, tight) = (count + 1, tight + usize::from(lost > 0.5 * bound));
        }
    }
    println!("{count} repairs: {tight} lose more than half of their bound");
    // A bound that nothing comes near would hold whatever was broken.
    assert!(tight > 20, "{tight} of {count}");
}
