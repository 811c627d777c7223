//! `cargo xtask`: checks of the workspace itself. Knows nothing of the trade.
#![expect(clippy::print_stdout, clippy::print_stderr, reason = "a command for the terminal")]

use std::path::{Path, PathBuf};
use std::process::ExitCode;

const USAGE: &str = "usage: cargo xtask tidy    hold the workspace to its own rules
       cargo xtask bench   run every benchmark there is
       cargo run --package xtask --features app -- app MODULE FOLDER
                           make the app's static folder from its module (scripts/build-app.sh does both)";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["tidy"] => tidy(&root()),
        ["bench"] => bench(&root()),
        #[cfg(feature = "app")]
        ["app", module, folder] => app(&root(), Path::new(module), Path::new(folder)),
        _ => {
            eprintln!("{USAGE}");
            ExitCode::from(2)
        }
    }
}

/// The workspace's root: xtask sits right below it.
fn root() -> PathBuf {
    let own = Path::new(env!("CARGO_MANIFEST_DIR"));
    own.parent().unwrap_or(own).to_path_buf()
}

fn tidy(root: &Path) -> ExitCode {
    let checked = xtask::tidy::check(root).and_then(|mut report| {
        report.findings.extend(xtask::tidy::supply::check(root)?);
        Ok(report)
    });
    let report = match checked {
        Ok(report) => report,
        Err(error) => {
            eprintln!("tidy: {error}");
            return ExitCode::from(2);
        }
    };
    for finding in &report.findings {
        eprintln!("{finding}");
    }
    if report.findings.is_empty() {
        println!("tidy: {} files and {} crates, nothing to mend", report.files, report.crates);
        return ExitCode::SUCCESS;
    }
    eprintln!("tidy: {} to mend", report.findings.len());
    ExitCode::FAILURE
}

#[cfg(feature = "app")]
fn app(root: &Path, module: &Path, folder: &Path) -> ExitCode {
    match xtask::app::make(root, module, folder) {
        Ok(files) => {
            println!("app: {files} files and the service worker in {}", folder.display());
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("app: {error}");
            ExitCode::from(2)
        }
    }
}

fn bench(root: &Path) -> ExitCode {
    let crates = match xtask::bench::crates_with_benches(root) {
        Ok(crates) => crates,
        Err(error) => {
            eprintln!("bench: {error}");
            return ExitCode::from(2);
        }
    };
    if crates.is_empty() {
        println!("bench: no crate has benchmarks yet");
    }
    for name in crates {
        println!("bench: {name}");
        match xtask::bench::run(root, &name) {
            Ok(true) => {}
            Ok(false) => return ExitCode::FAILURE,
            Err(error) => {
                eprintln!("bench: cargo could not be started: {error}");
                return ExitCode::from(2);
            }
        }
    }
    ExitCode::SUCCESS
}
