//! Expands the supply section to the installation's parts: house, breaker, receptacle, cord, terminal block.
//!
//! The transformer's centre tap is the hidden `house.N`; the legs are sources against it. The panel's neutral bar is
//! `EARTH`, the reference: the utility neutral joins the two, and when it is lost the bar floats against the tap.

use super::copper::lead_ohms;
use super::{Draft, Usual};
use crate::diagnostic::SUPPLY_MISMATCH;
use crate::faults::{Effect, RepairKind};
use crate::model::{
    BranchId, Conductor, Cord, FlagId, FlagRule, Law, Part, PartId, PartKind, PlaceId, Resistance, Rule, Supply,
    SupplyKind, TerminalId,
};
use crate::raw::{CordWord, SupplyWord};
use crate::reader::STAND_IN;

// Weights of the installation's faults: common practice, no source.
const LEG_LOST: Usual = Usual::new("lost", 0.5, "{} lost");
const NEUTRAL_OPEN: Usual = Usual::new("neutral-open", 0.2, "utility neutral lost").dangerous();
const LOW: Usual = Usual::new("low", 0.3, "voltage low");
const TWO_OF_THREE: Usual =
    Usual::new("two-of-three", 0.1, "two legs of three phases, 208 V between them in place of 240 V");
const POLE_OPEN: Usual = Usual::new("open", 0.4, "{} not closing");
const OFF: Usual = Usual::new("off", 2.0, "tripped or switched off").seen(0.9);
const SLOT_OPEN: Usual = Usual::new("open", 0.3, "slot {} without connection").seen(0.1);
const SLOT_BURNT: Usual = Usual::new("burnt", 0.4, "slot {} burnt").seen(0.6).dangerous();
const UNPLUGGED: Usual = Usual::new("unplugged", 1.0, "not plugged in").seen(0.95);
const SWITCHED_OFF: Usual = Usual::new("unplugged", 1.0, "not connected, disconnect off").seen(0.95);
const CORD_OPEN: Usual = Usual::new("open", 0.4, "conductor {} broken").seen(0.2);
const BLOCK_BURNT: Usual = Usual::new("burnt", 0.5, "{} burnt").seen(0.8).dangerous();
const N_LOOSE: Usual = Usual::new("n-loose", 0.5, "N loose").seen(0.4);
const STRAP_MISSING: Usual = Usual::new("strap-missing", 0.1, "strap to the frame missing").seen(0.7).dangerous();
const STRAP_LEFT: Usual =
    Usual::new("strap-left", 0.1, "strap from neutral to the frame left on").seen(0.7).dangerous();

/// Ohms of a burnt joint: common practice, no source.
const BURNT_OHMS: f64 = 3.0;
/// Ohms of a loose neutral: common practice, no source.
const LOOSE_OHMS: f64 = 25.0;
/// Voltage of a low supply over nominal: common practice, no source.
const LOW_RATIO: f64 = 0.87;
/// Length of a cord or whip, metres.
const CORD_METRES: f64 = 1.8;

/// One conductor from the panel to the machine.
#[derive(Clone, Copy)]
struct Wire {
    conductor: Conductor,
    /// Slot and plug letter.
    letter: &'static str,
    /// Terminal of the machine's block.
    block: &'static str,
}

const WIRES: [Wire; 4] = [
    Wire { conductor: Conductor::Leg1, letter: "X", block: "block.L1" },
    Wire { conductor: Conductor::Leg2, letter: "Y", block: "block.L2" },
    Wire { conductor: Conductor::Neutral, letter: "W", block: "block.N" },
    Wire { conductor: Conductor::Ground, letter: "G", block: "CH" },
];

fn has_wire(cord: CordWord, conductor: Conductor) -> bool {
    match conductor {
        Conductor::Leg1 | Conductor::Neutral => true,
        Conductor::Leg2 => cord != CordWord::Grounded,
        Conductor::Ground => cord != CordWord::ThreeWire,
    }
}

/// The installation's parts and where each is.
struct Parts {
    house: PartId,
    breaker: PartId,
    receptacle: PartId,
    cord: PartId,
    block: PartId,
    panel_place: PlaceId,
    slot_place: PlaceId,
    block_place: PlaceId,
}

