//! Certificates of real claims are verified by the checker's own route, and certificates that were meddled with are not.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a test may fail loudly")]

use certificate::{Certificate, Checked, Item, Refused, check, read};
use diagnosis::{Assumptions, Belief, Certified, Evidence, Measured, NotCertified, Stirred, Suspect, certify};
use machine::model::{FaultId, Machine, PartId, StateId, VariantId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen, Shown};
use std::sync::OnceLock;
use truth::Dice;

const DRYER: &str = include_str!("../../../machines/dryer-timer-240.toml");
const RANGE: &str = include_str!("../../../machines/range-control-240.toml");
const OVEN: &str = include_str!("../../machine/tests/good/oven.toml");
const FAN_HEATER: &str = include_str!("../../machine/tests/good/fan-heater.toml");
/// What being wrong costs, minutes; any number does.
const IF_WRONG: f64 = 50.0;

fn described(text: &str) -> Machine {
    machine::read(text).machine.unwrap()
}

/// What a unit with these faults is complained of: the first things in the state that differ from a sound machine.
fn complaint(predictor: &Predictor<'_>, state: StateId, faults: &[FaultId]) -> Vec<Evidence> {
    let differs = |seen: &Seen| !predictor.is_sound(seen);
    predictor.observe(state, faults).into_iter().filter(differs).take(2).map(Evidence::Reported).collect()
}

/// What a meter shows between two points of the isolated machine with these faults.
fn ohms(predictor: &Predictor<'_>, at: [&str; 2], faults: &[FaultId]) -> Evidence {
    shown(predictor, Quantity::Ohms, at, Condition::isolated(StateId(0)), faults)
}

fn shown(
    predictor: &Predictor<'_>,
    quantity: Quantity,
    at: [&str; 2],
    condition: Condition,
    faults: &[FaultId],
) -> Evidence {
    let [a, b] = at.map(|name| predictor.machine().terminal(name).unwrap());
    let reading = Reading { quantity, probe: Probe::Across(a, b), condition };
    let measured = match predictor.predict(&reading, faults).shown {
        Shown::Value { value, .. } => Measured::Value(value),
        Shown::OverRange => Measured::OverRange,
        Shown::Ghost { highest } => Measured::Value(0.02 * highest.min(300.0)),
    };
    Evidence::Read { reading, measured }
}

fn believed<'p, 'm>(predictor: &'p Predictor<'m>, evidence: &[Evidence]) -> Belief<'p, 'm> {
    let mut belief = Belief::new(predictor, Assumptions::default());
    evidence.iter().for_each(|item| belief.take(item.clone()));
    belief
}

fn verified(machine: &Machine, certified: &Certified) -> Checked {
    let certificate = &certified.certificate;
    check(machine, &certificate.given, certificate).unwrap_or_else(|refused| panic!("{refused}"))
}

/// Certifies what the belief finds likeliest needed, verifies it, and holds the bounds close to the belief's own shares.
fn certified_close(story: &str, belief: &Belief<'_, '_>) -> (Certificate, Checked) {
    let (repair, share) = belief.repair_shares()[0];
    let certified = certify(belief, Some(repair), IF_WRONG).unwrap();
    let checked = verified(belief.machine(), &certified);
    println!(
        "{story}: `{}` is needed with {share:.6}, at least {:.6}; cures alone with {:.6}, at least {:.6}; {} singles and {} \
         pairs solved afresh, {} by weight",
        belief.machine().repairs[repair.index()].id,
        checked.needed_at_least,
        certified.alone,
        checked.alone_at_least,
        checked.singles_solved,
        checked.pairs_solved,
        checked.by_weight
    );
    assert!((certified.needed - share).abs() < 1e-6 + belief.dropped(), "{} is not {share}", certified.needed);
    assert!(checked.needed_at_least <= certified.needed + 1e-9 && checked.alone_at_least <= certified.alone + 1e-9);
    assert!(certified.needed - checked.needed_at_least < 2e-3, "{checked:?}");
    assert!(certified.alone - checked.alone_at_least < 2e-3, "{checked:?}");
    (certified.certificate, checked)
}

