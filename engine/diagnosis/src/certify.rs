//! Makes certificates of strong claims: which items of the evidence exclude each rival, and what is left of it.
//!
//! Bounds come from the belief's own likelihoods; whether they hold is for `certificate::check` to find out by its own
//! route. A rival is named with as few items as bring its bound close to what it really weighs; the rarest are left to
//! their weight. Only one sitting is spoken of, before any repair; not how fast a zone warms up, nor what is said of how a
//! fault comes and goes.

mod names;

use crate::belief::{Belief, Hidden};
use crate::evidence::Evidence;
use crate::suspects::{Suspect, suspects};
use certificate::{Certificate, Claim, Excluded, Refused, Rival, Support, most_likely};
use machine::model::{FaultId, Machine, RepairId};
use std::collections::BTreeMap;
use std::error::Error;
use std::fmt;
use std::rc::Rc;

pub use names::given;

/// A certificate with the shares that it bounds from below, as the likelihoods give them without any bound.
#[derive(Clone, Debug, PartialEq)]
pub struct Certified {
    /// The certificate.
    pub certificate: Certificate,
    /// Share that holds a fault which the repair cures.
    pub needed: f64,
    /// Share that the repair cures alone.
    pub alone: f64,
}

/// Why there is no certificate.
#[derive(Clone, Debug, PartialEq)]
pub enum NotCertified {
    /// A repair was done: what it left is not spoken of.
    AfterRepair,
    /// An item cannot be told in the machine's own names.
    Unnamed(String),
    /// Something that the checker has no route of its own to.
    OutOfReach(&'static str),
    /// The checker's half does not take the evidence.
    Refused(Refused),
}

impl fmt::Display for NotCertified {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AfterRepair => {
                f.write_str("after a repair there is no certificate; make it before a part is changed")
            }
            Self::OutOfReach(what) => {
                write!(f, "there is no certificate for a call with {what}: it cannot be verified apart")
            }
            Self::Unnamed(what) => write!(f, "there is no certificate for {what}: it has no name of its own"),
            Self::Refused(why) => write!(f, "there is no certificate: {why}"),
        }
    }
}

impl Error for NotCertified {}

/// Share of the support by which all bounds together may fall short of what the rivals really weigh.
const LOOSE: f64 = 2e-4;
/// Share of the support that may be left out of it.
const UNSUPPORTED: f64 = 1e-4;
/// What a logarithm gives way by, so that another solver's last digits do not matter.
const GIVE: f64 = 1e-4;
/// Places behind the point of a claimed share.
const PLACES: f64 = 1e6;

/// Certifies that this repair (with `None`: that nothing is wrong) is what the belief so far says it is, and what acting on
/// it can lose, where acting on it in error costs so many minutes.
///
/// Work: the likelihood of each item with each suspect; most are remembered by the predictor.
///
/// # Errors
/// A repair was done already, an item has no name, or the checker has no route of its own to it.
pub fn certify(
    belief: &Belief<'_, '_>,
    repair: Option<RepairId>,
    minutes_if_wrong: f64,
) -> Result<Certified, NotCertified> {
    let machine = belief.machine();
    let evidence: Vec<Evidence> = belief.evidence().iter().map(|weighed| weighed.item.clone()).collect();
    let given = given(belief.predictor(), belief.assumed(), &evidence, minutes_if_wrong)?;
    let log_most: Vec<f64> =
        most_likely(machine, &given).map_err(NotCertified::Refused)?.iter().map(|most| libm::log(*most)).collect();
    let (all, unlike) = weigh(belief, &evidence, repair);
    let real = |side: Side| all.iter().filter(|w| w.side == side).map(Weighed::real).sum::<f64>();
    let [cured, partly, other] = [real(Side::Cured), real(Side::Partly), real(Side::Other) + unlike];
    let mut bounds = Bounds { log_most, groups: BTreeMap::new(), sums: [0.0, unlike], left: 0 };
    let (supports, [alone, held]) = bounds.support(machine, &all);
    bounds.exclude(machine, &all, cured, &supports);
    let [partly_at_most, other_at_most] = bounds.sums;
    let alone_at_least = rounded_down(alone / (alone + partly_at_most + other_at_most));
    let claim = Claim {
        repair: repair.map(|id| machine.repairs[id.index()].id.clone()),
        needed_at_least: rounded_down(held / (held + other_at_most)),
        alone_at_least,
        minutes_lost_at_most: (1.0 - alone_at_least) * minutes_if_wrong,
    };
    let excluded = bounds.groups.into_iter().map(|(by, rivals)| Excluded { by, rivals }).collect();
    let (machine, left_to_weight) = (machine.id.clone(), bounds.left);
    let whole = cured + partly + other;
    let certificate = Certificate { version: 1, machine, claim, given, supports, excluded, left_to_weight };
    Ok(Certified { certificate, needed: (cured + partly) / whole, alone: cured / whole })
}

