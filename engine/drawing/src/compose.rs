//! From rows and columns to the finished scene: supply on top, the ladder in its banks, what is driven, and the keys.

mod easel;
mod head;
mod ladder;
mod notes;
mod strip;
mod telling;

use crate::graph::{Item, ItemKind, Net, items, kept, rails};
use crate::layout::{Plan, Tag, Tags, lay_out};
use crate::scene::{Point, Scene};
use crate::{Question, color_code, market_of};
use easel::Easel;
use machine::model::{Machine, PartId, PartKind, TerminalId};

/// Margin around everything.
const MARGIN: f64 = 12.0;
/// Least width of a scene, so that title and supply fit beside each other.
const LEAST_WIDTH: f64 = 640.0;

/// Draws a machine.
///
/// *Exact*: the same machine and question give the same scene, to the bit.
#[must_use]
pub fn draw(machine: &Machine, question: &Question) -> Scene {
    let items = items(machine);
    let rails = rails(machine, &items);
    let mut stays = vec![true; items.len()];
    if let Some(only) = &question.only {
        stays = kept(&items, &Net::new(&items, &stays, &rails), only);
    }
    let net = Net::new(&items, &stays, &rails);
    let tags = tags(machine, &items);
    let plans = lay_out(&items, &net, &tags, head::height(machine) + 60.0, head::LEAST_BANK);

    let mut easel = Easel::new(machine, &question.layers);
    let sheet = Sheet { items: &items, net: &net, tags: &tags, plans: &plans };
    let width = plans.iter().map(|plan| plan.width).sum::<f64>() + 2.0 * MARGIN + head::aside(&sheet);
    easel.scene.width = width.max(LEAST_WIDTH);
    let corner = Point { x: MARGIN, y: MARGIN };
    head::draw(&mut easel, &sheet, corner);
    let mut bottom = ladder::draw(&mut easel, &sheet, corner);
    let loose = loose_parts(machine, &items, question.only.as_deref());
    bottom = strip::draw(&mut easel, &loose, Point { x: MARGIN, y: bottom });
    easel.scene.folded = folded(machine, &items, &stays, &loose);
    telling::tell(&mut easel, &sheet, &loose);
    bottom = notes::draw(&mut easel, &sheet, Point { x: MARGIN, y: bottom });
    easel.scene.height = bottom + MARGIN;
    easel.scene
}

/// What the ladder is made of.
#[derive(Clone, Copy)]
struct Sheet<'a> {
    items: &'a [Item],
    net: &'a Net,
    tags: &'a Tags,
    plans: &'a [Plan],
}

/// Gives everything that is written at items and terminals.
fn tags(machine: &Machine, items: &[Item]) -> Tags {
    let market = market_of(machine);
    let short = |terminal: TerminalId| machine.label(terminal).to_owned();
    let tag = |item: &Item| {
        let part = &machine[item.part];
        let text = match (item.kind, &part.color) {
            (ItemKind::Lead, Some(color)) => format!("{} {}", part.id, color_code(market, color)),
            (ItemKind::Lead, None) => part.id.clone(),
            (ItemKind::Symbol(_), _) => name_of(machine, item),
        };
        Tag { text, ends: (short(item.from), short(item.to)) }
    };
    Tags {
        items: items.iter().map(tag).collect(),
        terminals: (0..).map(TerminalId).zip(&machine.terminals).map(|(id, of)| (short(id), of.name.clone())).collect(),
    }
}

/// Names a stretch of a part: the part, and what of it where the terminals alone do not say it.
fn name_of(machine: &Machine, item: &Item) -> String {
    let part = &machine[item.part];
    let what = item.branches.first().and_then(|branch| machine[*branch].name.split_once(':')).map(|(_, what)| what);
    match (part.kind, what) {
        (PartKind::Control, Some(what)) => format!("{}, {what}", part.name),
        (PartKind::Motor, Some("run")) => format!("{}, main winding", part.name),
        (PartKind::Motor, Some("start")) => format!("{}, start winding", part.name),
        (PartKind::Timer, Some("motor")) => format!("{}, its motor", part.name),
        (PartKind::Relay, Some("coil")) => format!("{}, coil", part.name),
        _ => part.name.clone(),
    }
}

/// Lists the machine's parts that do not conduct.
fn loose_parts(machine: &Machine, items: &[Item], only: Option<&[PartId]>) -> Vec<PartId> {
    (0..)
        .map(PartId)
        .zip(&machine.parts)
        .filter(|(id, part)| !part.installation && items.iter().all(|item| item.part != *id))
        .filter(|(id, _)| only.is_none_or(|only| only.contains(id)))
        .map(|(id, _)| id)
        .collect()
}

fn folded(machine: &Machine, items: &[Item], stays: &[bool], loose: &[PartId]) -> Vec<String> {
    let drawn =
        |id: PartId| loose.contains(&id) || items.iter().zip(stays).any(|(item, stays)| *stays && item.part == id);
    let parts = (0..).map(PartId).zip(&machine.parts);
    parts.filter(|(id, part)| !part.installation && !drawn(*id)).map(|(_, part)| part.id.clone()).collect()
}