#[test]
fn an_open_heater_of_the_dryer_is_certified_and_every_other_suspect_accounted_for() {
    let machine = described(DRYER);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let open = [machine.fault("heater:open").unwrap()];
    let mut evidence = complaint(&predictor, machine.state("heat").unwrap(), &open);
    evidence.push(ohms(&predictor, ["heater.1", "heater.2"], &open));
    evidence.push(Evidence::Looked { part: machine.part("heater").unwrap(), damage: true });
    let (certificate, checked) = certified_close("dryer, heater open", &believed(&predictor, &evidence));
    assert_eq!(certificate.claim.repair.as_deref(), Some("heater:replace"));
    assert!(checked.needed_at_least > 0.99, "{checked:?}");
    let all = diagnosis::suspects::suspects(&machine, &Assumptions::default());
    let listed = all.iter().filter(|(_, weight)| *weight > 0.0).count();
    let repair = machine.faults[open[0].index()].repair;
    let alone = |s: &Suspect| s.repairs(&machine) == [repair];
    let named = |s: &Suspect| {
        let names: Vec<&str> = s.0.iter().map(|f| machine.faults[f.index()].id.as_str()).collect();
        certificate.supports.iter().any(|support| support.faults == names)
    };
    // What the repair cures alone speaks for it and may be left out; all else has its place.
    let left_out = all.iter().filter(|(s, weight)| *weight > 0.0 && alone(s) && !named(s)).count();
    let accounted = certificate.supports.len() + checked.singles_solved + checked.pairs_solved + checked.by_weight;
    assert_eq!(accounted + left_out, listed);
}

#[test]
fn a_dead_bake_element_of_the_range_is_certified() {
    let machine = described(RANGE);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let open = [machine.fault("bake:open").unwrap()];
    let bake = machine.state("bake").unwrap();
    let mut evidence = complaint(&predictor, bake, &open);
    evidence.push(ohms(&predictor, ["bake.1", "bake.2"], &open));
    evidence.push(Evidence::Looked { part: machine.part("bake").unwrap(), damage: true });
    let (certificate, checked) = certified_close("range, bake element open", &believed(&predictor, &evidence));
    assert_eq!(certificate.claim.repair.as_deref(), Some("bake:replace"));
    assert!(checked.needed_at_least > 0.99, "{checked:?}");
}

#[test]
fn nothing_wrong_is_certified_where_everything_was_watched_to_go_well() {
    let machine = described(FAN_HEATER);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let high = machine.state("high").unwrap();
    let mut evidence = complaint(&predictor, high, &[machine.fault("element-high:open").unwrap()]);
    for state in [high, machine.state("low").unwrap()] {
        evidence.extend(predictor.observe(state, &[]).into_iter().map(Evidence::Watched));
    }
    let belief = believed(&predictor, &evidence);
    let certified = certify(&belief, None, IF_WRONG).unwrap();
    let checked = verified(&machine, &certified);
    println!("fan heater, nothing wrong: {} at least {}", certified.alone, checked.alone_at_least);
    assert_eq!(certified.certificate.claim.repair, None);
    let share = belief.shares().into_iter().find(|(suspect, _)| suspect.0.is_empty()).unwrap().1;
    assert!((certified.alone - share).abs() < 1e-6 + belief.dropped(), "{} is not {share}", certified.alone);
    assert!(certified.alone > 0.5 && certified.alone - checked.alone_at_least < 2e-3, "{checked:?}");
}

#[test]
fn after_a_repair_there_is_no_certificate() {
    let machine = described(FAN_HEATER);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let repair = machine.faults[0].repair;
    let belief = believed(&predictor, &[Evidence::Repaired(repair)]);
    assert_eq!(certify(&belief, Some(repair), IF_WRONG), Err(NotCertified::AfterRepair));
}

#[test]
fn how_fast_an_oven_gets_warm_is_out_of_the_checkers_reach_and_said_so() {
    let machine = described(RANGE);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let open = [machine.fault("bake:open").unwrap()];
    let belief = believed(&predictor, &complaint(&predictor, machine.state("preheat").unwrap(), &open));
    let refused = certify(&belief, Some(machine.faults[open[0].index()].repair), IF_WRONG).unwrap_err();
    assert!(matches!(refused, NotCertified::OutOfReach(_)), "{refused}");
}

#[test]
fn a_second_sitting_and_what_is_said_to_come_and_go_are_out_of_the_checkers_reach() {
    let machine = described(FAN_HEATER);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    for item in [Evidence::Stirred(Stirred::Again), Evidence::ComesAndGoes(true)] {
        let refused = certify(&believed(&predictor, &[item]), None, IF_WRONG).unwrap_err();
        assert!(matches!(refused, NotCertified::OutOfReach(_)), "{refused}");
    }
}

