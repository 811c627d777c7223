//! What published standards and the trade ask of work on a machine of this sort, found from its description: bond and
//! insulation, the supply and its cord, the branch circuit, charge, gas, high voltage, refrigerant, tipping, water. Local
//! codes and licensed practice come before all of it. Judges no reading.

use crate::energy::{speaks_of, stores};
use machine::Machine;
use machine::access::Hazard;
use machine::model::{Cord, PartKind};
use quantity::{Amps, Published, Volts, Watts, branch, discharge, fuel, safety};

/// One thing that is asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Duty {
    /// What it is about.
    pub about: Topic,
    /// What is asked, in a sentence.
    pub say: String,
    /// Standard and clause, or that it is common practice.
    pub source: String,
}

/// What a duty is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "each is the trade's own word")]
pub enum Topic {
    Bond,
    Insulation,
    Cord,
    BranchCircuit,
    StoredCharge,
    FuelGas,
    HighVoltage,
    Refrigerant,
    TipOver,
    Water,
}

impl Topic {
    /// Gives its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bond => "bond",
            Self::Insulation => "insulation",
            Self::Cord => "cord",
            Self::BranchCircuit => "branch circuit",
            Self::StoredCharge => "stored charge",
            Self::FuelGas => "fuel gas",
            Self::HighVoltage => "high voltage",
            Self::Refrigerant => "refrigerant",
            Self::TipOver => "tip-over",
            Self::Water => "water",
        }
    }
}

const PRACTICE: &str = "common practice, no source";

/// Lists what is asked of work on this machine.
#[must_use]
pub fn duties(machine: &Machine) -> Vec<Duty> {
    let mut all = vec![bond(machine), insulation(machine)];
    all.extend(cord(machine));
    all.extend(branch_circuit(machine));
    if !stores(machine).is_empty() {
        all.push(published(
            Topic::StoredCharge,
            &discharge::PLUG_PINS,
            &format!(
                "discharge through a resistor and measure, at most {} V, before hands go in",
                discharge::PLUG_PINS.value
            ),
        ));
    }
    let has = |hazard| speaks_of(machine, &[hazard]);
    if has(Hazard::FuelGas) {
        let leaks = format!("leaks are looked for with soap, {}; found: {}", fuel::LEAK_SEARCH, fuel::LEAK_FOUND);
        all.push(duty(Topic::FuelGas, &leaks, fuel::PIPING_TEST.source));
        let burning = format!(
            "carbon monoxide in the flue at most {} ppm, air-free; flames blue and steady",
            fuel::CARBON_MONOXIDE.value
        );
        all.push(published(Topic::FuelGas, &fuel::CARBON_MONOXIDE, &burning));
        all.push(duty(Topic::FuelGas, "gas ways are for those licensed for it where local codes say so", PRACTICE));
    }
    if has(Hazard::HighVoltage) {
        all.push(duty(
            Topic::HighVoltage,
            "whenever it is opened a trained hand discharges the high side first, also for work on the low side",
            PRACTICE,
        ));
        all.push(duty(
            Topic::HighVoltage,
            "interlocks and monitor switch are replaced together",
            "IEC 60335-2-25, monitored interlock, from memory",
        ));
        all.push(duty(
            Topic::HighVoltage,
            "leakage by survey meter at most 5 mW/cm² at 5 cm afterwards; without one refer",
            "21 CFR 1030.10(c), from memory",
        ));
    }
    if has(Hazard::Refrigerant) {
        all.push(duty(
            Topic::Refrigerant,
            "nobody opens the sealed system without the licence for it",
            "40 CFR 82.161, from memory",
        ));
        let charge = format!(
            "isobutane up to {} {}: no spark, no flame, air the room",
            fuel::ISOBUTANE_CHARGE.value,
            fuel::ISOBUTANE_CHARGE.unit
        );
        all.push(published(Topic::Refrigerant, &fuel::ISOBUTANE_CHARGE, &charge));
    }
    if has(Hazard::TipOver) {
        all.push(duty(Topic::TipOver, "the anti-tip bracket holds the rear foot when it is back in place", PRACTICE));
    }
    if has(Hazard::Water) {
        all.push(duty(
            Topic::Water,
            "dry paper under every joint that was worked on stays dry after a fill and a drain",
            PRACTICE,
        ));
    }
    all
}

