//! Evidence against a board: what condemns it, and everything that does not.

use crate::support::{bench, branch_of, part, state};
use danger::{BoardFacts, BoardTrouble, NeedFact, OutputFact, WhyNotBoard, judge_board};
use machine::Machine;
use machine::model::{BranchId, FlagId, FlagRule, Law, Need, Rule};

fn output(machine: &Machine, name: &str) -> FlagId {
    let found = machine.flags.iter().position(|flag| flag.name == name);
    FlagId(u16::try_from(found.unwrap_or_else(|| panic!("no flag `{name}`"))).unwrap())
}

fn contact(machine: &Machine, output: FlagId) -> BranchId {
    let follows = |law: &Law| matches!(law, Law::Contact { rule: Rule::Flag { flag, .. }, .. } if *flag == output);
    BranchId(u16::try_from(machine.branches.iter().position(|branch| follows(&branch.law)).unwrap()).unwrap())
}

/// Heat called for, supply and sensor good, the contact open under load.
fn absent(machine: &Machine) -> BoardFacts {
    let heat = output(machine, "control:heat");
    let FlagRule::Output { needs, .. } = &machine.flags[heat.index()].rule else { panic!("no output") };
    let needs = needs.iter().map(|need| match need {
        Need::Volts { from, to, .. } => NeedFact::Volts { from: *to, to: *from, volts: 118.0 },
        Need::Sense { source, .. } => NeedFact::Ohms { source: *source, ohms: 2000.0 },
        Need::Works { .. } => panic!("nothing felt"),
    });
    BoardFacts {
        board: part(machine, "control"),
        output: heat,
        state: state(machine, "wash"),
        needs: needs.collect(),
        contact: Some(OutputFact {
            contact: contact(machine, heat),
            load_connected: true,
            supply_volts: 118.0,
            across_volts: 117.5,
        }),
        no_life: false,
        display_normal: false,
    }
}

fn judged(spoil: impl Fn(&Machine, &mut BoardFacts)) -> Result<BoardTrouble, WhyNotBoard> {
    let machine = bench();
    let mut facts = absent(&machine);
    spoil(&machine, &mut facts);
    judge_board(&machine, &facts).map(|evidence| evidence.trouble())
}

#[test]
fn supplies_good_request_present_output_absent_condemns_it() {
    assert_eq!(judged(|_, _| {}), Ok(BoardTrouble::OutputAbsent));
    let machine = bench();
    assert_eq!(judge_board(&machine, &absent(&machine)).unwrap().board(), part(&machine, "control"));
}

#[test]
fn nothing_measured_does_not_condemn_it() {
    assert_eq!(judged(|_, facts| facts.needs.clear()), Err(WhyNotBoard::NeedNotMeasured));
    assert_eq!(judged(|_, facts| facts.contact = None), Err(WhyNotBoard::NeedNotMeasured));
}

#[test]
fn each_need_alone_left_unmeasured_spares_it() {
    let count = absent(&bench()).needs.len();
    assert!(count >= 2, "supply and sensor");
    for index in 0..count {
        assert_eq!(judged(|_, facts| facts.needs.truncate(index)), Err(WhyNotBoard::NeedNotMeasured));
    }
}

#[test]
fn a_low_supply_or_a_sensor_out_of_range_spares_it() {
    let low = |_: &Machine, facts: &mut BoardFacts| {
        for need in &mut facts.needs {
            if let NeedFact::Volts { volts, .. } = need {
                *volts = 60.0;
            }
        }
    };
    assert_eq!(judged(low), Err(WhyNotBoard::NeedNotMet));
    for bad in [100.0, 9000.0, f64::NAN, f64::INFINITY] {
        let open = |_: &Machine, facts: &mut BoardFacts| {
            for need in &mut facts.needs {
                if let NeedFact::Ohms { ohms, .. } = need {
                    *ohms = bad;
                }
            }
        };
        assert_eq!(judged(open), Err(WhyNotBoard::NeedNotMet));
    }
}

