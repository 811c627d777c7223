//! `callwright rehearse`: the tool and its rivals on the same hidden faults.

use crate::failure::Failure;
use std::process::ExitCode;

pub(crate) fn run(_name: &str, _calls: usize, _seed: u64, _as_json: bool) -> Result<ExitCode, Failure> {
    Err(Failure::Bug("rehearsal is not built in".to_owned()))
}
