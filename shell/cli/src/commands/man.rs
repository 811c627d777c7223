//! `callwright man`: the manual pages, one on standard output or all into a folder.

use crate::args::Args;
use crate::failure::Failure;
use crate::output;
use clap::CommandFactory;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

pub(crate) fn run(folder: Option<&Path>, as_json: bool) -> Result<ExitCode, Failure> {
    match folder {
        Some(folder) => all(folder, as_json),
        None => one(as_json),
    }
}

fn one(as_json: bool) -> Result<ExitCode, Failure> {
    let mut written = Vec::new();
    clap_mangen::Man::new(Args::command()).render(&mut written).map_err(|error| Failure::Bug(error.to_string()))?;
    let page = String::from_utf8(written).map_err(|error| Failure::Bug(error.to_string()))?;
    if as_json {
        output::json(&json!({ "page": page }));
    } else {
        output::raw(&page);
    }
    Ok(ExitCode::SUCCESS)
}

fn all(folder: &Path, as_json: bool) -> Result<ExitCode, Failure> {
    let trouble = |error: std::io::Error| Failure::SetUp(format!("cannot write to `{}`: {error}", folder.display()));
    std::fs::create_dir_all(folder).map_err(trouble)?;
    clap_mangen::generate_to(Args::command(), folder).map_err(trouble)?;
    let mut pages: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(trouble)? {
        let path = entry.map_err(trouble)?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        if name.starts_with("callwright") && name.ends_with(".1") {
            pages.push(path);
        }
    }
    pages.sort();
    let pages: Vec<String> = pages.iter().map(|page| page.display().to_string()).collect();
    if as_json {
        output::json(&json!({ "files": pages }));
    } else {
        pages.iter().for_each(|page| output::line(page));
    }
    Ok(ExitCode::SUCCESS)
}
