//! A certificate as plain data. Trusts nothing of it: every number is checked elsewhere.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A certificate: a claim, what it takes as given, and the bounds it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// Version of the format: 1.
    #[serde(rename = "callwright-certificate")]
    pub version: u32,
    /// Id of the machine that it speaks of.
    pub machine: String,
    /// What is claimed.
    pub claim: Claim,
    /// What is taken as given.
    pub given: Given,
    /// Suspects that the claim rests on.
    pub supports: Vec<Support>,
    /// Rivals excluded by named items of the evidence.
    pub excluded: Vec<Excluded>,
    /// How many further rivals are so rare that their weight excludes them, every item at its most.
    pub left_to_weight: usize,
}

/// What is claimed; shares of the belief.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Claim {
    /// Id of the repair; `None` for "nothing is wrong".
    pub repair: Option<String>,
    /// At least this share holds a fault that the repair cures.
    pub needed_at_least: f64,
    /// At least this share is cured by the repair alone.
    pub alone_at_least: f64,
    /// Acting on the claim now costs at most this much more, as expected, than the best of all plans, whatever they
    /// would still read: minutes.
    pub minutes_lost_at_most: f64,
}

/// What is taken as given: whoever verifies a certificate says himself what he agrees with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Given {
    /// What is assumed before any evidence.
    pub assumed: Assumed,
    /// The meter.
    pub meter: Meter,
    /// Variants that are settled on the unit at hand.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settled: Vec<BuiltWay>,
    /// What was found, in order.
    pub evidence: Vec<Item>,
    /// What acting on the claim costs where it is wrong, until one stands where one stood before: minutes, with money and
    /// danger turned into minutes.
    pub minutes_if_wrong: f64,
}

/// What is assumed before any evidence; shares are of the weight of all single faults.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Assumed {
    /// Share of nothing wrong.
    pub nothing_wrong: f64,
    /// Share of a machine that is not as described.
    pub not_as_described: f64,
    /// Share of all unrelated pairs, about.
    pub pairs: f64,
    /// Chance that a report is wrong.
    pub wrong_report: f64,
    /// Chance that a watched thing is wrong.
    pub wrong_watch: f64,
    /// Chance that a reading is a slip.
    pub slip: f64,
    /// Multiplies the shares in which the description says that faults come and go.
    pub intermittents: f64,
    /// Chance that a sound part looks damaged.
    pub false_look: f64,
    /// Weight of a fault by id, where it is not the description's own.
    pub weights: BTreeMap<String, f64>,
}

/// The meter as a part of the circuit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Meter {
    /// Input resistance on volts, ohms.
    pub volts_input_ohms: f64,
    /// Above this it shows over-range, ohms.
    pub ohms_limit: f64,
    /// What its leads add on ohms.
    pub lead_shown: f64,
    /// On volts.
    pub volts: Function,
    /// On ohms.
    pub ohms: Function,
    /// On amperes.
    pub amps: Function,
}

/// How far one function of a meter can be trusted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Function {
    /// Share of the reading.
    pub share: f64,
    /// Digits of the last place.
    pub digits: f64,
    /// One digit of the lowest range.
    pub resolution: f64,
    /// Digits that fill a range, each range ten times the one below; one range only without.
    pub counts: Option<f64>,
    /// 95 % half-width that does not grow with the reading.
    pub least: f64,
}

/// One item of evidence, in the machine's own names.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub enum Item {
    /// The customer says so of his own accord.
    Reported(Seen),
    /// The customer was asked.
    Answered(Seen),
    /// The technician saw it.
    Watched(Seen),
    /// A reading.
    Read(Read),
    /// A look.
    Looked {
        /// Part.
        part: String,
        /// Shows damage.
        damage: bool,
    },
    /// The unit was looked at: it has a variant in this way.
    Built(BuiltWay),
    /// The technician's opinion.
    Opinion {
        /// Part.
        part: String,
        /// How many times likelier.
        times: f64,
    },
}

/// A variant in one of its ways.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuiltWay {
    /// Variant.
    pub variant: String,
    /// Id of the option; `described` for none.
    pub way: String,
}

/// One thing seen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seen {
    /// State.
    pub state: String,
    /// Observation.
    pub observe: String,
    /// Id of its value.
    pub value: String,
}

/// One reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Read {
    /// What the meter is set to.
    pub quantity: Quantity,
    /// Two terminals by name, or the one branch that the clamp is around.
    pub at: Vec<String>,
    /// State.
    pub state: String,
    /// Plugged in and running.
    pub plugged: bool,
    /// Leads lifted, as branches.
    pub lifted: Vec<String>,
    /// What the meter showed, in volts, ohms or amperes; over-range without.
    pub shows: Option<f64>,
}

/// What a meter is set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Volts.
    Volts,
    /// Ohms.
    Ohms,
    /// Amperes.
    Amps,
}

/// A suspect that the claim rests on: one that the repair cures, alone or in part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Support {
    /// Its faults, as `PART:MODE`; none for nothing wrong.
    pub faults: Vec<String>,
    /// Natural logarithm of its weight times the likelihood of the whole evidence, at least.
    pub log_at_least: f64,
}

/// Rivals that the same items speak against.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Excluded {
    /// The items, by their places in the evidence, rising.
    pub by: Vec<usize>,
    /// The rivals.
    pub rivals: Vec<Rival>,
}

/// One rival: a suspect that the repair does not cure alone, and that is no support.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rival {
    /// Its faults, as `PART:MODE`; none for nothing wrong.
    pub faults: Vec<String>,
    /// Natural logarithm of its weight times the likelihood of the named items, every other item at its most: at most.
    pub log_at_most: f64,
}
