//! Verifies a certificate: lists the suspects anew, holds each stated bound to a fresh solve, and adds up.
//!
//! With w the weight of a suspect and L the likelihood of the evidence, the share that the repair cures alone is
//! S / (S + P + O) and the share that holds a fault which it cures (S + P) / (S + P + O): S sums w L over the suspects it
//! cures, P over those it cures in part, O over all others and a machine that is not as described. From below S and P are
//! bounded by the supports alone; from above P and O by every rival: named items by a fresh solve, every other item by the
//! most it can be with any suspect whatever.
//!
//! What acting now costs more than the best plan: where the repair cures alone, every plan that ends with a cure pays for it
//! and its check, so nothing; elsewhere at most what it costs for nothing, since the best plan can still be followed after it.

use crate::data::{Assumed, BuiltWay, Certificate, Given};
use crate::likelihood::Model;
use crate::refused::Refused;
use machine::builds::Way;
use machine::model::{FaultId, Machine, RepairId, VariantId};
use serde_json::Value;
use std::collections::BTreeMap;

/// What was verified.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Checked {
    /// Share that holds a fault which the repair cures, at least, as the bounds bear it.
    pub needed_at_least: f64,
    /// Share that the repair cures alone, at least, as the bounds bear it.
    pub alone_at_least: f64,
    /// What acting now costs more than the best plan, at most, as expected, minutes.
    pub minutes_lost_at_most: f64,
    /// Rivals of no or one fault that were solved afresh, each held to its bound.
    pub singles_solved: usize,
    /// Rivals of two faults that were solved afresh, each held to its bound.
    pub pairs_solved: usize,
    /// Rivals excluded by their weight alone, whatever the evidence says of them.
    pub by_weight: usize,
}

/// Share by which a sum may differ in its last digits.
const ROUNDING: f64 = 1e-9;

/// Reads a certificate from its text.
///
/// # Errors
/// It is no JSON of this format.
pub fn read(text: &str) -> Result<Certificate, Refused> {
    serde_json::from_str(text).map_err(|error| Refused::Unreadable(error.to_string()))
}

/// Gives the most that the likelihood of each item can be with any suspect: what a certificate reckons with for an item
/// that it does not name.
///
/// # Errors
/// An item names what the machine does not have.
pub fn most_likely(machine: &Machine, given: &Given) -> Result<Vec<f64>, Refused> {
    Ok(Model::of(&settled(machine, given)?, given)?.most)
}

/// Gives the machine with the variants settled that are taken as given.
fn settled(machine: &Machine, given: &Given) -> Result<Machine, Refused> {
    let mut machine = machine.clone();
    let found: Vec<_> = given.settled.iter().map(|way| built(&machine, way)).collect::<Result<_, _>>()?;
    machine.settle(&found);
    Ok(machine)
}

/// Finds a variant and one of its ways by their ids.
pub(crate) fn built(machine: &Machine, way: &BuiltWay) -> Result<(VariantId, Way), Refused> {
    let unknown = |_| Refused::Unknown(format!("no variant `{}` with `{}`", way.variant, way.way));
    machine.variant_way(&way.variant, &way.way).map_err(unknown)
}