/// Expands the supply section. The first terminal is `EARTH`, the second `CH`.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) -> Supply {
    let raw = &draft.file.supply;
    check_pair(draft);
    let cord = raw.cord.value;
    let parts = add_parts(draft);
    let earth = draft.add_terminal(parts.house, "EARTH", parts.panel_place, false);
    draft.frame = draft.add_terminal(parts.block, "CH", super::access::frame_place(draft.file), false);
    let (legs, sources) = lower_house(draft, &parts, earth);
    let loads = lower_breaker(draft, &parts, &legs);
    let (loads, neutral, residual) = super::residual::lower(draft, parts.panel_place, loads, earth);
    let mut slots = Vec::new();
    let mut block = Vec::new();
    let mut plug = Vec::new();

    for wire in WIRES.into_iter().filter(|wire| has_wire(cord, wire.conductor)) {
        let feed = match wire.conductor {
            Conductor::Leg1 => loads.first().copied().unwrap_or(earth),
            Conductor::Leg2 => loads.get(1).copied().unwrap_or(earth),
            Conductor::Neutral => neutral,
            Conductor::Ground => earth,
        };
        let run = lower_wire(draft, &parts, wire, feed);
        slots.push((wire.conductor, run.slot));
        block.push((wire.conductor, run.block));

        if raw.receptacle.is_some() || matches!(wire.conductor, Conductor::Leg1 | Conductor::Leg2) {
            plug.push(run.plug);
        }
    }
    add_house_faults(draft, &parts, &sources);
    add_cord_faults(draft, &parts, &plug);
    lower_strap(draft, &parts, cord);
    Supply {
        kind: supply_kind(raw.kind.value),
        receptacle: raw.receptacle.as_ref().map(|text| text.value.clone()),
        cord: cord_kind(cord),
        breaker_amps: **raw.breaker_amps,
        earth,
        frame: draft.frame,
        slots,
        block,
        plug,
        residual,
    }
}

fn supply_kind(word: SupplyWord) -> SupplyKind {
    match word {
        SupplyWord::SplitPhase => SupplyKind::SplitPhase,
        SupplyWord::TwoOfThreePhases => SupplyKind::TwoOfThreePhases,
        SupplyWord::SinglePhase => SupplyKind::SinglePhase,
    }
}

fn cord_kind(word: CordWord) -> Cord {
    match word {
        CordWord::FourWire => Cord::FourWire,
        CordWord::ThreeWire => Cord::ThreeWire,
        CordWord::Grounded => Cord::Grounded,
    }
}

/// A grounded cord has one leg, the others two.
fn check_pair(draft: &mut Draft<'_, '_, '_>) {
    let raw = &draft.file.supply;
    let single = raw.kind.value == SupplyWord::SinglePhase;
    if single != (raw.cord.value == CordWord::Grounded) {
        let hint = if single { "write `cord = \"grounded\"`" } else { "write `four-wire` or `three-wire`" };
        draft.reader.error(SUPPLY_MISMATCH, &raw.cord.span, "this cord does not go with this kind of supply", hint);
        draft.reader.note_broken(STAND_IN);
    }
    let legs = if single { 1 } else { 2 };
    if let Some(loads) = raw.house_load_watts.as_ref().filter(|loads| loads.len() != legs) {
        let span = loads.first().map_or(&raw.kind.span, |load| &load.span);
        let message = format!("`house_load_watts` has {} numbers, this supply needs {legs}", loads.len());
        draft.reader.error(SUPPLY_MISMATCH, span, message, "give one number for each leg");
    }
}

/// Makes a part of the house's side, which no line of the file describes.
pub(super) fn of_installation(id: &str, kind: PartKind, name: &str, place: PlaceId) -> Part {
    Part {
        id: id.to_owned(),
        kind,
        name: name.to_owned(),
        terminals: Vec::new(),
        positions: Vec::new(),
        driven_by: Vec::new(),
        lit_by: None,
        rated: None,
        color: None,
        note: None,
        place,
        installation: true,
        line: 0,
    }
}

fn add_parts(draft: &mut Draft<'_, '_, '_>) -> Parts {
    let raw = &draft.file.supply;
    let panel_place = draft.place(&raw.panel_place);
    let slot_place = draft.place(&raw.receptacle_place);
    let block_place = draft.place(&raw.block_place);
    let plugged = raw.receptacle.is_some();
    let mut add = |id: &str, kind, name: &str, place| draft.add_part(of_installation(id, kind, name, place), &(0..0));
    Parts {
        house: add("house", PartKind::House, "house supply", panel_place),
        breaker: add("breaker", PartKind::Breaker, "breaker", panel_place),
        receptacle: add(
            "receptacle",
            PartKind::Receptacle,
            if plugged { "receptacle" } else { "disconnect" },
            slot_place,
        ),
        cord: add("cord", PartKind::Cord, if plugged { "cord" } else { "supply cable" }, slot_place),
        block: add("block", PartKind::TerminalBlock, "terminal block", block_place),
        panel_place,
        slot_place,
        block_place,
    }
}

