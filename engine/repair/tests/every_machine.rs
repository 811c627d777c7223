//! What must hold of every shipped machine: each fault shows in some state or is listed as hidden in the description's head, and
//! each dangerous one fails a proof before the machine is handed back, or is listed there as one that none tells: a contact welded
//! behind another, a joint that heats up, an element behind an open switch.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use diagnosis::Measured;
use machine::Machine;
use machine::model::{FaultId, ProofHow};
use prediction::{Meter, Predictor, Reading, Shown};
use repair::proving::{Owed, Proved, judge_owed, owed};
use std::collections::BTreeSet;

/// Gives the faults that a comment of the description lists after these words, up to the full stop.
fn listed(text: &str, after: &str) -> BTreeSet<String> {
    let head: Vec<&str> = text.lines().map_while(|line| line.strip_prefix('#')).collect();
    let head = head.join(" ");
    let Some((_, list)) = head.split_once(after) else { return BTreeSet::new() };
    let list = list.split_once('.').map_or(list, |(list, _)| list);
    list.split([',', ' ', '.']).filter(|id| id.contains(':')).map(str::to_owned).collect()
}

#[test]
fn every_fault_shows_in_some_state_or_is_listed_as_hidden() {
    for one in shipped::ALL {
        let machine = one.read().unwrap();
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let hidden: BTreeSet<String> = predictor
            .fault_ids()
            .filter(|fault| predictor.symptoms(&[*fault]).is_empty())
            .map(|fault| machine.faults[fault.index()].id.clone())
            .collect();
        assert_eq!(hidden, listed(one.text, "Faults that no state shows:"), "{}", one.id);
    }
}

#[test]
fn every_dangerous_fault_fails_a_proof_or_is_listed_as_one_that_none_tells() {
    for one in shipped::ALL {
        let machine = one.read().unwrap();
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let dangerous = predictor.fault_ids().filter(|fault| machine.faults[fault.index()].dangerous);
        let passed: BTreeSet<String> = dangerous
            .filter(|fault| !fails_a_proof(&predictor, &machine, *fault))
            .map(|fault| machine.faults[fault.index()].id.clone())
            .collect();
        assert_eq!(passed, listed(one.text, "Dangers that no proof tells:"), "{}", one.id);
    }
}

fn fails_a_proof(predictor: &Predictor<'_>, machine: &Machine, fault: FaultId) -> bool {
    let runs = machine.proofs.iter().filter_map(|proof| match proof.how {
        ProofHow::Run { state } => Some(state),
        _ => None,
    });
    let noticed = |state| predictor.observe(state, &[fault]) != predictor.observe(state, &[]);
    let mut read = owed(machine).into_iter().map(|(owed, reading, _)| judged(predictor, owed, &reading, fault));
    runs.into_iter().any(noticed) || read.any(|proved| proved == Proved::Failed)
}

fn judged(predictor: &Predictor<'_>, owed: Owed, reading: &Reading, fault: FaultId) -> Proved {
    let measured = match predictor.predict(reading, &[fault]).shown {
        Shown::Value { value, .. } => Measured::Value(value),
        Shown::OverRange => Measured::OverRange,
        // The meter shows anything below its supply, and a soft input nothing.
        Shown::Ghost { .. } => Measured::Value(0.0),
    };
    judge_owed(predictor, owed, reading, measured)
}
