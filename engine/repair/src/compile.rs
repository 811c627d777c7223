//! From a belief and a bench to the abstract planner's problem.
//!
//! Planning runs on a live set: the likeliest suspects up to [`LIVE_SHARE`] of the mass and at most [`MOST_SUSPECTS`],
//! joined where repairs and outcomes agree, and one more for a machine that is not as described. *Approximate because*
//! the rest is left out of planning; the belief itself is always updated over all suspects.

use crate::bench::Bench;
use crate::bins::{Bins, as_f64};
use crate::board::evidence_missing;
use crate::candidates::{Act, Hands, candidates, places};
use crate::plan::{Check, Group, Hypothesis, Problem, ProblemError, ProblemParts, Repair, Situation, Test};
use crate::prices::Prices;
use diagnosis::{Belief, Evidence, Phase, Suspect};
use machine::model::{CoverId, FaultId, Machine, PartId, PlaceId, RepairId, StateId};
use prediction::{Prediction, Reading, Way};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use teardown::plan_teardown;

/// Share of the mass that is planned on.
pub const LIVE_SHARE: f64 = 0.998;
/// Most suspects planned on.
pub const MOST_SUSPECTS: usize = 48;
/// Most tests handed to the planner.
pub const MOST_TESTS: usize = 64;

/// Modes of the abstract problem.
pub(crate) const RUNNING: usize = 0;
/// Isolated and measured dead.
pub(crate) const ISOLATED: usize = 1;

/// A compiled problem, with the way back from its numbers to the machine's.
#[derive(Debug)]
pub struct Compiled {
    /// The abstract problem.
    pub problem: Problem,
    /// Where the job stands in it.
    pub situation: Situation,
    /// Act of each test.
    pub tests: Vec<Offered>,
    /// Act of each repair.
    pub repairs: Vec<Act>,
    /// The suspects that each hypothesis stands for; `None` for a machine that is not as described.
    pub hypotheses: Vec<Option<Suspect>>,
}

/// A test as offered: what it is, what its outcomes mean, what it costs.
#[derive(Clone, Debug)]
pub struct Offered {
    /// What to do.
    pub act: Act,
    /// What can come of it.
    pub outcomes: Outcomes,
    /// Minutes of hands, without covers and modes.
    pub minutes: f64,
    /// Danger, in minutes.
    pub danger: f64,
    /// Places that must be exposed.
    pub places: Vec<PlaceId>,
}

/// The outcomes of a test.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcomes {
    /// Intervals of a reading.
    Reading(Bins),
    /// Sound, damaged.
    Look,
    /// The distinct ways the state could go, each as the values of its observations; anything else is none of them.
    Watch(Vec<Vec<u8>>),
}

/// A test with its rows, before the best are chosen.
struct Weighed {
    offered: Offered,
    rows: Vec<Vec<f64>>,
    gain_per_minute: f64,
}

/// Compiles the problem of this belief at this bench.
///
/// # Errors
/// What the planner finds wrong with the problem: a fault of this compiler, not of a person.
pub fn compile(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices) -> Result<Compiled, ProblemError> {
    compile_with(belief, bench, prices, MOST_TESTS)
}

/// Compiles the problem with every test that tells anything, up to all the planner's tables hold: larger than a call
/// plans on, to judge the planner.
///
/// # Errors
/// As [`compile`].
pub fn compile_whole(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices) -> Result<Compiled, ProblemError> {
    compile_with(belief, bench, prices, crate::plan::MOST_ACTIONS)
}

/// Predicts what the acts numbered `from` on would show under each suspect in play, so that the predictor knows it by
/// the time a proposal waits for it; gives the number to go on from, `None` when all is known.
#[must_use]
pub fn foresee(belief: &Belief<'_, '_>, bench: &Bench, from: usize, most: usize) -> Option<usize> {
    let live = live_set(belief);
    let acts = candidates(belief.machine(), bench, belief.predictor().meter(), &suspected(belief.machine(), &live));
    let end = from.saturating_add(most).min(acts.len());
    for act in acts.get(from..end)? {
        for phase in live.iter().flat_map(|live| &live.phases) {
            match act {
                Act::Read(reading, _) => drop(belief.predictor().predict_ways(reading, &phase.shown.0)),
                Act::Try(state) => drop(belief.predictor().ways(*state, &phase.shown.0)),
                Act::Look(_) | Act::Change(_) | Act::Explain | Act::Refer => {}
            }
        }
    }
    (end < acts.len()).then_some(end)
}

