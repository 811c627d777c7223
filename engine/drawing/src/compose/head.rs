//! The supply on top: house, breaker, receptacle, cord, terminal block, one plumb line a conductor, and the lines that
//! bring each conductor to its rails.

use super::Sheet;
use super::easel::{Easel, Line};
use super::ladder::{Bank, banks};
use crate::glyph::{HALF, Spot};
use crate::graph::Bar;
use crate::layout::{NAME, SMALL};
use crate::metrics;
use crate::scene::{LabelOf, Point, Rect, SymbolKind};
use machine::model::{BranchId, Conductor, Law, Machine, PartId, PartKind, TerminalId};

/// Height from the margin to the ladder, without a residual-current device.
const HEIGHT: f64 = 162.0;
/// What a residual-current device adds.
const RESIDUAL: f64 = 37.0;
/// Room left of the first bank where leg 1 comes down beside it.
const ASIDE: f64 = 14.0;
/// Least width of the first bank: its right rails stand beyond the supply's plumb lines.
pub(crate) const LEAST_BANK: f64 = 270.0;

/// Between the plumb lines.
const PITCH: f64 = 60.0;
// Heights from the head's top.
const HOUSE: f64 = 14.0;
const EARTH: f64 = 24.0;
const BREAKER: f64 = 32.0;
const BREAKER_OUT: f64 = 53.0;
/// Middle and lower terminal of a residual-current device's pole.
const RESIDUAL_POLE: f64 = 71.0;
const RESIDUAL_OUT: f64 = 90.0;
const SLOT: f64 = 68.0;
const PLUG: f64 = 96.0;
const BLOCK: f64 = 114.0;
/// Of the strap to the frame.
const STRAP: f64 = 123.0;
const BUSES: f64 = 134.0;
const BUS_PITCH: f64 = 5.0;
/// Radius of a terminal of the block.
const RING: f64 = 4.5;

/// Gives the terminal of the machine at which a rail starts.
pub(crate) fn rail_terminal(machine: &Machine, conductor: Conductor) -> TerminalId {
    let block = machine.supply.block.iter().find(|(known, _)| *known == conductor);
    block.map_or(machine.supply.frame, |(_, terminal)| *terminal)
}

/// Gives the height from the margin to the ladder.
pub(crate) fn height(machine: &Machine) -> f64 {
    if machine.supply.residual.is_some() { HEIGHT + RESIDUAL } else { HEIGHT }
}

/// Gives the room left of the first bank: leg 1 comes down there if only another bank has its rail.
pub(crate) fn aside(sheet: &Sheet<'_>) -> f64 {
    let leg = sheet.net.bars.iter().position(|bar| *bar == Bar::Left(Conductor::Leg1));
    let first = sheet.plans.first().zip(leg).is_some_and(|(plan, leg)| plan.bars[leg].is_some());
    if leg.is_none() || first { 0.0 } else { ASIDE }
}

/// Gives a conductor's name at a rail.
fn rail_name(conductor: Conductor) -> &'static str {
    match conductor {
        Conductor::Leg1 => "L1",
        Conductor::Leg2 => "L2",
        Conductor::Neutral => "N",
        Conductor::Ground => "CH",
    }
}

/// Draws supply, title and the lines to the rails.
pub(crate) fn draw(easel: &mut Easel<'_>, sheet: &Sheet<'_>, corner: Point) {
    let head = Head::new(easel.machine, corner);
    head.draw_house(easel);
    for (conductor, x) in &head.columns {
        head.draw_column(easel, *conductor, *x);
    }
    head.draw_frame(easel);
    head.draw_names(easel);
    head.draw_buses(easel, sheet, corner);
    head.draw_title(easel);
}

struct Head {
    corner: Point,
    /// Conductors with their plumb lines, the frame's place last.
    columns: Vec<(Conductor, f64)>,
    /// Where the frame stands.
    frame: f64,
    /// By how much everything below the breaker stands lower.
    residual: f64,
}

impl Head {
    fn new(machine: &Machine, corner: Point) -> Self {
        let mut conductors: Vec<Conductor> = machine.supply.block.iter().map(|(conductor, _)| *conductor).collect();
        conductors.sort_unstable();
        let mut at = corner.x + 7.0;
        let mut columns = Vec::new();
        for conductor in conductors {
            columns.push((conductor, at));
            at += PITCH;
        }
        let ground = columns.iter().find(|(conductor, _)| *conductor == Conductor::Ground).map(|(_, x)| *x);
        Self { corner, frame: ground.unwrap_or(at), columns, residual: height(machine) - HEIGHT }
    }

