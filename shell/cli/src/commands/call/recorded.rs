//! Plays a recorded call: what was found goes through the belief, and the next step is proposed.

use crate::commands::callfile;
use crate::failure::Failure;
use crate::output;
use diagnosis::unexplained::sentences;
use diagnosis::{Belief, words};
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
        output::line(&format!("  {}", words::item(machine, &weighed.item)));
    }
    output::line("Likeliest now:");
    for (suspect, share) in belief.shares().into_iter().take(5).filter(|(_, share)| *share >= 0.002) {
        output::line(&format!("  {:>3.0} %  {}", share * 100.0, words::suspect(machine, suspect)));
    }
    if let Some(index) = belief.to_take_again() {
        let odd = words::item(machine, &belief.evidence()[index].item);
        output::line(&format!("This does not fit the rest; take it again: {odd}"));
    }
    sentences(belief).iter().for_each(|text| output::line(text));
    if let Some(step) = step {
        output::line(&output::bold(&format!("Next: {} {:.0} min.", step.say, step.minutes.max(1.0))));
        for cover in &step.covers {
            output::line(&format!("  first: {}", machine.access.steps[cover.index()].say));
        }
    }
}
