//! The tool obeyed exactly, and its rivals that weigh the same belief and choose by simpler rules.
//!
//! Decisions are remembered by history: what was reported, and every event since. A decision depends on nothing else
//! (the bench follows from the same history), so a remembered one is the one that would be made again.

use super::{Event, Move, Technician};
use crate::complaint::Complaint;
use crate::settings::Settings;
use diagnosis::{Belief, Evidence, ReadsAs, Suspect, words};
use machine::model::{RepairId, StateId};
use prediction::Quantity;
use repair::causes::{Causes, of_mended};
use repair::compile::{Compiled, compile};
use repair::intake::next_use;
use repair::plan::{Action, BasePolicy, Ordering, Problem, ProblemError, Rule};
use repair::proving::is_hazard;
use repair::{Act, Bench, Hands, advise, advise_unconfirmed};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Decisions by history.
pub(crate) type Decisions = RefCell<BTreeMap<String, Act>>;

/// How the next step is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Policy {
    /// As the tool advises.
    Advice,
    /// As the tool would advise if its description could not be wrong: no part is read at itself first, nothing that
    /// clashes is taken again.
    DescriptionAlone,
    /// By the value of information one step ahead, set-up ignored.
    ValueOfInformation,
    /// Changes the part whose repair is likeliest by the belief; reads nothing of his own accord.
    LikeliestPartFirst,
    /// Takes what tells most, whatever it costs, until one repair is sure enough.
    Information,
    /// Takes what tells most for a minute, the way in included, until one repair is sure enough.
    InformationPerMinute,
}

/// A technician who does what is computed.
#[derive(Debug)]
pub(crate) struct Tool<'r, 'p, 'm> {
    belief: Belief<'p, 'm>,
    /// Evidence that the belief has not taken in yet: it is only needed where no decision is remembered.
    pending: Vec<Evidence>,
    history: String,
    works: bool,
    /// A proof has shown what nobody switches on over, and no repair has been done since.
    hazard: bool,
    settings: &'r Settings,
    policy: Policy,
    decisions: &'r Decisions,
}

impl<'r, 'p, 'm> Tool<'r, 'p, 'm> {
    pub(crate) fn new(
        prior: &Belief<'p, 'm>,
        complaint: &Complaint,
        settings: &'r Settings,
        policy: Policy,
        decisions: &'r Decisions,
    ) -> Self {
        let reported = complaint.all();
        let told = Evidence::ComesAndGoes(complaint.comes_and_goes);
        let pending = reported.iter().map(|&seen| Evidence::Reported(seen)).chain([told]).collect();
        let history = format!("{reported:?}{}", complaint.comes_and_goes);
        Self { belief: prior.clone(), pending, history, works: false, hazard: false, settings, policy, decisions }
    }

    /// Gives the belief with everything learned taken in.
    pub(crate) fn weigh(&mut self) -> &Belief<'p, 'm> {
        for item in self.pending.drain(..) {
            self.belief.take(item);
        }
        &self.belief
    }

    /// Gives the single differences from the description with which everything reads as it was found so far; `None` while
    /// something described explains it.
    pub(crate) fn reads_as(&mut self) -> Option<Vec<ReadsAs>> {
        self.weigh().reads_as()
    }

    /// Says what stands between a machine that works again and handing it back.
    fn causes(&mut self, bench: &Bench) -> Causes {
        if self.policy != Policy::Advice {
            return Causes::Settled;
        }
        let settings = self.settings;
        let prices = settings.believed_prices.as_ref().unwrap_or(&settings.prices);
        of_mended(self.weigh(), bench, prices)
    }

    fn decide(&mut self, bench: &Bench) -> Result<Act, ProblemError> {
        let (settings, policy, hazard) = (self.settings, self.policy, self.hazard);
        let prices = settings.believed_prices.as_ref().unwrap_or(&settings.prices);
        let belief = self.weigh();
        match policy {
            Policy::Advice => {
                if let Some(again) = once_more(belief).filter(|act| !(hazard && switches_on(act))) {
                    return Ok(again);
                }
                let advice = advise(belief, bench, prices, settings.nodes)?;
                let mut fit = advice.into_iter().map(|step| step.act).filter(|act| !(hazard && switches_on(act)));
                Ok(fit.next().unwrap_or(Act::Refer))
            }
            Policy::DescriptionAlone => {
                let advice = advise_unconfirmed(belief, bench, prices, settings.nodes)?;
                Ok(advice.into_iter().next().map_or(Act::Refer, |first| first.act))
            }
            Policy::ValueOfInformation => value_of_information(&compile(belief, bench, prices)?),
            Policy::LikeliestPartFirst => Ok(likeliest_part(belief, bench)),
            Policy::Information => information(&compile(belief, bench, prices)?),
            Policy::InformationPerMinute => {
                let compiled = compile(belief, bench, prices)?;
                Ok(act(&compiled, BasePolicy::INFORMATION.choose(&compiled.problem, &compiled.situation)?))
            }
        }
    }
}

