//! Prints how far the planner and its base policies are from the exact optimum on generated problems.
//!
//! `plan_gap [N] [FAULTS]`: N problems (default 100) of FAULTS faults (default 5) for each set-up factor. Cost ratios to the
//! optimum: mean, 95th percentile, largest, share within 1 %.
#![allow(clippy::print_stdout, reason = "an example prints its answer")]

#[path = "../tests/support/generate.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod generate;
#[path = "../tests/support/policy.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod policy;

use policy::enumerate;
use repair::plan::exact::Exact;
use repair::plan::{BasePolicy, Planner, Problem, ProblemError, Settings, Situation};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let count: u64 = args.next().map_or(Ok(100), |a| a.parse())?;
    let faults: usize = args.next().map_or(Ok(5), |a| a.parse())?;
    println!("{count} problems of {faults} faults for each set-up factor; cost over optimum, less 1, in %");
    println!("| set-up | policy | mean | 95th percentile | largest | within 1 % |");
    println!("|---|---|---|---|---|---|");
    for set_up in [0.25, 1.0, 3.0] {
        let mut gaps: Vec<Vec<f64>> = vec![Vec::new(); NAMES.len()];
        for seed in 0..count {
            let problem = Problem::new(generate::small(seed, faults, set_up))?;
            for (list, gap) in gaps.iter_mut().zip(gaps_of(&problem)?) {
                list.push(gap);
            }
        }
        for (name, list) in NAMES.iter().zip(&mut gaps) {
            row(set_up, name, list);
        }
    }
    Ok(())
}

const NAMES: [&str; 5] =
    ["planner", "first answer", "value of information", "information per cost", "order with set-up"];

fn gaps_of(problem: &Problem) -> Result<Vec<f64>, ProblemError> {
    let start = problem.start(1);
    let (optimum, _) = Exact::new(problem).solve(&start)?;
    let first = Settings { depth: 0, ..Settings::default() };
    let mut costs = Vec::new();
    for settings in [Settings::default(), first] {
        let mut plan = |s: &Situation| {
            let mut planner = Planner::new(problem, s, settings)?;
            planner.finish();
            planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
        };
        costs.push(enumerate(problem, &start, &mut plan)?.cost());
    }
    for base in [BasePolicy::VALUE, BasePolicy::INFORMATION, BasePolicy { exit: true, ..BasePolicy::ORDER_WITH_SET_UP }]
    {
        costs.push(enumerate(problem, &start, &mut |s: &Situation| base.choose(problem, s))?.cost());
    }
    Ok(costs.into_iter().map(|c| 100.0 * (c / optimum - 1.0)).collect())
}

fn row(set_up: f64, name: &str, gaps: &mut [f64]) {
    gaps.sort_by(f64::total_cmp);
    let count = gaps.len() as f64;
    let mean = gaps.iter().sum::<f64>() / count;
    let high = gaps[(gaps.len() * 95 / 100).min(gaps.len() - 1)];
    let within = 100.0 * gaps.iter().filter(|g| **g <= 1.0).count() as f64 / count;
    let largest = gaps.last().copied().unwrap_or(0.0);
    println!("| x{set_up} | {name} | {mean:.3} | {high:.2} | {largest:.2} | {within:.0} % |");
}
