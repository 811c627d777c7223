//! What the planner refuses, and the place each refusal names; and what would change a proposal.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

use repair::plan::{
    Action, Check, Group, Hypothesis, Place, Planner, Problem, ProblemError, ProblemParts, Repair, Settings, Test,
};

fn fix(cost: f64, fixes: &[usize]) -> Repair {
    Repair { cost, groups: vec![], mode: None, fixes: fixes.to_vec(), success: 1.0, check: Check::default() }
}

fn sound() -> ProblemParts {
    let outcomes = vec![vec![0.9, 0.1], vec![0.2, 0.8]];
    ProblemParts {
        hypotheses: vec![Hypothesis { faults: vec![0], weight: 0.7 }, Hypothesis { faults: vec![1], weight: 0.3 }],
        groups: vec![Group { open: 2.0, ..Group::default() }],
        switch: vec![],
        tests: vec![Test { cost: 1.0, groups: vec![0], mode: None, outcomes }],
        repairs: vec![fix(10.0, &[0]), fix(10.0, &[1])],
        exit: None,
    }
}

/// Breaks a sound problem and gives what is said about it.
fn refusal(break_it: impl FnOnce(&mut ProblemParts)) -> ProblemError {
    let mut parts = sound();
    break_it(&mut parts);
    Problem::new(parts).unwrap_err()
}

#[test]
fn sound_problem_is_taken() {
    assert!(Problem::new(sound()).is_ok());
}

#[test]
fn outcomes_that_do_not_add_up_name_test_and_row() {
    let error = refusal(|p| p.tests[0].outcomes[1] = vec![0.2, 0.7]);
    assert!(matches!(error, ProblemError::BadSum { place: Place::Test(0), row: Some(1), .. }), "{error:?}");
    assert!(error.to_string().starts_with("test 0: outcomes for hypothesis 1 add up to `0.8"), "{error}");
}

#[test]
fn numbers_out_of_range_name_their_place() {
    let price = refusal(|p| p.repairs[1].cost = -1.0);
    assert_eq!(price, ProblemError::BadCost { place: Place::Repair(1), cost: -1.0 });
    let weight = refusal(|p| p.hypotheses[0].weight = f64::NAN);
    assert!(matches!(weight, ProblemError::BadProbability { place: Place::Hypothesis(0), .. }));
    let chance = refusal(|p| p.repairs[0].success = 0.0);
    assert_eq!(chance, ProblemError::BadProbability { place: Place::Repair(0), value: 0.0 });
    let outcome = refusal(|p| p.tests[0].outcomes[0] = vec![1.1, -0.1]);
    assert_eq!(outcome, ProblemError::BadProbability { place: Place::Test(0), value: 1.1 });
    assert_eq!(
        refusal(|p| p.exit = Some(f64::INFINITY)),
        ProblemError::BadCost { place: Place::Exit, cost: f64::INFINITY }
    );
}

#[test]
fn pointers_to_nothing_name_their_place() {
    let cover = refusal(|p| p.tests[0].groups = vec![4]);
    assert_eq!(cover, ProblemError::NoSuch { place: Place::Test(0), what: "cover", index: 4 });
    let mode = refusal(|p| p.repairs[0].mode = Some(1));
    assert_eq!(mode, ProblemError::NoSuch { place: Place::Repair(0), what: "mode", index: 1 });
    let rows = refusal(|p| drop(p.tests[0].outcomes.pop()));
    assert_eq!(rows, ProblemError::BadLength { place: Place::Test(0), found: 1, needed: 2 });
}

#[test]
fn loop_of_covers_is_refused() {
    assert_eq!(refusal(|p| p.groups[0].parents = vec![0]), ProblemError::Loop(Place::Group(0)));
}

#[test]
fn same_faults_twice_are_refused() {
    let error = refusal(|p| p.hypotheses[1].faults = vec![0]);
    assert_eq!(error, ProblemError::Repeated { place: Place::Hypothesis(1), earlier: 0 });
}

#[test]
fn fault_nobody_mends_needs_an_exit() {
    let error = refusal(|p| p.repairs.truncate(1));
    assert_eq!(error, ProblemError::NoWayOut { hypothesis: 1, fault: 1 });
    let mut parts = sound();
    parts.repairs.truncate(1);
    parts.exit = Some(90.0);
    assert!(Problem::new(parts).is_ok());
}

#[test]
fn what_a_repair_leaves_of_a_pair_must_be_listed() {
    let mut parts = sound();
    parts.tests.clear();
    parts.hypotheses = vec![Hypothesis { faults: vec![1, 0], weight: 1.0 }];
    assert_eq!(parts.missing_remainders(), vec![vec![0], vec![1]]);
    let error = Problem::new(parts.clone()).unwrap_err();
    assert_eq!(error, ProblemError::NoRemainder { repair: 0, hypothesis: 0, remainder: vec![1] });
    for faults in parts.missing_remainders() {
        parts.hypotheses.push(Hypothesis { faults, weight: 0.0 });
    }
    assert!(Problem::new(parts).is_ok());
}

#[test]
fn impossible_actions_are_refused() {
    let problem = Problem::new(sound()).unwrap();
    let mut situation = problem.start(0);
    assert_eq!(problem.step(&situation, &Action::Exit), Err(ProblemError::NotPossible));
    assert_eq!(problem.step(&situation, &Action::Test(1)), Err(ProblemError::NotPossible));
    assert_eq!(problem.step(&situation, &Action::Repair(vec![0, 1])), Err(ProblemError::NotPossible));
    situation.used.insert(0);
    assert_eq!(problem.step(&situation, &Action::Test(0)), Err(ProblemError::NotPossible));
    situation.mode = 3;
    let error = ProblemError::NoSuch { place: Place::Situation, what: "mode", index: 3 };
    assert_eq!(problem.step(&situation, &Action::Repair(vec![0])), Err(error));
}

#[test]
fn without_tests_the_odds_at_the_flip_are_the_prices() {
    // Two repairs at 10: first the likelier. At odds of 7 to 3 the first stays first until its odds are 3/7 of that.
    let mut parts = sound();
    parts.tests.clear();
    let problem = Problem::new(parts).unwrap();
    let mut planner = Planner::new(&problem, &problem.start(0), Settings::default()).unwrap();
    planner.finish();
    assert_eq!(planner.proposals()[0].action, Action::Repair(vec![0]));
    let less = planner.flip_point(0).unwrap();
    assert!((less.factor - 3.0 / 7.0).abs() < 1e-9, "{less:?}");
    assert_eq!(less.becomes, Action::Repair(vec![1]));
    let more = planner.flip_point(1).unwrap();
    assert!((more.factor - 7.0 / 3.0).abs() < 1e-9, "{more:?}");
}

#[test]
fn beyond_the_flip_another_action_is_proposed() {
    let problem = Problem::new(sound()).unwrap();
    let start = problem.start(0);
    let mut planner = Planner::new(&problem, &start, Settings::default()).unwrap();
    planner.finish();
    let first = planner.proposals()[0].action.clone();
    let flip = planner.flip_point(0).unwrap();
    let best_at = |factor: f64| {
        let mut moved = start.clone();
        moved.weights[0] *= factor;
        let mut planner = Planner::new(&problem, &moved, Settings::default()).unwrap();
        planner.finish();
        planner.proposals()[0].action.clone()
    };
    // Plans are held as they stand, so the true flip is at this factor or nearer.
    let beyond = libm::pow(flip.factor, 1.1);
    assert_ne!(best_at(beyond), first, "{flip:?}");
}
