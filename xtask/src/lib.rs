//! Checks of the workspace itself and the build of the app, as a library so that they can be tested on small workspaces.

#[cfg(feature = "app")]
pub mod app;
pub mod bench;
pub mod guide;
pub mod tidy;