pub(super) fn ohms(value: f64, tolerance: f64) -> Law {
    Law::Resistance(Resistance { cold_ohms: value, hot_ohms: value, tolerance })
}

/// Adds tap, legs, sources, the utility neutral and the house's other loads; gives the legs and their sources.
fn lower_house(draft: &mut Draft<'_, '_, '_>, parts: &Parts, earth: TerminalId) -> (Vec<TerminalId>, Vec<BranchId>) {
    let raw = &draft.file.supply;
    let volts = draft.leg_volts();
    let source_ohms = raw.source_ohms.as_ref().map_or(0.03, |ohms| ***ohms);
    let degrees: &[f64] = match raw.kind.value {
        SupplyWord::SplitPhase => &[0.0, 180.0],
        SupplyWord::TwoOfThreePhases => &[0.0, 120.0],
        SupplyWord::SinglePhase => &[0.0],
    };
    let tap = draft.add_terminal(parts.house, "house.N", parts.panel_place, true);
    let mut legs = Vec::new();
    let mut sources = Vec::new();
    for (index, degrees) in degrees.iter().enumerate() {
        let leg = draft.add_terminal(parts.house, &format!("house.L{}", index + 1), parts.panel_place, true);
        // Tolerance: ANSI C84.1 range A allows 5 % at the service, from memory.
        let law = Law::Source { volts, degrees: *degrees, series_ohms: source_ohms, tolerance: 0.05 };
        sources.push(draft.branch(parts.house, &format!("leg{}", index + 1), (leg, tap), law));
        let watts = raw.house_load_watts.as_ref().map_or(Some(1000.0), |loads| loads.get(index).map(|w| ***w));
        if let Some(watts) = watts.filter(|watts| *watts > 0.0) {
            draft.branch(parts.house, &format!("load{}", index + 1), (leg, earth), ohms(volts * volts / watts, 0.5));
        }
        legs.push(leg);
    }
    let neutral = draft.branch(parts.house, "neutral", (tap, earth), ohms(source_ohms, 0.3));
    draft.usual(parts.house, &NEUTRAL_OPEN, vec![Effect::Open(neutral)]);
    (legs, sources)
}

/// Adds the breaker's poles; gives their load sides.
fn lower_breaker(draft: &mut Draft<'_, '_, '_>, parts: &Parts, legs: &[TerminalId]) -> Vec<TerminalId> {
    let flag = FlagId(draft.next_id(draft.flags.len()));
    let mut poles = Vec::new();
    let mut loads = Vec::new();
    for (number, leg) in (1..).zip(legs) {
        let load = draft.add_terminal(parts.breaker, &format!("breaker.{number}"), parts.panel_place, false);
        let law = Law::Contact { rule: Rule::Flag { flag, inverted: true }, ohms: 0.002 };
        poles.push(draft.branch(parts.breaker, &format!("pole{number}"), (*leg, load), law));
        loads.push(load);
    }
    for (number, pole) in (1..).zip(&poles) {
        let what = format!("pole {number}");
        draft.usual_of(parts.breaker, &format!("pole{number}"), &what, &POLE_OPEN, vec![Effect::Open(*pole)]);
    }
    // A breaker opens within two minutes at twice its rating: UL 489 calibration, from memory.
    let amps = 2.0 * **draft.file.supply.breaker_amps;
    let flag = draft.flag(parts.breaker, "tripped", FlagRule::Breaker { poles, amps });
    draft.usual(parts.breaker, &OFF, vec![Effect::Hold(flag, true)]);
    draft.mend_last(RepairKind::Clean);
    loads
}

/// One conductor's points and branches.
struct Run {
    slot: TerminalId,
    block: TerminalId,
    plug: BranchId,
}

