//! At the foot: what the colour codes mean, and how to read the layers that are shown.

use super::Sheet;
use super::easel::Easel;
use crate::graph::ItemKind;
use crate::layout::SMALL;
use crate::scene::{LabelOf, Point};
use crate::{colors, market_of, metrics};

/// Writes the keys; gives where they end.
pub(crate) fn draw(easel: &mut Easel<'_>, sheet: &Sheet<'_>, corner: Point) -> f64 {
    let mut notes = Vec::new();
    let leads = sheet.items.iter().filter(|item| item.kind == ItemKind::Lead);
    let colors = leads.filter_map(|item| easel.machine[item.part].color.as_deref());
    let key: Vec<String> = colors::key(market_of(easel.machine), colors)
        .into_iter()
        .map(|(code, word)| format!("{code} {word}"))
        .collect();
    if !key.is_empty() {
        notes.push(format!("Wire colors: {}.", key.join(", ")));
    }
    let layers = easel.layers;
    if !layers.amps.is_empty() {
        notes.push("Thick line: carries current in this state.".to_owned());
    }
    if layers.live.is_some() {
        notes.push(
            "Band and bolt: may be live, at worst, whatever is believed. Dead is what you have measured dead."
                .to_owned(),
        );
    }
    if !layers.suspects.is_empty() {
        notes.push("Hatched with a share: suspects.".to_owned());
    }
    if !easel.scene.folded.is_empty() {
        notes.push(format!("{} parts and leads are folded away.", easel.scene.folded.len()));
    }
    let room = easel.scene.width - 2.0 * super::MARGIN;
    let mut y = corner.y + 6.0;
    for line in metrics::wrap(&notes.join("  "), SMALL, room) {
        easel.text(&line, LabelOf::Note, Point { x: corner.x, y }, SMALL);
        y += SMALL + 2.0;
    }
    y
}
