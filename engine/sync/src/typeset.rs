//! A page that a device has its server set as PDF: fonts and a typesetter are several times the app.
//!
//! Refuses to know what stands on a page.

use crate::exchange::Question;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A page on its way to the server's typesetter. Nothing of it is kept there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToTypeset {
    /// The page as plain data.
    pub page: Value,
    /// The shop's country by its two letters of ISO 3166-1: from it follows the paper.
    pub country: String,
    /// The shop's own template; the server's where there is none.
    #[serde(default)]
    pub template: Option<String>,
}

impl ToTypeset {
    /// Asks for it.
    #[must_use]
    pub fn question(&self) -> Question {
        // A page that was made from texts always has a text.
        Question { path: "typeset/1".to_owned(), body: serde_json::to_vec(self).unwrap_or_default() }
    }
}
