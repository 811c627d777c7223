//! Facts about the shop's customers and their appliances, its settings and its van, and the opening of jobs.
//!
//! Refuses to know any person: customers are keys and sealed records.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use rust_decimal::Decimal;

use super::common::{ChargeSort, MachineFile, Role, TaxCategory};
use super::facts;
use crate::ids::{ApplianceId, CustomerId, JobId, KeyId, RecordId};
use crate::time::ZonedTime;
use crate::value::{Currency, Money, Number};

facts!(
    /// A fact that belongs to no job, or that opens one.
    ShopFact {
        CustomerAdded = "customer_added",
        CustomerChanged = "customer_changed",
        ApplianceAdded = "appliance_added",
        ApplianceLearned = "appliance_learned",
        MachineSet = "machine_set",
        KeyDestroyed = "key_destroyed",
        JobOpened = "job_opened",
        SettingsSet = "settings_set",
        VanCounted = "van_counted",
        MachineDescribed = "machine_described",
        PriceSet = "price_set",
        LearningTaken = "learning_taken",
        HabitsTaken = "habits_taken",
    }
);

/// A customer is taken into the book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CustomerAdded {
    /// Key of all the customer's sealed records.
    pub key: KeyId,
    /// The sealed record with name, address and the rest.
    pub record: RecordId,
    /// Taken in from a list: nobody has called.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub listed: bool,
}

/// A customer's details are replaced by a newer sealed record under the same key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CustomerChanged {
    /// The customer.
    pub customer: CustomerId,
    /// The sealed record that now counts.
    pub record: RecordId,
}

/// Whether somebody else owes the repair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Warranty {
    /// Not asked or not known.
    NotKnown,
    /// None.
    None,
    /// Owed by this one.
    Owed {
        /// Who owes it.
        by: Role,
        /// Until when, if known.
        until: Option<ZonedTime>,
    },
}

/// An appliance of a customer is taken into the book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ApplianceAdded {
    /// Whose it is.
    pub customer: CustomerId,
    /// The machine file that describes it, if there is one.
    pub machine: Option<MachineFile>,
    /// What is printed on the plate: entry to text, such as `rated_voltage` to `120/240 V`. No serial number.
    #[serde(default)]
    pub plate: BTreeMap<String, String>,
    /// The sealed record with the serial number, which leads to a person.
    pub serial: Option<RecordId>,
    /// Age in months, if known.
    pub age_months: Option<u32>,
    /// Warranty.
    pub warranty: Warranty,
}

/// Something settled about an appliance that holds for every later job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ApplianceLearned {
    /// The appliance.
    pub appliance: ApplianceId,
    /// Variants settled: variant to choice.
    #[serde(default)]
    pub variants: BTreeMap<String, String>,
    /// Its own labels: id of a terminal or part to the label printed on it.
    #[serde(default)]
    pub labels: BTreeMap<String, String>,
    /// Plate entries read or corrected.
    #[serde(default)]
    pub plate: BTreeMap<String, String>,
    /// What its papers say: entry to text, such as `service_mode`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub papers: BTreeMap<String, String>,
    /// Where it differs from its description, in words.
    #[serde(default)]
    pub differs: Vec<String>,
}

/// An appliance is described by another machine file, or by a newer text of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineSet {
    /// The appliance.
    pub appliance: ApplianceId,
    /// The file from now on.
    pub machine: MachineFile,
}

/// A customer is erased: the key is destroyed in every store that takes this event in. It cannot be undone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyDestroyed {
    /// The key.
    pub key: KeyId,
    /// Why, such as `asked by the customer`.
    pub reason: String,
}

/// One thing the customer reports, as an observation of the machine file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Report {
    /// The observation, by id.
    pub observation: String,
    /// What was reported of it, by id.
    pub value: String,
    /// The state in which it was noticed, by id; absent where the fact around it names the state, or nobody knows.
    pub state: Option<String>,
}

/// What the customer tells; of a new one, nothing yet.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Complaint {
    /// What works and what does not.
    #[serde(default)]
    pub reports: Vec<Report>,
    /// Since when, in words.
    pub since: Option<String>,
    /// Who touched it last.
    pub touched_last: Option<Role>,
    /// The code on the display.
    pub code_shown: Option<String>,
    /// Whether gas is smelled.
    pub gas_smell: Option<bool>,
    /// Whether water stands in it or under it.
    pub standing_water: Option<bool>,
    /// The customer's own words, in a sealed record.
    pub words: Option<RecordId>,
}

/// A job is opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobOpened {
    /// The customer.
    pub customer: CustomerId,
    /// The appliance, if it is in the book already.
    pub appliance: Option<ApplianceId>,
    /// The complaint.
    pub complaint: Complaint,
    /// The closed job for whose fault this one calls back.
    pub callback_of: Option<JobId>,
    /// The suspects shown at intake, if computed.
    pub shown: Option<super::common::Shown>,
}

/// A scale of temperature.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the full name of the scale")]
pub enum TemperatureScale {
    #[default]
    Celsius,
    Fahrenheit,
}