fn compile_with(
    belief: &Belief<'_, '_>,
    bench: &Bench,
    prices: &Prices,
    most_tests: usize,
) -> Result<Compiled, ProblemError> {
    let machine = belief.machine();
    let live = live_set(belief);
    let mut weighed: Vec<Weighed> = candidates(machine, bench, belief.predictor().meter(), &suspected(machine, &live))
        .into_iter()
        .filter_map(|act| weigh(belief, bench, prices, &live, act))
        .collect();
    weighed.sort_by(|a, b| b.gain_per_minute.total_cmp(&a.gain_per_minute));
    weighed = undominated(weighed);
    weighed.truncate(most_tests);
    let live = join(machine, live, &mut weighed);
    assemble(belief, bench, prices, live, weighed)
}

/// Leaves out a test that tells what another tells, at the same places or fewer and for no more.
fn undominated(weighed: Vec<Weighed>) -> Vec<Weighed> {
    let mut kept: Vec<Weighed> = Vec::new();
    let mut known: BTreeMap<Vec<i64>, Vec<usize>> = BTreeMap::new();
    for w in weighed {
        let price = |w: &Weighed| w.offered.minutes + w.offered.danger;
        let running = |w: &Weighed| matches!(w.offered.act, Act::Try(_));
        let beats = |k: &Weighed| {
            price(k) <= price(&w)
                && running(k) == running(&w)
                && k.offered.places.iter().all(|place| w.offered.places.contains(place))
        };
        let tells: Vec<i64> = w.rows.iter().flatten().map(|p| quantised(*p)).collect();
        let same = known.entry(tells).or_default();
        if !same.iter().any(|&at| beats(&kept[at])) {
            same.push(kept.len());
            kept.push(w);
        }
    }
    kept
}

/// Gives the parts that some suspect of the live set accuses.
fn suspected(machine: &Machine, live: &[Live]) -> BTreeSet<PartId> {
    let faults = live.iter().filter_map(|live| live.suspect.as_ref()).flat_map(|suspect| suspect.0.iter());
    faults.map(|fault| machine.faults[fault.index()].part).collect()
}

/// One of the live set.
struct Live {
    /// `None` for a machine that is not as described.
    suspect: Option<Suspect>,
    share: f64,
    /// The ways in which it may stand now: what of it shows, and how large that is.
    phases: Vec<Phase>,
}

fn live_set(belief: &Belief<'_, '_>) -> Vec<Live> {
    let mut live: Vec<Live> = Vec::new();
    let of = |suspect: Suspect, share| Live { phases: belief.phases(&suspect), suspect: Some(suspect), share };
    let mut mass = 0.0;
    for (suspect, share) in belief.shares() {
        if live.len() >= MOST_SUSPECTS || mass >= LIVE_SHARE {
            break;
        }
        mass += share;
        live.push(of(suspect.clone(), share));
    }
    // A repair can leave the other half of a pair: it must be there, if only with the weight it has now.
    let halves: Vec<Suspect> = live
        .iter()
        .filter_map(|live| live.suspect.as_ref())
        .filter(|suspect| suspect.0.len() > 1)
        .flat_map(|suspect| suspect.0.iter().map(|&fault| Suspect::of(&[fault])).collect::<Vec<_>>())
        .collect();
    for half in halves {
        if !live.iter().any(|live| live.suspect.as_ref() == Some(&half)) {
            live.push(of(half, 0.0));
        }
    }
    live.push(Live { suspect: None, share: belief.not_as_described(), phases: Vec::new() });
    live
}

fn weigh(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices, live: &[Live], act: Act) -> Option<Weighed> {
    let (outcomes, rows) = match &act {
        Act::Read(reading, _) => rows_of_reading(belief, live, reading),
        Act::Look(part) => rows_of_look(belief, live, *part),
        Act::Try(state) => rows_of_watch(belief, live, *state),
        Act::Change(_) | Act::Explain | Act::Refer => return None,
    };
    let shares: Vec<f64> = live.iter().map(|live| live.share).collect();
    let gain = information(&shares, &rows);
    if gain < 0.004 {
        return None;
    }
    let machine = belief.machine();
    let (minutes, danger) = cost(machine, prices, &act);
    let places = places(machine, &act);
    let covers = plan_teardown(&machine.access, &places, &bench.open).ok()?;
    let set_up = covers.minutes() + if bench.isolated { 0.0 } else { prices.isolate };
    Some(Weighed {
        gain_per_minute: gain / (minutes + danger + 0.3 * set_up),
        offered: Offered { act, outcomes, minutes, danger, places },
        rows,
    })
}