#[test]
fn without_its_load_an_output_says_nothing() {
    assert_eq!(judged(|_, facts| facts.contact.as_mut().unwrap().load_connected = false), Err(WhyNotBoard::NoLoad));
}

#[test]
fn a_closed_contact_when_called_for_or_an_open_one_when_not_is_as_it_should() {
    let closed = judged(|_, facts| facts.contact.as_mut().unwrap().across_volts = 0.2);
    assert_eq!(closed, Err(WhyNotBoard::OutputAsItShould));
    let idle = judged(|machine, facts| facts.state = state(machine, "off"));
    assert_eq!(idle, Err(WhyNotBoard::OutputAsItShould));
    assert_eq!(judged(|_, facts| facts.contact.as_mut().unwrap().across_volts = 50.0), Err(WhyNotBoard::Unclear));
}

#[test]
fn a_contact_closed_with_nothing_calling_condemns_it() {
    let stuck = judged(|machine, facts| {
        facts.state = state(machine, "off");
        facts.contact.as_mut().unwrap().across_volts = 0.1;
    });
    assert_eq!(stuck, Ok(BoardTrouble::OutputStuck));
}

#[test]
fn no_life_with_good_supplies_condemns_it_and_with_bad_ones_does_not() {
    let dead = |_: &Machine, facts: &mut BoardFacts| {
        facts.no_life = true;
        facts.contact = None;
    };
    assert_eq!(judged(dead), Ok(BoardTrouble::NoLife));
    let starved = judged(|_, facts| {
        facts.no_life = true;
        facts.needs.clear();
    });
    assert_eq!(starved, Err(WhyNotBoard::NeedNotMeasured));
}

#[test]
fn another_part_output_or_contact_is_none_of_this_board() {
    assert_eq!(judged(|machine, facts| facts.board = part(machine, "motor")), Err(WhyNotBoard::NotABoard));
    let motor = judged(|machine, facts| facts.output = output(machine, "control:motor"));
    assert_eq!(motor, Err(WhyNotBoard::NotItsContact));
    let heater = judged(|machine, facts| facts.contact.as_mut().unwrap().contact = branch_of(machine, "heater"));
    assert_eq!(heater, Err(WhyNotBoard::NotItsContact));
    let breaker = judged(|machine, facts| {
        facts.output = output(machine, "breaker:tripped");
    });
    assert_eq!(breaker, Err(WhyNotBoard::NotItsOutput));
}

/// The shipped range's bake output, requested and absent, with nothing read but the open contact.
fn range_with_its_display(display_normal: bool) -> Result<BoardTrouble, WhyNotBoard> {
    let machine = machine::read(include_str!("../../../../machines/range-control-240.toml")).machine.unwrap();
    let bake = output(&machine, "control:bake");
    let contact =
        OutputFact { contact: contact(&machine, bake), load_connected: true, supply_volts: 240.0, across_volts: 239.0 };
    let facts = BoardFacts {
        board: part(&machine, "control"),
        output: bake,
        state: state(&machine, "bake"),
        needs: Vec::new(),
        contact: Some(contact),
        no_life: false,
        display_normal,
    };
    judge_board(&machine, &facts).map(|evidence| evidence.trouble())
}

#[test]
fn a_display_that_shows_no_code_stands_for_the_readings_it_depends_on() {
    assert_eq!(range_with_its_display(true), Ok(BoardTrouble::OutputAbsent));
    assert_eq!(range_with_its_display(false), Err(WhyNotBoard::NeedNotMeasured));
}

#[test]
fn a_machine_without_a_display_vouches_for_nothing() {
    assert_eq!(
        judged(|_, facts| {
            facts.needs.clear();
            facts.display_normal = true;
        }),
        Err(WhyNotBoard::NeedNotMeasured)
    );
}