fn bond(machine: &Machine) -> Duty {
    let limit = safety::earth_bond_limit(CORD_METRES);
    let to = if machine.supply.cord == Cord::ThreeWire { "neutral" } else { "protective conductor" };
    published(
        Topic::Bond,
        &safety::EARTH_BOND,
        &format!("frame to {to} at most {} ohm, the cord moved meanwhile", limit.0),
    )
}

/// Length of an appliance's cord, metres: common practice, no source.
const CORD_METRES: f64 = 1.8;

fn insulation(machine: &Machine) -> Duty {
    let heats = machine.parts.iter().any(|part| part.kind == PartKind::Heater);
    let limit = safety::insulation_limit(safety::Class::I, heats);
    published(
        Topic::Insulation,
        &safety::INSULATION_CLASS_1,
        &format!("live to frame at least {} Mohm at 500 V DC", limit.0 / 1e6),
    )
}

fn cord(machine: &Machine) -> Vec<Duty> {
    let nec = "NEC 250.140, 250.142(B), second hand";
    match machine.supply.cord {
        Cord::ThreeWire => {
            branch::THREE_WIRE_CONDITIONS.iter().map(|condition| duty(Topic::Cord, condition, nec)).collect()
        }
        Cord::FourWire => {
            vec![duty(Topic::Cord, &format!("the strap from neutral to the frame {}", branch::FOUR_WIRE_STRAP), nec)]
        }
        Cord::Grounded => Vec::new(),
    }
}

/// The largest breaker for one appliance of up to 13.3 A.
///
/// SOURCE: NEC 422.11(E) (from memory).
const UP_TO_13_AMPS: Amps = Amps(20.0);

/// What the plate asks of the breaker: at least its load, a storage water heater a quarter more, and not too large for one
/// appliance.
fn branch_circuit(machine: &Machine) -> Vec<Duty> {
    let (power, volts) = (Watts(machine.plate_watts), Volts(machine.plate_volts));
    let breaker = machine.supply.breaker_amps;
    let water_heater = machine.kind.contains("water heater");
    let cooks = machine.kind.contains("range") && !machine.kind.contains("hood");
    let (least, source) = if water_heater {
        (branch::water_heater_circuit(power, volts), branch::WATER_HEATER.source)
    } else if cooks {
        let demand = branch::range_branch_load(power);
        (Amps(demand.0.min(power.0) / volts.0), "NEC Table 220.55, note 4")
    } else {
        (Amps(power.0 / volts.0), "NEC 210.20(A)")
    };
    let mut all = Vec::new();
    if let Some(rating) = branch::standard_rating(least) {
        let fits = if breaker >= rating.0 { "" } else { ": the described one is smaller" };
        let say = format!("the breaker carries {:.1} A: at least {} A{fits}", least.0, rating.0);
        all.push(duty(Topic::BranchCircuit, &say, source));
    }
    let most = branch::largest_device(power, volts).map_or(Some(UP_TO_13_AMPS), branch::standard_rating);
    if let Some(most) = most {
        let over = if breaker > most.0 { ": the described one is larger" } else { "" };
        let say = format!("a breaker for this appliance alone has at most {} A{over}", most.0);
        all.push(published(Topic::BranchCircuit, &branch::SINGLE_APPLIANCE, &say));
    }
    all
}

fn published(about: Topic, figure: &Published, say: &str) -> Duty {
    duty(about, say, figure.source)
}

fn duty(about: Topic, say: &str, source: &str) -> Duty {
    Duty { about, say: say.to_owned(), source: source.to_owned() }
}
