//! The live map on the bench machine, and the laws it must keep whatever the machine.

use crate::support::{Dice, bench, branch_of, place, terminal, unplugged};
use danger::{Energy, Feed, Isolator, LiveMap, Origin, Reach, Secured, Store, WorkPoint};
use machine::Machine;
use machine::faults::Effect;
use machine::model::{Branch, Law, Resistance, TerminalId};
use std::collections::BTreeSet;

fn least(map: &LiveMap, origin: Origin, terminal: TerminalId) -> Option<Reach> {
    map.why(terminal).into_iter().find(|(from, _)| *from == origin).map(|(_, reach)| reach)
}

fn live(machine: &Machine, energy: &Energy) -> BTreeSet<TerminalId> {
    LiveMap::of(machine, energy).live().collect()
}

#[test]
fn plugged_in_everything_may_be_live_but_true_earth() {
    let machine = bench();
    let map = LiveMap::of(&machine, &Energy::found());
    let cold: Vec<&str> = (0..machine.terminals.len())
        .filter(|&index| !map.may_be_live(TerminalId(u16::try_from(index).unwrap())))
        .map(|index| machine.terminals[index].name.as_str())
        .collect();
    assert_eq!(cold, ["EARTH"]);
}

#[test]
fn it_says_how_little_must_be_wrong() {
    let machine = bench();
    let map = LiveMap::of(&machine, &Energy::found());
    let reach = |name: &str| least(&map, Origin::Supply, terminal(&machine, name));
    assert_eq!(reach("block.L1"), Some(Reach::Conductors));
    // Behind an open contact all the same: contacts close.
    assert_eq!(reach("heater.1"), Some(Reach::Conductors));
    // The neutral side through the load, when the neutral breaks.
    assert_eq!(reach("block.N"), Some(Reach::Conductors));
    assert_eq!(reach("receptacle.G"), Some(Reach::Wiring));
    assert_eq!(reach("CH"), Some(Reach::Wiring));
}

#[test]
fn without_a_ground_conductor_the_frame_is_live_by_a_frame_fault() {
    let mut machine = bench();
    machine.branches.retain(|branch| branch.to != machine.supply.frame && branch.from != machine.supply.frame);
    machine.supply.block.retain(|&(_, terminal)| terminal != machine.supply.frame);
    let map = LiveMap::of(&machine, &Energy::found());
    assert_eq!(least(&map, Origin::Supply, machine.supply.frame), Some(Reach::FrameFault));
}

#[test]
fn with_the_plug_out_the_slots_stay_live_and_the_capacitor_charged() {
    let machine = bench();
    let mut energy = Energy::found();
    energy.isolate(Isolator::Plug);
    let map = LiveMap::of(&machine, &energy);
    assert_eq!(least(&map, Origin::Supply, terminal(&machine, "receptacle.X")), Some(Reach::Conductors));
    for name in ["cap.1", "cap.2", "motor.1"] {
        assert_eq!(least(&map, Origin::Supply, terminal(&machine, name)), None, "{name}");
        assert_eq!(least(&map, Origin::Charge, terminal(&machine, name)), Some(Reach::Conductors), "{name}");
    }
    assert_eq!(least(&map, Origin::Charge, terminal(&machine, "plug.X")), Some(Reach::Conductors));
}

#[test]
fn unplugged_and_discharged_only_the_wall_is_live() {
    let machine = bench();
    let names: Vec<String> = live(&machine, &unplugged(&machine))
        .into_iter()
        .map(|id| machine.terminals[id.index()].name.clone())
        .filter(|name| !name.starts_with("house.") && !name.starts_with("breaker."))
        .collect();
    assert_eq!(names, ["receptacle.X", "receptacle.W", "receptacle.G"]);
}