    fn y(&self, down: f64) -> f64 {
        self.corner.y + down + if down > BREAKER_OUT { self.residual } else { 0.0 }
    }

    fn last(&self) -> f64 {
        self.columns.iter().map(|(_, x)| *x).fold(self.frame, f64::max)
    }

    fn draw_house(&self, easel: &mut Easel<'_>) {
        let Some(house) = part_of_kind(easel.machine, PartKind::House) else { return };
        let room = Rect { x: self.corner.x - 4.0, y: self.y(0.0), w: self.last() - self.corner.x + 14.0, h: HOUSE };
        let at = Point { x: room.x + room.w / 2.0, y: self.y(HOUSE / 2.0) };
        easel.symbol(house, SymbolKind::House, &[], Spot { at, stands: false }, room);
        let neutral = self.columns.iter().find(|(conductor, _)| *conductor == Conductor::Neutral);
        let ground = self.columns.iter().find(|(conductor, _)| *conductor == Conductor::Ground);
        let Some((_, x)) = neutral.or(ground) else { return };
        let earth = easel.machine.supply.earth;
        let live = easel.layers.is_live(earth);
        let line = Line { live, ..Line::default() };
        easel.wire(vec![Point { x: *x, y: self.y(HOUSE) }, Point { x: *x, y: self.y(EARTH) }], line);
        let at = Point { x: *x, y: self.y(EARTH) };
        easel.dot(earth, at, Point { x: x - 6.5, y: self.y(EARTH) });
        easel.label_beside(earth, "EARTH", Point { x: x + 5.0, y: self.y(EARTH) + 3.0 });
        if let (Some((_, n)), Some((_, g))) = (neutral, ground) {
            let corner = Point { x: *g, y: self.y(EARTH) };
            easel.wire(vec![Point { x: *n, y: self.y(EARTH) }, corner], line);
        }
    }

