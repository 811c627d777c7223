//! What a thumb can do.

use rehearsal::practice::Difficulty;
use serde::{Deserialize, Serialize};

/// One thing done on a screen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Touch {
    /// On the day: begins a call on this machine.
    NewCall {
        /// Its id.
        machine: String,
    },
    /// On the day: begins the demo's call.
    Demo,
    /// On the day: goes to the demo's shop and its Monday.
    DemoShop,
    /// In the demo's shop: back to the own one.
    OwnShop,
    /// On the day: goes on with the call that was broken off.
    GoOn,
    /// On the day: makes the visit that a job waits for, by its place in the list.
    Visit {
        /// Place, from 0.
        at: usize,
    },
    /// On the day: shows a machine as it is described.
    Machine {
        /// Its id.
        machine: String,
    },
    /// On the day: practises on a hidden fault of this machine.
    Practice {
        /// The machine's id.
        machine: String,
        /// How hard.
        difficulty: Difficulty,
    },
    /// On the day: shows the van.
    Van,
    /// On the day: shows the shop's settings.
    Settings,
    /// On the day: describes a machine.
    Describe,
    /// On the day: shows the customers and their appliances.
    Customers,
    /// On the day: looks back on the months.
    Months,
    /// To the shop's server and its devices.
    Devices,
    /// On the day: shows what is to be invoiced and paid.
    Money,
    /// On the day: plans a day's visits.
    Plan,
    /// In the settings, the van or a description: sets a field.
    Set {
        /// The field's id.
        id: String,
        /// As typed.
        value: String,
    },
    /// From anywhere back to the day; a call or a lesson stays where it is.
    Day,
    /// Answers what is asked, as typed: `15.2`, `OL`, `yes`, `done`, a choice's id; or goes an own way, such as
    /// `cannot reach`.
    Answer(String),
    /// Signs what is asked to be signed.
    Sign {
        /// The name of the one who signs.
        name: String,
        /// The strokes, as [`book::Strokes`] are written; none where only the name is given.
        strokes: String,
    },
    /// Keeps a picture of the machine: a JPEG in base64. Where one is asked for, that is answered too.
    Photo(String),
    /// Takes what the demo's appliance shows or its people say.
    TakeOffered,
    /// Takes the last answer back.
    Undo,
    /// Puts a probe on a terminal in the drawing, by name: red first, then black, then red anew.
    Probe(String),
    /// Takes both probes off.
    LiftProbes,
    /// Draws the machine in this state, by id.
    State(String),
    /// Has a page that can be handed out set as PDF by the shop's server, by its id. The shell's alone: it asks the server.
    AsPdf(String),
    /// Shows or hides a sheet.
    Sheet(Sheet),
    /// Shows only what matters in the drawing, or everything.
    Fold(bool),
}

/// Sheets that are worked out only when they are open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sheet {
    /// None.
    None,
    /// The drawing.
    Drawing,
    /// The papers: quote and record.
    Papers,
    /// The photos of the appliance.
    Photos,
    /// The curves: suspects over what was found, and heat over time.
    Curves,
}
