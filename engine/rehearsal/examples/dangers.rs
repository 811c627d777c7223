//! Plays many calls by the tool for the danger counts alone and writes them: what was planted and found, what the
//! judge of safety saw, and what that bounds.
//!
//! `dangers OUT.md [calls=N] [seed=N] [nodes=N] FILE.toml...`; the calls are shared evenly between the machines, and what
//! there is so far is written every hundred calls, so that a long run can be ended at any time.
#![allow(clippy::print_stderr, reason = "an example tells how far it is")]

use machine::Machine;
use machine::model::FaultId;
use prediction::{Meter, Predictor};
use rehearsal::{Dangers, Rehearsal, Settings, Strategy, ToldBy, Visit, told_by};
use repair::proving::Owed;
use std::error::Error;
use std::fmt::Write as _;

/// Calls after which what there is so far is written.
const WRITTEN_EVERY: usize = 100;

fn main() -> Result<(), Box<dyn Error>> {
    let (mut calls, mut seed) = (10_000_usize, 1_u64);
    let mut settings = Settings { nodes: 20, ..Settings::default() };
    let mut machines: Vec<Machine> = Vec::new();
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [out, rest @ ..] = args.as_slice() else { return Err("give the file to write and the machines' files".into()) };
    for word in rest {
        match word.split_once('=').unwrap_or((word, "")) {
            ("calls", count) => calls = count.parse()?,
            ("seed", count) => seed = count.parse()?,
            ("nodes", count) => settings.nodes = count.parse()?,
            (path, _) => {
                let read = machine::read(&std::fs::read_to_string(path)?);
                machines.push(read.machine.ok_or_else(|| format!("`{path}` does not read clean"))?);
            }
        }
    }
    let predictors: Vec<Predictor<'_>> = machines.iter().map(|m| Predictor::new(m, Meter::ordinary())).collect();
    let set_up = |predictor| Rehearsal::new(predictor, seed, settings.clone());
    let rehearsals = predictors.iter().map(set_up).collect::<Result<Vec<_>, _>>()?;
    let mut played: Vec<Vec<Visit>> = machines.iter().map(|_| Vec::new()).collect();
    let told: String = predictors.iter().map(what_tells).collect();
    for done in 0..calls {
        let at = done % machines.len().max(1);
        let (Some(rehearsal), Some(visits)) = (rehearsals.get(at), played.get_mut(at)) else { break };
        let case = rehearsal.case(rehearsal.call_seed(visits.len()));
        visits.push(rehearsal.visit(&case, Strategy::Tool)?);
        if (done + 1) % WRITTEN_EVERY == 0 || done + 1 == calls {
            eprint!("\r{} of {calls} calls", done + 1);
            std::fs::write(out, page(&machines, &played, seed, settings.nodes) + &told)?;
        }
    }
    eprintln!();
    Ok(())
}

fn page(machines: &[Machine], played: &[Vec<Visit>], seed: u64, nodes: usize) -> String {
    let calls: usize = played.iter().map(Vec::len).sum();
    let mut all = Dangers::default();
    let mut by_machine = String::new();
    for (machine, visits) in machines.iter().zip(played) {
        let dangers = Dangers::of(machine, visits);
        all.join(&dangers, calls);
        let _ = write!(by_machine, "\n## {}\n\n", machine.id);
        for line in dangers.lines(visits.len()) {
            let _ = writeln!(by_machine, "- {line}");
        }
        let mean = |figure: fn(&Visit) -> u32| {
            visits.iter().map(|visit| f64::from(figure(visit))).sum::<f64>() / visits.len().max(1) as f64
        };
        let _ = writeln!(
            by_machine,
            "- For each call: {:.2} supply and proving readings, {:.2} work points proved dead, {:.2} readings clipped on \
             dead and read standing clear, {:.2} by hand in the open energised machine.",
            mean(|v| v.counts.supply_and_proving_readings),
            mean(|v| v.counts.proved_dead),
            mean(|v| v.counts.clipped_readings),
            mean(|v| v.counts.open_energised_probing)
        );
        let right = visits.iter().filter(|visit| visit.right).count() as f64 / visits.len().max(1) as f64;
        let sound: Vec<&Visit> = visits.iter().filter(|visit| visit.planted.is_none()).collect();
        let right_there = sound.iter().filter(|visit| visit.right).count() as f64 / sound.len().max(1) as f64;
        let _ = writeln!(
            by_machine,
            "- Right at the first visit, a planted fault that was missed counting as wrong: {:.1} %; where none was planted \
             {:.1} %.",
            100.0 * right,
            100.0 * right_there
        );
    }
    let mut text = format!(
        "# Danger, rehearsed\n\n\
         Written by `make rehearsal-danger`: {calls} calls by the tool, seed {seed}, {nodes} states weighed for a decision, an \
         ordinary\nmeter without clamp or insulation tester. In one call of ten an unrelated dangerous fault is planted, drawn \
         from\nwhat the machine's file calls dangerous by the disturbed weights. The judge of safety is written apart from \
         the\nhazard gate, the planner and the ledger: it sees every hand, takes what is live from the truth's own solved \
         network, and\nkeeps its own account of the feed, the covers and what was measured dead.\n\n## All machines\n\n"
    );
    for line in all.lines(calls).iter().filter(|line| !line.starts_with("handed back")) {
        let _ = writeln!(text, "- {line}");
    }
    text + &by_machine
}

/// Lists the dangerous faults that nothing asked for before handing back tells.
fn what_tells(predictor: &Predictor<'_>) -> String {
    let machine = predictor.machine();
    let (mut by_run, mut by_reading, mut by_nothing) = (0, 0, Vec::new());
    for (fault, at) in machine.faults.iter().zip(0..).filter(|(fault, _)| fault.dangerous && fault.weight > 0.0) {
        let id = FaultId(at);
        match told_by(predictor, &truth::Unit::nominal(machine, &[id]), id) {
            ToldBy::Run(_) => by_run += 1,
            ToldBy::Reading(Owed::Proof(_) | Owed::Supply(_)) => by_reading += 1,
            ToldBy::Nothing => by_nothing.push(format!("`{}`", fault.id)),
        }
    }
    let none = if by_nothing.is_empty() { "none".to_owned() } else { by_nothing.join(", ") };
    format!(
        "\n{}: of its dangerous faults as described {by_run} show in a run, {by_reading} in a reading that is owed before \
         handing\nback; nothing asked for tells: {none}.\n",
        machine.id
    )
}
