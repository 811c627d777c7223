//! The next step in the trade's words: compiles the belief, plans, and says what to do, why, and what would change it.

use crate::bench::Bench;
use crate::board::evidence_missing;
use crate::candidates::{Act, Hands, places};
use crate::compile::{Compiled, Offered, Outcomes, compile, cost};
use crate::confirm::confirmation_missing;
use crate::plan::{Action, Planner, ProblemError, Proposal, Settings};
use crate::prices::Prices;
use diagnosis::{Belief, Suspect, words};
use machine::faults::RepairKind;
use machine::model::{CoverId, Machine, PlaceId, TerminalId};
use prediction::{Meter, Probe, Reading};
use quantity::show_range;
use teardown::{Teardown, plan_teardown};

/// Most proposals given.
const MOST_PROPOSALS: usize = 8;

/// A step as advised.
#[derive(Clone, Debug)]
pub struct Advice {
    /// What to do.
    pub act: Act,
    /// The sentence.
    pub say: String,
    /// Covers that come off first, in order.
    pub covers: Vec<CoverId>,
    /// Places that must be exposed.
    pub places: Vec<PlaceId>,
    /// Minutes, with what must come off first.
    pub minutes: f64,
    /// Danger, in minutes.
    pub danger: f64,
    /// What can come of it.
    pub outcomes: Vec<Meaning>,
    /// Expected minutes (with danger and money) to the end of the job when this is done next.
    pub expected: f64,
}

/// One outcome of a step and what it would mean.
#[derive(Clone, Debug)]
pub struct Meaning {
    /// In words: `OL`, `9.6 to 11.2 ohm`, `looks damaged`, `the drum turns`.
    pub say: String,
    /// Limits of the reading in its SI unit, where it has any.
    pub limits: Option<(f64, f64)>,
    /// Its chance.
    pub chance: f64,
    /// The likeliest suspects then, with their shares.
    pub suspects: Vec<(Option<Suspect>, f64)>,
}

/// Plans the next step and gives the proposals, the best first. A part is read at itself before it is changed.
///
/// # Errors
/// What the planner finds wrong with the compiled problem.
pub fn advise(
    belief: &Belief<'_, '_>,
    bench: &Bench,
    prices: &Prices,
    nodes: usize,
) -> Result<Vec<Advice>, ProblemError> {
    let mut steps = advise_unconfirmed(belief, bench, prices, nodes)?;
    for step in &mut steps {
        if let Act::Change(repair) = step.act
            && let Some(act) = confirmation_missing(belief, bench, prices, repair)
        {
            *step = owed(belief, bench, prices, act, step.expected);
        }
    }
    Ok(steps)
}

/// Gives the proposals that rest on the description alone: a part may be named that nothing was read at.
///
/// # Errors
/// What the planner finds wrong with the compiled problem.
pub fn advise_unconfirmed(
    belief: &Belief<'_, '_>,
    bench: &Bench,
    prices: &Prices,
    nodes: usize,
) -> Result<Vec<Advice>, ProblemError> {
    let compiled = compile(belief, bench, prices)?;
    let mut planner = Planner::new(&compiled.problem, &compiled.situation, Settings::default())?;
    planner.advance(nodes);
    let mut steps: Vec<(usize, Advice)> = Vec::new();
    for proposal in planner.proposals() {
        let step = advice(belief, bench, prices, &compiled, &proposal);
        if !steps.iter().any(|(_, s)| s.act == step.act) {
            steps.push((proposal.looked, step));
        }
        if steps.len() == MOST_PROPOSALS {
            break;
        }
    }
    let ranked: Vec<(f64, f64, bool)> = steps.iter().map(|(looked, s)| (s.expected, s.danger, *looked > 0)).collect();
    if let Some(safer) = safer_near_tie(&ranked, planner.lower_bound()) {
        let step = steps.remove(safer);
        steps.insert(0, step);
    }
    Ok(steps.into_iter().map(|(_, step)| step).collect())
}

/// Share of what is still avoidable within which two steps count as the same.
const NEAR_TIE: f64 = 0.02;

/// Gives the step that costs next to the same as the first and endangers less; `None` if the first stands. Each is its
/// expected cost, its danger and whether it was worked out.
fn safer_near_tie(ranked: &[(f64, f64, bool)], bound: f64) -> Option<usize> {
    let &(cost, danger, _) = ranked.first()?;
    let limit = cost + NEAR_TIE * (cost - bound).max(0.0);
    let near = ranked.iter().enumerate().skip(1).filter(|(_, (c, d, worked))| *worked && *c <= limit && *d < danger);
    near.min_by(|(_, a), (_, b)| a.1.total_cmp(&b.1).then(a.0.total_cmp(&b.0))).map(|(at, _)| at)
}

