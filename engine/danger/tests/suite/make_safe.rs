//! The make-safe procedure: its order against the published eight steps, and walked through the gate.

use crate::support::{bench, earth_good, meter_good, place, terminal};
use danger::{
    DeadFact, DeadReading, DeadRecord, Energy, Gate, Isolator, MakeSafe, Refusal, SafeStep, Secured, Situation,
    StepRequest, WorkPoint, judge_dead, make_safe, required_measurements,
};
use machine::Machine;
use teardown::plan_teardown;

fn procedure(machine: &Machine, by: Isolator) -> MakeSafe {
    make_safe(machine, &WorkPoint::place(machine, place(machine, "drive")), by)
}

fn first(steps: &[SafeStep], of_eight: u8) -> usize {
    steps.iter().position(|step| step.of_eight == Some(of_eight)).unwrap_or_else(|| panic!("no step {of_eight}"))
}

#[test]
fn all_eight_published_steps_are_served_in_an_order_that_locks_before_opening() {
    // Rows O4-70E-1 to O4-70E-8 of figures/safety.csv: NFPA 70E 120.5 (2018-2021), 120.6 (2024).
    let machine = bench();
    for by in [Isolator::Plug, Isolator::Breaker] {
        let steps = procedure(&machine, by).steps;
        let order: Vec<usize> = [1, 2, 3, 6, 5, 7, 4, 8].map(|number| first(&steps, number)).to_vec();
        assert!(order.is_sorted(), "{order:?}");
        let measuring = |step: &SafeStep| matches!(step.request, Some(StepRequest::ProveDead(_)));
        assert!(first(&steps, 4) < steps.iter().position(measuring).unwrap());
    }
}

#[test]
fn the_meter_is_proved_live_dead_live() {
    // Row O4-LDL: live source, dead circuit, live source (NFPA 70E 120.5(7)).
    let steps = procedure(&bench(), Isolator::Plug).steps;
    let proves: Vec<usize> =
        (0..steps.len()).filter(|&index| steps[index].request == Some(StepRequest::ProveMeter)).collect();
    let reads: Vec<usize> =
        (0..steps.len()).filter(|&index| matches!(steps[index].request, Some(StepRequest::ProveDead(_)))).collect();
    assert_eq!(proves.len(), 2);
    assert!(proves[0] < reads[0] && *reads.last().unwrap() < proves[1]);
}

#[test]
fn a_capacitor_is_held_at_least_twice_its_computed_time() {
    let steps = procedure(&bench(), Isolator::Plug).steps;
    let says: Vec<&str> = steps.iter().filter(|step| step.of_eight == Some(4)).map(|step| step.say.as_str()).collect();
    // 25 uF, 20 kohm, from 169.7 V peak to 3 V: 2.02 s, twice that is under the least of 5 s.
    assert_eq!(says[0], "discharge the motor capacitor with 20 kohm for 5 s, then measure DC volts across it");
    assert_eq!(
        says[1],
        "discharge what holds a charge inside the console with 20 kohm for 30 s, then measure DC volts across it"
    );
}

#[test]
fn walked_by_the_book_every_step_passes_the_gate_and_ends_in_a_proof() {
    let machine = bench();
    let gate = Gate::of(&machine);
    for by in [Isolator::Plug, Isolator::Breaker] {
        let work = WorkPoint::place(&machine, place(&machine, "drive"));
        let mut now = Situation { people_clear: true, ..Situation::default() };
        let mut facts = Vec::new();
        let mut asked = 0;
        for step in make_safe(&machine, &work, by).steps {
            if matches!(step.request, Some(StepRequest::Discharge(_))) && now.open.is_empty() {
                open_up(&machine, &mut now);
            }
            let Some(request) = step.request else {
                if let Some(secured) = step.secures {
                    now.energy.secure(secured).unwrap();
                }
                if step.say.starts_with("prove the earth") {
                    facts.push(earth_good());
                }
                continue;
            };
            let permit = gate.permit(request, &now).unwrap_or_else(|why| panic!("{}: {why}", step.say));
            asked += 1;
            match *permit.request() {
                StepRequest::ProveMeter => facts.push(meter_good()),
                StepRequest::Isolate(by) => now.energy.isolate(by),
                StepRequest::Discharge(store) => now.energy.discharged(store, 0.2).unwrap(),
                StepRequest::ProveDead(pair) => {
                    facts.push(DeadFact::Reading(DeadReading { pair, ac_volts: 0.0, dc_volts: 0.1 }));
                }
                ref other => panic!("{other:?} has no place in making safe"),
            }
        }
        assert_eq!(asked, 1 + 2 + 2 + required_measurements(&work).len());
        let record = DeadRecord { work, epoch: now.energy.epoch(), facts };
        now.dead.push(judge_dead(&machine, &now.energy, &record).unwrap());
        let read = StepRequest::ReadIsolated {
            from: terminal(&machine, "motor.1"),
            to: terminal(&machine, "motor.2"),
            how: danger::IsolatedReading::Ohms,
        };
        assert!(gate.permit(read, &now).is_ok());
    }
}

/// Opens every place that holds a charge, and the work point's, through the gate.
fn open_up(machine: &Machine, now: &mut Situation) {
    let targets = ["drive", "console", "block"].map(|id| place(machine, id));
    for cover in plan_teardown(&machine.access, &targets, &now.open).unwrap().opens() {
        Gate::of(machine).permit(StepRequest::OpenCover(cover), now).unwrap();
        now.open.opened(cover);
    }
}

#[test]
fn the_measuring_out_of_order_is_refused() {
    let machine = bench();
    let steps = procedure(&machine, Isolator::Plug).steps;
    let mut now = Situation { people_clear: true, energy: Energy::found(), ..Situation::default() };
    let measure = steps.iter().find_map(|step| match &step.request {
        Some(request @ StepRequest::ProveDead(_)) => Some(request.clone()),
        _ => None,
    });
    let measure = measure.unwrap();
    assert_eq!(Gate::of(&machine).permit(measure.clone(), &now).unwrap_err(), Refusal::NotIsolated);
    now.energy.isolate(Isolator::Plug);
    assert_eq!(Gate::of(&machine).permit(measure.clone(), &now).unwrap_err(), Refusal::NotSecured);
    now.energy.secure(Secured::PlugInSight).unwrap();
    assert!(matches!(Gate::of(&machine).permit(measure, &now), Err(Refusal::NotExposed(_))));
}

#[test]
fn every_energy_of_the_machine_has_its_isolator_its_proof_and_who_could_restore_it() {
    let machine = bench();
    let all = danger::energy_sources(&machine);
    let kinds: Vec<danger::EnergyKind> = all.iter().map(|source| source.kind).collect();
    let mut expected = vec![danger::EnergyKind::Feed];
    expected.extend(danger::stores(&machine).into_iter().map(danger::EnergyKind::Charge));
    expected.extend([
        danger::EnergyKind::Gas,
        danger::EnergyKind::Water,
        danger::EnergyKind::Heat,
        danger::EnergyKind::Springs,
    ]);
    assert_eq!(kinds, expected);
    assert_eq!(danger::stores(&machine).len(), 2, "the motor capacitor and the board's bus");
    assert!(all.iter().all(|s| !s.isolator.is_empty() && !s.proof.is_empty() && !s.restored_by.is_empty()));
}
