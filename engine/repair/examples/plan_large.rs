//! Plays the planner and its rivals on problems too large to solve, beside a bound that no plan can beat.
//!
//! `plan_large [problems=N] [runs=N] [seed=S] [nodes=N] [OUT.md]`: N generated problems of 60 to 120 tests and 40 to 150
//! faults for each set-up factor, and N complaints of each shipped machine with all its tests. Every player meets the
//! same draws. With a file, the table is put there between its marks.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example prints its answer")]

#[path = "../tests/support/generate.rs"]
#[allow(dead_code, reason = "each user takes a part of it")]
mod generate;
#[path = "../tests/support/large.rs"]
mod large;

use diagnosis::{Assumptions, Belief, Evidence};
use large::{Mean, Played, Player, played};
use prediction::{Meter, Predictor};
use repair::compile::compile_whole;
use repair::plan::Problem;
use repair::{Bench, Prices};
use std::error::Error;
use std::fmt::Write as _;

const MACHINES: [(&str, &str); 2] = [
    ("dryer-timer-240", include_str!("../../../machines/dryer-timer-240.toml")),
    ("range-control-240", include_str!("../../../machines/range-control-240.toml")),
];

struct Asked {
    problems: usize,
    runs: u64,
    seed: u64,
    nodes: usize,
    out: Option<String>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let asked = asked()?;
    let mut text = head(&asked);
    for set_up in [0.25, 1.0, 3.0] {
        let mut rows = Vec::new();
        for at in 0..asked.problems {
            let mut random = generate::Random::new(asked.seed.wrapping_add(7_919 * at as u64));
            let (tests, faults) = (60 + random.below(61), 40 + random.below(111));
            let problem = Problem::new(generate::large_at(asked.seed.wrapping_add(at as u64), faults, tests, set_up))?;
            rows.push(played(&problem, &problem.start(1), asked.runs, asked.nodes)?);
            eprintln!("x{set_up}: {} of {} ({faults} faults, {tests} tests)", at + 1, asked.problems);
        }
        table(&mut text, &format!("generated, set-up x{set_up}"), &rows);
    }
    for (name, machine) in MACHINES {
        let (rows, tests) = of_machine(machine, &asked)?;
        table(&mut text, &format!("{name}, {tests} tests"), &rows);
    }
    match &asked.out {
        Some(path) => put(path, &text)?,
        None => println!("{text}"),
    }
    Ok(())
}

fn asked() -> Result<Asked, Box<dyn Error>> {
    let mut asked = Asked { problems: 4, runs: 60, seed: 1, nodes: 4_000, out: None };
    for word in std::env::args().skip(1) {
        match word.split_once('=').unwrap_or((&word, "")) {
            ("problems", n) => asked.problems = n.parse()?,
            ("runs", n) => asked.runs = n.parse()?,
            ("seed", n) => asked.seed = n.parse()?,
            ("nodes", n) => asked.nodes = n.parse()?,
            (path, "") => asked.out = Some(path.to_owned()),
            _ => return Err(format!("`{word}` is none of problems=N, runs=N, seed=S, nodes=N").into()),
        }
    }
    Ok(asked)
}