/// Verifies a certificate for a machine, under what the one who verifies agrees with.
///
/// # Errors
/// The first thing found wrong.
pub fn check(machine: &Machine, agreed: &Given, certificate: &Certificate) -> Result<Checked, Refused> {
    if certificate.version != 1 || certificate.machine != machine.id {
        let (version, other) = (certificate.version, &certificate.machine);
        return Err(Refused::Unreadable(format!(
            "version {version} for `{other}`, not version 1 for `{}`",
            machine.id
        )));
    }
    same_terms(agreed, &certificate.given)?;
    let machine = &settled(machine, &certificate.given)?;
    let repair =
        certificate.claim.repair.as_ref().map(|id| machine.repair(id)).transpose().map_err(|name| unknown(&name))?;
    let model = Model::of(machine, &certificate.given)?;
    let mut ledger = Ledger { machine, repair, left: weights(machine, &certificate.given.assumed)?, sums: [0.0; 3] };
    let mut held = 0.0;
    for support in &certificate.supports {
        let (suspect, weight) = ledger.strike(&support.faults)?;
        let found = libm::log(weight) + libm::log(model.likelihood(&suspect, &model.every_item()));
        hold(found >= support.log_at_least, &support.faults, support.log_at_least, found)?;
        match ledger.side(&suspect) {
            Side::Cured => ledger.add(Side::Cured, support.log_at_least),
            Side::Partly => ledger.add(Side::Partly, found),
            Side::Other => {
                let what = format!("the repair cures nothing of `{}`", shown(&support.faults));
                return Err(Refused::Misplaced(what));
            }
        }
        held += libm::exp(support.log_at_least);
    }
    let mut solved = [0, 0];
    for group in &certificate.excluded {
        let rising = group.by.windows(2).all(|two| two[0] < two[1]);
        if !rising || group.by.last().is_some_and(|&last| last >= certificate.given.evidence.len()) {
            return Err(Refused::Misplaced(format!("items {:?} are not rising places in the evidence", group.by)));
        }
        for rival in &group.rivals {
            let (suspect, weight) = ledger.strike(&rival.faults)?;
            let likelihood = model.likelihood(&suspect, &group.by);
            let found = libm::log(weight) + libm::log(likelihood) + model.log_most_of_others(&group.by);
            hold(found <= rival.log_at_most, &rival.faults, rival.log_at_most, found)?;
            ledger.add(ledger.side(&suspect), rival.log_at_most);
            solved[usize::from(suspect.len() > 1)] += 1;
        }
    }
    let by_weight = ledger.leave(certificate.left_to_weight, model.log_most_of_others(&[]))?;
    let singles = ledger.single_weight(&certificate.given.assumed)?;
    let unlike = certificate.given.assumed.not_as_described * singles * model.not_as_described();
    let [cured, partly, other] = ledger.sums;
    let needed = held / (held + other + unlike);
    let alone = cured / (cured + partly + other + unlike);
    let minutes_lost_at_most = (1.0 - alone) * certificate.given.minutes_if_wrong;
    let claim = &certificate.claim;
    at_least("the share that needs the repair", claim.needed_at_least, needed)?;
    at_least("the share that the repair cures alone", claim.alone_at_least, alone)?;
    at_most("the minutes lost at most", claim.minutes_lost_at_most, minutes_lost_at_most)?;
    let [singles_solved, pairs_solved] = solved;
    let (needed_at_least, alone_at_least) = (needed, alone);
    Ok(Checked { needed_at_least, alone_at_least, minutes_lost_at_most, singles_solved, pairs_solved, by_weight })
}

/// What the repair does for a suspect.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Side {
    Cured,
    Partly,
    Other,
}

/// Every suspect that is not struck off yet with its weight, and the sums so far: cured, partly, other.
struct Ledger<'m> {
    machine: &'m Machine,
    repair: Option<RepairId>,
    left: BTreeMap<Vec<FaultId>, f64>,
    sums: [f64; 3],
}

impl Ledger<'_> {
    /// Strikes a suspect off the list; each has one place in a certificate.
    fn strike(&mut self, names: &[String]) -> Result<(Vec<FaultId>, f64), Refused> {
        let found: Result<Vec<FaultId>, _> = names.iter().map(|name| self.machine.fault(name)).collect();
        let mut suspect = found.map_err(|name| unknown(&name))?;
        suspect.sort_unstable();
        let weight = self.left.remove(&suspect);
        let weight = weight.ok_or_else(|| Refused::Misplaced(format!("`{}` is no suspect, or twice", shown(names))))?;
        Ok((suspect, weight))
    }

    fn side(&self, suspect: &[FaultId]) -> Side {
        let Some(repair) = self.repair else {
            return if suspect.is_empty() { Side::Cured } else { Side::Other };
        };
        let cured = suspect.iter().filter(|fault| self.machine.faults[fault.index()].repair == repair).count();
        match cured {
            0 => Side::Other,
            all if all == suspect.len() => Side::Cured,
            _ => Side::Partly,
        }
    }

    fn add(&mut self, side: Side, log: f64) {
        self.sums[side as usize] += libm::exp(log);
    }

    /// Adds every rival that no item is named against, the evidence at its most; gives how many.
    fn leave(&mut self, says: usize, log_most: f64) -> Result<usize, Refused> {
        let left = std::mem::take(&mut self.left);
        let rivals: Vec<_> = left.iter().filter(|(suspect, _)| self.side(suspect) != Side::Cured).collect();
        if rivals.len() != says {
            let heaviest = rivals.iter().max_by(|a, b| a.1.total_cmp(b.1)).map(|(suspect, _)| suspect.iter());
            let names = heaviest.into_iter().flatten().map(|f| self.machine.faults[f.index()].id.clone());
            let heaviest = shown(&names.collect::<Vec<_>>());
            return Err(Refused::LeftOut { says, found: rivals.len(), heaviest });
        }
        for (suspect, weight) in rivals {
            self.sums[self.side(suspect) as usize] += weight * libm::exp(log_most);
        }
        Ok(says)
    }

    fn single_weight(&self, assumed: &Assumed) -> Result<f64, Refused> {
        Ok(weights(self.machine, assumed)?.iter().filter(|(suspect, _)| suspect.len() == 1).map(|(_, w)| w).sum())
    }
}

