//! The gate on the bench machine, rule by rule: what passes, and the one fact whose lack refuses it.

use crate::support::{bench, branch_of, cover, part, place, proof_at, repair, state, terminal, unplugged};
use danger::{
    Class, Counts, End, EndRefusal, Energy, Gate, HazardAction, HazardFound, IsolatedReading, Isolator, LastResort,
    Permit, Refusal, Secured, Signal, Signature, Situation, StepRequest, Store, Valve,
};
use machine::Machine;
use machine::access::Hazard;
use std::collections::BTreeSet;

fn ask(machine: &Machine, request: StepRequest, now: &Situation) -> Result<Permit, Refusal> {
    Gate::of(machine).permit(request, now)
}

/// Everything open, unplugged, discharged, proved dead at each place inside, nobody near.
fn made_safe(machine: &Machine) -> Situation {
    let energy = unplugged(machine);
    let open = ["pull-out", "back", "console", "front", "sump-shield", "drawer"].map(|id| cover(machine, id));
    let dead = ["block", "console", "drive", "sump", "burner"].map(|id| proof_at(machine, &energy, id));
    Situation {
        energy,
        open: open.into_iter().collect(),
        people_clear: true,
        dead: dead.to_vec(),
        ..Situation::default()
    }
}

/// Everything open and on.
fn energised(machine: &Machine) -> Situation {
    let mut now = made_safe(machine);
    now.energy.energise();
    now
}

fn ohms(machine: &Machine, from: &str, to: &str) -> StepRequest {
    StepRequest::ReadIsolated { from: terminal(machine, from), to: terminal(machine, to), how: IsolatedReading::Ohms }
}

fn clipped(machine: &Machine, from: &str, to: &str) -> StepRequest {
    let state = state(machine, "wash");
    StepRequest::ReadClipped { from: terminal(machine, from), to: terminal(machine, to), state }
}

fn reason() -> LastResort {
    LastResort { no_dead_test: "it fails only warm and turning".into(), no_clips: "no room for a clip".into() }
}

fn probe(machine: &Machine, from: &str, to: &str, reason: LastResort) -> StepRequest {
    let state = state(machine, "wash");
    StepRequest::ProbeEnergised { from: terminal(machine, from), to: terminal(machine, to), state, reason }
}

fn hazard(action: HazardAction) -> HazardFound {
    HazardFound {
        what: "frame live".into(),
        kind: Hazard::Shock,
        dangerous: true,
        told_to: "the customer".into(),
        action,
        signed: Signature::Refused,
    }
}

#[test]
fn with_gas_in_the_air_only_leaving_is_permitted() {
    let machine = bench();
    let now = Situation { gas_smelled: true, ..made_safe(&machine) };
    for request in [
        StepRequest::ProveMeter,
        StepRequest::Isolate(Isolator::Breaker),
        StepRequest::Disconnect,
        StepRequest::Look(place(&machine, "panel")),
        StepRequest::End(End::Leave),
        ohms(&machine, "heater.1", "heater.2"),
    ] {
        assert_eq!(ask(&machine, request, &now).unwrap_err(), Refusal::GasSmelled);
    }
    let out = ask(&machine, StepRequest::Evacuate, &now).unwrap();
    assert_eq!(out.cautions()[0].signal, Signal::Danger);
    assert!(out.cautions()[0].sentence.starts_with("Gas. Switch nothing"));
}

#[test]
fn an_isolated_reading_needs_isolation_securing_and_a_proof_of_both_points() {
    let machine = bench();
    let request = || ohms(&machine, "heater.1", "heater.2");
    let sound = made_safe(&machine);
    assert_eq!(ask(&machine, request(), &sound).unwrap().class(), Class::Isolated);
    let on = Situation { energy: Energy::found(), ..sound.clone() };
    assert_eq!(ask(&machine, request(), &on).unwrap_err(), Refusal::NotIsolated);
    let mut loose = sound.clone();
    loose.energy = Energy::found();
    loose.energy.isolate(Isolator::Plug);
    assert_eq!(ask(&machine, request(), &loose).unwrap_err(), Refusal::NotSecured);
    let unproved = Situation { dead: vec![], ..sound.clone() };
    assert!(matches!(ask(&machine, request(), &unproved), Err(Refusal::NotProvedDead(_))));
    // Two proofs that share no reading between the two points are none.
    assert!(matches!(ask(&machine, ohms(&machine, "heater.1", "block.N"), &sound), Err(Refusal::NotProvedDead(_))));
}

