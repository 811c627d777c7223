//! Prints the readings of a reference circuit: `cargo run -p circuit --example reference_circuit -- DIR`.
//!
//! The folder holds `elements.csv`, `states.csv`, `faults.csv` and `probes.csv`, and may hold one `.cir` file, of
//! which only the frequency is used. Printed is one row for each state, fault and probe, as `readings.csv` has them.

mod folder;
mod readings;
mod rows;
mod sense;

use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut arguments = std::env::args_os().skip(1);
    let (Some(dir), None) = (arguments.next(), arguments.next()) else {
        return fail("name one folder with `elements.csv`, `states.csv`, `faults.csv` and `probes.csv`");
    };
    let text = folder::Folder::read(dir.as_ref())
        .and_then(|folder| readings::all(&folder, readings::Way::LowRank))
        .map(|readings| rows::print(&readings));
    match text {
        Ok(text) => match std::io::stdout().lock().write_all(text.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => fail(&format!("cannot print: {error}")),
        },
        Err(mistake) => fail(&mistake.to_string()),
    }
}

fn fail(message: &str) -> ExitCode {
    // Nothing is left to do if standard error is closed too.
    let _ = writeln!(std::io::stderr(), "error: {message}");
    ExitCode::FAILURE
}