/// Says what would change the proposal: how much likelier (or less likely) which suspect would have to be, and what
/// would then be best; `None` if no change of one suspect's odds would do.
///
/// *Approximate because* the plans after each action are held as they stand.
///
/// # Errors
/// What the planner finds wrong with the compiled problem.
pub fn changes_if(
    belief: &Belief<'_, '_>,
    bench: &Bench,
    prices: &Prices,
    nodes: usize,
) -> Result<Option<String>, ProblemError> {
    let compiled = compile(belief, bench, prices)?;
    let mut planner = Planner::new(&compiled.problem, &compiled.situation, Settings::default())?;
    planner.advance(nodes);
    Ok(planner.nearest_flip().map(|flip| {
        let suspect = compiled.hypotheses[flip.hypothesis].as_ref();
        let who = suspect.map_or_else(|| "not as described".to_owned(), |s| words::suspect(belief.machine(), s));
        let (times, how) =
            if flip.factor >= 1.0 { (flip.factor, "likelier") } else { (1.0 / flip.factor, "less likely") };
        let (becomes, _) = act_of(&compiled, &flip.becomes);
        format!("changes if `{who}` were {times:.1} times {how}; then: {}", sentence(belief, &becomes))
    }))
}

fn advice(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices, compiled: &Compiled, proposal: &Proposal) -> Advice {
    let machine = belief.machine();
    let (act, offered) = act_of(compiled, &proposal.action);
    if let Act::Change(repair) = act
        && let Some(evidence) = evidence_missing(belief, bench, repair).into_iter().next()
    {
        return owed(belief, bench, prices, evidence, proposal.expected_cost);
    }
    let danger = offered.map_or(0.0, |o| o.danger);
    let places = places(machine, &act);
    Advice {
        say: sentence(belief, &act),
        covers: plan_teardown(&machine.access, &places, &bench.open).map(|plan| plan.opens()).unwrap_or_default(),
        places,
        minutes: proposal.cost_now - danger,
        danger,
        outcomes: offered.map(|o| meanings(belief, compiled, o, &proposal.action)).unwrap_or_default(),
        expected: proposal.expected_cost,
        act,
    }
}

/// Advises a reading that a repair is owed, in its place.
fn owed(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices, act: Act, expected: f64) -> Advice {
    let machine = belief.machine();
    let (minutes, danger) = cost(machine, prices, &act);
    let isolate = if bench.isolated || !matches!(act, Act::Read(_, Hands::Isolated)) { 0.0 } else { prices.isolate };
    let places = places(machine, &act);
    let plan = plan_teardown(&machine.access, &places, &bench.open).ok();
    Advice {
        say: sentence(belief, &act),
        covers: plan.as_ref().map(Teardown::opens).unwrap_or_default(),
        places,
        minutes: minutes + isolate + plan.map_or(0.0, |plan| plan.minutes()),
        danger,
        outcomes: Vec::new(),
        expected,
        act,
    }
}

fn act_of<'c>(compiled: &'c Compiled, action: &Action) -> (Act, Option<&'c Offered>) {
    match action {
        Action::Test(test) => (compiled.tests[*test].act.clone(), Some(&compiled.tests[*test])),
        Action::Repair(repairs) => (repairs.first().map_or(Act::Refer, |r| compiled.repairs[*r].clone()), None),
        Action::Exit => (Act::Refer, None),
    }
}

fn meanings(belief: &Belief<'_, '_>, compiled: &Compiled, offered: &Offered, action: &Action) -> Vec<Meaning> {
    let Action::Test(test) = action else { return Vec::new() };
    let rows = &compiled.problem.parts().tests[*test].outcomes;
    let weights = &compiled.situation.weights;
    let total: f64 = weights.iter().sum();
    let count = rows.first().map_or(0, Vec::len);
    (0..count)
        .map(|outcome| {
            let joint: Vec<f64> = rows.iter().zip(weights).map(|(row, w)| w / total * row[outcome]).collect();
            let chance: f64 = joint.iter().sum();
            let mut suspects: Vec<(Option<Suspect>, f64)> =
                compiled.hypotheses.iter().cloned().zip(joint.iter().map(|j| j / chance.max(1e-300))).collect();
            suspects.sort_by(|a, b| b.1.total_cmp(&a.1));
            suspects.truncate(3);
            let (say, limits) = outcome_in_words(belief, offered, outcome);
            Meaning { say, limits, chance, suspects }
        })
        .collect()
}

