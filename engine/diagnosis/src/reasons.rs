//! Which evidence spoke for or against a suspect, and by how much, in a sentence each.

use crate::belief::Belief;
use crate::evidence::Evidence;
use crate::suspects::Suspect;
use crate::words;

/// One reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// Place of the item in [`Belief::evidence`].
    pub item: usize,
    /// How many times likelier the item was under this suspect than under the whole belief before it, as a natural
    /// logarithm: positive spoke for it.
    pub log_ratio: f64,
    /// The sentence.
    pub say: String,
}

/// Gives the reasons for and against a suspect, weightiest first; what said next to nothing (under a tenth) is left out.
#[must_use]
pub fn reasons(belief: &Belief<'_, '_>, suspect: &Suspect) -> Vec<Reason> {
    let last_change =
        belief.evidence().iter().rposition(|w| matches!(w.item, Evidence::Repaired(_))).map_or(0, |index| index + 1);
    let mut reasons: Vec<Reason> = belief
        .evidence()
        .iter()
        .enumerate()
        .skip(last_change)
        .map(|(item, weighed)| {
            let log_ratio = libm::log(belief.likelihood_at(item, suspect).max(1e-300)) - weighed.log_expected;
            Reason { item, log_ratio, say: sentence(belief, &weighed.item, suspect, log_ratio) }
        })
        .filter(|reason| reason.log_ratio.abs() > 0.1)
        .collect();
    reasons.sort_by(|a, b| b.log_ratio.abs().total_cmp(&a.log_ratio.abs()).then(a.item.cmp(&b.item)));
    reasons
}

fn sentence(belief: &Belief<'_, '_>, item: &Evidence, suspect: &Suspect, log_ratio: f64) -> String {
    let machine = belief.machine();
    let verdict = verdict(log_ratio);
    match item {
        Evidence::Reported(seen) | Evidence::Answered(seen) => {
            format!("the customer says that {}: {verdict}", words::seen(machine, *seen))
        }
        Evidence::Watched(seen) => format!("you saw that {}: {verdict}", words::seen(machine, *seen)),
        Evidence::Read { reading, measured } => {
            let predicted = belief.predictor().predict(reading, &suspect.0);
            format!(
                "{} read {}, this suspect predicts {}: {verdict}",
                place(belief, reading),
                words::measured(*measured, reading.quantity),
                words::expected(&predicted, reading.quantity, belief.predictor().meter()),
            )
        }
        Evidence::Warmed { reading, celsius } => {
            let predicted = belief.predictor().zone_temperature(reading, &suspect.0);
            format!(
                "{} showed {}, this suspect predicts {}: {verdict}",
                words::thermometer(machine, reading),
                words::celsius(*celsius),
                words::warmth(predicted.as_ref()),
            )
        }
        Evidence::Looked { part, damage } => {
            let name = &machine.parts[part.index()].name;
            if *damage {
                format!("the {name} looks damaged: {verdict}")
            } else {
                format!("the {name} looks sound: {verdict}")
            }
        }
        Evidence::Built { variant, option } => {
            let variant = &machine.variants[variant.index()];
            format!("{} is {}: {verdict}", variant.say, variant.say_of(*option))
        }
        Evidence::Opinion { part, .. } => {
            format!("you suspect the {}: {verdict}", machine.parts[part.index()].name)
        }
        Evidence::ComesAndGoes(true) => format!("the customer says that it comes and goes: {verdict}"),
        Evidence::ComesAndGoes(false) => format!("the customer says that it is always so: {verdict}"),
        Evidence::Stirred(stirred) => words::stirred(machine, *stirred),
        Evidence::Repaired(repair) => machine.repairs[repair.index()].say.clone(),
    }
}

fn place(belief: &Belief<'_, '_>, reading: &prediction::Reading) -> String {
    words::probe(belief.machine(), reading.probe)
}

fn verdict(log_ratio: f64) -> String {
    let times = libm::exp(log_ratio.abs());
    let strength = if times >= 1000.0 {
        "more than a thousand times".to_owned()
    } else if times >= 10.0 {
        format!("about {times:.0} times")
    } else {
        format!("about {times:.1} times")
    };
    if log_ratio > 0.0 { format!("speaks for it, {strength}") } else { format!("speaks against it, {strength}") }
}
