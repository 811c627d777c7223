//! One file a command; this one only hands on.

mod call;
mod callfile;
mod check;
mod live;
mod machines;
mod measure;
mod next;
mod rehearse;
mod suspects;
mod symptoms;
mod teardown;

use crate::args::{Args, Command};
use crate::failure::Failure;
use crate::output;
use std::process::ExitCode;

/// Runs what was asked.
pub(crate) fn run(args: Args) -> Result<ExitCode, Failure> {
    let json = args.json;
    match args.command {
        Command::Machines => machines::run(json),
        Command::Check { files } => check::run(&files, json),
        Command::Schema => {
            output::json(&machine::schema());
            Ok(ExitCode::SUCCESS)
        }
        Command::Measure(asked) => measure::run(&asked, json),
        Command::Symptoms { machine, faults } => symptoms::run(&machine, &faults, json),
        Command::Suspects { callfile, top } => suspects::run(&callfile, top, json),
        Command::Next { callfile, nodes } => next::run(&callfile, nodes, json),
        Command::Teardown { machine, to } => teardown::run(&machine, &to, json),
        Command::Live { machine, isolated } => live::run(&machine, isolated, json),
        Command::Rehearse { machine, calls, seed } => rehearse::run(&machine, calls, seed, json),
        Command::Call(asked) => call::run(&asked, json),
    }
}