/// Draws a fault or two, what is complained of, and a few readings and looks of any kind, a little off.
fn drawn(predictor: &Predictor<'_>, seed: u64) -> Vec<Evidence> {
    let machine = predictor.machine();
    let mut dice = Dice::of(seed, &[7]);
    let mut any = |of: usize| u16::try_from(dice.one_of(of).unwrap()).unwrap();
    let faults: Vec<FaultId> = (0..1 + any(2)).map(|_| FaultId(any(machine.faults.len()))).collect();
    let mut state = || StateId(any(machine.states.len()));
    let mut evidence = complaint(predictor, state(), &faults);
    let watched = state();
    evidence.extend(predictor.observe(watched, &faults).into_iter().map(Evidence::Watched).take(2));
    let names: Vec<&str> = machine.terminals.iter().filter(|t| !t.hidden).map(|t| t.name.as_str()).collect();
    for _ in 0..3 {
        let at = [names[usize::from(any(names.len()))], names[usize::from(any(names.len()))]];
        let condition = Condition::isolated(StateId(any(machine.states.len())));
        let (quantity, condition) = match any(3) {
            0 => (Quantity::Volts, Condition { plugged: true, ..condition }),
            _ => (Quantity::Ohms, condition),
        };
        let mut item = shown(predictor, quantity, at, condition, &faults);
        if let Evidence::Read { measured: Measured::Value(value), .. } = &mut item {
            *value *= 1.0 + 0.002 * f64::from(any(9));
        }
        evidence.push(item);
    }
    evidence.push(Evidence::Looked { part: PartId(any(machine.parts.len())), damage: any(4) == 0 });
    evidence
}

#[test]
fn whatever_was_found_the_bounds_hold_and_lie_close_to_the_belief() {
    let machine = described(FAN_HEATER);
    for (meter, seeds) in [(Meter::ordinary(), 0..16), (Meter { volts_input_ohms: 3e3, ..Meter::ordinary() }, 24..28)] {
        let predictor = Predictor::new(&machine, meter);
        for seed in seeds {
            certified_close(&format!("fan heater, seed {seed}"), &believed(&predictor, &drawn(&predictor, seed)));
        }
    }
}

#[test]
fn of_a_larger_machine_whatever_was_found_the_bounds_hold() {
    let machine = described(OVEN);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    certified_close("oven, seed 2", &believed(&predictor, &drawn(&predictor, 2)));
}

/// A certificate of a small machine, to meddle with.
fn sound() -> &'static (Machine, Certificate) {
    static SOUND: OnceLock<(Machine, Certificate)> = OnceLock::new();
    SOUND.get_or_init(|| {
        let machine = described(FAN_HEATER);
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let open = [machine.fault("element-high:open").unwrap()];
        let mut evidence = complaint(&predictor, machine.state("high").unwrap(), &open);
        evidence.push(ohms(&predictor, ["element-high.1", "element-high.2"], &open));
        evidence.push(Evidence::Looked { part: machine.part("element-high").unwrap(), damage: true });
        let (certificate, _) = certified_close("fan heater, element open", &believed(&predictor, &evidence));
        (machine, certificate)
    })
}

/// Meddles with the sound certificate and gives why it is refused by one who agrees with what it takes as given, or, with
/// `as_it_was`, with what the sound one takes as given.
fn refusal(as_it_was: bool, meddle: impl Fn(&mut Certificate)) -> Refused {
    let (machine, sound) = sound();
    let mut meddled = sound.clone();
    meddle(&mut meddled);
    assert_ne!(meddled, *sound);
    let agreed = if as_it_was { &sound.given } else { &meddled.given };
    let refused = check(machine, agreed, &meddled).unwrap_err();
    println!("{refused}");
    refused
}

#[test]
fn a_dropped_rival_is_missed() {
    let refused = refusal(true, |c| drop(c.excluded[0].rivals.remove(0)));
    assert!(matches!(refused, Refused::LeftOut { says, found, .. } if found == says + 1), "{refused:?}");
}

#[test]
fn a_dropped_rival_that_is_owned_up_to_breaks_the_claim() {
    let refused = refusal(true, |c| {
        let heaviest = |g: &certificate::Excluded| g.rivals.iter().map(|r| r.log_at_most).fold(f64::MIN, f64::max);
        let group = c.excluded.iter_mut().max_by(|a, b| heaviest(a).total_cmp(&heaviest(b))).unwrap();
        c.left_to_weight += group.rivals.len();
        group.rivals.clear();
    });
    assert!(matches!(refused, Refused::Claim { .. }), "{refused:?}");
}

#[test]
fn a_weight_that_was_lowered_is_not_agreed_with() {
    let lower = |c: &mut Certificate| {
        c.given.assumed.weights.insert("element-high:open".to_owned(), 1e-3);
    };
    let refused = refusal(true, lower);
    assert!(matches!(&refused, Refused::NotAgreed { place, .. } if place == "assumed.weights"), "{refused:?}");
    // Even to one who agrees with it the bounds are then other ones.
    assert!(matches!(refusal(false, lower), Refused::Bound { .. }));
}

#[test]
fn a_reading_that_was_altered_is_not_agreed_with_and_no_longer_bears_the_bounds() {
    let alter = |c: &mut Certificate| {
        let reading =
            c.given.evidence.iter_mut().find_map(|item| if let Item::Read(r) = item { Some(r) } else { None });
        reading.unwrap().shows = Some(21.0);
    };
    let refused = refusal(true, alter);
    assert!(matches!(&refused, Refused::NotAgreed { place, .. } if place.starts_with("evidence.")), "{refused:?}");
    assert!(matches!(refusal(false, alter), Refused::Bound { .. }));
}

