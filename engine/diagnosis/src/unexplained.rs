//! What is said where nothing described explains what was found. Decides nothing.

use crate::belief::{BEAM, Belief, ReadsAs};
use crate::suspects::Suspect;
use crate::words;
use prediction::Quantity;

/// Share from which three faults at once are worth a word.
const LEAST: f64 = 0.1;

/// Says that nothing described explains what was found, which single difference from the description would, and how to
/// find out; where none would, what does not fit together. Nothing while something described explains it.
#[must_use]
pub fn sentences(belief: &Belief<'_, '_>) -> Vec<String> {
    let Some(told) = belief.reads_as() else { return Vec::new() };
    let mut said = vec!["Neither one nor two faults explain all that was found.".to_owned()];
    said.extend(told.iter().enumerate().map(|(at, one)| reads_as(belief, at, one)));
    said.extend(three_at_once(belief));
    match told.first() {
        Some(first) => said.extend(how_to_find_out(belief, first)),
        None => said.extend(clashing(belief)),
    }
    said
}

fn reads_as(belief: &Belief<'_, '_>, at: usize, one: &ReadsAs) -> String {
    let begins = if at == 0 { "Everything reads as if" } else { "Or as if" };
    let beside = one.beside.map_or_else(String::new, |fault| {
        format!(", and beside it {}", words::suspect(belief.machine(), &Suspect::of(&[fault])))
    });
    format!("{begins} {}{beside} ({:.0} %).", one.say, one.share * 100.0)
}

/// Says which three faults at once would explain it, if any would and they were not weighed already.
fn three_at_once(belief: &Belief<'_, '_>) -> Option<String> {
    if belief.shares().iter().any(|(suspect, _)| suspect.0.len() > 2) {
        return None;
    }
    let (wider, _) = belief.with_triples(BEAM);
    if wider.unexplained() {
        return None;
    }
    let shares = wider.shares();
    let (three, share) = shares.into_iter().find(|(suspect, _)| suspect.0.len() == 3)?;
    (share >= LEAST).then(|| format!("Three faults at once explain it: {}.", words::suspect(belief.machine(), three)))
}

fn how_to_find_out(belief: &Belief<'_, '_>, one: &ReadsAs) -> Option<String> {
    let confirm = one.confirm.as_ref()?;
    let shows = |prediction| words::expected(prediction, Quantity::Ohms, belief.predictor().meter());
    Some(format!(
        "To find out, unplugged and measured dead: {}. It shows {} if so, {} as described.",
        words::probe(belief.machine(), confirm.reading.probe),
        shows(&confirm.differing),
        shows(&confirm.described),
    ))
}

fn clashing(belief: &Belief<'_, '_>) -> Vec<String> {
    let mut said = vec!["No single difference from the description explains it either.".to_owned()];
    let clashes = belief.clashes();
    if !clashes.is_empty() {
        said.push("What does not fit together:".to_owned());
    }
    said.extend(clashes.iter().map(|&at| words::item(belief.machine(), &belief.evidence()[at].item)));
    said
}