#[test]
fn a_proof_from_before_the_last_run_is_spent() {
    let machine = bench();
    let mut now = energised(&machine);
    now.energy.isolate(Isolator::Plug);
    now.energy.secure(Secured::PlugInSight).unwrap();
    assert!(matches!(ask(&machine, ohms(&machine, "heater.1", "heater.2"), &now), Err(Refusal::NotProvedDead(_))));
}

#[test]
fn a_place_behind_covers_is_not_read() {
    let machine = bench();
    let mut now = made_safe(&machine);
    now.open.closed(cover(&machine, "sump-shield"));
    let why = ask(&machine, ohms(&machine, "heater.1", "heater.2"), &now).unwrap_err();
    assert_eq!(why, Refusal::NotExposed(place(&machine, "sump")));
    assert_eq!(why.say(&machine), "`sump` is behind covers; open them first");
}

#[test]
fn supply_readings_are_allowed_from_the_start_and_counted_apart() {
    let machine = bench();
    let mut now = Situation::default();
    now.open.opened(cover(&machine, "pull-out"));
    let slots =
        |from: &str, to: &str| StepRequest::ReadSupply { from: terminal(&machine, from), to: terminal(&machine, to) };
    let permit = ask(&machine, slots("receptacle.X", "receptacle.W"), &now).unwrap();
    assert_eq!(permit.class(), Class::SupplyOrProving);
    assert_eq!(permit.cautions()[0].signal, Signal::Danger);
    let mut counts = Counts::default();
    counts.add(&permit);
    counts.add(&ask(&machine, StepRequest::ProveMeter, &now).unwrap());
    assert_eq!((counts.of(Class::SupplyOrProving), counts.of(Class::OpenEnergisedProbing)), (2, 0));
    let inside = slots("block.L1", "receptacle.W");
    assert_eq!(ask(&machine, inside, &now).unwrap_err(), Refusal::NotASupplyTerminal(terminal(&machine, "block.L1")));
    now.wet = true;
    assert_eq!(ask(&machine, slots("receptacle.X", "receptacle.W"), &now).unwrap_err(), Refusal::Wet);
}

#[test]
fn clips_go_on_dead_and_come_off_dead() {
    let machine = bench();
    let now = made_safe(&machine);
    let permit = ask(&machine, clipped(&machine, "heater.1", "heater.2"), &now).unwrap();
    assert_eq!(permit.class(), Class::ClippedDead);
    assert_eq!(permit.order().first(), Some(&"attach the clips with the machine dead"));
    assert_eq!(permit.order().last(), Some(&"prove dead again before you take the clips off"));
    let on = energised(&machine);
    assert_eq!(ask(&machine, clipped(&machine, "heater.1", "heater.2"), &on).unwrap_err(), Refusal::NotIsolated);
    let crowd = Situation { people_clear: false, ..now.clone() };
    assert_eq!(ask(&machine, clipped(&machine, "heater.1", "heater.2"), &crowd).unwrap_err(), Refusal::PeopleNotClear);
}

#[test]
fn a_bus_is_neither_clipped_nor_probed_energised() {
    let machine = bench();
    let bus = Refusal::HighVoltage(terminal(&machine, "control.L"));
    assert_eq!(ask(&machine, clipped(&machine, "control.L", "control.N"), &made_safe(&machine)).unwrap_err(), bus);
    assert_eq!(
        ask(&machine, probe(&machine, "control.L", "control.N", reason()), &energised(&machine)).unwrap_err(),
        bus
    );
}

#[test]
fn a_source_above_the_mains_is_neither_clipped_nor_probed() {
    let mut machine = bench();
    let igniter = part(&machine, "igniter");
    let mut high = machine.branches[0].clone();
    high.part = igniter;
    (high.from, high.to) = (terminal(&machine, "igniter.1"), terminal(&machine, "igniter.2"));
    high.law = machine::model::Law::Source { volts: 2100.0, degrees: 0.0, series_ohms: 1e4, tolerance: 0.1 };
    machine.branches.push(high);
    let request = clipped(&machine, "igniter.1", "igniter.2");
    assert!(matches!(ask(&machine, request, &made_safe(&machine)), Err(Refusal::HighVoltage(_))));
}

