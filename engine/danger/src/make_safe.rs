//! The make-safe procedure of a machine and a work point, each step a request that the gate judges like any other.
//!
//! SOURCE: the eight steps towards an electrically safe condition of NFPA 70E 120.5 (2018-2021), 120.6 (2024): find
//! every source, interrupt and open, see the open blades, release stored charge, block stored motion, lock and tag,
//! test for absence of voltage with the tester proved before and after, earth where charge may return. Local codes and
//! licensed practice come first.

use crate::dead::{Pair, WorkPoint, required_measurements};
use crate::energy::{EnergyKind, Isolator, Secured, Store, energy_sources, stores};
use crate::gate::request::StepRequest;
use crate::words::part_name;
use machine::model::{Law, Machine};

/// Ohms of the resistor that discharges a store; common practice, no source. It keeps the spark and the current small.
pub const BLEED_OHMS: f64 = 20_000.0;

/// One step of making safe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SafeStep {
    /// Number of the step of NFPA 70E that it serves; `None` for what the machine adds.
    pub of_eight: Option<u8>,
    /// In words.
    pub say: String,
    /// What is asked of the gate, where a hand does something the gate knows.
    pub request: Option<StepRequest>,
    /// What secures the feed, on the step that does.
    pub secures: Option<Secured>,
}

/// The procedure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MakeSafe {
    /// In order.
    pub steps: Vec<SafeStep>,
    /// Stands over every procedure.
    pub preface: &'static str,
}

/// Builds the procedure that ends with the work point proved dead.
///
/// `by` is how the feed is parted. Locking comes before discharging, other than in the list of eight: a household
/// machine must be opened to be discharged, and no cover comes off before the feed is secured.
#[must_use]
pub fn make_safe(machine: &Machine, work: &WorkPoint, by: Isolator) -> MakeSafe {
    let mut steps = vec![find_sources(machine)];
    steps.push(plain(Some(2), "switch the machine off at its own control"));
    steps.push(part_feed(by));
    steps.push(plain(Some(3), if by == Isolator::Plug { "see the bare pins of the plug" } else { SEE_OPEN }));
    steps.push(secure(by));
    steps.extend(other_energies(machine));
    steps.push(prove_meter(&format!("prove the meter on {}, before you measure", known_source(by))));
    steps.push(prove_earth());
    steps.extend(stores(machine).into_iter().map(|store| discharge(machine, store)));
    steps.extend(required_measurements(work).into_iter().map(|pair| measure(machine, pair)));
    steps.push(prove_meter(&format!("prove the meter on {} again, after you measured", known_source(by))));
    if !stores(machine).is_empty() {
        steps.push(plain(Some(8), "leave the discharge resistor clipped on where charge may return"));
    }
    MakeSafe { steps, preface: "Local codes and licensed practice come first." }
}

fn known_source(by: Isolator) -> &'static str {
    match by {
        Isolator::Plug => "the receptacle that the plug left",
        Isolator::Disconnect | Isolator::Breaker => "a live receptacle of another circuit or a proving unit",
    }
}

const SEE_OPEN: &str = "see the open blades where a window or cover lets you; else try to start it: nothing may run";

fn plain(of_eight: Option<u8>, say: &str) -> SafeStep {
    SafeStep { of_eight, say: say.to_owned(), request: None, secures: None }
}

fn find_sources(machine: &Machine) -> SafeStep {
    let names: Vec<String> = energy_sources(machine).iter().map(|source| kind_name(machine, source.kind)).collect();
    plain(Some(1), &format!("find every source: {}", names.join(", ")))
}

fn kind_name(machine: &Machine, kind: EnergyKind) -> String {
    match kind {
        EnergyKind::Feed => "the electrical feed".to_owned(),
        EnergyKind::Charge(store) => format!("charge of {}", store.say(machine)),
        EnergyKind::Gas => "gas".to_owned(),
        EnergyKind::Water => "water".to_owned(),
        EnergyKind::Heat => "heat".to_owned(),
        EnergyKind::Springs => "springs and moving parts".to_owned(),
    }
}

