//! A repair as a printed procedure: tools, cautions, making safe, the way in, the change, the way back, proofs, with the part's
//! rung of the drawing. Out of the description alone, in the shop's own name.

use book::Letterhead;
use documents::{Block, Page};
use drawing::{Layers, Question};
use machine::faults::RepairKind;
use machine::model::{Machine, PartId, RepairId, StateId, TerminalId};
use prediction::{Condition, Predictor, Probe, Quantity, Reading};
use std::collections::BTreeSet;
use teardown::{Open, Step, plan_teardown};

/// Writes the procedure of a repair.
///
/// # Errors
/// The part cannot be reached by what is described, or the repair is for those licensed for it; in words.
pub fn procedure(predictor: &Predictor<'_>, repair: RepairId, shop: &Letterhead) -> Result<Page, String> {
    let machine = predictor.machine();
    let of = &machine[repair];
    if of.kind == RepairKind::Refer {
        return Err(format!("to {} is for those licensed for it; there is no procedure for it", of.say));
    }
    let parts: Vec<PartId> = std::iter::once(of.part).chain(of.together.iter().copied()).collect();
    let places: Vec<_> = parts.iter().map(|part| machine[*part].place).collect();
    let plan =
        plan_teardown(&machine.access, &places, &Open::nothing()).map_err(|blocked| blocked.say(&machine.access))?;
    let mut page = Page::new(format!("Procedure: {}", of.say));
    let line = |page: &mut Page, text: String| page.blocks.push(Block::Line(text));
    if !shop.name.is_empty() {
        line(&mut page, shop.name.clone());
    }
    line(&mut page, machine.title.clone());
    line(&mut page, format!("About {:.0} minutes with the way in and back.", plan.minutes() + of.minutes));
    page.blocks.push(Block::Small(
        "Local codes and licensed practice come first. Stop where the machine is not as described.".to_owned(),
    ));

    heading(&mut page, "What it cures");
    let cured = machine.faults.iter().filter(|fault| fault.repair == repair);
    cured.for_each(|fault| line(&mut page, format!("{}: {}", machine[fault.part].name, fault.say)));

    heading(&mut page, "Tools");
    let steps = plan.steps_in.iter().chain(&plan.steps_back);
    let tools: BTreeSet<&str> =
        steps.clone().flat_map(|step| step.fasteners.iter().map(|of| of.tool.as_str())).collect();
    tools.into_iter().filter(|tool| !tool.is_empty()).for_each(|tool| line(&mut page, tool.to_owned()));
    line(&mut page, "a meter proved on a live source before and after".to_owned());
    let people = steps.clone().map(|step| step.people).max().unwrap_or(1);
    if people > 1 {
        line(&mut page, format!("{people} people for what is heavy"));
    }

    heading(&mut page, "Make it safe");
    let off =
        if machine.supply.receptacle.is_some() { "Unplug it" } else { "Switch the disconnect off, lock and tag it" };
    line(&mut page, format!("{off}. See that nobody can switch it on."));
    page.blocks.push(Block::Warning(
        "Measure it dead where you work, every conductor to every other and to a proven earth. Nothing else counts as dead.".to_owned(),
    ));
    let cautions: BTreeSet<String> = steps
        .flat_map(|step| &step.cautions)
        .map(|hazard| danger::caution(*hazard, false).sentence.to_owned())
        .collect();
    cautions.into_iter().for_each(|caution| page.blocks.push(Block::Warning(caution)));

    way(&mut page, "The way in", &plan.steps_in);
    heading(&mut page, "Read it before it is changed");
    let sound = sound(predictor, of.part);
    if sound.is_empty() {
        line(&mut page, format!("Look at the {} for damage.", machine[of.part].name));
    }
    sound.into_iter().for_each(|say| line(&mut page, say));
    heading(&mut page, "The repair");
    line(&mut page, format!("{}. About {:.0} minutes.", call::capital(&of.say), of.minutes));
    for part in &of.together {
        line(&mut page, format!("Change the {} in the same go.", machine[*part].name));
    }
    way(&mut page, "The way back", &plan.steps_back);

    heading(&mut page, "Before it is handed back");
    for proof in &machine.proofs {
        let later = if proof.deferred_hours > 0.0 {
            format!(", {:.0} hours later", proof.deferred_hours)
        } else {
            String::new()
        };
        line(&mut page, format!("{}{later} ({})", proof.say, proof.source));
    }
    heading(&mut page, "Where it is in the wiring");
    let question = Question { only: Some(parts), layers: Layers::default() };
    page.blocks.push(Block::Drawing(drawing::svg::svg(&drawing::draw(machine, &question), None)));
    Ok(page)
}

fn heading(page: &mut Page, text: &str) {
    page.blocks.push(Block::Heading(text.to_owned()));
}

fn way(page: &mut Page, title: &str, steps: &[Step]) {
    heading(page, title);
    if steps.is_empty() {
        page.blocks.push(Block::Line("Nothing stands before it.".to_owned()));
        return;
    }
    let row = |(number, step): (usize, &Step)| {
        let fasteners: Vec<String> =
            step.fasteners.iter().map(|of| format!("{} x {}, {}", of.count, of.what, of.tool)).collect();
        let last = step.keep_for_last.clone().into_iter();
        let notes: Vec<String> = fasteners.into_iter().chain(last).collect();
        vec![number.to_string(), format!("{} ({})", step.say, step.side), notes.join("; ")]
    };
    page.blocks.push(Block::Table {
        head: vec!["No.".to_owned(), "What".to_owned(), "With".to_owned()],
        rows: (1..).zip(steps).map(row).collect(),
        money: false,
    });
}

/// What a sound part shows in ohms between each two of its own terminals, unplugged, as it stands in the circuit.
fn sound(predictor: &Predictor<'_>, part: PartId) -> Vec<String> {
    let machine: &Machine = predictor.machine();
    let own: Vec<TerminalId> = machine[part].terminals.iter().copied().filter(|at| !machine[*at].hidden).collect();
    let pairs = own.iter().enumerate().flat_map(|(at, one)| own[at + 1..].iter().map(move |other| (*one, *other)));
    let shown = pairs.take(4).map(|(one, other)| {
        let probe = Probe::Across(one, other);
        let reading = Reading { quantity: Quantity::Ohms, probe, condition: Condition::isolated(StateId(0)) };
        let sound = predictor.predict(&reading, &[]);
        let expected = diagnosis::words::expected(&sound, reading.quantity, predictor.meter());
        format!("Ohms, {}: a sound one shows {expected}.", diagnosis::words::probe(machine, probe))
    });
    shown.collect()
}
