//! The whole book folded: customers, appliances, jobs.
//!
//! Refuses to open sealed records; names of people are not in here.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::job::Job;
use crate::event::{Body, Event};
use crate::facts::call::{CallFact, PartChanged};
use crate::facts::common::MachineFile;
use crate::facts::shop::{
    ApplianceAdded, ApplianceLearned, HabitsTaken, LearningTaken, PriceSet, SettingsSet, ShopFact, Warranty,
};
use crate::ids::{ApplianceId, CustomerId, EventId, JobId, KeyId, RecordId};
use crate::time::ZonedTime;

/// A customer as the book knows him: a key and a sealed record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Customer {
    /// The key of his records.
    pub key: KeyId,
    /// The sealed record with his details.
    pub record: RecordId,
    /// Whether his key was destroyed.
    pub erased: bool,
}

/// A customer's own appliance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Appliance {
    /// Whose it is.
    pub customer: CustomerId,
    /// The machine file that describes it.
    pub machine: Option<MachineFile>,
    /// Plate entries; later ones take the place of earlier ones.
    pub plate: BTreeMap<String, String>,
    /// The sealed record with its serial number.
    pub serial: Option<RecordId>,
    /// When it was taken into the book, for display.
    pub added: ZonedTime,
    /// Its age in months then.
    pub age_months: Option<u32>,
    /// Warranty.
    pub warranty: Warranty,
    /// Variants settled.
    pub variants: BTreeMap<String, String>,
    /// Its own labels.
    pub labels: BTreeMap<String, String>,
    /// What its papers say.
    pub papers: BTreeMap<String, String>,
    /// Where it differs from its description.
    pub differs: Vec<String>,
}

/// The state of the whole book.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Book {
    /// The customers.
    pub customers: BTreeMap<CustomerId, Customer>,
    /// Their appliances.
    pub appliances: BTreeMap<ApplianceId, Appliance>,
    /// The jobs.
    pub jobs: BTreeMap<JobId, Job>,
    /// How the shop works now; `None` while nothing was ever set.
    pub settings: Option<SettingsSet>,
    /// What is on the van, as far as it was ever counted: machine file's id to part to count.
    pub van: BTreeMap<String, BTreeMap<String, u32>>,
    /// Descriptions of the shop's own, by id.
    #[serde(default)]
    pub machines: BTreeMap<String, String>,
    /// What parts cost the shop: machine file's id to part.
    #[serde(default)]
    pub prices: BTreeMap<String, BTreeMap<String, PriceSet>>,
    /// What was learned and taken up last, by machine file's id.
    #[serde(default)]
    pub learned: BTreeMap<String, LearningTaken>,
    /// How hands work and customers tell, as it was taken up last.
    #[serde(default)]
    pub habits: Option<HabitsTaken>,
    /// Keys destroyed.
    pub destroyed_keys: BTreeSet<KeyId>,
    /// Events outside any job that another version wrote.
    pub not_understood: Vec<EventId>,
    /// Names that two different texts claim.
    pub clashes: Vec<EventId>,
}

impl Book {
    /// Takes the next event in order.
    pub(super) fn take(&mut self, event: &Event, undone: &BTreeSet<EventId>) {
        let counts = !undone.contains(&event.id());
        if let Some(job) = event.body().scope().job {
            self.job(job).written(event);
        }
        match event.body() {
            Body::Shop(fact) => self.take_shop(event, fact, counts),
            Body::Job { job, fact, .. } => self.job(*job).take_job_fact(event, fact, counts),
            Body::Call { job, call, fact } => {
                self.job(*job).take_call_fact(event, *call, fact, counts);
                if let (CallFact::PartChanged(changed), true) = (fact, counts) {
                    self.use_up(*job, changed);
                }
            }
            Body::Undo { scope, .. } => {
                if let Some(job) = scope.job {
                    self.job(job);
                }
            }
            Body::NotUnderstood { scope, .. } => match scope.job {
                Some(job) => self.job(job).not_understood.push(event.id()),
                None => self.not_understood.push(event.id()),
            },
        }
    }