    fn draw_column(&self, easel: &mut Easel<'_>, conductor: Conductor, x: f64) {
        let machine = easel.machine;
        let supply = &machine.supply;
        let Some((_, slot)) = supply.slots.iter().find(|(known, _)| *known == conductor) else { return };
        let block = rail_terminal(machine, conductor);
        let feeder = ends_at(machine, *slot, PartKind::Receptacle);
        let contact = ends_at(machine, *slot, PartKind::Cord);
        let blade = contact.map(|branch| other_end(machine, branch, *slot));
        let cord =
            blade.and_then(|blade| machine.branches_at(blade).into_iter().find(|branch| Some(*branch) != contact));
        let poles = feeder.map_or_else(Vec::new, |feeder| poles_above(machine, other_end(machine, feeder, *slot)));
        let at = |down: f64| Point { x, y: self.y(down) };
        let line = |easel: &Easel<'_>, branch: Option<BranchId>, terminal: TerminalId| Line {
            part: None,
            current: branch.is_some_and(|branch| easel.layers.amps_of(&[branch]).is_some()),
            live: easel.layers.is_live(terminal),
        };
        let breaker =
            poles.iter().any(|(_, pole)| Some(machine[*pole].part) == part_of_kind(machine, PartKind::Breaker));
        let mut top = self.y(if breaker { HOUSE } else { EARTH });
        for (load, pole) in poles.iter().rev() {
            let residual = supply.residual.as_ref().is_some_and(|device| device.part == machine[*pole].part);
            let middle = if residual { self.corner.y + RESIDUAL_POLE } else { self.y(BREAKER) };
            let out = if residual { self.corner.y + RESIDUAL_OUT } else { self.y(BREAKER_OUT) };
            let through = line(easel, Some(*pole), *load);
            let at = |y: f64| Point { x, y };
            easel.wire(vec![at(top), at(middle - HALF)], through);
            let room = Rect { x: x - 4.0, y: middle - HALF, w: 13.0, h: 2.0 * HALF };
            let spot = Spot { at: at(middle), stands: true };
            easel.symbol(machine[*pole].part, SymbolKind::BreakerPole, &[*pole], spot, room);
            easel.wire(vec![at(middle + HALF), at(out)], through);
            Self::mark(easel, *load, at(out), 5.0);
            top = out;
        }
        let (branch, feed) = poles.first().map_or((feeder, *slot), |(load, pole)| (Some(*pole), *load));
        let through = line(easel, branch, feed);
        easel.wire(vec![Point { x, y: top }, at(SLOT)], through);
        Self::mark(easel, *slot, at(SLOT), 7.0);
        if let (Some(contact), Some(blade)) = (contact, blade) {
            self.draw_plug(easel, x, contact);
            Self::mark(easel, blade, at(PLUG), 5.0);
            let through = line(easel, cord, blade);
            easel.wire(vec![at(PLUG), at(BLOCK - RING)], through);
        }
        let ring = Rect::around(at(BLOCK), RING, RING, RING);
        if let Some(part) = part_of_kind(machine, PartKind::TerminalBlock) {
            easel.symbol(part, SymbolKind::Terminal, &[], Spot { at: at(BLOCK), stands: true }, ring);
        }
        let framed = block == supply.frame;
        Self::mark(easel, block, at(BLOCK), if framed { 21.0 } else { 7.0 });
    }

    /// Draws what opens when the machine is unplugged: slot and blade, or a disconnect's contact.
    fn draw_plug(&self, easel: &mut Easel<'_>, x: f64, contact: BranchId) {
        let machine = easel.machine;
        let middle = Point { x, y: self.y(f64::midpoint(SLOT, PLUG)) };
        let spot = Spot { at: middle, stands: true };
        let receptacle = part_of_kind(machine, PartKind::Receptacle);
        let top = self.y(SLOT) + 2.5;
        if machine.supply.receptacle.is_some() {
            let room = Rect { x: x - 6.0, y: top, w: 12.0, h: middle.y + 2.5 - top };
            if let Some(receptacle) = receptacle {
                easel.symbol(receptacle, SymbolKind::Slot, &[contact], spot, room);
            }
            let room = Rect { x: x - 3.0, y: middle.y + 2.5, w: 6.0, h: self.y(PLUG) - 2.5 - middle.y - 2.5 };
            easel.symbol(machine[contact].part, SymbolKind::Blade, &[contact], spot, room);
        } else {
            let room = Rect { x: x - 4.0, y: top + 1.0, w: 13.0, h: self.y(PLUG) - 4.5 - top };
            if let Some(receptacle) = receptacle {
                easel.symbol(receptacle, SymbolKind::Disconnect, &[contact], spot, room);
            }
        }
    }

    fn mark(easel: &mut Easel<'_>, terminal: TerminalId, at: Point, beside: f64) {
        easel.dot(terminal, at, Point { x: at.x - 9.0, y: at.y });
        let label = label_of(easel.machine, terminal);
        easel.label_line(terminal, &label, Point { x: at.x + beside, y: at.y - 3.5 });
    }

    /// Draws the machine's frame, and its strap to neutral where there is one.
    fn draw_frame(&self, easel: &mut Easel<'_>) {
        let machine = easel.machine;
        let (frame, x) = (machine.supply.frame, self.frame);
        let Some(block) = part_of_kind(machine, PartKind::TerminalBlock) else { return };
        let grounded = self.columns.iter().any(|(conductor, _)| *conductor == Conductor::Ground);
        let y = self.frame_y();
        if !grounded {
            Self::mark(easel, frame, Point { x, y }, 21.0);
        }
        let spot = Spot { at: Point { x: x + 13.0, y }, stands: false };
        let room = Rect { x: x + 9.0, y: y - 6.0, w: 8.0, h: 12.0 };
        easel.symbol(block, SymbolKind::Frame, &[], spot, room);
        let live = easel.layers.is_live(frame);
        let from = if grounded { x + RING } else { x };
        easel.wire(vec![Point { x: from, y }, Point { x: x + 9.0, y }], Line { live, ..Line::default() });
        let neutral = self.columns.iter().find(|(conductor, _)| *conductor == Conductor::Neutral);
        let strap = machine.branches_of(block).into_iter().next();
        if let (Some((_, n)), Some(strap), false) = (neutral, strap, grounded) {
            let current = easel.layers.amps_of(&[strap]).is_some();
            let line = Line { part: None, current, live };
            easel.wire(vec![Point { x: *n, y: self.y(BLOCK) + RING }, Point { x: *n, y }], line);
            easel.wire(vec![Point { x: *n, y }, Point { x, y }], line);
            easel.scene.joints.push(Point { x: *n, y });
            easel.text("strap", LabelOf::Note, Point { x: n + 31.0, y: y - 8.5 }, SMALL);
        }
    }

    /// Gives the height of the frame's mark: on the block, or below it where a strap leads to it.
    fn frame_y(&self) -> f64 {
        let grounded = self.columns.iter().any(|(conductor, _)| *conductor == Conductor::Ground);
        self.y(if grounded { BLOCK } else { STRAP })
    }

    /// Writes what each level of the supply is.
    fn draw_names(&self, easel: &mut Easel<'_>) {
        let machine = easel.machine;
        let x = self.last() + 62.0;
        for (kind, down) in [
            (PartKind::House, HOUSE / 2.0),
            (PartKind::Breaker, BREAKER),
            (PartKind::Receptacle, SLOT),
            (PartKind::Cord, PLUG),
            (PartKind::TerminalBlock, BLOCK),
        ] {
            let Some(part) = part_of_kind(machine, kind) else { continue };
            let name = &machine[part].name;
            let text = match (kind, &machine.supply.receptacle) {
                (PartKind::Breaker, _) => format!("{name}, {:.0} A", machine.supply.breaker_amps),
                (PartKind::Receptacle, Some(pattern)) => format!("{name} {pattern}"),
                _ => name.clone(),
            };
            let share = easel.layers.share_of(part).map(|share| format!("  {:.0} %", share * 100.0));
            let text = text + &share.unwrap_or_default();
            easel.text(&text, LabelOf::Part(machine[part].id.clone()), Point { x, y: self.y(down) - 4.0 }, NAME);
            if kind == PartKind::Cord && machine.supply.receptacle.is_none() {
                let room = Rect { x: x - 16.0, y: self.y(down) - 3.0, w: 12.0, h: 6.0 };
                let at = Point { x: room.x + 6.0, y: self.y(down) };
                easel.symbol(part, SymbolKind::Cable, &[], Spot { at, stands: false }, room);
            }
        }
        if let Some(device) = &machine.supply.residual {
            let share = easel.layers.share_of(device.part).map(|share| format!("  {:.0} %", share * 100.0));
            let name = &machine[device.part].name;
            let text = format!("{name}, {:.0} mA{}", device.amps * 1e3, share.unwrap_or_default());
            let at = Point { x, y: self.corner.y + RESIDUAL_POLE - 4.0 };
            easel.text(&text, LabelOf::Part(machine[device.part].id.clone()), at, NAME);
        }
    }

    /// Brings every conductor from the block to its rails.
    fn draw_buses(&self, easel: &mut Easel<'_>, sheet: &Sheet<'_>, corner: Point) {
        let top = corner.y + height(easel.machine);
        let mut level = BUSES;
        for conductor in [Conductor::Ground, Conductor::Neutral, Conductor::Leg2, Conductor::Leg1] {
            let own = self.columns.iter().find(|(known, _)| *known == conductor).map(|(_, x)| *x);
            let x = own.unwrap_or(self.frame);
            let live = easel.layers.is_live(rail_terminal(easel.machine, conductor));
            let mut drops = Vec::new();
            for (plan, left) in banks(sheet, corner.x) {
                let bank = Bank { sheet, plan, left, top };
                for (bar, _) in sheet.net.bars.iter().enumerate().filter(|(_, bar)| is_rail(**bar, conductor)) {
                    if let (Some(at), Some(stop)) = (bank.bar_x(bar), bank.first_stop(easel, bar)) {
                        drops.push((at, stop.0, stop.1));
                    }
                }
            }
            if drops.is_empty() {
                continue;
            }
            drops.sort_by(|one, other| one.0.total_cmp(&other.0));
            let y = self.y(level);
            level += BUS_PITCH;
            let start = if own.is_some() { self.y(BLOCK) + RING } else { self.frame_y() };
            let any = drops.iter().any(|drop| drop.2);
            easel.wire(vec![Point { x, y: start }, Point { x, y }], Line { part: None, current: any, live });
            self.draw_bus(easel, conductor, (x, y), &drops, live);
        }
    }

    fn draw_bus(
        &self,
        easel: &mut Easel<'_>,
        conductor: Conductor,
        (x, y): (f64, f64),
        drops: &[(f64, f64, bool)],
        live: bool,
    ) {
        let (before, after): (Vec<_>, Vec<_>) = drops.iter().copied().partition(|drop| drop.0 < x);
        for (side, outward) in [(before, true), (after, false)] {
            let side: Vec<_> = if outward { side } else { side.into_iter().rev().collect() };
            // From the far end inward: what lies beyond a stretch flows through it.
            let mut current = false;
            for (place, drop) in side.iter().enumerate() {
                current |= drop.2;
                let near = side.get(place + 1).map_or(x, |next| next.0);
                if (near - drop.0).abs() > 1e-9 {
                    let line = Line { part: None, current, live };
                    easel.wire(vec![Point { x: drop.0, y }, Point { x: near, y }], line);
                    if place > 0 {
                        easel.scene.joints.push(Point { x: drop.0, y });
                    }
                }
            }
        }
        let (left, right) = (drops.iter().any(|drop| drop.0 < x - 1e-9), drops.iter().any(|drop| drop.0 > x + 1e-9));
        let below = drops.iter().any(|drop| (drop.0 - x).abs() <= 1e-9);
        if usize::from(left) + usize::from(right) + usize::from(below) > 1 {
            easel.scene.joints.push(Point { x, y });
        }
        for (at, stop, current) in drops {
            easel.wire(
                vec![Point { x: *at, y }, Point { x: *at, y: *stop }],
                Line { part: None, current: *current, live },
            );
            let top = self.corner.y + height(easel.machine) - 8.0;
            easel.text(rail_name(conductor), LabelOf::Rail, Point { x: at + 2.5, y: top }, SMALL);
        }
    }

    /// Writes machine, state and faults beside the supply.
    fn draw_title(&self, easel: &mut Easel<'_>) {
        const TITLE: f64 = 15.0;
        let x = self.last() + 240.0;
        let room = easel.scene.width - super::MARGIN - x;
        let mut y = self.y(0.0);
        for line in metrics::wrap(&easel.machine.title, TITLE, room) {
            easel.text(&line, LabelOf::Title, Point { x, y }, TITLE);
            y += TITLE + 3.0;
        }
        y += 3.0;
        let mut lines = Vec::new();
        let state = easel.layers.state.clone();
        let rest = easel.machine.states.first().map_or_else(String::new, |state| state.say.clone());
        lines.push(state.map_or_else(|| format!("Contacts at rest: {rest}"), |state| format!("State: {state}")));
        if !easel.layers.faults.is_empty() {
            lines.push(format!("With: {}", easel.layers.faults.join("; ")));
        }
        if let Some(against) = easel.layers.against.as_ref().filter(|_| !easel.layers.volts.is_empty()) {
            lines.push(format!("Volts from each terminal to {against}"));
        }
        for line in lines.iter().flat_map(|line| metrics::wrap(line, 9.0, room)) {
            if y + 9.0 <= self.y(BUSES) - 2.0 {
                easel.text(&line, LabelOf::Note, Point { x, y }, 9.0);
            }
            y += 11.0;
        }
    }
}

