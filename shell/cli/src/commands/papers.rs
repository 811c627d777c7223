//! `callwright papers`, and every page that a command typesets into a file.

use crate::failure::Failure;
use crate::output;
use documents::Page;
use std::path::Path;
use std::process::ExitCode;
use typeset::{Sheet, TEMPLATE};

/// Prints the program's template, or tries the shop's own on a page that has every kind of block.
pub(crate) fn run(check: Option<&Path>, as_json: bool) -> Result<ExitCode, Failure> {
    let Some(file) = check else {
        if as_json {
            output::json(&serde_json::json!({ "template": TEMPLATE }));
        } else {
            output::raw(TEMPLATE);
        }
        return Ok(ExitCode::SUCCESS);
    };
    let shown = file.display();
    let text =
        std::fs::read_to_string(file).map_err(|error| Failure::Input(format!("cannot read `{shown}`: {error}")))?;
    tried(&text)?;
    if as_json {
        output::json(&serde_json::json!({ "usable": true }));
    } else {
        output::line("it can be used; keep it with: callwright settings --set template=@FILE");
    }
    Ok(ExitCode::SUCCESS)
}

/// Refuses a template that cannot be used.
pub(crate) fn tried(template: &str) -> Result<(), Failure> {
    typeset::check(template).map_err(|not| {
        Failure::Input(format!("{not}\nnothing was kept; compare it with the program's own: callwright papers"))
    })
}

/// Typesets a page into a file, on the paper that is usual in the shop's country.
pub(crate) fn typeset(page: &Page, country: &str, template: Option<&str>, file: &Path) -> Result<(), Failure> {
    let set = typeset::pdf(page, Sheet::usual_in(country), template.unwrap_or(TEMPLATE));
    let bytes = set.map_err(|not| Failure::Input(not.to_string()))?;
    std::fs::write(file, bytes).map_err(|error| Failure::SetUp(format!("cannot write `{}`: {error}", file.display())))
}
