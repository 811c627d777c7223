//! `callwright teardown`: the way in to parts, and the way back.

use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use machine::model::Machine;
use serde_json::{Value, json};
use std::process::ExitCode;
use teardown::{Open, Step, plan_teardown};

pub(crate) fn run(name: &str, to: &[String], as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let parts: Vec<String> = machine.parts.iter().map(|p| p.id.clone()).collect();
    let mut places = Vec::new();
    for part in to {
        let index = shelf::position(&parts, part).ok_or_else(|| unknown("part", part, &parts))?;
        places.push(machine.parts[usize::from(index)].place);
    }
    let plan = plan_teardown(&machine.access, &places, &Open::nothing())
        .map_err(|blocked| Failure::Input(blocked.say(&machine.access)))?;
    if as_json {
        output::json(&json!({
            "to": to,
            "minutes_in": plan.minutes_in,
            "minutes_back": plan.minutes_back,
            "way_in": steps(&machine, &plan.steps_in),
            "way_back": steps(&machine, &plan.steps_back),
        }));
        return Ok(ExitCode::SUCCESS);
    }
    output::line(&output::bold(&format!(
        "The way in, {:.0} minutes. Isolate and measure dead first.",
        plan.minutes_in
    )));
    print(&machine, &plan.steps_in);
    output::line(&output::bold(&format!("The way back, {:.0} minutes", plan.minutes_back)));
    print(&machine, &plan.steps_back);
    Ok(ExitCode::SUCCESS)
}

fn print(machine: &Machine, steps: &[Step]) {
    for (index, step) in steps.iter().enumerate() {
        output::line(&format!("{:>3}. {} ({}, {:.1} min)", index + 1, step.say, step.side, step.minutes));
        for fastener in &step.fasteners {
            output::line(&format!("       {} x {}, {}", fastener.count, fastener.what, fastener.tool));
        }
        if let Some(last) = &step.keep_for_last {
            output::line(&format!("       {last}"));
        }
        for hazard in &step.cautions {
            output::line(&format!("       {}", caution(*hazard)));
        }
    }
    if steps.is_empty() {
        output::line(&format!("  nothing: it is open as it stands on the {}", machine.kind));
    }
}

fn steps(machine: &Machine, steps: &[Step]) -> Vec<Value> {
    let id = |step: &Step| match step.act {
        teardown::Act::Open(cover) | teardown::Act::Close(cover) => {
            Some(machine.access.steps[cover.index()].id.clone())
        }
        _ => None,
    };
    steps
        .iter()
        .map(|step| {
            json!({
                "cover": id(step),
                "say": step.say,
                "side": step.side,
                "minutes": step.minutes,
                "people": step.people,
                "fasteners": step.fasteners.iter().map(|f| json!({
                    "count": f.count, "what": f.what, "tool": f.tool,
                })).collect::<Vec<_>>(),
                "keep_for_last": step.keep_for_last,
                "cautions": step.cautions.iter().map(|h| caution(*h)).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// Gives a caution as one line: `WARNING: ...`.
fn caution(hazard: machine::access::Hazard) -> String {
    let caution = danger::caution(hazard, false);
    format!("{}: {}", caution.signal.word(), caution.sentence)
}
