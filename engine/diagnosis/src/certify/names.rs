//! What a certificate takes as given, told in the machine's own names. Knows no weights but those assumed.

use super::NotCertified;
use crate::evidence::{Evidence, Measured};
use crate::suspects::Assumptions;
use certificate::{Assumed, BuiltWay, Function, Given, Item, Meter, Quantity, Read, Seen};
use machine::model::{BranchId, Machine, Observed, TerminalId, VariantId};
use prediction::{Accuracy, Predictor, Probe, Reading};

/// Tells what is assumed, the meter, the evidence and what being wrong costs (minutes) in the machine's own names.
///
/// # Errors
/// A repair is among the evidence, an item has no name, or the checker has no route of its own to it.
pub fn given(
    predictor: &Predictor<'_>,
    assumed: &Assumptions,
    evidence: &[Evidence],
    minutes_if_wrong: f64,
) -> Result<Given, NotCertified> {
    let machine = predictor.machine();
    let evidence = evidence.iter().map(|item| told(machine, item)).collect::<Result<_, _>>()?;
    let a = assumed;
    let weights = a.weights.iter().map(|(fault, weight)| (machine.faults[fault.index()].id.clone(), *weight));
    let assumed = Assumed {
        nothing_wrong: a.nothing_wrong,
        not_as_described: a.not_as_described,
        pairs: a.pairs,
        wrong_report: a.wrong_report,
        wrong_watch: a.wrong_watch,
        slip: a.slip,
        intermittents: a.intermittents,
        false_look: a.false_look,
        weights: weights.collect(),
    };
    let known = (0..).map(VariantId).zip(&machine.settled);
    let settled = known.filter_map(|(variant, option)| Some(way(machine, variant, (*option)?))).collect();
    Ok(Given { assumed, meter: meter(predictor.meter()), settled, evidence, minutes_if_wrong })
}

fn meter(meter: &prediction::Meter) -> Meter {
    let of = |accuracy: &Accuracy, quantity| Function {
        share: accuracy.share,
        digits: accuracy.digits,
        resolution: accuracy.resolution,
        counts: accuracy.counts,
        least: meter.least(quantity),
    };
    Meter {
        volts_input_ohms: meter.volts_input_ohms,
        ohms_limit: meter.ohms_limit,
        lead_shown: meter.lead_shown(),
        volts: of(&meter.volts, prediction::Quantity::Volts),
        ohms: of(&meter.ohms, prediction::Quantity::Ohms),
        amps: of(&meter.amps, prediction::Quantity::Amps),
    }
}

fn told(machine: &Machine, item: &Evidence) -> Result<Item, NotCertified> {
    let part = |part: machine::model::PartId| machine.parts[part.index()].id.clone();
    Ok(match item {
        Evidence::Reported(what) => Item::Reported(seen(machine, *what)?),
        Evidence::Answered(what) => Item::Answered(seen(machine, *what)?),
        Evidence::Watched(what) => Item::Watched(seen(machine, *what)?),
        Evidence::Warmed { .. } => return Err(NotCertified::OutOfReach("a thermometer reading")),
        Evidence::Read { reading, measured } => Item::Read(read(machine, reading, *measured)?),
        Evidence::Looked { part: at, damage } => Item::Looked { part: part(*at), damage: *damage },
        Evidence::Opinion { part: of, times } => Item::Opinion { part: part(*of), times: *times },
        Evidence::Built { variant, option } => Item::Built(way(machine, *variant, *option)),
        Evidence::ComesAndGoes(_) => {
            return Err(NotCertified::OutOfReach("what the customer says of how it comes and goes"));
        }
        Evidence::Stirred(_) => return Err(NotCertified::OutOfReach("more than one sitting")),
        Evidence::Repaired(_) => return Err(NotCertified::AfterRepair),
    })
}

fn way(machine: &Machine, variant: VariantId, option: Option<usize>) -> BuiltWay {
    let known = &machine.variants[variant.index()];
    BuiltWay { variant: known.id.clone(), way: known.id_of(option).to_owned() }
}

fn seen(machine: &Machine, seen: prediction::Seen) -> Result<Seen, NotCertified> {
    let observation = &machine.observations[seen.what.index()];
    if matches!(observation.of, Observed::Warms { .. }) {
        return Err(NotCertified::OutOfReach("how fast something gets warm"));
    }
    let value = observation.values.get(usize::from(seen.value)).map(|value| value.id.clone()).unwrap_or_default();
    Ok(Seen { state: machine.states[seen.state.index()].id.clone(), observe: observation.id.clone(), value })
}

fn read(machine: &Machine, reading: &Reading, measured: Measured) -> Result<Read, NotCertified> {
    let at = match reading.probe {
        Probe::Across(a, b) => vec![terminal(machine, a)?, terminal(machine, b)?],
        Probe::Around(around) => vec![branch(machine, around)?],
    };
    Ok(Read {
        quantity: match reading.quantity {
            prediction::Quantity::Volts => Quantity::Volts,
            prediction::Quantity::Ohms => Quantity::Ohms,
            prediction::Quantity::Amps => Quantity::Amps,
            prediction::Quantity::Farads => return Err(NotCertified::OutOfReach("a capacitance")),
        },
        at,
        state: machine.states[reading.condition.state.index()].id.clone(),
        plugged: reading.condition.plugged,
        lifted: reading.condition.lifted.iter().map(|&lead| branch(machine, lead)).collect::<Result<_, _>>()?,
        shows: match measured {
            Measured::Value(value) => Some(value),
            Measured::OverRange => None,
        },
    })
}

fn terminal(machine: &Machine, terminal: TerminalId) -> Result<String, NotCertified> {
    let name = &machine.terminals[terminal.index()].name;
    let its_own = machine.terminal(name).is_ok_and(|found| found == terminal);
    if its_own { Ok(name.clone()) } else { Err(NotCertified::Unnamed(format!("the terminal `{name}`"))) }
}

fn branch(machine: &Machine, branch: BranchId) -> Result<String, NotCertified> {
    let name = &machine.branches[branch.index()].name;
    let its_own = machine.branch(name).is_ok_and(|found| found == branch);
    if its_own { Ok(name.clone()) } else { Err(NotCertified::Unnamed(format!("the branch `{name}`"))) }
}
