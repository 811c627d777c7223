//! `callwright procedure`: a repair as a printed procedure.

use crate::commands::papers;
use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use book::Letterhead;
use machine::model::RepairId;
use prediction::{Meter, Predictor};
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(
    name: &str,
    repair: &str,
    (html, pdf): (Option<&Path>, Option<&Path>),
    shop: &str,
    as_json: bool,
) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let known: Vec<String> = machine.repairs.iter().map(|of| of.id.clone()).collect();
    let at = shelf::position(&known, repair).ok_or_else(|| unknown("repair", repair, &known))?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let head = Letterhead { name: shop.to_owned(), ..Letterhead::default() };
    let page = screens::procedure(&predictor, RepairId(at), &head).map_err(Failure::Input)?;
    if let Some(file) = html {
        let shown = file.display();
        let text = documents::to_html(&page);
        std::fs::write(file, text).map_err(|error| Failure::SetUp(format!("cannot write `{shown}`: {error}")))?;
    }
    if let Some(file) = pdf {
        papers::typeset(&page, "", None, file)?;
    }
    if as_json {
        output::json(&serde_json::json!({ "title": page.title, "text": documents::to_text(&page) }));
    } else if html.is_none() && pdf.is_none() {
        output::raw(&documents::to_text(&page));
    }
    Ok(ExitCode::SUCCESS)
}