fn lower_wire(draft: &mut Draft<'_, '_, '_>, parts: &Parts, wire: Wire, feed: TerminalId) -> Run {
    let raw = &draft.file.supply;
    let branch_ohms = raw.branch_ohms.as_ref().map_or(0.06, |ohms| ***ohms);
    let letter = wire.letter;
    let slot = draft.add_terminal(parts.receptacle, &format!("receptacle.{letter}"), parts.slot_place, false);
    let blade = draft.add_terminal(parts.cord, &format!("plug.{letter}"), parts.slot_place, false);
    let block = match wire.conductor {
        Conductor::Ground => draft.frame,
        _ => draft.add_terminal(parts.block, wire.block, parts.block_place, false),
    };
    let feeder = draft.branch(parts.receptacle, letter, (feed, slot), ohms(branch_ohms, 0.3));
    let contact = Law::Contact { rule: Rule::Always, ohms: 0.005 };
    let plug = draft.branch(parts.cord, &format!("plug-{letter}"), (slot, blade), contact);
    let cord_ohms = lead_ohms(cord_gauge(**raw.breaker_amps), CORD_METRES).unwrap_or(0.006);
    let cord = draft.branch(parts.cord, letter, (blade, block), ohms(cord_ohms, 0.2));
    let key = letter.to_lowercase();
    let ground = wire.conductor == Conductor::Ground;
    draft.usual_of(
        parts.receptacle,
        &key,
        letter,
        &Usual { dangerous: ground, ..SLOT_OPEN },
        vec![Effect::Open(feeder)],
    );
    draft.usual_of(parts.cord, &key, letter, &Usual { dangerous: ground, ..CORD_OPEN }, vec![Effect::Open(cord)]);
    match wire.conductor {
        Conductor::Leg1 | Conductor::Leg2 => {
            let burnt = vec![Effect::Ohms(plug, BURNT_OHMS)];
            draft.usual_of(parts.receptacle, &key, letter, &SLOT_BURNT, burnt);
            let name = wire.block.trim_start_matches("block.");
            draft.usual_of(parts.block, &name.to_lowercase(), name, &BLOCK_BURNT, vec![Effect::Ohms(cord, BURNT_OHMS)]);
        }
        Conductor::Neutral => draft.usual(parts.block, &N_LOOSE, vec![Effect::Ohms(cord, LOOSE_OHMS)]),
        Conductor::Ground => {}
    }
    Run { slot, block, plug }
}

/// Gauge of a cord by the breaker in front of it, as the National Electrical Code pairs them for copper, from memory.
fn cord_gauge(breaker_amps: f64) -> u16 {
    match breaker_amps {
        amps if amps <= 15.0 => 14,
        amps if amps <= 20.0 => 12,
        amps if amps <= 30.0 => 10,
        amps if amps <= 40.0 => 8,
        _ => 6,
    }
}

fn add_house_faults(draft: &mut Draft<'_, '_, '_>, parts: &Parts, sources: &[BranchId]) {
    for (number, source) in (1..).zip(sources) {
        let what = format!("leg {number}");
        draft.usual_of(parts.house, &format!("leg{number}"), &what, &LEG_LOST, vec![Effect::Open(*source)]);
    }
    let low = sources.iter().map(|source| Effect::Scale(*source, LOW_RATIO)).collect();
    draft.usual(parts.house, &LOW, low);
    if let (SupplyWord::SplitPhase, Some(second)) = (draft.file.supply.kind.value, sources.get(1)) {
        // From 180 degrees against leg 1 to 120.
        draft.usual(parts.house, &TWO_OF_THREE, vec![Effect::Turn(*second, -60.0)]);
    }
}

fn add_cord_faults(draft: &mut Draft<'_, '_, '_>, parts: &Parts, plug: &[BranchId]) {
    let usual = if draft.file.supply.receptacle.is_some() { UNPLUGGED } else { SWITCHED_OFF };
    draft.usual(parts.cord, &usual, plug.iter().map(|branch| Effect::Open(*branch)).collect());
    draft.mend_last(RepairKind::Clean);
}

/// A three-wire cord needs the strap from neutral to the frame; a four-wire cord must not have it.
fn lower_strap(draft: &mut Draft<'_, '_, '_>, parts: &Parts, cord: CordWord) {
    let Some(neutral) = draft.quiet_terminal("block.N") else { return };
    let ends = (neutral, draft.frame);
    match cord {
        CordWord::ThreeWire => {
            let strap = draft.branch(parts.block, "strap", ends, ohms(0.002, 0.5));
            draft.usual(parts.block, &STRAP_MISSING, vec![Effect::Open(strap)]);
        }
        CordWord::FourWire => draft.usual(parts.block, &STRAP_LEFT, vec![Effect::Bridge(neutral, draft.frame, 0.005)]),
        CordWord::Grounded => {}
    }
}