fn rows_of_reading(belief: &Belief<'_, '_>, live: &[Live], reading: &Reading) -> (Outcomes, Vec<Vec<f64>>) {
    let meter = belief.predictor().meter();
    let predict = |phase: &Phase| belief.predictor().predict_ways(reading, &phase.shown.0);
    let predictions: Vec<Vec<Rc<[Prediction]>>> =
        live.iter().map(|live| live.phases.iter().map(predict).collect()).collect();
    let known: Vec<Prediction> = predictions.iter().flatten().flat_map(|ways| ways.iter().copied()).collect();
    let bins = Bins::of(&known, reading.quantity, meter);
    let even = vec![1.0 / as_f64(bins.count()); bins.count()];
    let slip = belief.assumed().slip;
    let rows = predictions
        .iter()
        .zip(live)
        .map(|(ways, Live { phases, .. })| {
            let chances = |p: &Prediction| bins.chances(p, reading.quantity, meter, slip);
            match (ways.as_slice(), phases.as_slice()) {
                ([], _) => even.clone(),
                ([one], [_]) if one.len() == 1 => chances(&one[0]),
                _ => {
                    let mut row = vec![0.0; bins.count()];
                    let mut add = |p: &Prediction, share: f64| {
                        row.iter_mut().zip(chances(p)).for_each(|(sum, chance)| *sum += share * chance);
                    };
                    for (each, phase) in ways.iter().zip(phases) {
                        match &**each {
                            [one] => add(one, phase.share),
                            // One for each build stands for every size.
                            each => {
                                let all = each.iter().cycle().zip(&phase.sizes);
                                all.for_each(|(p, size)| add(p, phase.share * size));
                            }
                        }
                    }
                    row
                }
            }
        })
        .collect();
    (Outcomes::Reading(bins), rows)
}

fn rows_of_look(belief: &Belief<'_, '_>, live: &[Live], part: PartId) -> (Outcomes, Vec<Vec<f64>>) {
    let shows = |suspect: &Option<Suspect>| suspect.as_ref().map_or(0.1, |s| belief.damage_shows(part, s));
    let rows = live.iter().map(|live| vec![1.0 - shows(&live.suspect), shows(&live.suspect)]).collect();
    (Outcomes::Look, rows)
}

fn rows_of_watch(belief: &Belief<'_, '_>, live: &[Live], state: StateId) -> (Outcomes, Vec<Vec<f64>>) {
    let go = |phase: &Phase| belief.predictor().ways(state, &phase.shown.0);
    let own: Vec<Vec<Rc<[Way]>>> = live.iter().map(|live| live.phases.iter().map(go).collect()).collect();
    let mut ways: Vec<Vec<u8>> = own.iter().flatten().flat_map(|ways| ways.iter().map(|w| w.values.clone())).collect();
    ways.sort();
    ways.dedup();
    let wrong = 2.0 * belief.assumed().wrong_watch;
    let even = 1.0 / as_f64(ways.len());
    let rows = own
        .iter()
        .zip(live)
        .map(|(own, Live { suspect, phases, .. })| {
            let chance = |way: &Vec<u8>| {
                if suspect.is_none() {
                    return even;
                }
                let meant: f64 =
                    own.iter().zip(phases).map(|(each, phase)| phase.share * alike(each, phase, way)).sum();
                wrong * even + (1.0 - wrong) * meant
            };
            ways.iter().map(chance).collect()
        })
        .collect();
    (Outcomes::Watch(ways), rows)
}

/// Gives the share of the sizes at which a state goes this way.
fn alike(each: &[Way], phase: &Phase, way: &[u8]) -> f64 {
    match each {
        [one] => f64::from(u8::from(one.values == way)),
        each => each.iter().cycle().zip(&phase.sizes).filter(|(w, _)| w.values == way).map(|(_, size)| size).sum(),
    }
}

