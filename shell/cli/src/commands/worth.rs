//! `callwright worth`: a repair weighed against a new appliance.

use crate::args::Worth;
use crate::failure::Failure;
use crate::{output, shelf};
use call::{Supposed, weigh};
use std::process::ExitCode;

pub(crate) fn run(asked: &Worth, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(&asked.machine)?;
    let said = Supposed {
        age: asked.age,
        new_price: asked.new_price,
        life: asked.life,
        kwh_more: asked.kwh_more,
        energy_price: asked.energy_price,
        uses_more: asked.uses_more,
        warranty: asked.warranty,
        referred: asked.refer,
        repairs: asked.repairs,
        interest: asked.interest,
        years: asked.years,
    };
    let weighed = weigh(&machine.kind, asked.repair, asked.call_out, &said).ok_or_else(|| {
        Failure::Input("amounts, years and per cent count from 0 up; a life must be longer than that".to_owned())
    })?;
    let plot = screens::worth(&weighed, &machine.currency);
    if as_json {
        let said = weighed.say(&machine.currency);
        output::json(
            &serde_json::json!({ "said": said, "assumptions": weighed.assumptions, "up_to": weighed.up_to, "curves": [plot] }),
        );
        return Ok(ExitCode::SUCCESS);
    }
    plot.words.iter().for_each(|say| output::line(say));
    Ok(ExitCode::SUCCESS)
}