/// How the shop works from now on: all of it, in place of what was set before. A job that is open keeps what was set
/// before it was opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SettingsSet {
    /// Getting there and finding the fault.
    pub call_out: Money,
    /// An hour of repair.
    pub per_hour: Money,
    /// What a minute of the technician is worth when a next step is weighed against the price of a part.
    pub minute: Money,
    /// What one unit of a machine file's money comes to in the shop's, where the two are not the same.
    #[serde(default)]
    pub exchange: Vec<Exchange>,
    /// How many minutes one reading on the energised machine is as dear as, for its danger.
    pub danger_minutes: u32,
    /// How many minutes another visit is as dear as.
    pub second_visit_minutes: u32,
    /// The scale that temperatures are shown in.
    pub temperatures: TemperatureScale,
    /// The text of the technician's meters file; an ordinary meter where there is none.
    pub meters: Option<String>,
    /// What stands on the shop's papers.
    #[serde(default)]
    pub letterhead: Letterhead,
    /// How charges are taxed; a sort that none of them names is outside the scope of any tax.
    #[serde(default)]
    pub taxes: Vec<TaxRule>,
    /// Per cent put on the price of a part.
    #[serde(default, with = "rust_decimal::serde::str")]
    pub mark_up: Decimal,
    /// Days within which an invoice is to be paid.
    #[serde(default)]
    pub pay_within_days: u32,
    /// The working day.
    #[serde(default)]
    pub day: WorkingDay,
    /// What may be loaded for a day beside what is on the van.
    #[serde(default)]
    pub loading: Loading,
    /// The shop's own template of a typeset page; the program's where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub template: Option<String>,
}

/// What stands on the shop's papers.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Letterhead {
    /// The shop's name.
    #[serde(default)]
    pub name: String,
    /// Street and number.
    #[serde(default)]
    pub street: String,
    /// Town.
    #[serde(default)]
    pub town: String,
    /// Code of the town for the post.
    #[serde(default)]
    pub postcode: String,
    /// Country, by its two letters of ISO 3166-1.
    #[serde(default)]
    pub country: String,
    /// Number under which the shop is taxed, if it is.
    #[serde(default)]
    pub tax_number: String,
    /// Account that is paid to.
    #[serde(default)]
    pub account: String,
}

/// How one sort of charge is taxed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TaxRule {
    /// The sort.
    pub sort: ChargeSort,
    /// How.
    pub category: TaxCategory,
    /// At how many per cent.
    #[serde(with = "rust_decimal::serde::str")]
    pub percent: Decimal,
}

/// The working day of the van.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WorkingDay {
    /// When the van leaves, minutes after midnight.
    pub leaves: u32,
    /// When it should be back.
    pub back_by: u32,
    /// Kilometres an hour on the road, on average.
    pub speed: u32,
    /// Where it stands at night: latitude and longitude in degrees, if known.
    pub home: Option<(Number, Number)>,
}

/// From 8 to 17 o'clock at 35 km/h. Common practice, no source.
impl Default for WorkingDay {
    fn default() -> Self {
        Self { leaves: 480, back_by: 1020, speed: 35, home: None }
    }
}

/// What may be loaded for a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Loading {
    /// Money tied up in it, in the shop's currency.
    #[serde(with = "rust_decimal::serde::str")]
    pub money: Decimal,
    /// Room, litres.
    pub litres: u32,
}

/// 400 in money and 150 litres. Common practice, no source.
impl Default for Loading {
    fn default() -> Self {
        Self { money: Decimal::from(400), litres: 150 }
    }
}

/// What one unit of a currency comes to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Exchange {
    /// The currency of a machine's file.
    pub of: Currency,
    /// One unit of it in the shop's money.
    pub comes_to: Money,
}

/// How many of a part are on the van now, as counted. What calls use up afterwards is taken off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct VanCounted {
    /// The machine file's id that the part belongs to.
    pub machine: String,
    /// The part, by id.
    pub part: String,
    /// How many.
    pub count: u32,
}

/// A machine of the shop's own is described, or described anew: the last text under an id counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineDescribed {
    /// Its id, as the text itself has it.
    pub machine: String,
    /// The description, without what it builds on.
    pub text: String,
}

/// What a part costs the shop, and how its supplier calls it: in place of the price in the machine's file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PriceSet {
    /// The machine file's id that the part belongs to.
    pub machine: String,
    /// The part, by id.
    pub part: String,
    /// What one costs.
    pub price: Money,
    /// The supplier's number of it, if known.
    pub number: Option<String>,
}

/// What the shop's own closed jobs teach of a machine is taken up: from now on jobs are worked with it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LearningTaken {
    /// The machine file's id.
    pub machine: String,
    /// Weights of faults, in place of those in the file.
    pub weights: Vec<WeightLearned>,
    /// How many times as long finding takes as was reckoned, if that was learned.
    pub minutes: Option<Number>,
    /// The jobs it comes from.
    pub from: Vec<JobId>,
}

/// The weight of a fault as learned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WeightLearned {
    /// The fault.
    pub fault: super::common::FaultName,
    /// Its weight.
    pub weight: Number,
    /// In how many jobs it was.
    pub cases: u32,
    /// How many times that weight it has from an age on, the youngest first; empty where age told nothing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ages: Vec<AgeLearned>,
}

/// How many times its weight a fault has from an age on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AgeLearned {
    /// From this age on, years.
    pub from: Number,
    /// How many times its weight.
    pub times: Number,
    /// In how many jobs it was found at that age.
    pub cases: u32,
}

/// A sort of hands' work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Work {
    /// Probes set on the dead machine and read.
    Reading,
    /// A part looked at.
    Look,
    /// A cover taken off.
    CoverOff,
    /// A cover put back.
    CoverOn,
    /// A part changed or mended, once exposed.
    Repair,
}

/// How the shop's hands work and how its customers tell is taken up, for the jobs begun from now on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HabitsTaken {
    /// How quick hands are, by sort of work.
    pub paces: Vec<PaceLearned>,
    /// Chance that a reading is a slip.
    pub slip: Number,
    /// Chance that what a customer tells is otherwise.
    pub wrong_report: Number,
    /// The jobs it comes from.
    pub from: Vec<JobId>,
}

/// How quick hands are at a sort of work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PaceLearned {
    /// The sort of work.
    pub work: Work,
    /// How many times as long as is usual it takes.
    pub times: Number,
    /// Pieces of work it comes from.
    pub cases: u32,
}
