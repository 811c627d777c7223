//! The text alternative as one text.

use crate::scene::Scene;

/// Prints the list of a scene, one line an entry, what belongs under another indented.
#[must_use]
pub fn text(scene: &Scene) -> String {
    let mut text = format!("{}\n", scene.title);
    for line in &scene.words {
        text.push_str(if line.under { "  " } else { "" });
        text.push_str(&line.text);
        text.push('\n');
    }
    text
}
