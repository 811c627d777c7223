//! The picture in words: supply, then rung by rung from left to right, then what is driven and what is folded away.

use super::easel::Easel;
use super::{Sheet, name_of};
use crate::graph::{Bar, Chain, Item, ItemKind, Step};
use crate::layout::start_of;
use crate::scene::Line;
use crate::{Volts, color_code};
use machine::model::{Conductor, PartId, TerminalId};

/// Writes the list.
pub(crate) fn tell(easel: &mut Easel<'_>, sheet: &Sheet<'_>, loose: &[PartId]) {
    tell_supply(easel);
    let mut number = 0;
    for plan in sheet.plans {
        let rows = plan.grid.rows.iter().max().map_or(0, |row| row + 1);
        for row in 0..rows {
            let here = plan.grid.chains.iter().zip(&plan.grid.rows).filter(|(_, at)| **at == row);
            let mut chains: Vec<&Chain> = here.map(|(chain, _)| &sheet.net.chains[*chain]).collect();
            chains.sort_by_key(|chain| plan.grid.channels[chain.from]);
            let mut end = None;
            for chain in chains {
                if end != Some(chain.from) {
                    number += 1;
                    let from = say_bar(easel, sheet.net.bars[chain.from]);
                    say(easel, format!("Rung {number}, from {from}"), false);
                }
                chain.steps.iter().for_each(|step| tell_step(easel, &sheet.items[step.item], sheet, *step));
                end = Some(chain.to);
                let to = say_bar(easel, sheet.net.bars[chain.to]);
                say(easel, format!("to {to}"), true);
            }
        }
    }
    tell_driven(easel, loose);
    if !easel.scene.folded.is_empty() {
        let text = format!("Folded away: {}", easel.scene.folded.join(", "));
        say(easel, text, false);
    }
}

fn say(easel: &mut Easel<'_>, text: String, under: bool) {
    easel.scene.words.push(Line { text, under });
}

fn tell_supply(easel: &mut Easel<'_>) {
    let machine = easel.machine;
    say(easel, "Supply".to_owned(), false);
    for (id, part) in (0..).map(PartId).zip(&machine.parts).filter(|(_, part)| part.installation) {
        let terminals: Vec<String> = (0..)
            .map(TerminalId)
            .zip(&machine.terminals)
            .filter(|(_, terminal)| terminal.part == id && !terminal.hidden)
            .map(|(id, _)| format!("{}{}", machine.say_terminal(id), of_terminal(easel, id)))
            .collect();
        let text = match terminals.is_empty() {
            true => format!("{}{}", part.name, of_part(easel, id)),
            false => format!("{}{}: {}", part.name, of_part(easel, id), terminals.join(", ")),
        };
        say(easel, text, true);
    }
}

fn tell_step(easel: &mut Easel<'_>, item: &Item, sheet: &Sheet<'_>, step: Step) {
    let machine = easel.machine;
    let part = &machine[item.part];
    let from = start_of(sheet.items, step);
    let to = if step.turned { item.from } else { item.to };
    let mut text = match (item.kind, &part.color) {
        (ItemKind::Lead, Some(color)) => {
            format!("lead {}, {color} ({})", part.id, color_code(easel.scene.market, color))
        }
        (ItemKind::Lead, None) => format!("lead {}", part.id),
        (ItemKind::Symbol(_), _) => name_of(machine, item),
    };
    let full = item.kind == ItemKind::Lead;
    let point = |terminal: TerminalId| match machine[terminal].name.contains('.') {
        true if !full => machine.label(terminal).to_owned(),
        _ => machine.say_terminal(terminal),
    };
    text += &format!(", {}{} to {}{}", point(from), of_terminal(easel, from), point(to), of_terminal(easel, to));
    if let Some(closed) = easel.closed(&item.branches) {
        text += if closed { ", closed" } else { ", open" };
    }
    if let Some(amps) = easel.layers.amps_of(&item.branches) {
        text += &format!(", carries {amps:.2} A");
    }
    text += &of_part(easel, item.part);
    say(easel, text, true);
}

/// Says what the layers show of a terminal.
fn of_terminal(easel: &Easel<'_>, terminal: TerminalId) -> String {
    let mut said = Vec::new();
    said.extend(easel.layers.volts_at(terminal).map(|volts| match volts {
        Volts::Value(value) => format!("{value:.1} V"),
        Volts::Floats(highest) => format!("floats, up to {highest:.0} V"),
    }));
    if easel.layers.is_live(terminal) {
        said.push("may be live".to_owned());
    }
    if easel.layers.red == Some(terminal) {
        said.push("red probe".to_owned());
    }
    if easel.layers.black == Some(terminal) {
        said.push("black probe".to_owned());
    }
    if said.is_empty() { String::new() } else { format!(" ({})", said.join(", ")) }
}

fn of_part(easel: &Easel<'_>, part: PartId) -> String {
    easel.layers.share_of(part).map_or_else(String::new, |share| format!(", suspect {:.0} %", share * 100.0))
}

fn say_bar(easel: &Easel<'_>, bar: Bar) -> String {
    match bar {
        Bar::Left(conductor) | Bar::Right(conductor) => match conductor {
            Conductor::Leg1 => "leg 1".to_owned(),
            Conductor::Leg2 => "leg 2".to_owned(),
            Conductor::Neutral => "neutral".to_owned(),
            Conductor::Ground => "the frame".to_owned(),
        },
        Bar::Terminal(terminal) => easel.machine.say_terminal(terminal),
        Bar::Bend(_) => "where it came from".to_owned(),
    }
}

fn tell_driven(easel: &mut Easel<'_>, loose: &[PartId]) {
    let machine = easel.machine;
    if loose.is_empty() {
        return;
    }
    say(easel, "Without current".to_owned(), false);
    for part in loose {
        let by: Vec<&str> = machine[*part].driven_by.iter().map(|driver| machine[*driver].name.as_str()).collect();
        let what = if by.is_empty() { String::new() } else { format!(", driven by {}", by.join(" and ")) };
        let text = format!("{}{what}{}", machine[*part].name, of_part(easel, *part));
        say(easel, text, true);
    }
}
