//! The planner against eight reference problems whose optimum and simpler policies are known.
//!
//! SOURCE: `planning/P1..P8.json` and `planning/results.csv`: reference calculations made for this project by an exact
//! dynamic programme in another language over invented numbers, replayed there, and for P1, P2, P3, P6 and P7 confirmed
//! by brute force in exact fractions.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test stops where something is not as it should be")]

#[path = "support/legality.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod legality;
#[path = "support/policy.rs"]
#[allow(dead_code, reason = "each test uses a part of it")]
mod policy;
#[path = "support/reference.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod reference;

use policy::{Policy, enumerate};
use reference::Reference;
use repair::plan::exact::Exact;
use repair::plan::{BasePolicy, Ordering, Planner, ProblemError, Rule, Settings, Situation};

const CASES: [&str; 8] = ["P1", "P2", "P3", "P4", "P5", "P6", "P7", "P8"];

fn read(name: &str) -> Reference {
    let path = format!("{}/tests/planning/{name}.json", env!("CARGO_MANIFEST_DIR"));
    Reference::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// A column of results.csv for a case. Titles hold commas in quotes, so columns are counted from the quoted title on.
fn column(case: &str, name: &str) -> String {
    let path = format!("{}/tests/planning/results.csv", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let cells = |line: &str| {
        let mut cells = vec![String::new()];
        let mut quoted = false;
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ',' if !quoted => cells.push(String::new()),
                c => cells.last_mut().unwrap().push(c),
            }
        }
        cells
    };
    let mut lines = text.lines();
    let at = cells(lines.next().unwrap()).iter().position(|c| c == name).unwrap();
    lines.map(cells).find(|c| c[0] == case).unwrap()[at].clone()
}

fn figure(case: &str, name: &str) -> f64 {
    column(case, name).parse().unwrap()
}

fn follow(case: &Reference, base: BasePolicy) -> Policy {
    enumerate(&case.problem, &case.start, &mut |s: &Situation| base.choose(&case.problem, s)).unwrap()
}

fn shipped(case: &Reference) -> Policy {
    let mut choose = |s: &Situation| {
        let mut planner = Planner::new(&case.problem, s, Settings::default())?;
        planner.finish();
        planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
    };
    enumerate(&case.problem, &case.start, &mut choose).unwrap()
}

#[test]
fn exact_solver_meets_the_reference_optimum() {
    for name in CASES {
        let case = read(name);
        let (cost, first) = Exact::new(&case.problem).solve(&case.start).unwrap();
        let optimum = figure(name, "optimal");
        assert!((cost - optimum).abs() < 1e-8 * optimum, "{name}: {cost} is not {optimum}");
        let firsts = column(name, "first_action_any_of");
        assert!(
            firsts.split('|').any(|f| f == case.name(&first)),
            "{name}: {} is not one of {firsts}",
            case.name(&first)
        );
    }
}

#[test]
fn planner_as_shipped_stays_near_the_optimum_and_within_the_rules() {
    let mut sum = 0.0;
    for name in CASES {
        let case = read(name);
        let policy = shipped(&case);
        legality::check(case.problem.parts(), case.start.mode, &policy).unwrap();
        let gap = policy.cost() / figure(name, "optimal") - 1.0;
        println!("{name}: {:.4}, gap {:.3} %, {} situations", policy.cost(), 100.0 * gap, policy.nodes.len());
        assert!(gap > -1e-8 && gap <= 0.015, "{name}: gap {gap}");
        sum += gap;
    }
    assert!(sum / 8.0 <= 0.003, "mean gap {}", sum / 8.0);
}

#[test]
fn base_policies_meet_the_reference_columns() {
    let rule = |rule, ordering| BasePolicy { rule, ordering, exit: false };
    let columns = [
        ("pc_order", BasePolicy::ORDER),
        ("pc_order_setup_aware", BasePolicy::ORDER_WITH_SET_UP),
        ("infogain_per_cost", rule(Rule::InformationPerCost { stop: 0.95 }, Ordering::SetUp)),
        ("lookahead_1", rule(Rule::ValueOfInformation { pairs: false }, Ordering::SetUp)),
    ];
    for name in CASES {
        let case = read(name);
        for (column, base) in columns {
            let policy = follow(&case, base);
            legality::check(case.problem.parts(), case.start.mode, &policy).unwrap();
            let expected = figure(name, column);
            let got = policy.cost();
            assert!((got - expected).abs() < 1e-8 * expected, "{name} {column}: {got} is not {expected}");
        }
    }
}

#[test]
fn proposals_bracket_the_optimum() {
    for name in CASES {
        let case = read(name);
        let mut planner = Planner::new(&case.problem, &case.start, Settings::default()).unwrap();
        planner.finish();
        let proposals = planner.proposals();
        let optimum = figure(name, "optimal");
        assert!(planner.lower_bound() <= optimum + 1e-9, "{name}: bound {}", planner.lower_bound());
        for p in &proposals {
            assert!(p.expected_cost >= optimum - 1e-8, "{name}: {p:?} beats the optimum {optimum}");
            assert!(p.cost_now <= p.expected_cost + 1e-9, "{name}: {p:?} costs more now than in all");
        }
    }
}

#[test]
fn same_calls_give_the_same_proposals() {
    let case = read("P8");
    let plan = |chunks: &[usize]| {
        let mut planner = Planner::new(&case.problem, &case.start, Settings::default()).unwrap();
        chunks.iter().for_each(|n| _ = planner.advance(*n));
        (planner.proposals(), planner.nearest_flip())
    };
    assert_eq!(plan(&[7, 50, 2000]), plan(&[7, 50, 2000]));
    // Taken up again after every single node, planning comes to the same end as in one go.
    assert_eq!(plan(&[3000]).0[0].action, plan(&vec![1; 3000]).0[0].action);
}

#[test]
fn node_budget_is_kept() {
    let case = read("P8");
    let settings = Settings { nodes: 100, ..Settings::default() };
    let mut planner = Planner::new(&case.problem, &case.start, settings).unwrap();
    assert_eq!(planner.advance(30).spent, 30);
    let progress = planner.advance(1000);
    assert_eq!((progress.spent, progress.finished), (100, true));
}