fn label_of(machine: &Machine, terminal: TerminalId) -> String {
    machine.label(terminal).to_owned()
}

fn is_rail(bar: Bar, conductor: Conductor) -> bool {
    bar == Bar::Left(conductor) || bar == Bar::Right(conductor)
}

fn part_of_kind(machine: &Machine, kind: PartKind) -> Option<PartId> {
    (0..).map(PartId).zip(&machine.parts).find(|(_, part)| part.installation && part.kind == kind).map(|(id, _)| id)
}

/// Finds the branch of a part of this kind that ends on a terminal.
fn ends_at(machine: &Machine, terminal: TerminalId, kind: PartKind) -> Option<BranchId> {
    machine.branches_at(terminal).into_iter().find(|branch| machine[machine[*branch].part].kind == kind)
}

/// Lists the poles from a point up to the house, each with its lower terminal, the lowest first.
fn poles_above(machine: &Machine, mut load: TerminalId) -> Vec<(TerminalId, BranchId)> {
    let mut poles = Vec::new();
    loop {
        let known = |branch: &BranchId| poles.iter().any(|(_, pole)| pole == branch);
        let contact = |branch: &BranchId| matches!(machine[*branch].law, Law::Contact { .. });
        let breaker = |branch: &BranchId| machine[machine[*branch].part].kind == PartKind::Breaker;
        let into = |branch: &BranchId| machine[*branch].to == load;
        let mut above = machine.branches_at(load).into_iter();
        match above.find(|branch| contact(branch) && breaker(branch) && into(branch) && !known(branch)) {
            Some(pole) => {
                poles.push((load, pole));
                load = machine[pole].from;
            }
            None => return poles,
        }
    }
}

fn other_end(machine: &Machine, branch: BranchId, end: TerminalId) -> TerminalId {
    let branch = &machine[branch];
    if branch.from == end { branch.to } else { branch.from }
}