#[test]
fn a_claim_that_was_raised_is_not_borne() {
    let refused = refusal(true, |c| c.claim.needed_at_least = 0.5 * (1.0 + c.claim.needed_at_least));
    assert!(matches!(refused, Refused::Claim { what: "the share that needs the repair", .. }), "{refused:?}");
    let refused = refusal(true, |c| c.claim.alone_at_least += 1e-3);
    assert!(matches!(refused, Refused::Claim { .. }), "{refused:?}");
    let refused = refusal(true, |c| c.claim.minutes_lost_at_most *= 0.5);
    assert!(matches!(refused, Refused::Claim { what: "the minutes lost at most", .. }), "{refused:?}");
    let refused = refusal(true, |c| c.given.minutes_if_wrong = 1.0);
    assert!(matches!(&refused, Refused::NotAgreed { place, .. } if place == "minutes_if_wrong"), "{refused:?}");
}

#[test]
fn a_bound_that_was_shrunk_does_not_hold() {
    let refused = refusal(true, |c| c.excluded[0].rivals[0].log_at_most -= 0.01);
    assert!(matches!(refused, Refused::Bound { says, found, .. } if says < found), "{refused:?}");
    let refused = refusal(true, |c| c.supports[0].log_at_least += 0.01);
    assert!(matches!(refused, Refused::Bound { says, found, .. } if says > found), "{refused:?}");
}

#[test]
fn a_suspect_on_the_wrong_side_twice_or_unknown_is_refused() {
    let twice = refusal(true, |c| {
        let again = c.supports[0].clone();
        c.supports.push(again);
    });
    assert!(matches!(twice, Refused::Misplaced(_)), "{twice:?}");
    let wrong_side = refusal(true, |c| {
        let rival = c.excluded[0].rivals[0].clone();
        c.supports.push(certificate::Support { faults: rival.faults, log_at_least: -99.0 });
    });
    assert!(matches!(wrong_side, Refused::Misplaced(_)), "{wrong_side:?}");
    let unknown = refusal(true, |c| c.supports[0].faults = vec!["element-high:opne".to_owned()]);
    assert!(unknown.to_string().contains("did you mean `element-high:open`"), "{unknown}");
    let repeated = refusal(true, |c| c.excluded[0].by = vec![1, 1]);
    assert!(matches!(repeated, Refused::Misplaced(_)), "{repeated:?}");
}

#[test]
fn another_repair_another_machine_and_another_version_are_refused() {
    let (machine, _) = sound();
    let other = machine.repairs.iter().find(|r| !r.id.starts_with("element-high")).unwrap();
    refusal(true, |c| c.claim.repair = Some(other.id.clone()));
    assert!(matches!(refusal(true, |c| c.claim.repair = None), Refused::Misplaced(_)));
    assert!(matches!(refusal(true, |c| c.machine = "another".to_owned()), Refused::Unreadable(_)));
    assert!(matches!(refusal(true, |c| c.version = 2), Refused::Unreadable(_)));
}

#[test]
fn a_certificate_reads_back_bit_for_bit_and_knows_no_other_keys() {
    let (_, sound) = sound();
    let text = serde_json::to_string_pretty(sound).unwrap();
    assert_eq!(read(&text).unwrap(), *sound);
    assert!(read(&text.replacen("\"machine\"", "\"engine\"", 1)).is_err());
    assert!(read("{}").is_err());
}

#[test]
fn a_certificate_over_builds_is_verified_and_tells_what_is_settled() {
    let mut machine = shipped::find("dryer-control-240").unwrap().read().unwrap();
    for settle in [false, true] {
        if settle {
            machine.settle(&[(VariantId(0), Some(0))]);
        }
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let open = [machine.fault("heater:open").unwrap()];
        let heat = machine.state("heat").unwrap();
        let mut evidence = complaint(&predictor, heat, &open);
        evidence.push(ohms(&predictor, ["heater.1", "heater.2"], &open));
        evidence.push(ohms(&predictor, ["sensor.1", "sensor.2"], &open));
        let built = Evidence::Built { variant: VariantId(1), option: None };
        evidence.push(built);
        let belief = believed(&predictor, &evidence);
        let repair = machine[open[0]].repair;
        let certified = certify(&belief, Some(repair), IF_WRONG).unwrap();
        assert!(verified(&machine, &certified).needed_at_least > 0.9);
        assert_eq!(certified.certificate.given.settled.is_empty(), !settle);
        // Whoever verifies needs the description alone: what is settled stands in the certificate.
        let described = shipped::find("dryer-control-240").unwrap().read().unwrap();
        assert!(check(&described, &certified.certificate.given, &certified.certificate).is_ok());
    }
}