/// Gives the mutual information of a test with suspects of these shares, bits; a row of outcome chances for each.
pub(crate) fn information(shares: &[f64], rows: &[Vec<f64>]) -> f64 {
    let total: f64 = shares.iter().sum();
    let outcomes = rows.first().map_or(0, Vec::len);
    let mut gain = 0.0;
    for outcome in 0..outcomes {
        let whole: f64 = shares.iter().zip(rows).map(|(share, row)| share / total * row[outcome]).sum();
        for (share, row) in shares.iter().zip(rows) {
            let joint = share / total * row[outcome];
            if joint > 0.0 {
                gain += joint * libm::log2(row[outcome] / whole);
            }
        }
    }
    gain
}

/// Gives the minutes of hands and the danger (in minutes) of a test, without covers and modes.
pub(crate) fn cost(machine: &Machine, prices: &Prices, act: &Act) -> (f64, f64) {
    match act {
        Act::Read(reading, Hands::Isolated) => {
            let set = if reading.condition.state == StateId(0) { 0.0 } else { prices.set_controls };
            (prices.reading + set + prices.lift_lead * as_f64(reading.condition.lifted.len()), 0.0)
        }
        Act::Read(_, Hands::Supply) => (prices.supply_reading, 0.0),
        Act::Read(reading, Hands::Clipped) => {
            (prices.clipped + machine.states[reading.condition.state.index()].minutes, prices.clipped_danger)
        }
        Act::Look(_) => (prices.look, 0.0),
        Act::Try(state) => (machine.states[state.index()].minutes + 0.5, 0.0),
        Act::Change(_) | Act::Explain | Act::Refer => (0.0, 0.0),
    }
}

/// Joins suspects that share repairs and outcomes; the rows of `weighed` follow.
fn join(machine: &Machine, live: Vec<Live>, weighed: &mut [Weighed]) -> Vec<Live> {
    let mut keys: BTreeMap<(Vec<RepairId>, bool, Vec<i64>), usize> = BTreeMap::new();
    let mut joined: Vec<Live> = Vec::new();
    let mut kept: Vec<usize> = Vec::new();
    // What a repair can leave of a pair must stay a hypothesis of its own.
    let halves: BTreeSet<FaultId> = live
        .iter()
        .filter_map(|live| live.suspect.as_ref())
        .filter(|s| s.0.len() > 1)
        .flat_map(|s| s.0.to_vec())
        .collect();
    for (index, Live { suspect, share, phases }) in live.into_iter().enumerate() {
        let signature = weighed.iter().flat_map(|w| w.rows[index].iter().map(|p| quantised(*p))).collect();
        let repairs = suspect.as_ref().map(|s| s.repairs(machine)).unwrap_or_default();
        let may_join = suspect.as_ref().is_some_and(|s| s.0.len() == 1 && !halves.contains(&s.0[0]));
        let key = (repairs, suspect.is_none(), signature);
        match keys.get(&key).filter(|_| may_join) {
            Some(&at) => joined[at].share += share,
            None => {
                keys.entry(key).or_insert(joined.len());
                joined.push(Live { suspect, share, phases });
                kept.push(index);
            }
        }
    }
    for w in weighed {
        w.rows = kept.iter().map(|&index| w.rows[index].clone()).collect();
    }
    joined
}

fn quantised(p: f64) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "a probability times 200 is far inside i64")]
    let step = libm::round(p * 200.0) as i64;
    step
}