#[test]
fn probing_by_hand_needs_a_reason_and_a_dry_place_without_charge() {
    let machine = bench();
    let now = energised(&machine);
    let charged = ask(&machine, probe(&machine, "cap.1", "motor.2", reason()), &now).unwrap_err();
    assert_eq!(charged, Refusal::HighVoltage(terminal(&machine, "cap.1")));
    let permit = ask(&machine, probe(&machine, "plug4.1b", "motor.2", reason()), &now).unwrap();
    assert_eq!(permit.class(), Class::OpenEnergisedProbing);
    for lacking in [
        LastResort::default(),
        LastResort { no_clips: " ".into(), ..reason() },
        LastResort { no_dead_test: String::new(), ..reason() },
    ] {
        let why = ask(&machine, probe(&machine, "plug4.1b", "motor.2", lacking), &now).unwrap_err();
        assert_eq!(why, Refusal::NoReason);
    }
    assert_eq!(ask(&machine, probe(&machine, "heater.1", "heater.2", reason()), &now).unwrap_err(), Refusal::Wet);
    let why = ask(&machine, probe(&machine, "plug4.1b", "motor.2", reason()), &made_safe(&machine)).unwrap_err();
    assert_eq!(why, Refusal::NotEnergised);
}

#[test]
fn no_probe_reaches_a_hidden_point_and_two_points_are_two() {
    let machine = bench();
    let hidden = machine.terminals.iter().position(|terminal| terminal.hidden && terminal.name.starts_with("house"));
    let hidden = machine.terminals[hidden.unwrap()].name.clone();
    let why = ask(&machine, ohms(&machine, &hidden, "heater.1"), &made_safe(&machine)).unwrap_err();
    assert_eq!(why, Refusal::Hidden(terminal(&machine, &hidden)));
    let why = ask(&machine, ohms(&machine, "heater.1", "heater.1"), &made_safe(&machine)).unwrap_err();
    assert_eq!(why, Refusal::SamePoint);
}

#[test]
fn covers_come_off_isolated_but_a_drawer_and_pulling_out_do_not_ask_for_it() {
    let machine = bench();
    let on = Situation::default();
    for harmless in ["pull-out", "drawer"] {
        assert!(ask(&machine, StepRequest::OpenCover(cover(&machine, harmless)), &on).is_ok(), "{harmless}");
    }
    for grave in ["console", "front"] {
        let why = ask(&machine, StepRequest::OpenCover(cover(&machine, grave)), &on).unwrap_err();
        assert_eq!(why, Refusal::NotIsolated, "{grave}");
    }
    let held = ask(&machine, StepRequest::OpenCover(cover(&machine, "back")), &on).unwrap_err();
    assert_eq!(held, Refusal::CoverHeld(cover(&machine, "back")));
    let on_already = ask(&machine, StepRequest::CloseCover(cover(&machine, "drawer")), &on).unwrap_err();
    assert_eq!(on_already, Refusal::CoverIsOn(cover(&machine, "drawer")));
}

#[test]
fn looks_inside_are_isolated_and_looks_outside_are_free() {
    let machine = bench();
    let mut now = energised(&machine);
    for outside in ["panel", "wall", "drawer-well"] {
        assert!(ask(&machine, StepRequest::Look(place(&machine, outside)), &now).is_ok(), "{outside}");
    }
    for inside in ["block", "console", "drive", "sump", "burner"] {
        let why = ask(&machine, StepRequest::Look(place(&machine, inside)), &now).unwrap_err();
        assert_eq!(why, Refusal::NotIsolated, "{inside}");
        assert!(ask(&machine, StepRequest::Look(place(&machine, inside)), &made_safe(&machine)).is_ok(), "{inside}");
    }
    now.open.closed(cover(&machine, "drawer"));
    let why = ask(&machine, StepRequest::Look(place(&machine, "drawer-well")), &now).unwrap_err();
    assert_eq!(why, Refusal::NotExposed(place(&machine, "drawer-well")));
}

