//! The drawing: a ladder diagram of a machine, laid out from its description.
//!
//! Three steps, each its own module: `graph` says what is drawn (symbols, leads, rails), `layout` says in which row and
//! column, [`scene`] is the finished picture as plain data. [`svg`] prints a scene and [`words`] says it. The crate
//! solves no circuit: what a state does, what may be live and who is suspected are handed in as [`Layers`].

mod colors;
mod compose;
mod glyph;
mod graph;
mod layers;
mod layout;
mod metrics;
pub mod scene;
pub mod svg;
pub mod words;

pub use colors::{Market, color_code, market_of};
pub use compose::draw;
pub use layers::{Layers, Volts};
pub use scene::Scene;

use machine::model::PartId;

/// What is asked of the drawing.
#[derive(Clone, Debug, Default)]
pub struct Question {
    /// Parts that matter; the ways from the supply through them are drawn and the rest is folded away.
    /// `None` draws everything.
    pub only: Option<Vec<PartId>>,
    /// What is shown on top of the wiring.
    pub layers: Layers,
}