fn assemble(
    belief: &Belief<'_, '_>,
    bench: &Bench,
    prices: &Prices,
    live: Vec<Live>,
    weighed: Vec<Weighed>,
) -> Result<Compiled, ProblemError> {
    let machine = belief.machine();
    let nothing_wrong = machine.faults.len();
    let not_described = nothing_wrong + 1;
    let hypotheses = live
        .iter()
        .map(|live| Hypothesis {
            faults: match &live.suspect {
                None => vec![not_described],
                Some(suspect) if suspect.0.is_empty() => vec![nothing_wrong],
                Some(suspect) => suspect.0.iter().map(|fault| fault.index()).collect(),
            },
            weight: live.share,
        })
        .collect();
    let groups = groups(machine);
    let covers = |places: &[PlaceId]| covers_for(machine, bench, places);
    let rows: Vec<_> = weighed.iter().map(|w| w.rows.clone()).collect();
    let offered: Vec<Offered> = weighed.into_iter().map(|w| w.offered).collect();
    let tests = offered
        .iter()
        .zip(rows)
        .map(|(o, outcomes)| Test {
            cost: o.minutes + o.danger,
            groups: covers(&o.places),
            mode: Some(if matches!(o.act, Act::Try(_)) { RUNNING } else { ISOLATED }),
            outcomes,
        })
        .collect();
    let (acts, repairs) = repairs(belief, bench, prices, &live, nothing_wrong);
    // Giving up leaves the customer to pay for the repair elsewhere, so it must not look cheap beside a dear part.
    let dearest = repairs.iter().map(|r| r.cost).fold(0.0, f64::max);
    let parts = ProblemParts {
        hypotheses,
        groups,
        switch: vec![vec![0.0, prices.isolate], vec![prices.energise, 0.0]],
        tests,
        repairs,
        exit: Some(prices.give_up + dearest),
    };
    let problem = Problem::new(parts)?;
    let mut situation = problem.start(if bench.isolated { ISOLATED } else { RUNNING });
    situation.open = bench.open.iter().map(CoverId::index).collect();
    let hypotheses = live.into_iter().map(|live| live.suspect).collect();
    Ok(Compiled { problem, situation, tests: offered, repairs: acts, hypotheses })
}

fn groups(machine: &Machine) -> Vec<Group> {
    machine
        .access
        .steps
        .iter()
        .map(|cover| Group {
            open: cover.minutes_off + if cover.closed_to_run { 0.0 } else { cover.minutes_on },
            close: if cover.closed_to_run { cover.minutes_on } else { 0.0 },
            // Each act lists every cover it needs, so that alternatives stay alternatives.
            parents: Vec::new(),
            mode: Some(ISOLATED),
        })
        .collect()
}

pub(crate) fn covers_for(machine: &Machine, bench: &Bench, places: &[PlaceId]) -> Vec<usize> {
    plan_teardown(&machine.access, places, &bench.open)
        .map(|plan| plan.opens().iter().map(|cover| cover.index()).collect())
        .unwrap_or_default()
}

/// Times that one repair is done on a job: a second new part that reads as the first did is no third time the part's fault.
const MOST_OF_ONE_REPAIR: usize = 2;

fn times_done(belief: &Belief<'_, '_>, repair: RepairId) -> usize {
    let items = belief.evidence().iter().map(|weighed| &weighed.item);
    items.filter(|item| matches!(item, Evidence::Repaired(id) if *id == repair)).count()
}

fn repairs(
    belief: &Belief<'_, '_>,
    bench: &Bench,
    prices: &Prices,
    live: &[Live],
    nothing_wrong: usize,
) -> (Vec<Act>, Vec<Repair>) {
    let machine = belief.machine();
    let mut ids: Vec<RepairId> =
        live.iter().filter_map(|live| live.suspect.as_ref()).flat_map(|s| s.repairs(machine)).collect();
    ids.sort_unstable();
    ids.dedup();
    ids.retain(|&id| times_done(belief, id) < MOST_OF_ONE_REPAIR);
    let closed: Vec<usize> =
        (0..machine.access.steps.len()).filter(|&c| machine.access.steps[c].closed_to_run).collect();
    let state = bench.trouble.first().copied().unwrap_or(StateId(0));
    let check = Check { cost: machine.states[state.index()].minutes + 0.5, mode: Some(RUNNING), closed };
    let mut acts = Vec::new();
    let mut repairs = Vec::new();
    for id in ids {
        let repair = &machine.repairs[id.index()];
        let act = Act::Change(id);
        let evidence = evidence_missing(belief, bench, id);
        let proving: f64 = evidence.iter().map(|act| cost(machine, prices, act)).map(|(m, danger)| m + danger).sum();
        repairs.push(Repair {
            cost: prices.repair_minutes(repair, !bench.not_on_van.contains(&id)) + proving,
            groups: covers_for(machine, bench, &places(machine, &act)),
            mode: Some(ISOLATED),
            fixes: (0..machine.faults.len()).filter(|&f| machine.faults[f].repair == id).collect(),
            success: 1.0,
            check: check.clone(),
        });
        acts.push(act);
    }
    if bench.explained {
        return (acts, repairs);
    }
    acts.push(Act::Explain);
    repairs.push(Repair {
        cost: prices.explain,
        groups: Vec::new(),
        mode: Some(RUNNING),
        fixes: vec![nothing_wrong],
        success: 1.0,
        check,
    });
    (acts, repairs)
}
