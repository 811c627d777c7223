//! The planner against the exact optimum on generated problems, and its plans against a checker written apart from it.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test stops where something is not as it should be")]

#[path = "support/generate.rs"]
mod generate;
#[path = "support/legality.rs"]
mod legality;
#[path = "support/policy.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod policy;

use policy::{Policy, enumerate};
use repair::plan::exact::Exact;
use repair::plan::{Action, BasePolicy, Planner, Problem, ProblemError, Settings, Situation};

/// Problems for each set-up factor.
const EACH: u64 = 170;
/// Mode the small problems start in: live.
const LIVE: usize = 1;

fn shipped(problem: &Problem) -> Policy {
    let mut choose = |s: &Situation| {
        let mut planner = Planner::new(problem, s, Settings::default())?;
        planner.finish();
        planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
    };
    enumerate(problem, &problem.start(LIVE), &mut choose).unwrap()
}

/// Costs over the optimum, less 1, of the shipped planner on this test's problems, smallest first.
fn gaps(set_up: f64) -> Vec<f64> {
    let gap = |seed: u64| {
        let problem = Problem::new(generate::small(seed, 5, set_up)).unwrap();
        let (optimum, _) = Exact::new(&problem).solve(&problem.start(LIVE)).unwrap();
        let policy = shipped(&problem);
        legality::check(problem.parts(), LIVE, &policy).unwrap();
        let gap = policy.cost() / optimum - 1.0;
        assert!(gap > -1e-9, "seed {seed}, set-up x{set_up}: {gap} below the optimum");
        gap
    };
    let mut gaps: Vec<f64> = (0..EACH).map(gap).collect();
    gaps.sort_by(f64::total_cmp);
    gaps
}

fn assert_near(gaps: &[f64], most: f64) {
    let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
    let near = gaps.iter().filter(|gap| **gap <= 0.01).count() as f64 / gaps.len() as f64;
    let high = gaps[(gaps.len() * 95).div_ceil(100) - 1];
    assert!(mean <= most, "mean gap {mean}");
    assert!(high <= 0.015, "95th percentile {high}");
    assert!(near >= 0.92, "within 1 %: {near}");
}

#[test]
fn planner_stays_near_the_optimum_where_set_up_is_cheap() {
    assert_near(&gaps(0.25), 0.003);
}

#[test]
fn planner_stays_near_the_optimum_at_plain_set_up() {
    assert_near(&gaps(1.0), 0.003);
}

#[test]
fn planner_stays_near_the_optimum_where_set_up_is_dear() {
    assert_near(&gaps(3.0), 0.007);
}

#[test]
fn optimal_and_base_policies_keep_the_rules_too() {
    let bases = [BasePolicy::ORDER, BasePolicy::ORDER_WITH_SET_UP, BasePolicy::INFORMATION, BasePolicy::VALUE];
    for seed in 100..104 {
        // The order policies repair to the end, so every repair must be sure.
        let mut parts = generate::small(seed, 4, 1.0);
        parts.repairs.iter_mut().for_each(|r| r.success = 1.0);
        let problem = Problem::new(parts).unwrap();
        let start = problem.start(LIVE);
        let mut exact = Exact::new(&problem);
        let best = enumerate(&problem, &start, &mut |s: &Situation| exact.solve(s).map(|(_, a)| a)).unwrap();
        legality::check(problem.parts(), LIVE, &best).unwrap();
        let (optimum, _) = exact.solve(&start).unwrap();
        assert!((best.cost() - optimum).abs() < 1e-8 * optimum, "seed {seed}: {} is not {optimum}", best.cost());
        for base in bases {
            let policy = enumerate(&problem, &start, &mut |s: &Situation| base.choose(&problem, s)).unwrap();
            legality::check(problem.parts(), LIVE, &policy).unwrap();
            assert!(policy.cost() >= optimum - 1e-8, "seed {seed}: {base:?} beats the optimum");
        }
    }
}

#[test]
fn checker_finds_a_cost_that_is_off() {
    let problem = Problem::new(generate::small(7, 4, 1.0)).unwrap();
    let mut policy = shipped(&problem);
    legality::check(problem.parts(), LIVE, &policy).unwrap();
    policy.nodes[0].cost += 0.5;
    assert!(legality::check(problem.parts(), LIVE, &policy).is_err());
}

#[test]
fn large_problem_has_proposals_at_once_and_better_ones_later() {
    let problem = Problem::new(generate::large(1, 30, 80)).unwrap();
    let mut planner = Planner::new(&problem, &problem.start(1), Settings::default()).unwrap();
    let before = planner.proposals();
    assert!(before.len() > 5);
    planner.advance(1500);
    let after = planner.proposals();
    assert!(after[0].looked > 0);
    assert!(after[0].expected_cost < before[0].expected_cost);
    assert!(after[0].expected_cost >= planner.lower_bound());
    // The first action of the plan can be carried through, at the price it states.
    let step = problem.step(&problem.start(1), &after[0].action).unwrap();
    assert!((step.cost - after[0].cost_now).abs() < 1e-12);
    assert_eq!((step.opens, step.mode), (after[0].opens.clone(), after[0].mode));
}

#[test]
fn proposed_cost_is_kept_by_planning_on() {
    // A rollout states the cost of a plan that can be followed; planning anew at every step does no worse on average,
    // and here never by more than what the branches cut off are worth.
    for seed in 200..206 {
        let problem = Problem::new(generate::small(seed, 4, 1.0)).unwrap();
        let mut planner = Planner::new(&problem, &problem.start(LIVE), Settings::default()).unwrap();
        planner.finish();
        let stated = planner.proposals()[0].expected_cost;
        let followed = shipped(&problem).cost();
        assert!(followed <= stated * 1.005, "seed {seed}: {followed} against {stated}");
    }
}

#[test]
fn batch_of_two_repairs_pays_for_one_check() {
    // Two repairs behind one cover, each cheap, and a check that costs more than either: both at once is best.
    let mut parts = generate::small(3, 2, 1.0);
    parts.tests.clear();
    parts.repairs.truncate(2);
    for r in &mut parts.repairs {
        (r.cost, r.success, r.groups) = (5.0, 1.0, vec![0]);
        r.check.cost = 40.0;
    }
    parts.hypotheses.iter_mut().for_each(|h| h.weight = 1.0);
    let problem = Problem::new(parts).unwrap();
    let (_, first) = Exact::new(&problem).solve(&problem.start(LIVE)).unwrap();
    assert_eq!(first, Action::Repair(vec![0, 1]));
    let policy = shipped(&problem);
    legality::check(problem.parts(), LIVE, &policy).unwrap();
    assert_eq!(policy.first(), Some(&Action::Repair(vec![0, 1])));
}
