//! `callwright drawing`: the machine as a ladder diagram, with what a state does and what may be live on top.

use crate::args::{Drawing, PaperWord};
use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use danger::{Energy, LiveMap};
use drawing::svg::{Paper, svg};
use drawing::{Layers, Question};
use machine::model::{Machine, PartId};
use prediction::{Meter, Predictor};
use screens::layers::{of_state, terminals};
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(asked: &Drawing, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(&asked.machine)?;
    let only = parts(&machine, &asked.only)?;
    let mut layers = match &asked.state {
        Some(state) => {
            let (state, faults) = (shelf::state(&machine, state)?, shelf::faults(&machine, &asked.faults)?);
            of_state(&Predictor::new(&machine, *meter), state, &faults)
        }
        None => Layers::default(),
    };
    if asked.live {
        let map = LiveMap::of(&machine, &Energy::found());
        layers.live = Some(terminals(&machine).filter(|terminal| map.may_be_live(*terminal)).collect());
    }
    let question = Question { only: (!only.is_empty()).then_some(only), layers };
    let scene = drawing::draw(&machine, &question);
    if let Some(file) = &asked.svg {
        let paper = asked.paper.map(|paper| match paper {
            PaperWord::A4 => Paper::A4,
            PaperWord::Letter => Paper::Letter,
        });
        write(file, &svg(&scene, paper))?;
    }
    if as_json {
        let value =
            serde_json::to_value(&scene).map_err(|error| Failure::Bug(format!("a scene is no JSON: {error}")))?;
        output::json(&value);
    } else if asked.text || asked.svg.is_none() {
        output::raw(&drawing::words::text(&scene));
    }
    Ok(ExitCode::SUCCESS)
}

fn write(file: &Path, text: &str) -> Result<(), Failure> {
    let shown = file.display();
    std::fs::write(file, text).map_err(|error| Failure::SetUp(format!("cannot write `{shown}`: {error}")))
}

fn parts(machine: &Machine, names: &[String]) -> Result<Vec<PartId>, Failure> {
    let known: Vec<String> = machine.parts.iter().map(|part| part.id.clone()).collect();
    names
        .iter()
        .map(|name| shelf::position(&known, name).map(PartId).ok_or_else(|| unknown("part", name, &known)))
        .collect()
}