    fn job(&mut self, id: JobId) -> &mut Job {
        self.jobs.entry(id).or_insert_with(|| Job::unopened(id))
    }

    fn take_shop(&mut self, event: &Event, fact: &ShopFact, counts: bool) {
        match fact {
            // Both hold whether undone or not: a destroyed key stays destroyed, an undone opening leaves a trace.
            ShopFact::KeyDestroyed(fact) => self.destroy_key(fact.key),
            ShopFact::JobOpened(opened) => self.job(JobId(event.id())).open(event, opened, counts),
            _ if !counts => {}
            ShopFact::CustomerAdded(fact) => {
                let erased = self.destroyed_keys.contains(&fact.key);
                let customer = Customer { key: fact.key, record: fact.record, erased };
                self.customers.insert(CustomerId(event.id()), customer);
            }
            ShopFact::CustomerChanged(fact) => {
                if let Some(customer) = self.customers.get_mut(&fact.customer) {
                    customer.record = fact.record;
                }
            }
            ShopFact::ApplianceAdded(fact) => {
                self.appliances.insert(ApplianceId(event.id()), appliance_from(event, fact));
            }
            ShopFact::ApplianceLearned(fact) => {
                if let Some(appliance) = self.appliances.get_mut(&fact.appliance) {
                    learn(appliance, fact);
                }
            }
            ShopFact::MachineSet(fact) => {
                if let Some(appliance) = self.appliances.get_mut(&fact.appliance) {
                    appliance.machine = Some(fact.machine.clone());
                }
            }
            ShopFact::SettingsSet(fact) => self.settings = Some(fact.as_ref().clone()),
            ShopFact::MachineDescribed(fact) => {
                self.machines.insert(fact.machine.clone(), fact.text.clone());
            }
            ShopFact::PriceSet(fact) => {
                let of_machine = self.prices.entry(fact.machine.clone()).or_default();
                of_machine.insert(fact.part.clone(), fact.as_ref().clone());
            }
            ShopFact::LearningTaken(fact) => {
                self.learned.insert(fact.machine.clone(), fact.as_ref().clone());
            }
            ShopFact::HabitsTaken(fact) => self.habits = Some(fact.as_ref().clone()),
            ShopFact::VanCounted(fact) => {
                self.van.entry(fact.machine.clone()).or_default().insert(fact.part.clone(), fact.count);
            }
        }
    }

    /// Takes a part that was fitted off the van, where that part was ever counted.
    fn use_up(&mut self, job: JobId, changed: &PartChanged) {
        let appliance = self.jobs.get(&job).and_then(|job| job.appliance);
        let machine = appliance.and_then(|id| self.appliances.get(&id)?.machine.as_ref());
        let counted = machine.and_then(|file| self.van.get_mut(&file.machine)?.get_mut(&changed.part));
        if let (Some(count), true) = (counted, changed.spare.is_some()) {
            *count = count.saturating_sub(1);
        }
    }

    fn destroy_key(&mut self, key: KeyId) {
        self.destroyed_keys.insert(key);
        for customer in self.customers.values_mut().filter(|customer| customer.key == key) {
            customer.erased = true;
        }
    }
}

fn appliance_from(event: &Event, fact: &ApplianceAdded) -> Appliance {
    Appliance {
        customer: fact.customer,
        machine: fact.machine.clone(),
        plate: fact.plate.clone(),
        serial: fact.serial,
        added: event.at().clone(),
        age_months: fact.age_months,
        warranty: fact.warranty.clone(),
        variants: BTreeMap::new(),
        labels: BTreeMap::new(),
        papers: BTreeMap::new(),
        differs: Vec::new(),
    }
}

fn learn(appliance: &mut Appliance, fact: &ApplianceLearned) {
    appliance.variants.extend(fact.variants.clone());
    appliance.labels.extend(fact.labels.clone());
    appliance.plate.extend(fact.plate.clone());
    appliance.papers.extend(fact.papers.clone());
    appliance.differs.extend(fact.differs.iter().cloned());
}
