//! `callwright suspects`: weighs the suspects of a recorded call, with the reasons.

use crate::commands::callfile;
use crate::failure::Failure;
use crate::output;
use diagnosis::intermittent::{provocations, standing};
use diagnosis::unexplained::sentences;
use diagnosis::{BEAM, Belief, ReadsAs, Suspect, Widened, reasons::reasons, words};
use prediction::Meter;
use serde_json::{Value, json};
use std::path::Path;
use std::process::ExitCode;

/// Weighs the suspects; `faults` at once are weighed, three unasked where one and two explain badly.
pub(crate) fn run(
    path: &Path,
    meter: &Meter,
    (top, faults): (usize, Option<u8>),
    as_json: bool,
) -> Result<ExitCode, Failure> {
    callfile::with_belief(path, meter, |belief, _| {
        let three = faults.map_or_else(|| belief.explains_badly(), |faults| faults == 3);
        let wider = three.then(|| belief.with_triples(BEAM));
        let (belief, widened) = wider.as_ref().map_or((belief, None), |(wider, widened)| (wider, Some(widened)));
        if as_json {
            let mut all = in_json(belief, top);
            all["triples"] = widened.map_or(
                Value::Null,
                |widened| json!({ "weighed": widened.triples, "left_out_at_most": widened.left_out_at_most }),
            );
            output::json(&all);
            return Ok(ExitCode::SUCCESS);
        }
        print(belief, top);
        if let Some(widened) = widened {
            let why = if faults.is_none() { "One and two faults explain it badly. " } else { "" };
            output::line(&format!("{why}{}", in_words(*widened)));
        }
        Ok(ExitCode::SUCCESS)
    })
}

/// Says how many triples were weighed and what those left out could hold.
fn in_words(widened: Widened) -> String {
    let weighed = format!("Three faults at once were weighed too, {} sets of them", widened.triples);
    if widened.left_out_at_most < 0.995 {
        format!("{weighed}; the rest hold {:.1} % at most.", widened.left_out_at_most * 100.0)
    } else {
        format!("{weighed}; nothing bounds what the rest hold.")
    }
}

fn print(belief: &Belief<'_, '_>, top: usize) {
    let machine = belief.machine();
    for (suspect, share) in belief.shares().into_iter().take(top) {
        let stands = standing(belief, suspect).map_or_else(String::new, |stands| format!(", {stands}"));
        let named = output::bold(&words::suspect(machine, suspect));
        output::line(&format!("{:>5.1} %  {named}{stands}", share * 100.0));
        for reason in reasons(belief, suspect).into_iter().take(3) {
            output::line(&format!("         {}", reason.say));
        }
    }
    output::line(&format!("{:>5.1} %  not as described", belief.not_as_described() * 100.0));
    for provocation in provocations(belief).into_iter().take(3) {
        let percent = provocation.brings_out * 100.0;
        output::line(&format!("To make it show: {} ({percent:.0} % comes out then)", provocation.say));
    }
    if let Some(index) = belief.to_take_again() {
        output::line(&format!("Item {} of the call's record does not fit the rest. Take it again.", index + 1));
    }
    sentences(belief).iter().for_each(|text| output::line(text));
}

/// Gives the suspects as JSON.
pub(crate) fn in_json(belief: &Belief<'_, '_>, top: usize) -> Value {
    let machine = belief.machine();
    let rows: Vec<Value> = belief
        .shares()
        .into_iter()
        .take(top)
        .map(|(suspect, share)| {
            json!({
                "faults": faults(belief, suspect),
                "probability": share,
                "say": words::suspect(machine, suspect),
                "intermittent": belief.comes_and_goes(suspect),
                "not_showing_now": belief.hides(suspect),
                "repairs": suspect.repairs(machine).iter()
                    .map(|r| machine.repairs[r.index()].id.clone()).collect::<Vec<_>>(),
                "reasons": reasons(belief, suspect).into_iter().take(4)
                    .map(|r| json!({ "item": r.item, "log_ratio": r.log_ratio, "say": r.say })).collect::<Vec<_>>(),
            })
        })
        .collect();
    let told = belief.reads_as();
    json!({
        "suspects": rows,
        "unexplained": told.is_some(),
        "not_as_described": belief.not_as_described(),
        "clashes": belief.clashes(),
        "reads_as": told.iter().flatten().map(|one| reads_as(belief, one)).collect::<Vec<_>>(),
        "to_make_it_show": provocations(belief).into_iter()
            .map(|p| json!({ "say": p.say, "brings_out": p.brings_out })).collect::<Vec<_>>(),
        "take_again": belief.to_take_again(),
        "left_out_at_most": belief.dropped(),
    })
}

/// Gives one difference from the description as JSON.
fn reads_as(belief: &Belief<'_, '_>, one: &ReadsAs) -> Value {
    let machine = belief.machine();
    let confirm = one.confirm.as_ref().map(|confirm| {
        let interval = |shown: &prediction::Prediction| {
            let (low, high) = shown.interval(confirm.reading.quantity, belief.predictor().meter());
            json!({ "low": low, "high": Some(high).filter(|high| high.is_finite()) })
        };
        json!({
            "at": repair::advise::points(machine, &confirm.reading),
            "say": words::probe(machine, confirm.reading.probe),
            "differing": interval(&confirm.differing),
            "described": interval(&confirm.described),
        })
    });
    json!({
        "say": one.say,
        "parts": one.parts.iter().map(|part| &machine[*part].id).collect::<Vec<_>>(),
        "beside": one.beside.map(|fault| &machine[fault].id),
        "share": one.share,
        "confirm": confirm,
    })
}

/// Names the faults of a suspect as `PART:MODE`; none when nothing is wrong.
pub(crate) fn faults(belief: &Belief<'_, '_>, suspect: &Suspect) -> Vec<String> {
    suspect.0.iter().map(|fault| belief.machine().faults[fault.index()].id.clone()).collect()
}