#[test]
fn nothing_runs_with_people_near_bare_ends_water_or_open_panels() {
    let machine = bench();
    let sound = made_safe(&machine);
    let run = |standing_clear| StepRequest::Try { state: state(&machine, "wash"), standing_clear };
    let start = |standing_clear| StepRequest::Energise { standing_clear };
    for request in [run(true), start(true)] {
        assert_eq!(ask(&machine, request.clone(), &sound).unwrap().class(), Class::Try);
        let refuse = |spoil: &dyn Fn(&mut Situation)| {
            let mut now = sound.clone();
            spoil(&mut now);
            ask(&machine, request.clone(), &now).unwrap_err()
        };
        let end = terminal(&machine, "heater.1");
        assert_eq!(refuse(&|now| now.people_clear = false), Refusal::PeopleNotClear);
        assert_eq!(refuse(&|now| now.wet = true), Refusal::Wet);
        assert_eq!(refuse(&|now| now.lifted.extend([end])), Refusal::BareEnds(vec![end]));
        assert_eq!(
            refuse(&|now| now.hazards.push(hazard(HazardAction::Disconnected))),
            Refusal::DangerousHazard(vec![0])
        );
        let mut capped = sound.clone();
        capped.lifted.insert(end);
        capped.capped.insert(end);
        assert!(ask(&machine, request.clone(), &capped).is_ok());
    }
    for request in [run(false), start(false)] {
        let Err(Refusal::CloseFirst(covers)) = ask(&machine, request, &sound) else { panic!("ran with panels off") };
        let closed: BTreeSet<_> = covers.into_iter().collect();
        assert!(closed.contains(&cover(&machine, "front")) && closed.contains(&cover(&machine, "back")));
    }
}

#[test]
fn leads_lift_and_connectors_come_apart_dead_only() {
    let machine = bench();
    let lift = |at: &str| StepRequest::LiftLead { lead: part(&machine, "H1"), at: terminal(&machine, at) };
    let pull = || StepRequest::Unplug(part(&machine, "plug4"));
    assert!(ask(&machine, lift("heater.1"), &made_safe(&machine)).is_ok());
    assert!(ask(&machine, pull(), &made_safe(&machine)).is_ok());
    assert_eq!(ask(&machine, lift("heater.2"), &made_safe(&machine)).unwrap_err(), Refusal::NotItsEnd);
    for request in [lift("heater.1"), pull()] {
        let mut unproved = made_safe(&machine);
        unproved.dead.clear();
        assert!(matches!(ask(&machine, request.clone(), &unproved), Err(Refusal::NotProvedDead(_))));
        assert_eq!(ask(&machine, request, &energised(&machine)).unwrap_err(), Refusal::NotIsolated);
    }
}

#[test]
fn a_part_changes_dead_and_a_belt_by_the_wiring_of_its_place_or_the_block() {
    let machine = bench();
    let sound = made_safe(&machine);
    for id in ["heater", "belt", "motor", "cap"] {
        let change = || StepRequest::Change(part(&machine, id));
        assert_eq!(ask(&machine, change(), &sound).unwrap().class(), Class::Isolated, "{id}");
        let unproved = Situation { dead: vec![], ..sound.clone() };
        assert!(matches!(ask(&machine, change(), &unproved), Err(Refusal::NotProvedDead(_))), "{id}");
    }
    let block = Situation { dead: vec![proof_at(&machine, &sound.energy, "block")], ..sound.clone() };
    assert!(ask(&machine, StepRequest::Change(part(&machine, "belt")), &block).is_ok());
    assert!(ask(&machine, StepRequest::Change(part(&machine, "heater")), &block).is_err());
}

#[test]
fn a_board_is_not_changed_by_elimination() {
    let machine = bench();
    let change = StepRequest::Change(part(&machine, "control"));
    let why = ask(&machine, change, &made_safe(&machine)).unwrap_err();
    assert_eq!(why, Refusal::NoBoardEvidence(part(&machine, "control")));
    let why =
        ask(&machine, StepRequest::Repair(repair(&machine, "control:replace")), &made_safe(&machine)).unwrap_err();
    assert_eq!(why, Refusal::NoBoardEvidence(part(&machine, "control")));
}

#[test]
fn house_breaker_and_receptacle_are_for_the_licensed() {
    let machine = bench();
    let mut now = made_safe(&machine);
    now.energy.isolate(Isolator::Breaker);
    now.energy.secure(Secured::LockedAndTagged).unwrap();
    for id in ["house", "breaker", "receptacle"] {
        let why = ask(&machine, StepRequest::Change(part(&machine, id)), &now).unwrap_err();
        assert_eq!(why, Refusal::Licensed(part(&machine, id)));
    }
    for repair in &machine.repairs {
        if repair.kind == machine::faults::RepairKind::Refer {
            let id = crate::support::repair(&machine, &repair.id);
            assert_eq!(ask(&machine, StepRequest::Repair(id), &now).unwrap_err(), Refusal::Licensed(repair.part));
        }
    }
    let pole = ohms(&machine, "breaker.1", "heater.1");
    assert!(matches!(ask(&machine, pole, &now), Err(Refusal::Licensed(_))));
}

