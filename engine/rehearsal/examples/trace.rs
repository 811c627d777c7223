//! Rehearses calls and tells the ones that went wrong and the slowest, step by step.
//!
//! `trace FILE.toml SEED CALLS [tool|value|checklist] [nodes=N] [call=SEED|misdescribed=SEED]`: with a call's seed only
//! that call is told.
#![allow(clippy::print_stdout, reason = "an example prints its answer")]

use prediction::{Meter, Predictor};
use rehearsal::{Measures, Rehearsal, Settings, Strategy, all_knowing_minutes};

/// Slow calls told besides the wrong ones.
const SLOWEST: usize = 5;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [path, seed, calls, rest @ ..] = args.as_slice() else {
        return Err("give a machine's file, a seed and how many calls".into());
    };
    let mut strategy = Strategy::Tool;
    let mut settings = Settings::default();
    let (mut one, mut other) = (None, None);
    for word in rest {
        match word.split_once('=').unwrap_or((word, "")) {
            ("tool", _) => strategy = Strategy::Tool,
            ("value", _) => strategy = Strategy::ValueOfInformation,
            ("checklist", _) => strategy = Strategy::Checklist,
            ("nodes", nodes) => settings.nodes = nodes.parse()?,
            ("call", seed) => one = Some(seed.parse()?),
            ("misdescribed", seed) => other = Some(seed.parse()?),
            _ => {
                let known = "tool, value, checklist, nodes=N, call=SEED, misdescribed=SEED";
                return Err(format!("`{word}` is none of {known}").into());
            }
        }
    }
    let read = machine::read(&std::fs::read_to_string(path)?);
    let machine = read.machine.ok_or("the machine does not read clean; run `callwright check` on it")?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, seed.parse()?, settings.clone())?;
    let case = one.map(|seed| rehearsal.case(seed)).or_else(|| other.map(|seed| rehearsal.misdescribed_case(seed)));
    if let Some(case) = case {
        print!("{}", rehearsal.trace(&case, strategy)?.1);
        return Ok(());
    }
    let mut visits = Vec::new();
    let mut knowing = 0.0;
    for call in 0..calls.parse()? {
        let case = rehearsal.case(rehearsal.call_seed(call));
        knowing += all_knowing_minutes(&case.unit, &settings.prices);
        visits.push(rehearsal.visit(&case, strategy)?);
    }
    let mut told: Vec<_> = visits.iter().filter(|visit| !visit.right || visit.needless_parts > 0).collect();
    let mut slow: Vec<_> = visits.iter().filter(|visit| visit.right && visit.needless_parts == 0).collect();
    slow.sort_by(|a, b| b.minutes.total_cmp(&a.minutes));
    told.extend(slow.into_iter().take(SLOWEST));
    for visit in told {
        let (visit, trace) = rehearsal.trace(&rehearsal.case(visit.seed), strategy)?;
        println!("{trace}  found after {:.1} minutes, {} needless\n", visit.minutes, visit.needless_parts);
    }
    println!("{:#?}", Measures::of(&visits));
    println!("all-knowing: {:.2}", knowing / visits.len() as f64);
    Ok(())
}
