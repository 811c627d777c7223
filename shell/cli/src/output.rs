//! The one place that prints: text or JSON on standard output, complaints on standard error.
#![expect(clippy::print_stderr, reason = "printing is what this file is for")]

use serde_json::Value;
use std::io::Write;
use std::process::ExitCode;

/// Prints a line of the answer.
pub(crate) fn line(text: &str) {
    say(format_args!("{text}\n"));
}

/// Writes to standard output; a reader that has gone away is no reason to stop working.
fn say(text: std::fmt::Arguments<'_>) {
    let _ = std::io::stdout().write_fmt(text);
}

/// Prints text that has its own line ends.
pub(crate) fn raw(text: &str) {
    say(format_args!("{text}"));
}

/// Prints without ending the line and sends it out: a prompt.
pub(crate) fn prompt(text: &str) {
    say(format_args!("{text}"));
    // A prompt that cannot be shown is no reason to stop: the answer may come from a pipe.
    let _ = std::io::stdout().flush();
}

/// Prints one JSON object.
pub(crate) fn json(value: &Value) {
    say(format_args!("{value:#}\n"));
}

/// Prints a complaint on standard error.
pub(crate) fn complain(text: &str) {
    eprintln!("callwright: {text}");
}

/// Prints clap's message; help and version are no errors.
pub(crate) fn usage(error: &clap::Error) -> ExitCode {
    // Printing help to a closed pipe is nothing to report.
    let _ = error.print();
    if error.use_stderr() { ExitCode::from(1) } else { ExitCode::SUCCESS }
}

/// Says whether colours may be used: not with `NO_COLOR`, not into a pipe.
pub(crate) fn colours() -> bool {
    use std::io::IsTerminal;
    std::env::var_os("NO_COLOR").is_none() && std::io::stdout().is_terminal()
}

/// Puts text in bold where colours may be used.
pub(crate) fn bold(text: &str) -> String {
    if colours() { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
}
