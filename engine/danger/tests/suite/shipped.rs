//! The shipped machines under the gate: made safe by the book, all that is not licensed work can be done on them.

use crate::support::{good_record, part, place, read, terminal, unplugged};
use danger::{Energy, Gate, IsolatedReading, LiveMap, Refusal, Situation, StepRequest, WorkPoint, judge_dead};
use machine::Machine;
use machine::faults::RepairKind;
use machine::model::{CoverId, PartKind, RepairId, TerminalId};
use teardown::{Open, openable};

fn shipped() -> [Machine; 2] {
    [
        read(include_str!("../../../../machines/dryer-timer-240.toml")),
        read(include_str!("../../../../machines/range-control-240.toml")),
    ]
}

fn visible(machine: &Machine) -> Vec<TerminalId> {
    let house = [PartKind::House, PartKind::Breaker, PartKind::Receptacle];
    let ids = (0..machine.terminals.len()).map(|index| TerminalId(u16::try_from(index).unwrap()));
    ids.filter(|id| {
        let terminal = &machine.terminals[id.index()];
        !terminal.hidden && !house.contains(&machine.parts[terminal.part.index()].kind)
    })
    .collect()
}

/// Everything off, unplugged, discharged, every terminal of the machine measured to every other.
fn made_safe(machine: &Machine) -> Situation {
    let energy = unplugged(machine);
    let work = WorkPoint::at(machine, &visible(machine));
    let proof = judge_dead(machine, &energy, &good_record(&work, energy.epoch())).unwrap();
    let mut open = Open::nothing();
    while let Some(&next) = openable(&machine.access, &open).first() {
        open.opened(next);
    }
    assert_eq!(open.len(), machine.access.steps.len());
    Situation { energy, open, people_clear: true, dead: vec![proof], ..Situation::default() }
}

#[test]
fn made_safe_every_pair_can_be_read_and_every_repair_done_but_licensed_work_and_boards() {
    for machine in shipped() {
        let now = made_safe(&machine);
        let gate = Gate::of(&machine);
        for &from in &visible(&machine) {
            for &to in visible(&machine).iter().filter(|&&to| to != from) {
                let read = StepRequest::ReadIsolated { from, to, how: IsolatedReading::Ohms };
                assert!(gate.permit(read, &now).is_ok(), "{}", machine.id);
            }
        }
        for (index, repair) in machine.repairs.iter().enumerate() {
            let mut now = now.clone();
            let handled = ["cord", "breaker"].contains(&machine.parts[repair.part.index()].id.as_str());
            if repair.kind == RepairKind::Clean && handled {
                now.open = Open::nothing();
            }
            let answer = gate.permit(StepRequest::Repair(RepairId(u16::try_from(index).unwrap())), &now);
            let board = machine.parts[repair.part.index()].kind == PartKind::Control;
            match answer {
                Ok(_) => assert!(repair.kind != RepairKind::Refer && !board, "{}", repair.id),
                Err(Refusal::Licensed(_)) => assert_eq!(repair.kind, RepairKind::Refer, "{}", repair.id),
                Err(Refusal::NoBoardEvidence(_)) => assert!(board, "{}", repair.id),
                Err(other) => panic!("{}: {}", repair.id, other.say(&machine)),
            }
        }
    }
}

#[test]
fn on_a_machine_that_is_on_only_what_lays_no_wiring_open_comes_off() {
    for (machine, expected) in shipped().into_iter().zip([vec!["pull-out"], vec!["pull-out", "racks"]]) {
        let mut now = Situation::default();
        let mut off = Vec::new();
        while let Some(cover) = openable(&machine.access, &now.open)
            .into_iter()
            .find(|&cover| Gate::of(&machine).permit(StepRequest::OpenCover(cover), &now).is_ok())
        {
            now.open.opened(cover);
            off.push(machine.access.steps[cover.index()].id.clone());
        }
        assert_eq!(off, expected, "{}", machine.id);
    }
}

#[test]
fn the_wall_is_read_and_looked_at_with_the_machine_pulled_out_and_nothing_else_done() {
    for machine in shipped() {
        let pull_out = machine.access.steps.iter().position(|cover| cover.id == "pull-out").unwrap();
        let mut now = Situation::default();
        now.open.opened(CoverId(u16::try_from(pull_out).unwrap()));
        let (from, to) = (terminal(&machine, "receptacle.X"), terminal(&machine, "receptacle.Y"));
        let gate = Gate::of(&machine);
        assert!(gate.permit(StepRequest::ReadSupply { from, to }, &now).is_ok());
        assert!(gate.permit(StepRequest::Look(place(&machine, "wall")), &now).is_ok());
        assert!(gate.permit(StepRequest::Look(place(&machine, "block")), &now).is_err());
        assert!(gate.permit(StepRequest::Change(part(&machine, "receptacle")), &now).is_err());
    }
}

#[test]
fn unplugged_nothing_of_the_shipped_machines_is_on_the_map_and_plugged_in_all_of_it_is() {
    for machine in shipped() {
        let off = LiveMap::of(&machine, &unplugged(&machine));
        let on = LiveMap::of(&machine, &Energy::found());
        for terminal in visible(&machine) {
            assert!(!off.may_be_live(terminal) && on.may_be_live(terminal), "{}", machine.id);
        }
    }
}
