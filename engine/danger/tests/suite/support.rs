//! The bench machine, names looked up, and the facts of proving dead, good and spoiled.

use danger::{
    DeadFact, DeadProof, DeadReading, DeadRecord, EarthCheck, Energy, Isolator, KnownSource, MeterCheck, Secured,
    WorkPoint, judge_dead, required_measurements, stores,
};
use machine::Machine;
use machine::model::{BranchId, CoverId, PartId, PlaceId, RepairId, StateId, TerminalId};

/// A splittable counter-based generator (SplitMix64, Steele, Lea, Flood 2014).
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

    pub(crate) fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % end as u64).unwrap()
    }

    pub(crate) fn chance(&mut self, in_hundred: usize) -> bool {
        self.below(100) < in_hundred
    }

    pub(crate) fn pick<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }
}

pub(crate) fn read(text: &str) -> Machine {
    let read = machine::read(text);
    read.machine.unwrap_or_else(|| panic!("the test machine does not read: {:#?}", read.diagnostics))
}

pub(crate) fn bench() -> Machine {
    read(include_str!("machines/bench-washer.toml"))
}

fn find<T>(list: &[T], name: &str, of: impl Fn(&T) -> &str) -> u16 {
    let found = list.iter().position(|item| of(item) == name);
    u16::try_from(found.unwrap_or_else(|| panic!("no `{name}`"))).unwrap()
}

pub(crate) fn terminal(machine: &Machine, name: &str) -> TerminalId {
    TerminalId(find(&machine.terminals, name, |terminal| &terminal.name))
}

pub(crate) fn part(machine: &Machine, id: &str) -> PartId {
    PartId(find(&machine.parts, id, |part| &part.id))
}

pub(crate) fn place(machine: &Machine, id: &str) -> PlaceId {
    PlaceId(find(&machine.access.places, id, |place| &place.id))
}

pub(crate) fn cover(machine: &Machine, id: &str) -> CoverId {
    CoverId(find(&machine.access.steps, id, |cover| &cover.id))
}

pub(crate) fn state(machine: &Machine, id: &str) -> StateId {
    StateId(find(&machine.states, id, |state| &state.id))
}

pub(crate) fn repair(machine: &Machine, id: &str) -> RepairId {
    RepairId(find(&machine.repairs, id, |repair| &repair.id))
}

pub(crate) fn branch_of(machine: &Machine, part_id: &str) -> BranchId {
    let part = part(machine, part_id);
    BranchId(u16::try_from(machine.branches.iter().position(|branch| branch.part == part).unwrap()).unwrap())
}

/// Unplugged, the plug in sight, every store discharged and measured.
pub(crate) fn unplugged(machine: &Machine) -> Energy {
    let mut energy = Energy::found();
    energy.isolate(Isolator::Plug);
    energy.secure(Secured::PlugInSight).unwrap();
    for store in stores(machine) {
        energy.discharged(store, 0.4).unwrap();
    }
    energy
}

pub(crate) fn meter_good() -> DeadFact {
    DeadFact::Meter(MeterCheck { source: KnownSource::Supply, expected_volts: 120.0, read_volts: 119.2 })
}

pub(crate) fn earth_good() -> DeadFact {
    DeadFact::Earth(EarthCheck { which: "ground slot of the receptacle".into(), leg_volts: 118.9 })
}

/// Everything asked for, measured and dead.
pub(crate) fn good_record(work: &WorkPoint, epoch: u64) -> DeadRecord {
    let mut facts = vec![meter_good(), earth_good()];
    for pair in required_measurements(work) {
        facts.push(DeadFact::Reading(DeadReading { pair, ac_volts: 0.1, dc_volts: 0.0 }));
    }
    facts.push(meter_good());
    DeadRecord { work: work.clone(), epoch, facts }
}

/// The proof that a good record gives at a place.
pub(crate) fn proof_at(machine: &Machine, energy: &Energy, place_id: &str) -> DeadProof {
    let work = WorkPoint::place(machine, place(machine, place_id));
    judge_dead(machine, energy, &good_record(&work, energy.epoch())).unwrap()
}