#[test]
fn plugging_in_or_resetting_is_to_energise_whatever_it_mends() {
    let machine = bench();
    let resets = machine.repairs.iter().filter(|repair| repair.kind == machine::faults::RepairKind::Clean);
    let resets: Vec<_> =
        resets.filter(|repair| ["cord", "breaker"].contains(&machine.parts[repair.part.index()].id.as_str())).collect();
    assert_eq!(resets.len(), 2);
    for reset in resets {
        let request = StepRequest::Repair(repair(&machine, &reset.id));
        let shut = Situation { people_clear: true, ..Situation::default() };
        assert!(ask(&machine, request.clone(), &shut).is_ok());
        assert_eq!(ask(&machine, request.clone(), &Situation::default()).unwrap_err(), Refusal::PeopleNotClear);
        assert!(matches!(ask(&machine, request, &made_safe(&machine)), Err(Refusal::CloseFirst(_))));
    }
}

#[test]
fn a_cord_changes_with_the_slots_left_live_in_the_wall() {
    let machine = bench();
    let sound = made_safe(&machine);
    let work = danger::WorkPoint::at(
        &machine,
        &["plug.X", "plug.W", "plug.G", "block.L1", "block.N"].map(|name| terminal(&machine, name)),
    );
    let record = crate::support::good_record(&work, sound.energy.epoch());
    let proof = danger::judge_dead(&machine, &sound.energy, &record).unwrap();
    let now = Situation { dead: vec![proof], ..sound };
    assert!(ask(&machine, StepRequest::Change(part(&machine, "cord")), &now).is_ok());
}

#[test]
fn by_the_burner_the_gas_is_shut_first() {
    let machine = bench();
    let mut now = made_safe(&machine);
    let change = || StepRequest::Change(part(&machine, "igniter"));
    assert_eq!(ask(&machine, change(), &now).unwrap_err(), Refusal::ShutGas);
    now.energy.set_gas(Valve::Shut);
    let permit = ask(&machine, change(), &now).unwrap();
    assert!(permit.cautions().iter().any(|caution| caution.hazard == Hazard::FuelGas));
}

#[test]
fn an_insulation_test_does_not_reach_a_board() {
    let machine = bench();
    let mut now = made_safe(&machine);
    let test = || StepRequest::ReadIsolated {
        from: terminal(&machine, "heater.1"),
        to: machine.supply.frame,
        how: IsolatedReading::Insulation,
    };
    let why = ask(&machine, test(), &now).unwrap_err();
    assert_eq!(why, Refusal::LiftBoards(vec![part(&machine, "control")]));
    assert_eq!(why.say(&machine), "the main board would take the test volts; lift its leads first");
    now.lifted.insert(terminal(&machine, "heater.1"));
    assert!(ask(&machine, test(), &now).is_err(), "the other end still hangs on the neutral");
    now.lifted.insert(terminal(&machine, "heater.2"));
    assert!(ask(&machine, test(), &now).is_ok());
}

#[test]
fn bare_metal_of_the_frame_opens_no_cover_and_spares_no_proof() {
    let machine = bench();
    let now = made_safe(&machine);
    let frame = machine.supply.frame;
    let read =
        || StepRequest::ReadIsolated { from: terminal(&machine, "heater.1"), to: frame, how: IsolatedReading::Ohms };
    assert!(ask(&machine, read(), &now).is_ok());
    let shut = Situation { open: teardown::Open::default(), ..now.clone() };
    assert!(matches!(ask(&machine, read(), &shut), Err(Refusal::NotExposed(_))));
    let unproved = Situation { dead: vec![], ..now };
    assert!(matches!(ask(&machine, read(), &unproved), Err(Refusal::NotProvedDead(_))));
}

#[test]
fn a_clamp_inside_goes_on_dead_and_on_the_cord_unplugged() {
    let machine = bench();
    let wash = state(&machine, "wash");
    let inside = || StepRequest::Clamp { branch: branch_of(&machine, "M2"), state: wash };
    assert_eq!(ask(&machine, inside(), &made_safe(&machine)).unwrap().class(), Class::ClippedDead);
    assert_eq!(ask(&machine, inside(), &energised(&machine)).unwrap_err(), Refusal::NotIsolated);
    let unproved = Situation { dead: vec![], ..made_safe(&machine) };
    assert!(matches!(ask(&machine, inside(), &unproved), Err(Refusal::NotProvedDead(_))));
    let cord = StepRequest::Clamp { branch: branch_of(&machine, "cord"), state: wash };
    assert!(ask(&machine, cord, &unproved).is_ok());
}

