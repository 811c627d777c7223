//! Worked examples of test sequencing and repair ordering with known optima.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

#[path = "support/generate.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod generate;
#[path = "support/policy.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod policy;

use policy::enumerate;
use repair::plan::exact::Exact;
use repair::plan::{
    BasePolicy, Check, Hypothesis, Planner, Problem, ProblemError, ProblemParts, Repair, Settings, Situation,
};

fn repair(cost: f64, fixes: &[usize]) -> Repair {
    Repair { cost, groups: vec![], mode: None, fixes: fixes.to_vec(), success: 1.0, check: Check::default() }
}

fn single(weights: &[f64]) -> Vec<Hypothesis> {
    weights.iter().enumerate().map(|(fault, &weight)| Hypothesis { faults: vec![fault], weight }).collect()
}

fn planned(problem: &Problem) -> f64 {
    let mut choose = |s: &Situation| {
        let mut planner = Planner::new(problem, s, Settings::default())?;
        planner.finish();
        planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
    };
    enumerate(problem, &problem.start(0), &mut choose).unwrap().cost()
}

#[test]
fn dependent_repairs_cost_1_45_at_best() {
    // Structure after Ottosen and Jensen 2008 (from memory), optimum computed: P = .20 .25 .40 .15, three repairs of cost
    // 1 that mend {1,2}, {2,3}, {3,4}.
    let parts = ProblemParts {
        hypotheses: single(&[0.20, 0.25, 0.40, 0.15]),
        repairs: vec![repair(1.0, &[0, 1]), repair(1.0, &[1, 2]), repair(1.0, &[2, 3])],
        ..ProblemParts::default()
    };
    let problem = Problem::new(parts).unwrap();
    let (optimum, _) = Exact::new(&problem).solve(&problem.start(0)).unwrap();
    assert!((optimum - 1.45).abs() < 1e-12, "{optimum}");
    assert!((planned(&problem) - 1.45).abs() < 1e-9, "{}", planned(&problem));
}

#[test]
fn probability_over_cost_is_the_least_of_all_orders() {
    // A classic: independent repairs, one fault, sorted by probability over cost. All orders are tried.
    let mut random = generate::Random::new(11);
    for n in 2..=7 {
        let weights: Vec<f64> = (0..n).map(|_| random.between(0.05, 1.0)).collect();
        let total: f64 = weights.iter().sum();
        let costs: Vec<f64> = (0..n).map(|_| random.between(1.0, 20.0)).collect();
        let parts = ProblemParts {
            hypotheses: single(&weights),
            repairs: (0..n).map(|i| repair(costs[i], &[i])).collect(),
            ..ProblemParts::default()
        };
        let problem = Problem::new(parts).unwrap();
        let order = BasePolicy::ORDER;
        let mut choose = |s: &Situation| order.choose(&problem, s);
        let sorted = enumerate(&problem, &problem.start(0), &mut choose).unwrap().cost();
        let mut least = f64::INFINITY;
        permute(&mut (0..n).collect::<Vec<_>>(), 0, &mut |order| {
            let mut spent = 0.0;
            let cost: f64 = order
                .iter()
                .map(|&i| {
                    spent += costs[i];
                    spent * weights[i] / total
                })
                .sum();
            least = least.min(cost);
        });
        assert!((sorted - least).abs() < 1e-12 * least.max(1.0), "{n}: {sorted} is not {least}");
    }
}

fn permute(order: &mut Vec<usize>, from: usize, see: &mut impl FnMut(&[usize])) {
    if from == order.len() {
        see(order);
    }
    for at in from..order.len() {
        order.swap(from, at);
        permute(order, from + 1, see);
        order.swap(from, at);
    }
}

#[test]
fn the_planner_stays_near_the_optimum_on_generated_problems() {
    // Generated from a fixed seed: few faults, covers, noise of 3 %; the exact dynamic programme is the judge.
    for (set_up, most) in [(0.25, 0.003), (1.0, 0.003), (3.0, 0.007)] {
        let gaps: Vec<f64> = (0..12)
            .map(|seed| {
                let problem = Problem::new(generate::small(seed, 4, set_up)).unwrap();
                let (optimum, _) = Exact::new(&problem).solve(&problem.start(0)).unwrap();
                planned(&problem) / optimum - 1.0
            })
            .collect();
        let mean = gaps.iter().sum::<f64>() / 12.0;
        assert!(gaps.iter().all(|gap| *gap > -1e-9), "{gaps:?}");
        assert!(mean <= most, "set-up x{set_up}: mean gap {mean}, {gaps:?}");
    }
}