#[test]
fn a_capacitor_left_undischarged_keeps_its_terminals_on_the_map() {
    let machine = bench();
    let mut energy = Energy::found();
    energy.isolate(Isolator::Plug);
    energy.secure(Secured::PlugInSight).unwrap();
    energy.discharged(Store::Bus(place(&machine, "console")), 0.0).unwrap();
    let map = LiveMap::of(&machine, &energy);
    assert!(map.may_be_live(terminal(&machine, "cap.1")));
    energy.discharged(Store::Capacitor(branch_of(&machine, "cap")), 0.0).unwrap();
    assert!(!LiveMap::of(&machine, &energy).may_be_live(terminal(&machine, "cap.1")));
}

#[test]
fn a_breaker_or_a_disconnect_shrinks_nothing() {
    let machine = bench();
    for by in [Isolator::Breaker, Isolator::Disconnect] {
        let mut energy = Energy::found();
        energy.isolate(by);
        energy.secure(Secured::LockedAndTagged).unwrap();
        assert_eq!(energy.feed(), Feed::Off(by));
        assert_eq!(live(&machine, &energy), live(&machine, &Energy::found()));
    }
}

#[test]
fn a_machine_wired_in_has_no_plug_to_pull() {
    let mut machine = bench();
    machine.supply.receptacle = None;
    let mut energy = Energy::found();
    energy.isolate(Isolator::Plug);
    assert_eq!(live(&machine, &energy), live(&machine, &Energy::found()));
}

#[test]
fn a_terminal_that_is_not_there_may_be_live() {
    let machine = bench();
    assert!(LiveMap::of(&machine, &unplugged(&machine)).may_be_live(TerminalId(9999)));
}

#[test]
fn more_branches_sources_and_bridges_never_shrink_the_map() {
    for seed in 0..400 {
        let mut dice = Dice::seeded(seed);
        let mut machine = bench();
        let energies = [
            Energy::found(),
            {
                let mut e = Energy::found();
                e.isolate(Isolator::Plug);
                e
            },
            unplugged(&machine),
        ];
        // A thinned machine, to have something to grow.
        machine.branches.retain(|_| dice.chance(60));
        for fault in &mut machine.faults {
            fault.effects.retain(|_| dice.chance(30));
        }
        machine.supply.plug.clear();
        let mut more = machine.clone();
        let terminals = machine.terminals.len();
        let mut any = || TerminalId(u16::try_from(dice.below(terminals)).unwrap());
        let law = match seed % 4 {
            0 => Law::Resistance(Resistance { cold_ohms: 1e6, hot_ohms: 1e6, tolerance: 0.0 }),
            1 => Law::Capacitor { farads: 1e-6, tolerance: 0.1 },
            2 => Law::Source { volts: 5.0, degrees: 0.0, series_ohms: 1.0, tolerance: 0.0 },
            _ => Law::Winding { ohms: 3.0, reactance: 1.0, running: (3.0, 1.0), flag: None, tolerance: 0.1 },
        };
        let part = machine.terminals[any().index()].part;
        more.branches.push(Branch { name: "more".into(), part, from: any(), to: any(), law });
        if let Some(fault) = more.faults.first_mut() {
            fault.effects.push(Effect::Bridge(any(), any(), 10.0));
        }
        for energy in &energies {
            let (before, after) = (LiveMap::of(&machine, energy), LiveMap::of(&more, energy));
            for id in before.live() {
                assert!(after.may_be_live(id), "seed {seed}: {id:?} fell off the map");
                for (origin, reach) in before.why(id) {
                    assert!(least(&after, origin, id).is_some_and(|now| now <= reach), "seed {seed}: {id:?}");
                }
            }
        }
    }
}

#[test]
fn a_work_point_of_a_place_is_all_that_is_there() {
    let machine = bench();
    let here: Vec<&str> = WorkPoint::place(&machine, place(&machine, "console"))
        .terminals()
        .map(|id| machine.terminals[id.index()].name.as_str())
        .collect();
    assert_eq!(here, ["CH", "control.L", "control.N", "control.S", "control.M", "control.H"]);
}
