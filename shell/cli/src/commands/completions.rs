//! `callwright completions`: what a shell needs to complete the commands.

use crate::args::Args;
use crate::failure::Failure;
use crate::output;
use clap::CommandFactory;
use clap_complete::Shell;
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(shell: Shell, as_json: bool) -> Result<ExitCode, Failure> {
    let mut written = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), "callwright", &mut written);
    let script = String::from_utf8(written).map_err(|error| Failure::Bug(error.to_string()))?;
    if as_json {
        output::json(&json!({ "shell": shell.to_string(), "script": script }));
    } else {
        output::raw(&script);
    }
    Ok(ExitCode::SUCCESS)
}
