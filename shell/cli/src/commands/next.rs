//! `callwright next`: the proposals for a recorded call, the best first.

use crate::commands::callfile;
use crate::failure::Failure;
use crate::output;
use diagnosis::{Belief, Suspect, words};
use prediction::Meter;
use repair::{Act, Advice, Hands, Prices, advise};
use serde_json::{Value, json};
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(path: &Path, meter: &Meter, nodes: usize, as_json: bool) -> Result<ExitCode, Failure> {
    callfile::with_belief(path, meter, |belief, recorded| {
        let steps = advise(belief, &recorded.bench(belief.predictor()), &Prices::default(), nodes)
            .map_err(|error| Failure::Bug(format!("the problem of this call cannot be planned: {error}")))?;
        let changes =
            repair::advise::changes_if(belief, &recorded.bench(belief.predictor()), &Prices::default(), nodes)
                .map_err(|error| Failure::Bug(format!("what would change the proposal cannot be planned: {error}")))?;
        if as_json {
            let steps: Vec<Value> = steps.iter().map(|s| step(belief, s)).collect();
            output::json(&json!({ "steps": steps, "changes_if": changes }));
        } else {
            print(belief, &steps);
            changes.iter().for_each(|text| output::line(text));
        }
        Ok(ExitCode::SUCCESS)
    })
}

fn print(belief: &Belief<'_, '_>, steps: &[Advice]) {
    let machine = belief.machine();
    for (index, advice) in steps.iter().enumerate() {
        if index == 1 {
            output::line("Otherwise:");
        }
        if index > 0 {
            output::line(&format!("  {} ({:.0} min)", advice.say, advice.minutes));
            continue;
        }
        output::line(&output::bold(&advice.say));
        for cover in &advice.covers {
            output::line(&format!("  first: {}", machine.access.steps[cover.index()].say));
        }
        output::line(&format!("  {:.0} minutes with what must come off", advice.minutes));
        for outcome in advice.outcomes.iter().filter(|o| o.chance > 0.01) {
            let who = outcome
                .suspects
                .first()
                .map_or(String::new(), |(s, share)| format!(": {} ({:.0} %)", name(belief, s.as_ref()), share * 100.0));
            output::line(&format!("  {:>4.0} %  {}{who}", outcome.chance * 100.0, outcome.say));
        }
    }
}

fn name(belief: &Belief<'_, '_>, suspect: Option<&Suspect>) -> String {
    suspect.map_or_else(|| "not as described".to_owned(), |s| words::suspect(belief.machine(), s))
}

/// Gives one proposal as JSON.
pub(crate) fn step(belief: &Belief<'_, '_>, advice: &Advice) -> Value {
    let machine = belief.machine();
    let (at, state, isolated) = match &advice.act {
        Act::Read(reading, _) => (
            repair::advise::points(machine, reading),
            Some(machine.states[reading.condition.state.index()].id.clone()),
            Some(!reading.condition.plugged),
        ),
        Act::Try(state) => (Vec::new(), Some(machine.states[state.index()].id.clone()), None),
        Act::Look(part) => (vec![machine.parts[part.index()].id.clone()], None, None),
        Act::Change(repair) => (vec![machine.repairs[repair.index()].id.clone()], None, None),
        Act::Explain | Act::Refer => (Vec::new(), None, None),
    };
    json!({
        "kind": kind(&advice.act),
        "say": advice.say,
        "at": at,
        "state": state,
        "isolated": isolated,
        "minutes": advice.minutes,
        "danger": advice.danger,
        "expected_minutes": advice.expected,
        "covers": advice.covers.iter().map(|c| machine.access.steps[c.index()].id.clone()).collect::<Vec<_>>(),
        "outcomes": advice.outcomes.iter().map(|outcome| json!({
            "say": outcome.say,
            "low": outcome.limits.map(|l| l.0),
            "high": outcome.limits.map(|l| l.1).filter(|high| high.is_finite()),
            "probability": outcome.chance,
            "suspects": outcome.suspects.iter().map(|(s, share)| json!({
                "faults": s.as_ref().map(|s| super::suspects::faults(belief, s)),
                "probability": share,
                "say": name(belief, s.as_ref()),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

/// Gives the word for a kind of step.
pub(crate) fn kind(act: &Act) -> &'static str {
    match act {
        Act::Read(reading, Hands::Isolated) if reading.quantity == prediction::Quantity::Ohms => "ohms",
        Act::Read(reading, Hands::Isolated) if reading.quantity == prediction::Quantity::Farads => "farads",
        Act::Read(_, Hands::Supply) => "supply-volts",
        Act::Read(reading, _) if reading.quantity == prediction::Quantity::Amps => "clamp-amps",
        Act::Read(_, _) => "clipped-volts",
        Act::Look(_) => "look",
        Act::Try(_) => "try",
        Act::Change(_) => "change",
        Act::Explain => "explain",
        Act::Refer => "refer",
    }
}