/// What the repair does for a suspect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Cured,
    Partly,
    Other,
}

/// A suspect with the likelihood of each item for each phase and size, as the belief reckons with them.
struct Weighed {
    faults: Vec<FaultId>,
    side: Side,
    weight: f64,
    hidden: Hidden,
    items: Vec<Vec<Rc<[f64]>>>,
}

impl Weighed {
    /// Gives the likelihood of these items together.
    fn likelihood(&self, items: &[usize]) -> f64 {
        let at = |item: usize, phase: usize, size: usize| {
            let phases = &self.items[item];
            let each = phases.get(phase).unwrap_or(&phases[0]);
            // One for each build stands for every size.
            each[size % each.len()]
        };
        let shares = self.hidden.shares.iter().enumerate();
        let joint = shares.map(|(index, share)| {
            let (phase, size) = (index / self.hidden.sizes, index % self.hidden.sizes);
            share * items.iter().map(|&item| at(item, phase, size)).product::<f64>()
        });
        joint.sum::<f64>().max(1e-300)
    }

    fn real(&self) -> f64 {
        self.weight * self.likelihood(&(0..self.items.len()).collect::<Vec<_>>())
    }

    fn names(&self, machine: &Machine) -> Vec<String> {
        self.faults.iter().map(|fault| machine.faults[fault.index()].id.clone()).collect()
    }
}

/// Weighs every suspect, and the machine that is not as described, item by item as the belief took them in.
fn weigh(belief: &Belief<'_, '_>, evidence: &[Evidence], repair: Option<RepairId>) -> (Vec<Weighed>, f64) {
    let (machine, predictor) = (belief.machine(), belief.predictor());
    let side = |suspect: &Suspect| {
        let of_repair = |fault: &&FaultId| Some(machine.faults[fault.index()].repair) == repair;
        match suspect.0.iter().filter(of_repair).count() {
            0 if suspect.0.is_empty() && repair.is_none() => Side::Cured,
            0 => Side::Other,
            all if all == suspect.0.len() => Side::Cured,
            _ => Side::Partly,
        }
    };
    let mut list: Vec<(Suspect, f64)> = suspects(machine, belief.assumed());
    list.retain(|(_, weight)| *weight > 0.0);
    let single: f64 = list.iter().filter(|(suspect, _)| suspect.0.len() == 1).map(|(_, weight)| weight).sum();
    let mut unlike = belief.assumed().not_as_described * single;
    let mut items: Vec<Vec<Vec<Rc<[f64]>>>> = vec![Vec::new(); list.len()];
    // What was watched twice is weighed by what was watched before it, so the evidence is taken in once more.
    let mut again = Belief::new(predictor, belief.assumed().clone());
    for item in evidence {
        let mut known = BTreeMap::new();
        for (items, (suspect, _)) in items.iter_mut().zip(&list) {
            items.push(again.likely(item, suspect, again.evidence().len(), &mut known));
        }
        unlike *= again.likelihood_not_as_described(item);
        again.take(item.clone());
    }
    let weighed = list.into_iter().zip(items).map(|((suspect, weight), items)| Weighed {
        side: side(&suspect),
        hidden: belief.hidden_before(&suspect),
        faults: suspect.0.to_vec(),
        weight,
        items,
    });
    (weighed.collect(), unlike)
}