/// Complaints of a machine, evenly taken from those with 60 tests and more, and the range of their numbers of tests.
fn of_machine(text: &str, asked: &Asked) -> Result<(Vec<Played>, String), Box<dyn Error>> {
    let machine = machine::read(text).machine.ok_or("a shipped machine does not read clean")?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let prior = Belief::new(&predictor, Assumptions::default());
    let mut found = Vec::new();
    for state in predictor.state_ids() {
        let sound = predictor.observe(state, &[]);
        let mut told = Vec::new();
        for seen in predictor.fault_ids().flat_map(|fault| predictor.observe(state, &[fault])) {
            if !sound.contains(&seen) && !told.contains(&seen) {
                told.push(seen);
                let mut belief = prior.clone();
                belief.take(Evidence::Reported(seen));
                let bench = Bench { trouble: vec![state], ..Bench::default() };
                let compiled = compile_whole(&belief, &bench, &Prices::default())?;
                if compiled.tests.len() >= 60 {
                    found.push(compiled);
                }
            }
        }
    }
    let count = asked.problems.min(found.len());
    let chosen: Vec<usize> = (0..count).map(|at| at * found.len() / count.max(1)).collect();
    let mut rows = Vec::new();
    for &at in &chosen {
        let c = &found[at];
        rows.push(played(&c.problem, &c.situation, asked.runs, asked.nodes)?);
        eprintln!("{}: complaint {at} ({} suspects, {} tests)", machine.id, c.hypotheses.len(), c.tests.len());
    }
    let sizes = || chosen.iter().map(|&at| found[at].tests.len());
    Ok((rows, format!("{} to {}", sizes().min().unwrap_or(0), sizes().max().unwrap_or(0))))
}

// Writing into a string cannot fail, here and below.
fn head(asked: &Asked) -> String {
    let mut text = format!(
        "{} problems a block, {} draws for each, seed {}, {} states weighed for a decision. Cost in minutes; \"over the \
         bound\" is\nagainst the certified bound of the same problem, \"over the planner\" on the same draws; after ± one \
         standard error.\n",
        asked.problems, asked.runs, asked.seed, asked.nodes
    );
    text.push_str(
        "\n| problems | player | cost | over the bound, % | over the planner, % |\n|---|---|---:|---:|---:|\n",
    );
    text
}

fn table(text: &mut String, name: &str, rows: &[Played]) {
    let count = rows.len().max(1) as f64;
    let mean = |value: &dyn Fn(&Played) -> f64| rows.iter().map(value).sum::<f64>() / count;
    let pooled = |value: &dyn Fn(&Played) -> f64| rows.iter().map(|r| value(r) * value(r)).sum::<f64>().sqrt() / count;
    for (at, player) in Player::ALL.into_iter().enumerate() {
        let cost = Mean { mean: mean(&|r| r.costs[at].0.mean), error: pooled(&|r| r.costs[at].0.error) };
        let over = Mean {
            mean: 100.0 * mean(&|r| r.costs[at].0.mean / r.bound - 1.0),
            error: 100.0 * pooled(&|r| r.costs[at].0.error / r.bound),
        };
        let dearer = Mean {
            mean: 100.0 * mean(&|r| r.costs[at].1.mean / r.costs[0].0.mean),
            error: 100.0 * pooled(&|r| r.costs[at].1.error / r.costs[0].0.mean),
        };
        let show = |m: Mean| format!("{:.1} ± {:.1}", m.mean, m.error);
        let beside = if at == 0 { "–".to_owned() } else { show(dearer) };
        let _ = writeln!(text, "| {name} | {} | {} | {} | {beside} |", player.name(), show(cost), show(over));
    }
    let (bound, knowing) = (mean(&|r| r.bound), mean(&|r| r.knowing));
    let _ = writeln!(text, "| {name} | *certified bound* | {bound:.1} | | |");
    let _ = writeln!(text, "| {name} | *one who knows* | {knowing:.1} | | |");
}

const FROM: &str = "<!-- plan_large -->\n";
const TO: &str = "<!-- end -->";

/// Puts the table into a file between its marks.
fn put(path: &str, table: &str) -> Result<(), Box<dyn Error>> {
    let text = std::fs::read_to_string(path)?;
    let marks = || format!("`{path}` lacks the marks `{}` and `{TO}`", FROM.trim());
    let (before, rest) = text.split_once(FROM).ok_or_else(marks)?;
    let (_, after) = rest.split_once(TO).ok_or_else(marks)?;
    std::fs::write(path, format!("{before}{FROM}{table}{TO}{after}"))?;
    Ok(())
}
