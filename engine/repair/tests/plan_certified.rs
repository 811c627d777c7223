//! The certified lower bound against the exact optimum: it may be loose, it may never be above.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test stops where something is not as it should be")]

#[path = "support/generate.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod generate;
#[path = "support/reference.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod reference;

use repair::plan::exact::Exact;
use repair::plan::{Hypothesis, Problem, ProblemParts, Situation, Test};

/// Mode the generated problems start in: live.
const LIVE: usize = 1;

/// Bound, cost of the knowing one, and optimum; the first two may not be above the last.
fn bracket(problem: &Problem, start: &Situation, name: &str) -> (f64, f64) {
    let (optimum, _) = Exact::new(problem).solve(start).unwrap();
    let certified = problem.certified_bound(start).unwrap();
    assert!(certified.bound <= optimum + 1e-9, "{name}: {certified:?} above the optimum {optimum}");
    assert!(certified.knowing <= certified.bound, "{name}: {certified:?}");
    (certified.bound / optimum, certified.knowing / optimum)
}

/// Mean tightness of the bound and of the knowing one over these problems.
fn tightness(problems: impl Iterator<Item = (String, ProblemParts)>) -> (usize, f64, f64) {
    let (mut count, mut bound, mut knowing) = (0, 0.0, 0.0);
    for (name, parts) in problems {
        let problem = Problem::new(parts).unwrap();
        let (b, k) = bracket(&problem, &problem.start(LIVE), &name);
        (count, bound, knowing) = (count + 1, bound + b, knowing + k);
    }
    (count, bound / count as f64, knowing / count as f64)
}

fn assert_tighter(set_up: f64) {
    let small = |seed: u64| (format!("seed {seed}, set-up x{set_up}"), generate::small(seed, 5, set_up));
    let (count, bound, knowing) = tightness((1000..1170).map(small));
    println!("{count} problems at x{set_up}: bound {bound:.4}, knowing {knowing:.4} of the optimum");
    assert!(bound > knowing + 0.01, "{bound} and {knowing}");
}

#[test]
fn bound_stays_under_the_optimum_where_set_up_is_cheap() {
    assert_tighter(0.25);
}

#[test]
fn bound_stays_under_the_optimum_at_plain_set_up() {
    assert_tighter(1.0);
}

#[test]
fn bound_stays_under_the_optimum_where_set_up_is_dear() {
    assert_tighter(3.0);
}

/// A small problem made hard on the bound: two faults at once, tests that are sure and may be repeated, cheap repairs.
fn awkward(seed: u64) -> ProblemParts {
    let mut random = generate::Random::new(seed);
    let mut parts = generate::small(seed, 4, if seed.is_multiple_of(2) { 1.0 } else { 0.25 });
    for (a, b) in [(0, 1), (2, 3)] {
        parts.hypotheses.push(Hypothesis { faults: vec![a, b], weight: random.between(0.1, 2.0) });
    }
    for (t, test) in parts.tests.iter_mut().enumerate() {
        let sure = (t + usize::try_from(seed).unwrap()) % 2 == 0;
        let bad = |row: &[f64]| row[1] > 0.5;
        let mut rows: Vec<bool> = test.outcomes.iter().map(|row| bad(row)).collect();
        rows.extend([rows[0] || rows[1], rows[2] || rows[3]]);
        let chance = |bad: bool| {
            if sure {
                f64::from(u8::from(bad))
            } else if bad {
                0.9
            } else {
                0.05
            }
        };
        *test = Test {
            outcomes: rows.into_iter().map(|bad| vec![1.0 - chance(bad), chance(bad)]).collect(),
            ..test.clone()
        };
    }
    let cheap = random.between(0.02, 1.0);
    for repair in &mut parts.repairs {
        repair.cost *= cheap;
        repair.success = if random.below(2) == 0 { 1.0 } else { 0.8 };
    }
    parts.repairs.truncate(4);
    parts.tests.truncate(4);
    parts
}

#[test]
fn bound_stays_under_the_optimum_with_pairs_sure_tests_and_cheap_repairs() {
    let (count, bound, knowing) = tightness((0..150).map(|seed| (format!("awkward {seed}"), awkward(seed))));
    println!("{count} awkward problems: bound {bound:.4}, knowing {knowing:.4} of the optimum");
    assert!(count == 150 && bound >= knowing);
}

#[test]
fn bound_stays_under_the_optimum_midway_through_a_job() {
    for seed in 2000..2040 {
        let problem = Problem::new(generate::small(seed, 5, 1.0)).unwrap();
        let mut here = problem.start(LIVE);
        for _ in 0..2 {
            let (_, action) = Exact::new(&problem).solve(&here).unwrap();
            let step = problem.step(&here, &action).unwrap();
            let Some(next) = step.branches.into_iter().filter_map(|b| b.situation).next_back() else { break };
            here = next;
            bracket(&problem, &here, &format!("midway through {seed}"));
        }
    }
}

#[test]
fn bound_stays_under_the_optimum_on_the_reference_problems() {
    for number in 1..=8 {
        let path = format!("{}/tests/planning/P{number}.json", env!("CARGO_MANIFEST_DIR"));
        let case = reference::Reference::read(&std::fs::read_to_string(path).unwrap()).unwrap();
        let (bound, knowing) = bracket(&case.problem, &case.start, &format!("P{number}"));
        println!("P{number}: bound {bound:.4}, knowing {knowing:.4} of the optimum");
    }
}
