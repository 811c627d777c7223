//! `callwright sheet`: the wiring as read off the sheet in the cabinet, to a description that can grow.

use crate::args::SheetOf;
use crate::commands::new;
use crate::failure::Failure;
use crate::output;
use machine::sheet::{Mains, Sheet, from_sheet};
use serde_json::json;
use std::io::Read as _;
use std::path::PathBuf;
use std::process::ExitCode;

pub(crate) fn run(asked: &SheetOf, as_json: bool) -> Result<ExitCode, Failure> {
    let typed = read(&asked.sheet)?;
    let title = asked.title.clone().unwrap_or_else(|| format!("{}, as on its sheet", asked.id));
    let of = Sheet { id: asked.id.clone(), title, mains: if asked.line_230 { Mains::Line230 } else { Mains::Legs120 } };
    let shown = if asked.sheet == "-" { "what was typed" } else { &asked.sheet };
    let text = from_sheet(&of, &typed).map_err(|wrong| Failure::Input(format!("{shown}, {wrong}")))?;
    let path = asked.file.clone().unwrap_or_else(|| PathBuf::from(format!("{}.toml", asked.id)));
    let file = new::write_checked(&path, &text)?;
    if as_json {
        output::json(&json!({ "path": file, "machine": asked.id }));
    } else {
        output::line(&format!("{file}: written; `callwright call {file}` finds the fault on it"));
    }
    Ok(ExitCode::SUCCESS)
}

/// Reads the string from a file, or from standard input for `-`.
fn read(name: &str) -> Result<String, Failure> {
    let cannot = |error: std::io::Error| Failure::Input(format!("cannot read `{name}`: {error}"));
    if name != "-" {
        return std::fs::read_to_string(name).map_err(cannot);
    }
    let mut text = String::new();
    std::io::stdin().lock().read_to_string(&mut text).map_err(cannot)?;
    Ok(text)
}
