//! Plans a troubleshooting problem from a file and prints the expected cost of the plan and its first step.
//!
//! `plan_problem FILE.json` follows the planner as it ships; `--policy exact` solves the problem outright, which only
//! small ones allow; `--policy order|order-with-set-up|information|value` follows a base policy.
#![allow(clippy::print_stdout, reason = "an example prints its answer")]

#[path = "../tests/support/policy.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod policy;
#[path = "../tests/support/reference.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod reference;

use policy::enumerate;
use reference::{Failure, Reference};
use repair::plan::exact::Exact;
use repair::plan::{Action, BasePolicy, Planner, ProblemError, Settings, Situation};

fn main() -> Result<(), Failure> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let mut file = None;
    let mut kind = "planner".to_owned();
    let mut rest = args.into_iter();
    while let Some(arg) = rest.next() {
        if arg == "--policy" {
            kind = rest.next().ok_or("`--policy` needs a name after it")?;
        } else {
            file = Some(arg);
        }
    }
    let file = file.ok_or("give the file of a problem: plan_problem FILE.json [--policy exact]")?;
    let case = Reference::read(&std::fs::read_to_string(&file).map_err(|e| format!("`{file}`: {e}"))?)?;
    let (cost, first) = answer(&case, &kind)?;
    println!("{}", serde_json::json!({ "expected_cost": cost, "first_step": case.name(&first) }));
    Ok(())
}

fn answer(case: &Reference, kind: &str) -> Result<(f64, Action), Failure> {
    let problem = &case.problem;
    let base = |p: BasePolicy| move |s: &Situation| p.choose(problem, s);
    let result = match kind {
        "exact" => return Ok(Exact::new(problem).solve(&case.start)?),
        "planner" => enumerate(problem, &case.start, &mut |s: &Situation| planned(case, s)),
        "order" => enumerate(problem, &case.start, &mut base(BasePolicy::ORDER)),
        "order-with-set-up" => enumerate(problem, &case.start, &mut base(BasePolicy::ORDER_WITH_SET_UP)),
        "information" => enumerate(problem, &case.start, &mut base(BasePolicy::INFORMATION)),
        "value" => enumerate(problem, &case.start, &mut base(BasePolicy::VALUE)),
        other => return Err(format!("`{other}` is no policy; leave it out or use `exact`").into()),
    }?;
    let first = result.first().cloned().ok_or("nothing to do")?;
    Ok((result.cost(), first))
}

/// The planner as it ships: its own node budget, no exact solver.
fn planned(case: &Reference, situation: &Situation) -> Result<Action, ProblemError> {
    let mut planner = Planner::new(&case.problem, situation, Settings::default())?;
    planner.finish();
    planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
}
