//! Walking from terminal to terminal of the drawing by the arrow keys.

use wasm_bindgen::JsCast;
use web_sys::{Element, ShadowRoot};

/// How much less far than it is something straight ahead counts, against something to the side.
const ASIDE: f64 = 2.0;

/// A way on the paper: right and down are positive.
pub(super) type Way = (f64, f64);

/// Gives the way of an arrow key.
pub(super) fn way(key: &str) -> Option<Way> {
    match key {
        "ArrowRight" => Some((1.0, 0.0)),
        "ArrowLeft" => Some((-1.0, 0.0)),
        "ArrowDown" => Some((0.0, 1.0)),
        "ArrowUp" => Some((0.0, -1.0)),
        _ => None,
    }
}

/// Gives the nearest terminal that way; from nowhere, the first of the drawing.
pub(super) fn next(paper: &Element, from: Option<&str>, (right, down): Way) -> Option<String> {
    let terminals = terminals(paper)?;
    let at = |of: &Element| {
        let place = of.get_bounding_client_rect();
        (place.left() + 0.5 * place.width(), place.top() + 0.5 * place.height())
    };
    let Some((x, y)) = terminals.iter().find(|(name, _)| Some(name.as_str()) == from).map(|(_, of)| at(of)) else {
        return terminals.into_iter().next().map(|(name, _)| name);
    };
    let far = |of: &Element| {
        let (to_x, to_y) = at(of);
        let (along, aside) = ((to_x - x) * right + (to_y - y) * down, (to_x - x) * down + (to_y - y) * right);
        (along > 1.0).then_some(along + ASIDE * aside.abs())
    };
    let ahead = terminals.into_iter().filter_map(|(name, of)| Some((far(&of)?, name)));
    ahead.min_by(|(a, _), (b, _)| a.total_cmp(b)).map(|(_, name)| name)
}

/// Marks a terminal as the one the keys are at, and brings it into sight.
pub(super) fn mark(paper: &Element, terminal: &str) {
    for (name, of) in terminals(paper).unwrap_or_default() {
        if name == terminal {
            // A drawing that cannot be marked is still walked.
            let _ = of.set_attribute("data-here", "");
            of.scroll_into_view();
        } else {
            let _ = of.remove_attribute("data-here");
        }
    }
}

fn terminals(paper: &Element) -> Option<Vec<(String, Element)>> {
    let shadow: ShadowRoot = paper.first_element_child()?.shadow_root()?;
    let found = shadow.query_selector_all("[data-terminal]").ok()?;
    let each = (0..found.length()).filter_map(|at| found.item(at)?.dyn_into::<Element>().ok());
    Some(each.filter_map(|of| Some((of.get_attribute("data-terminal")?, of))).collect())
}
