//! An owned insulation tester decides the proofs that an ordinary meter's ohms leave open.

use crate::play::{DRYER, Player, machine, settings};
use book::{Body, JobFact, Outcome, ProofResult};
use call::About;
use call::demo::Demo;
use machine::Machine;
use prediction::{Insulation, Meter, Predictor};

/// Plays the demo with this tester; `typed` answers the tester's asks, the demo all others. Gives the proofs recorded and
/// how often the tester was asked for.
fn proofs(machine: &Machine, insulation: Option<Insulation>, typed: &str) -> (Vec<ProofResult>, usize) {
    let predictor = Predictor::new(machine, Meter { insulation, ..Meter::ordinary() });
    let mut player = Player::new(&predictor, settings(machine));
    let mut demo = Demo::draw(machine, 7).unwrap();
    let mut asked = 0;
    // Stops at the first proof that fails: what comes then is another repair.
    for _ in 0..10 {
        let ask = player.until(&mut demo, |ask| {
            matches!(&ask.about, About::Insulation(_))
                || matches!(&ask.about, About::Line(id) if id.starts_with("failed/"))
        });
        if !matches!(ask.about, About::Insulation(_)) {
            break;
        }
        asked += 1;
        player.say(typed).unwrap();
    }
    let of_insulation = |event: book::Event| match event.body() {
        Body::Job { fact: JobFact::ProofResult(proof), .. } if proof.limit.ends_with("by insulation tester") => {
            Some(ProofResult::clone(proof))
        }
        _ => None,
    };
    (player.events().into_iter().filter_map(of_insulation).collect(), asked)
}

const TESTER: Insulation = Insulation { test_volts: 500.0, limit_ohms: 1e9 };

#[test]
fn without_a_tester_insulation_is_not_decided_and_the_tester_is_not_asked_for() {
    let (proofs, asked) = proofs(&machine(DRYER), None, "OL");
    assert!(!proofs.is_empty() && asked == 0);
    for proof in &proofs {
        assert!(matches!(proof.outcome, Outcome::NotDecided { .. }), "{proof:?}");
        assert_eq!(proof.instrument.as_ref().unwrap().name, "multimeter");
    }
}

#[test]
fn over_the_limit_by_the_tester_passes_and_both_readings_are_kept() {
    let (proofs, asked) = proofs(&machine(DRYER), Some(TESTER), "OL");
    assert!(asked >= 1);
    let tested: Vec<&ProofResult> = proofs.iter().filter(|proof| proof.readings.len() == 2).collect();
    assert_eq!(tested.len(), asked);
    for proof in tested {
        assert_eq!(proof.outcome, Outcome::Passed, "{proof:?}");
        assert_eq!(proof.instrument.as_ref().unwrap().name, "insulation tester");
        assert!(proof.method.starts_with("insulation test"));
    }
}

#[test]
fn under_the_limit_by_the_tester_fails_though_the_ohm_meter_shows_over_range() {
    // The dryer's limit is 300 kohm.
    let (proofs, asked) = proofs(&machine(DRYER), Some(TESTER), "100 kohm");
    assert!(asked >= 1);
    assert!(proofs.iter().any(|proof| proof.outcome == Outcome::Failed && proof.readings.len() == 2), "{proofs:?}");
}

#[test]
fn a_figure_too_near_the_limit_is_not_decided() {
    // 310 kohm and a tenth of it on either side straddle 300 kohm.
    let (proofs, _) = proofs(&machine(DRYER), Some(TESTER), "310 kohm");
    assert!(proofs.iter().any(|proof| proof.readings.len() == 2), "{proofs:?}");
    for proof in proofs.iter().filter(|proof| proof.readings.len() == 2) {
        assert!(matches!(proof.outcome, Outcome::NotDecided { .. }), "{proof:?}");
    }
}

#[test]
fn a_tester_with_too_few_volts_is_not_asked_for() {
    let (proofs, asked) = proofs(&machine(DRYER), Some(Insulation { test_volts: 50.0, ..TESTER }), "OL");
    assert_eq!(asked, 0);
    let why = |proof: &ProofResult| match &proof.outcome {
        Outcome::NotDecided { why } => why.clone(),
        _ => String::new(),
    };
    assert!(proofs.iter().all(|proof| why(proof).contains("too few volts")), "{proofs:?}");
}