fn prove_meter(say: &str) -> SafeStep {
    SafeStep { of_eight: Some(7), say: say.to_owned(), request: Some(StepRequest::ProveMeter), secures: None }
}

fn prove_earth() -> SafeStep {
    plain(Some(7), "prove the earth you will measure to: a live leg must show its volts to it")
}

fn part_feed(by: Isolator) -> SafeStep {
    let say = match by {
        Isolator::Plug => "pull the plug",
        Isolator::Disconnect => "switch the disconnect off",
        Isolator::Breaker => "switch the breaker off",
    };
    SafeStep { of_eight: Some(2), say: say.to_owned(), request: Some(StepRequest::Isolate(by)), secures: None }
}

fn secure(by: Isolator) -> SafeStep {
    let (say, secures) = match by {
        Isolator::Plug => ("lay the plug where you see it while you work, tag it", Secured::PlugInSight),
        Isolator::Disconnect => ("lock and tag the disconnect", Secured::LockedAndTagged),
        Isolator::Breaker => ("lock and tag the breaker, tell the household", Secured::LockedAndTagged),
    };
    SafeStep { of_eight: Some(6), say: say.to_owned(), request: None, secures: Some(secures) }
}

fn other_energies(machine: &Machine) -> impl Iterator<Item = SafeStep> {
    energy_sources(machine).into_iter().filter_map(|source| {
        let number = match source.kind {
            EnergyKind::Springs => Some(5),
            EnergyKind::Gas | EnergyKind::Water | EnergyKind::Heat => None,
            EnergyKind::Feed | EnergyKind::Charge(_) => return None,
        };
        Some(plain(number, &format!("{}; proof: {}", source.isolator, source.proof)))
    })
}

fn discharge(machine: &Machine, store: Store) -> SafeStep {
    let seconds = match store {
        Store::Capacitor(id) => machine.branches.get(id.index()).and_then(|branch| match branch.law {
            Law::Capacitor { farads, .. } => {
                let peak = machine.plate_volts * std::f64::consts::SQRT_2;
                Some(discharge_seconds(farads, BLEED_OHMS, peak, crate::dead::DEAD_LIMIT_VOLTS))
            }
            _ => None,
        }),
        Store::Bus(_) => None,
    };
    let what = match store {
        Store::Capacitor(id) => machine
            .branches
            .get(id.index())
            .map_or_else(|| store.say(machine), |branch| part_name(machine, branch.part)),
        Store::Bus(_) => store.say(machine),
    };
    // Twice the computed time, at least five seconds: clips slip and capacitors run over their marking.
    let hold = seconds.map_or(30.0, |seconds| libm::ceil((2.0 * seconds).max(5.0)));
    let say = format!("discharge {what} with 20 kohm for {hold:.0} s, then measure DC volts across it");
    SafeStep { of_eight: Some(4), say, request: Some(StepRequest::Discharge(store)), secures: None }
}

fn measure(machine: &Machine, pair: Pair) -> SafeStep {
    let say = format!("measure {}, AC and DC", pair.say(machine));
    SafeStep { of_eight: Some(7), say, request: Some(StepRequest::ProveDead(pair)), secures: None }
}

/// Gives the seconds in which a resistor brings a capacitor from one voltage down to another.
///
/// SOURCE: t = R C ln(V0 / V). Zero when it is there already, or when a value is none.
#[must_use]
pub fn discharge_seconds(farads: f64, ohms: f64, from_volts: f64, to_volts: f64) -> f64 {
    if farads > 0.0 && ohms > 0.0 && to_volts > 0.0 && from_volts > to_volts {
        farads * ohms * libm::log(from_volts / to_volts)
    } else {
        0.0
    }
}
