//! Prints how long an oven takes to 175 °C: `cargo run -p circuit --example heat_up -- FILE.json`.
//!
//! The file has the form of `tests/reference/oven.json`. Printed is one JSON object: for each case
//! `{"seconds_to_175C": number}`, or `null` for an oven that never gets there.

mod oven;

use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut arguments = std::env::args_os().skip(1);
    let (Some(file), None) = (arguments.next(), arguments.next()) else {
        return fail("name one JSON file with `parameters` and `cases`");
    };
    let name = file.to_string_lossy().into_owned();
    let text = match std::fs::read_to_string(&file) {
        Ok(text) => text,
        Err(error) => return fail(&format!("cannot read `{name}`: {error}")),
    };
    match oven::Ovens::read(&text).and_then(|ovens| ovens.times()) {
        Ok(times) => match writeln!(std::io::stdout().lock(), "{}", oven::print(&times)) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => fail(&format!("cannot print: {error}")),
        },
        Err(mistake) => fail(&format!("{name}: {mistake}")),
    }
}

fn fail(message: &str) -> ExitCode {
    // Nothing is left to do if standard error is closed too.
    let _ = writeln!(std::io::stderr(), "error: {message}");
    ExitCode::FAILURE
}