/// Lists every suspect with its weight: nothing wrong, each fault less the share that another brings about, each pair of
/// two parts, and each cause with its effect.
fn weights(machine: &Machine, assumed: &Assumed) -> Result<BTreeMap<Vec<FaultId>, f64>, Refused> {
    let mut own: BTreeMap<FaultId, f64> = (0..).map(FaultId).zip(machine.faults.iter().map(|f| f.weight)).collect();
    for (name, &weight) in &assumed.weights {
        own.insert(machine.fault(name).map_err(|name| unknown(&name))?, weight);
    }
    own.retain(|_, weight| *weight > 0.0);
    let total: f64 = own.values().sum();
    let brought = |fault: FaultId, by: Option<FaultId>| {
        let shares = machine.faults[fault.index()].caused_by.iter().filter(|(cause, _)| by.is_none_or(|b| b == *cause));
        shares.map(|(_, share)| share).sum::<f64>()
    };
    let mut list = BTreeMap::from([(Vec::new(), assumed.nothing_wrong * total)]);
    for (&one, &weight) in &own {
        list.insert(vec![one], weight * (1.0 - brought(one, None).min(1.0)));
        for (&other, &beside) in own.range(one..).skip(1) {
            let joined = brought(one, Some(other)) * weight + brought(other, Some(one)) * beside;
            if machine.faults[one.index()].part != machine.faults[other.index()].part || joined > 0.0 {
                list.insert(vec![one, other], assumed.pairs * weight * beside / total + joined);
            }
        }
    }
    list.retain(|_, weight| *weight > 0.0);
    Ok(list)
}

/// Holds the certificate's terms to those agreed with, and names the first that differs.
fn same_terms(agreed: &Given, says: &Given) -> Result<(), Refused> {
    let value = |given: &Given| serde_json::to_value(given).unwrap_or_default();
    first_difference("", &value(says), &value(agreed)).map_or(Ok(()), Err)
}

fn first_difference(place: &str, says: &Value, agreed: &Value) -> Option<Refused> {
    let below = |key: &str| if place.is_empty() { key.to_owned() } else { format!("{place}.{key}") };
    match (says, agreed) {
        (Value::Object(a), Value::Object(b)) if a.keys().eq(b.keys()) => {
            a.iter().find_map(|(key, value)| first_difference(&below(key), value, &b[key]))
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().find_map(|(at, (a, b))| first_difference(&below(&(at + 1).to_string()), a, b))
        }
        _ if says == agreed => None,
        _ => Some(Refused::NotAgreed { place: place.to_owned(), says: says.to_string(), agreed: agreed.to_string() }),
    }
}

fn hold(holds: bool, names: &[String], says: f64, found: f64) -> Result<(), Refused> {
    if holds { Ok(()) } else { Err(Refused::Bound { suspect: shown(names), says, found }) }
}

/// Holds a figure claimed from below to what the bounds give.
fn at_least(what: &'static str, says: f64, found: f64) -> Result<(), Refused> {
    if says <= found + ROUNDING { Ok(()) } else { Err(Refused::Claim { what, says, found }) }
}

/// Holds a figure claimed from above to what the bounds give.
fn at_most(what: &'static str, says: f64, found: f64) -> Result<(), Refused> {
    if says >= found - ROUNDING { Ok(()) } else { Err(Refused::Claim { what, says, found }) }
}

fn shown(names: &[String]) -> String {
    if names.is_empty() { "nothing wrong".to_owned() } else { names.join(" + ") }
}

pub(crate) fn unknown(name: &machine::UnknownName) -> Refused {
    Refused::Unknown(name.to_string())
}
