//! Finding and running the workspace's benchmarks. Knows no figures: each benchmark prints its own.

use crate::tidy::crates::find_crates;
use std::io;
use std::path::Path;
use std::process::Command;

/// Names the crates that have a `benches` folder.
///
/// # Errors
/// A folder or manifest cannot be read.
pub fn crates_with_benches(root: &Path) -> io::Result<Vec<String>> {
    let crates = find_crates(root)?;
    Ok(crates.into_iter().filter(|c| root.join(&c.folder).join("benches").is_dir()).map(|c| c.name).collect())
}

/// Runs one crate's benchmarks; tells whether they passed.
///
/// # Errors
/// Cargo cannot be started.
pub fn run(root: &Path, name: &str) -> io::Result<bool> {
    // Cargo hands its own path down, so that a second Rust on the machine is not mixed in.
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let status = Command::new(cargo).args(["bench", "--package", name, "--benches"]).current_dir(root).status()?;
    Ok(status.success())
}
