//! The program `callwright`: parses what was asked, runs it, prints, and exits with a number that says whose turn it is.

mod args;
mod clock;
mod commands;
mod failure;
mod kit;
mod output;
mod shelf;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(error) => return output::usage(&error),
    };
    match commands::run(args) {
        Ok(code) => code,
        Err(failure) => failure.report(),
    }
}