#[test]
fn a_store_is_discharged_isolated_and_only_where_there_is_one() {
    let machine = bench();
    let cap = Store::Capacitor(branch_of(&machine, "cap"));
    assert!(ask(&machine, StepRequest::Discharge(cap), &made_safe(&machine)).is_ok());
    assert_eq!(ask(&machine, StepRequest::Discharge(cap), &energised(&machine)).unwrap_err(), Refusal::NotIsolated);
    let none = Store::Capacitor(branch_of(&machine, "heater"));
    assert_eq!(
        ask(&machine, StepRequest::Discharge(none), &made_safe(&machine)).unwrap_err(),
        Refusal::NoSuchStore(none)
    );
}

#[test]
fn no_plug_is_pulled_in_the_wet_or_where_there_is_none() {
    let machine = bench();
    let wet = Situation { wet: true, ..Situation::default() };
    assert_eq!(ask(&machine, StepRequest::Isolate(Isolator::Plug), &wet).unwrap_err(), Refusal::Wet);
    assert!(ask(&machine, StepRequest::Isolate(Isolator::Breaker), &wet).is_ok());
    let mut fixed = bench();
    fixed.supply.receptacle = None;
    assert!(ask(&fixed, StepRequest::Isolate(Isolator::Plug), &Situation::default()).is_err());
}

#[test]
fn leaving_with_a_dangerous_hazard_is_refused_and_disconnecting_is_not() {
    let machine = bench();
    let now = Situation { hazards: vec![hazard(HazardAction::None)], ..Situation::default() };
    for end in [End::Leave, End::Proved, End::Declined, End::Referred, End::AwaitingPart] {
        let why = ask(&machine, StepRequest::End(end), &now).unwrap_err();
        assert_eq!(why, Refusal::End(EndRefusal::DisconnectInstead(vec![0])));
    }
    assert!(ask(&machine, StepRequest::Disconnect, &now).is_ok());
    let done = Situation { hazards: vec![hazard(HazardAction::Disconnected)], ..Situation::default() };
    assert!(ask(&machine, StepRequest::End(End::Disconnected), &done).is_ok());
}

#[test]
fn a_permit_is_for_its_epoch() {
    let machine = bench();
    let mut now = made_safe(&machine);
    let permit = ask(&machine, ohms(&machine, "heater.1", "heater.2"), &now).unwrap();
    assert!(permit.holds(&now.energy));
    now.energy.energise();
    assert!(!permit.holds(&now.energy));
}

#[test]
fn cautions_come_gravest_first_and_name_what_is_there() {
    let machine = bench();
    let mut now = made_safe(&machine);
    now.energy.set_gas(Valve::Shut);
    let permit = ask(&machine, ohms(&machine, "heater.1", "heater.2"), &now).unwrap();
    let hazards: BTreeSet<Hazard> = permit.cautions().iter().map(|caution| caution.hazard).collect();
    assert_eq!(hazards, BTreeSet::from([Hazard::Shock, Hazard::Water, Hazard::HotSurface]));
    assert!(permit.cautions().is_sorted_by_key(|caution| caution.signal));
    let words: BTreeSet<&str> = permit.cautions().iter().map(|caution| caution.signal.word()).collect();
    assert!(words.is_subset(&BTreeSet::from(["DANGER", "WARNING", "CAUTION"])));
}

#[test]
fn nobody_reads_or_works_at_a_place_of_high_voltage() {
    let mut machine = bench();
    let now = made_safe(&machine);
    let points = machine.terminals.iter().filter(|point| !point.hidden && point.place == place(&machine, "drive"));
    let names: Vec<String> = points.map(|point| point.name.clone()).collect();
    let [one, other, ..] = names.as_slice() else { panic!("{names:?}") };
    assert!(ask(&machine, ohms(&machine, one, other), &now).is_ok());
    let at = place(&machine, "drive").index();
    machine.access.places[at].hazards.push(Hazard::HighVoltage);
    // The worst case knows the place too, so the proofs are made anew.
    let now = made_safe(&machine);
    let refused = ask(&machine, ohms(&machine, one, other), &now).unwrap_err();
    assert!(matches!(refused, Refusal::Licensed(_)), "{refused:?}");
    let part = machine.terminals.iter().find(|point| point.name == *one).unwrap().part;
    let repairs = (0..).map(machine::model::RepairId).zip(&machine.repairs);
    for (id, _) in repairs.filter(|(_, repair)| repair.part == part) {
        assert!(matches!(ask(&machine, StepRequest::Repair(id), &now), Err(Refusal::Licensed(_))));
    }
}
