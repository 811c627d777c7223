//! Checks of the workspace itself, as a library so that they can be tested on small workspaces.

pub mod bench;
pub mod tidy;
