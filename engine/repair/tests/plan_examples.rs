//! Worked examples of test sequencing and repair ordering with known optima.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

#[path = "support/generate.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod generate;
#[path = "support/policy.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod policy;

use policy::enumerate;
use repair::plan::bounds::{entropy_bound, huffman_bound};
use repair::plan::exact::Exact;
use repair::plan::{
    Action, BasePolicy, Check, Hypothesis, Ordering, Planner, Problem, ProblemError, ProblemParts, Repair, Rule,
    Settings, Situation, Test,
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
fn dependent_repairs_cost_1_50_by_an_order_kept_up_to_date_and_1_55_by_a_fixed_one() {
    // Same source and figures as above.
    let weights = [0.20, 0.25, 0.40, 0.15];
    let mends = [[0, 1], [1, 2], [2, 3]];
    let parts = ProblemParts {
        hypotheses: single(&weights),
        repairs: mends.iter().map(|pair| repair(1.0, pair)).collect(),
        ..ProblemParts::default()
    };
    let problem = Problem::new(parts).unwrap();
    let start = problem.start(0);
    let cost = |choose: &mut dyn FnMut(&Situation) -> Result<Action, ProblemError>| {
        enumerate(&problem, &start, &mut |s: &Situation| choose(s)).unwrap().cost()
    };
    let updating = cost(&mut |s: &Situation| BasePolicy::ORDER.choose(&problem, s));
    assert!((updating - 1.50).abs() < 1e-12, "{updating}");
    // The fixed order goes by the probabilities at the start: .65, .55, .45.
    let fixed = cost(&mut |s: &Situation| {
        let next = [1, 2, 0].into_iter().find(|r| !s.tried.contains(r)).unwrap();
        Ok(Action::Repair(vec![next]))
    });
    assert!((fixed - 1.55).abs() < 1e-12, "{fixed}");
}

/// Six states, five sure tests of cost 1: columns t1..t5 and priors.
///
/// SOURCE: matrix from memory after Pattipati and Alexandridis, IEEE T-SMC 20(4), 1990; the figures below computed.
const STATES: [([u8; 5], f64); 6] = [
    ([0, 0, 0, 0, 0], 0.70),
    ([0, 1, 0, 0, 1], 0.01),
    ([0, 0, 1, 1, 0], 0.02),
    ([1, 0, 0, 1, 1], 0.10),
    ([1, 1, 0, 0, 0], 0.05),
    ([1, 1, 1, 1, 0], 0.12),
];
/// A repair so dear that none is tried before its state is certain.
const DEAR: f64 = 1e6;

fn sequencing() -> Problem {
    let row = |bit: u8| if bit == 1 { vec![0.0, 1.0] } else { vec![1.0, 0.0] };
    let test = |t: usize| Test {
        cost: 1.0,
        groups: vec![],
        mode: None,
        outcomes: STATES.iter().map(|(bits, _)| row(bits[t])).collect(),
    };
    let weights: Vec<f64> = STATES.iter().map(|(_, p)| *p).collect();
    Problem::new(ProblemParts {
        hypotheses: single(&weights),
        tests: (0..5).map(test).collect(),
        repairs: (0..6).map(|s| repair(DEAR, &[s])).collect(),
        ..ProblemParts::default()
    })
    .unwrap()
}

#[test]
fn six_states_are_told_apart_with_2_18_tests() {
    let problem = sequencing();
    let (optimum, _) = Exact::new(&problem).solve(&problem.start(0)).unwrap();
    assert!((optimum - DEAR - 2.18).abs() < 1e-6, "{}", optimum - DEAR);
    assert!((planned(&problem) - DEAR - 2.18).abs() < 1e-6, "{}", planned(&problem) - DEAR);
}

#[test]
fn greedy_information_needs_2_86_tests() {
    let problem = sequencing();
    let greedy = BasePolicy { rule: Rule::InformationPerCost { stop: 1.0 }, ordering: Ordering::SetUp, exit: false };
    let mut choose = |s: &Situation| greedy.choose(&problem, s);
    let cost = enumerate(&problem, &problem.start(0), &mut choose).unwrap().cost();
    assert!((cost - DEAR - 2.86).abs() < 1e-6, "{}", cost - DEAR);
}

#[test]
fn six_states_need_at_least_1_59_questions() {
    let weights: Vec<f64> = STATES.iter().map(|(_, p)| *p).collect();
    assert!((huffman_bound(&weights) - 1.59).abs() < 1e-12);
    assert!((entropy_bound(&weights) - 1.4549).abs() < 5e-5);
}

#[test]
fn probability_over_cost_is_the_least_of_all_orders() {
    // A classic: independent repairs, one fault, sorted by probability over cost. All orders are tried.
    let mut random = generate::Random::new(11);
    for n in 2..=8 {
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