/// The bounds of the rivals as they are found: by the items that exclude them, and their sums (cured in part, other).
struct Bounds {
    log_most: Vec<f64>,
    groups: BTreeMap<Vec<usize>, Vec<Rival>>,
    sums: [f64; 2],
    left: usize,
}

impl Bounds {
    /// Lists the suspects that the repair cures, alone or in part, the heaviest first, until next to nothing is left; and
    /// the sums of those cured alone and of all of them.
    fn support(&mut self, machine: &Machine, all: &[Weighed]) -> (Vec<Support>, [f64; 2]) {
        let mut real: Vec<(f64, &Weighed)> =
            all.iter().filter(|w| w.side != Side::Other).map(|w| (w.real(), w)).collect();
        real.sort_by(|(a, _), (b, _)| b.total_cmp(a));
        let whole: f64 = real.iter().map(|(real, _)| real).sum();
        let (mut list, mut alone, mut held, mut seen) = (Vec::new(), 0.0, 0.0, 0.0);
        for (real, weighed) in real {
            if seen >= (1.0 - UNSUPPORTED) * whole {
                break;
            }
            seen += real;
            let log_at_least = libm::log(real) - GIVE;
            held += libm::exp(log_at_least);
            if weighed.side == Side::Cured {
                alone += libm::exp(log_at_least);
            } else {
                self.sums[0] += real * libm::exp(GIVE);
            }
            list.push(Support { faults: weighed.names(machine), log_at_least });
        }
        (list, [alone, held])
    }

    fn exclude(&mut self, machine: &Machine, all: &[Weighed], cured: f64, supports: &[Support]) {
        let named = |w: &Weighed| supports.iter().any(|support| support.faults == w.names(machine));
        let mut rivals: Vec<&Weighed> =
            all.iter().filter(|w| w.side == Side::Other || w.side == Side::Partly && !named(w)).collect();
        rivals.sort_by(|a, b| a.weight.total_cmp(&b.weight).then_with(|| a.faults.cmp(&b.faults)));
        let loose = LOOSE * cured;
        let total: f64 = rivals.iter().map(|rival| rival.weight).sum();
        let at_most = libm::exp(self.log_most.iter().sum());
        let mut so_far = 0.0;
        for rival in rivals {
            so_far += rival.weight * at_most;
            if so_far <= loose {
                self.sums[usize::from(rival.side == Side::Other)] += rival.weight * at_most;
                self.left += 1;
            } else {
                self.name(machine, rival, loose * rival.weight / total);
            }
        }
    }

    /// Names the items against a rival that bring it closest to what it weighs, one after the other, until it is near.
    fn name(&mut self, machine: &Machine, rival: &Weighed, near: f64) {
        let gap = |item: &usize| self.log_most[*item] - libm::log(rival.likelihood(&[*item]));
        let mut order: Vec<usize> = (0..self.log_most.len()).collect();
        order.sort_by(|a, b| gap(b).total_cmp(&gap(a)));
        let near = libm::log(rival.real() + near);
        let log_of = |named: &[usize]| {
            let others = (0..self.log_most.len()).filter(|item| !named.contains(item));
            let at_most: f64 = others.map(|item| self.log_most[item]).sum();
            libm::log(rival.weight) + libm::log(rival.likelihood(named)) + at_most
        };
        let named = (1..=order.len()).map(|count| &order[..count]).find(|named| log_of(named) <= near);
        let mut by = named.unwrap_or(&order).to_vec();
        by.sort_unstable();
        let log_at_most = log_of(&by) + GIVE;
        self.sums[usize::from(rival.side == Side::Other)] += libm::exp(log_at_most);
        self.groups.entry(by).or_default().push(Rival { faults: rival.names(machine), log_at_most });
    }
}

fn rounded_down(share: f64) -> f64 {
    libm::floor(share * PLACES) / PLACES
}