impl Technician for Tool<'_, '_, '_> {
    fn next(&mut self, bench: &Bench) -> Result<Move, ProblemError> {
        if self.works {
            match self.causes(bench) {
                Causes::Settled => return Ok(Move::Prove),
                Causes::Owed { act, .. } => return Ok(Move::Do(act)),
                Causes::LeftOpen => {}
            }
        }
        let known = self.decisions.borrow().get(&self.history).filter(|_| self.settings.remember).cloned();
        if let Some(act) = known {
            return Ok(Move::Do(act));
        }
        let mut act = self.decide(bench)?;
        if self.hazard && switches_on(&act) {
            act = Act::Refer;
        }
        self.decisions.borrow_mut().insert(self.history.clone(), act.clone());
        Ok(Move::Do(act))
    }

    fn ask(&mut self, asked: &[StateId]) -> Option<StateId> {
        next_use(self.weigh(), asked).map(|(state, _)| state)
    }

    fn learn(&mut self, event: &Event) {
        // Writing into a string cannot fail.
        let _ = write!(self.history, "{event:?}");
        self.works = match event {
            Event::Tried { works } => *works,
            // It still works while the cause of what was mended is looked for.
            Event::Looked { .. } | Event::Read { .. } => self.works,
            _ => false,
        };
        self.hazard = match event {
            Event::ProofFails(owed) => is_hazard(self.belief.machine(), *owed),
            Event::Repaired(_) => false,
            _ => self.hazard,
        };
        match event {
            Event::Read { reading, measured } => {
                self.pending.push(Evidence::Read { reading: reading.clone(), measured: *measured });
            }
            Event::Looked { part, damage, .. } => {
                self.pending.push(Evidence::Looked { part: *part, damage: *damage });
            }
            Event::Answered(seen) => self.pending.extend(seen.iter().map(|&seen| Evidence::Answered(seen))),
            Event::Watched { seen, .. } => self.pending.extend(seen.iter().map(|&seen| Evidence::Watched(seen))),
            Event::Repaired(repair) => self.pending.push(Evidence::Repaired(*repair)),
            Event::Tried { .. } | Event::ProofFailed(_) | Event::ProofFails(_) => {}
        }
    }

    fn states(&mut self, least: f64) -> Vec<(Suspect, f64)> {
        if self.policy != Policy::Advice || self.works {
            return Vec::new();
        }
        let shares = self.weigh().shares().into_iter();
        shares.take_while(|(_, share)| *share >= least).map(|(suspect, share)| (suspect.clone(), share)).collect()
    }

    fn claims(&mut self, repair: RepairId) -> Option<f64> {
        if self.policy != Policy::Advice {
            return None;
        }
        let shares = self.weigh().repair_shares();
        Some(shares.into_iter().find(|(other, _)| *other == repair).map_or(0.0, |(_, share)| share.clamp(0.0, 1.0)))
    }

    fn top(&mut self, count: usize) -> Vec<(String, f64)> {
        let belief = self.weigh();
        let mut top: Vec<(String, f64)> = belief
            .shares()
            .into_iter()
            .take(count)
            .map(|(suspect, share)| (words::suspect(belief.machine(), suspect), share))
            .collect();
        if belief.not_as_described() > 0.02 {
            top.push(("not as described".to_owned(), belief.not_as_described()));
        }
        top
    }
}

fn switches_on(act: &Act) -> bool {
    matches!(act, Act::Try(_) | Act::Explain | Act::Read(_, Hands::Clipped))
}

/// Gives what clashes with all suspects to take again before anything rests on it; a clipped reading is let stand.
fn once_more(belief: &Belief<'_, '_>) -> Option<Act> {
    match &belief.evidence()[belief.to_take_again()?].item {
        Evidence::Read { reading, .. } if !reading.condition.plugged => {
            let hands = if reading.quantity == Quantity::Volts { Hands::Supply } else { Hands::Isolated };
            Some(Act::Read(reading.clone(), hands))
        }
        Evidence::Watched(seen) => Some(Act::Try(seen.state)),
        _ => None,
    }
}

/// Chooses from the same compiled problem with every cover and every switching free: what it costs to get at a thing
/// does not enter the choice. It is paid all the same.
fn value_of_information(compiled: &Compiled) -> Result<Act, ProblemError> {
    let mut parts = compiled.problem.parts().clone();
    for group in &mut parts.groups {
        (group.open, group.close) = (0.0, 0.0);
    }
    for row in &mut parts.switch {
        row.fill(0.0);
    }
    let problem = Problem::new(parts)?;
    let rule = Rule::ValueOfInformation { pairs: false };
    let policy = BasePolicy { rule, ordering: Ordering::Bare, ..BasePolicy::VALUE };
    Ok(act(compiled, policy.choose(&problem, &compiled.situation)?))
}

/// Chooses what tells most, with every test at the same price and nothing in its way. All of it is paid all the same.
fn information(compiled: &Compiled) -> Result<Act, ProblemError> {
    let mut parts = compiled.problem.parts().clone();
    for group in &mut parts.groups {
        (group.open, group.close) = (0.0, 0.0);
    }
    for row in &mut parts.switch {
        row.fill(0.0);
    }
    for test in &mut parts.tests {
        test.cost = 1.0;
    }
    let problem = Problem::new(parts)?;
    Ok(act(compiled, BasePolicy::INFORMATION.choose(&problem, &compiled.situation)?))
}

/// Names the likeliest repair not done yet; hands the job on when none is left.
fn likeliest_part(belief: &Belief<'_, '_>, bench: &Bench) -> Act {
    let shares = belief.repair_shares();
    let open = shares.into_iter().find(|(repair, _)| !bench.repaired.contains(repair));
    open.map_or(Act::Refer, |(repair, _)| Act::Change(repair))
}

fn act(compiled: &Compiled, action: Action) -> Act {
    match action {
        Action::Test(test) => compiled.tests[test].act.clone(),
        Action::Repair(repairs) => repairs.first().map_or(Act::Refer, |&first| compiled.repairs[first].clone()),
        Action::Exit => Act::Refer,
    }
}
