//! Plays a recorded call: what was found goes through the belief, and the next step is proposed.

use crate::commands::callfile;
use crate::failure::Failure;
use crate::output;
use diagnosis::{Belief, Evidence, words};
use prediction::Meter;
use repair::{Advice, Prices, advise};
use serde_json::json;
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(path: &Path, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    callfile::with_belief(path, meter, |belief, recorded| {
        let steps = advise(belief, &recorded.bench(belief.predictor()), &Prices::default(), 4000)
            .map_err(|error| Failure::Bug(format!("the problem of this call cannot be planned: {error}")))?;
        if as_json {
            output::json(&json!({
                "machine": belief.machine().id,
                "evidence_count": belief.evidence().len(),
                "suspects": crate::commands::suspects::in_json(belief, 6),
                "next": steps.first().map(|step| crate::commands::next::step(belief, step)),
            }));
        } else {
            print(belief, steps.first());
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn print(belief: &Belief<'_, '_>, step: Option<&Advice>) {
    let machine = belief.machine();
    output::line(&output::bold(&machine.title));
    for weighed in belief.evidence() {
        output::line(&format!("  {}", in_words(belief, &weighed.item)));
    }
    output::line("Likeliest now:");
    for (suspect, share) in belief.shares().into_iter().take(5).filter(|(_, share)| *share >= 0.002) {
        output::line(&format!("  {:>3.0} %  {}", share * 100.0, words::suspect(machine, suspect)));
    }
    if let Some(index) = belief.to_take_again() {
        let odd = in_words(belief, &belief.evidence()[index].item);
        output::line(&format!("This does not fit the rest; take it again: {odd}"));
    }
    if belief.unexplained() {
        output::line("None of the suspects explains what was found.");
    }
    if let Some(step) = step {
        output::line(&output::bold(&format!("Next: {} {:.0} min.", step.say, step.minutes.max(1.0))));
        for cover in &step.covers {
            output::line(&format!("  first: {}", machine.access.steps[cover.index()].say));
        }
    }
}

fn in_words(belief: &Belief<'_, '_>, item: &Evidence) -> String {
    let machine = belief.machine();
    match item {
        Evidence::Reported(seen) | Evidence::Answered(seen) => format!("told: {}", words::seen(machine, *seen)),
        Evidence::Watched(seen) => format!("seen: {}", words::seen(machine, *seen)),
        Evidence::Read { reading, measured } => format!(
            "read: {}; {}: {}",
            words::condition(machine, reading),
            words::probe(machine, reading.probe),
            words::measured(*measured, reading.quantity)
        ),
        Evidence::Warmed { reading, celsius } => format!(
            "read: {}; {}: {}",
            words::state(machine, reading.state),
            words::thermometer(machine, reading),
            words::celsius(*celsius)
        ),
        Evidence::Looked { part, damage } => {
            format!("look: the {} looks {}", machine[*part].name, if *damage { "damaged" } else { "sound" })
        }
        Evidence::ComesAndGoes(so) => format!("told: {}", if *so { "it comes and goes" } else { "it is always so" }),
        Evidence::Stirred(stirred) => format!("done: {}", words::stirred(machine, *stirred)),
        Evidence::Repaired(repair) => format!("done: {}", machine[*repair].say),
        Evidence::Opinion { part, times } => format!("opinion: the {}, {times} times likelier", machine[*part].name),
    }
}
