//! Small access graphs for the tests, by hand and generated from a seed.

use machine::access::{Access, Cover, Fastener, Hazard, Place};
use machine::model::{CoverId, PlaceId};
use teardown::Open;

/// A splittable counter-based generator (SplitMix64, Steele, Lea, Flood 2014); small enough to stand here.
#[derive(Debug)]
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn seeded(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number under `end`.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % end as u64).unwrap()
    }

    pub(crate) fn chance(&mut self, in_hundred: usize) -> bool {
        self.below(100) < in_hundred
    }
}

pub(crate) fn cover_id(index: usize) -> CoverId {
    CoverId(u16::try_from(index).unwrap())
}

pub(crate) fn place_id(index: usize) -> PlaceId {
    PlaceId(u16::try_from(index).unwrap())
}

pub(crate) fn cover(id: &str, side: &str, needs: &[&[usize]], minutes_off: f64, minutes_on: f64) -> Cover {
    Cover {
        id: id.into(),
        say: format!("take off the {id}"),
        say_back: format!("put the {id} back"),
        side: side.into(),
        needs: ways(needs),
        fasteners: vec![],
        minutes_off,
        minutes_on,
        people: 1,
        hazards: vec![],
        keep_for_last: None,
        only_back: vec![],
        closed_to_run: false,
    }
}

pub(crate) fn place(id: &str, exposed_by: &[&[usize]]) -> Place {
    Place { id: id.into(), say: format!("at the {id}"), exposed_by: ways(exposed_by), hazards: vec![] }
}

fn ways(ways: &[&[usize]]) -> Vec<Vec<CoverId>> {
    ways.iter().map(|way| way.iter().map(|&index| cover_id(index)).collect()).collect()
}

pub(crate) fn screws(count: u32) -> Fastener {
    Fastener { count, what: "hex-head screw".into(), tool: "1/4 in nut driver".into() }
}

/// A dryer with two ways to the heater box. Minutes are invented.
///
/// Covers: 0 top, 1 front panel (after the top), 2 drum (after the front), 3 back panel, 4 console (after nothing).
/// Places: 0 wall, 1 heater box, 2 motor, 3 console inside.
pub(crate) fn dryer() -> Access {
    let mut front = cover("front panel", "front", &[&[0]], 3.0, 4.0);
    front.fasteners = vec![screws(2), Fastener { count: 2, what: "clip".into(), tool: "putty knife".into() }];
    front.keep_for_last = Some("the lower left screw carries the panel".into());
    front.only_back = vec!["check that the door switch leads lie clear of the drum".into()];
    front.closed_to_run = true;
    front.hazards = vec![Hazard::SharpEdge];
    let mut drum = cover("drum", "front", &[&[1]], 4.0, 6.0);
    drum.people = 2;
    drum.hazards = vec![Hazard::HeavyLift];
    let mut back = cover("back panel", "back", &[], 2.0, 2.5);
    back.fasteners = vec![screws(9)];
    back.closed_to_run = true;
    let mut heater_box = place("heater box", &[&[1, 2], &[3]]);
    heater_box.hazards = vec![Hazard::SharpEdge, Hazard::HotSurface];
    Access {
        places: vec![
            place("wall", &[&[]]),
            heater_box,
            place("motor", &[&[2]]),
            place("console inside", &[&[4], &[0, 3]]),
        ],
        steps: vec![cover("top", "front", &[], 1.0, 1.0), front, drum, back, cover("console", "front", &[], 1.5, 2.0)],
    }
}

/// A generated graph with the places asked for and a legal set of covers that are off.
#[derive(Debug)]
pub(crate) struct Case {
    pub(crate) access: Access,
    pub(crate) targets: Vec<PlaceId>,
    pub(crate) open: Open,
}

/// Generates a case of at most `most` covers: alternatives, rings, dead ends, zero minutes and walks all occur.
pub(crate) fn case(seed: u64, most: usize) -> Case {
    let mut dice = Dice::seeded(seed);
    let covers = 1 + dice.below(most);
    let sides = 1 + dice.below(3);
    let rings = dice.chance(30);
    let steps: Vec<Cover> = (0..covers).map(|index| generated_cover(&mut dice, index, covers, sides, rings)).collect();
    let places: Vec<Place> = (0..1 + dice.below(4)).map(|index| generated_place(&mut dice, index, covers)).collect();
    let targets = (0..1 + dice.below(3)).map(|_| place_id(dice.below(places.len()))).collect();
    let access = Access { places, steps };
    let mut open = Open::nothing();
    while dice.chance(35) {
        let next = teardown::openable(&access, &open);
        if next.is_empty() {
            break;
        }
        open.opened(next[dice.below(next.len())]);
    }
    Case { access, targets, open }
}

fn generated_cover(dice: &mut Dice, index: usize, covers: usize, sides: usize, rings: bool) -> Cover {
    // Without rings a cover needs only lower ones.
    let among = if rings { covers } else { index };
    let side = ["front", "back", "left"][dice.below(sides)];
    let mut cover = cover(&format!("c{index}"), side, &[], 0.0, 0.0);
    cover.needs = if among == 0 || dice.chance(35) { vec![] } else { generated_ways(dice, 2, 2, among) };
    // Twentieths of a minute, many of them less than a walk, some nothing.
    cover.minutes_off = f64::from(u32::try_from(dice.below(30)).unwrap()) * 0.05;
    cover.minutes_on = f64::from(u32::try_from(dice.below(30)).unwrap()) * 0.05;
    if dice.chance(50) {
        cover.fasteners = vec![screws(u32::try_from(1 + dice.below(8)).unwrap())];
    }
    if dice.chance(20) {
        cover.only_back = vec![format!("check c{index}")];
    }
    if dice.chance(30) {
        cover.hazards = vec![Hazard::SharpEdge];
    }
    cover.people = if dice.chance(10) { 2 } else { 1 };
    cover.closed_to_run = dice.chance(40);
    cover
}

fn generated_place(dice: &mut Dice, index: usize, covers: usize) -> Place {
    let mut place = place(&format!("p{index}"), &[]);
    place.exposed_by = match dice.below(20) {
        0 => vec![],
        1 => vec![vec![]],
        _ => generated_ways(dice, 3, 3, covers),
    };
    place
}

fn generated_ways(dice: &mut Dice, most_ways: usize, most_covers: usize, among: usize) -> Vec<Vec<CoverId>> {
    let ways = 1 + dice.below(most_ways);
    (0..ways).map(|_| (0..1 + dice.below(most_covers)).map(|_| cover_id(dice.below(among))).collect()).collect()
}