fn outcome_in_words(belief: &Belief<'_, '_>, offered: &Offered, outcome: usize) -> (String, Option<(f64, f64)>) {
    let machine = belief.machine();
    match (&offered.outcomes, &offered.act) {
        (Outcomes::Reading(bins), Act::Read(reading, _)) => {
            let limits = bins.limits(outcome);
            let unit = reading.quantity.unit();
            let say = match limits {
                None => "OL".to_owned(),
                Some((low, high)) if high.is_infinite() && low <= 0.0 => "any figure".to_owned(),
                Some((low, high)) if high.is_infinite() => format!("over {}", quantity::show(low, unit)),
                Some((low, high)) if low <= 0.0 => format!("under {}", quantity::show(high, unit)),
                Some((low, high)) => show_range(low, high, unit),
            };
            (say, limits)
        }
        (Outcomes::Watch(ways), Act::Try(state)) => {
            let what = machine.observations.iter().filter(|o| o.states.contains(state));
            let said = what.zip(&ways[outcome]).filter_map(|(o, &v)| o.values.get(usize::from(v)));
            (said.map(|value| value.say.as_str()).collect::<Vec<_>>().join(", "), None)
        }
        _ if outcome == 0 => ("looks sound".to_owned(), None),
        _ => ("looks damaged".to_owned(), None),
    }
}

/// Says what to do in one sentence, and for a reading what a sound machine shows.
#[must_use]
pub fn sentence(belief: &Belief<'_, '_>, act: &Act) -> String {
    let machine = belief.machine();
    match act {
        Act::Read(reading, hands) => {
            let sound = belief.predictor().predict(reading, &[]);
            format!(
                "{}: {}, {}. A sound machine shows {}.",
                capital(&how(machine, reading, *hands)),
                function(reading, belief.predictor().meter()),
                words::probe(machine, reading.probe),
                words::expected(&sound, reading.quantity, belief.predictor().meter()),
            )
        }
        Act::Look(part) => format!("Look closely at the {}.", machine.parts[part.index()].name),
        Act::Try(state) => {
            let state = &machine.states[state.index()];
            if state.events.is_empty() {
                format!("Watch it: {}.", state.say)
            } else {
                format!("Run it: {}. Watch: {}.", state.events.join(", "), state.say)
            }
        }
        Act::Change(repair) => {
            let repair = &machine.repairs[repair.index()];
            let whose = if repair.kind == RepairKind::Refer { " This is for those licensed for it." } else { "" };
            format!("{}, then try it.{whose}", capital(&repair.say))
        }
        Act::Explain => "Nothing points to a fault: go through the use with the customer and watch a run.".to_owned(),
        Act::Refer => "Stop here: nothing described explains this at a price worth paying. Refer it.".to_owned(),
    }
}

fn how(machine: &Machine, reading: &Reading, hands: Hands) -> String {
    match hands {
        Hands::Isolated => words::condition(machine, reading),
        Hands::Supply => "plug out, at the receptacle".to_owned(),
        Hands::Clipped => {
            format!("clip on dead, stand clear, then {}", words::condition(machine, reading))
        }
    }
}

fn function(reading: &Reading, meter: &Meter) -> &'static str {
    match reading.quantity {
        prediction::Quantity::Volts if meter.loads() => "AC volts, low-impedance input",
        prediction::Quantity::Volts => "AC volts",
        prediction::Quantity::Ohms => "ohms",
        prediction::Quantity::Amps => "clamp, amperes",
        prediction::Quantity::Farads => "capacitance",
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Gives the two points of a reading by name, for a record or a script.
#[must_use]
pub fn points(machine: &Machine, reading: &Reading) -> Vec<String> {
    let name = |terminal: TerminalId| machine.terminals[terminal.index()].name.clone();
    match reading.probe {
        Probe::Across(a, b) => vec![name(a), name(b)],
        Probe::Around(branch) => vec![machine.branches[branch.index()].name.clone()],
    }
}

#[cfg(test)]
mod tests {
    use super::safer_near_tie;

    #[test]
    fn of_steps_that_cost_next_to_the_same_the_safer_comes_first() {
        // 50 minutes are avoidable, so 1 minute is a tie.
        let ranked = [(100.0, 3.0, true), (100.9, 0.0, true), (101.5, 0.0, true)];
        assert_eq!(safer_near_tie(&ranked, 50.0), Some(1));
    }

    #[test]
    fn a_safer_step_that_costs_more_or_was_not_worked_out_stays_behind() {
        assert_eq!(safer_near_tie(&[(100.0, 3.0, true), (102.0, 0.0, true)], 50.0), None);
        assert_eq!(safer_near_tie(&[(100.0, 3.0, true), (100.1, 0.0, false)], 50.0), None);
        assert_eq!(safer_near_tie(&[(100.0, 0.0, true), (100.1, 0.0, true)], 50.0), None);
        assert_eq!(safer_near_tie(&[], 0.0), None);
    }
}
