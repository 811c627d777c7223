//! What the worker tells the page.

use screens::Screen;
use serde::{Deserialize, Serialize};

/// One message.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Told {
    /// What is shown now.
    Screen(Box<Screen>),
    /// Another tab writes the book; this one waits for it.
    Elsewhere,
    /// Records of the open book that cannot be read, in words; the rest is safe.
    Damaged(Vec<String>),
    /// Something that must be said and that no touch mends, with what to do.
    Trouble {
        /// What.
        say: String,
        /// What to do.
        mend: String,
    },
    /// A file to be handed out: its name, and its bytes in base64.
    File {
        /// Its name.
        name: String,
        /// Its bytes.
        base64: String,
    },
    /// The browser would not promise to keep the book: it may be cleared when room gets short.
    NotPersistent,
}
