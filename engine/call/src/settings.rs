//! What a call is worked with: the shop's rates, what steps cost, what is on the van. Out of the book, as it stood when the
//! job was begun, so that a call taken up again is worked with the same.

use crate::at_hand::take_up_paces;
use crate::rates::Rates;
use book::{
    Currency, Event, HabitsTaken, LearningTaken, Letterhead, Loading, MachineFile, Money, PriceSet, SettingsSet,
    TemperatureScale, WorkingDay, fold_book,
};
use diagnosis::Assumptions;
use machine::faults::{Repair, RepairKind};
use machine::model::Machine;
use repair::Prices;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// States weighed for a proposal: more of them makes rehearsed calls no shorter, and a phone waits longer
/// (docs/benchmarks.md, "In the browser").
const NODES: usize = 300;

/// What is the same for all of a call; a call taken up again needs the same.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The machine file.
    pub file: MachineFile,
    /// The shop's rates.
    pub rates: Rates,
    /// What steps cost, for planning.
    pub prices: Prices,
    /// States the planner may expand for one proposal.
    pub nodes: usize,
    /// What is on the van.
    pub van: Van,
    /// The scale that temperatures are shown in.
    pub temperatures: TemperatureScale,
    /// What is assumed before any evidence; weights of faults go with the appliance and are not looked at here.
    pub assumed: Assumptions,
}

/// What is on the van.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Van {
    /// Every part.
    Full,
    /// As many of each part, by its id, as were counted; a part that never was is there if its machine's file calls it
    /// stocked.
    Counted(BTreeMap<String, u32>),
}

impl Van {
    /// Says whether what a repair takes is on the van.
    #[must_use]
    pub fn holds(&self, machine: &Machine, repair: &Repair) -> bool {
        match self {
            Self::Full => true,
            Self::Counted(counted) if repair.kind == RepairKind::Replace => {
                counted.get(&machine[repair.part].id).map_or(repair.stocked, |count| *count > 0)
            }
            Self::Counted(_) => repair.stocked,
        }
    }

    /// Says whether the part of a repair was ever counted.
    pub(crate) fn counted(&self, machine: &Machine, repair: &Repair) -> bool {
        matches!(self, Self::Counted(counted) if counted.contains_key(&machine[repair.part].id))
    }
}

impl Settings {
    /// Gives the usual settings for a machine file.
    #[must_use]
    pub fn usual(file: MachineFile, currency: Currency) -> Self {
        Self {
            file,
            rates: Rates::usual(currency),
            prices: Prices::default(),
            nodes: NODES,
            van: Van::Counted(BTreeMap::new()),
            temperatures: TemperatureScale::default(),
            assumed: Assumptions::default(),
        }
    }
}

/// Gives what a shop that has set nothing works with, as it would be set: the usual rates and prices in this money.
#[must_use]
pub fn usual_set(currency: Currency) -> SettingsSet {
    let (rates, prices) = (Rates::usual(currency), Prices::default());
    let money = |amount| Money { amount, currency };
    SettingsSet {
        call_out: money(rates.call_out),
        per_hour: money(rates.per_hour),
        minute: money(prices.money_per_minute),
        exchange: Vec::new(),
        danger_minutes: prices.clipped_danger.to_u32().unwrap_or_default(),
        second_visit_minutes: prices.second_visit.to_u32().unwrap_or_default(),
        temperatures: TemperatureScale::default(),
        meters: None,
        letterhead: Letterhead::default(),
        taxes: Vec::new(),
        mark_up: Decimal::ZERO,
        pay_within_days: 14,
        day: WorkingDay::default(),
        loading: Loading::default(),
        template: None,
    }
}

/// The shop at one moment, as far as a call is worked with it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shop {
    /// Its settings; `None` while none were ever set.
    pub settings: Option<SettingsSet>,
    /// What is on the van, as far as it was counted: machine to part to count.
    pub van: BTreeMap<String, BTreeMap<String, u32>>,
    /// Descriptions of its own, by id.
    pub machines: BTreeMap<String, String>,
    /// What parts cost it, by machine and part.
    pub prices: BTreeMap<String, BTreeMap<String, PriceSet>>,
    /// What was learned of machines and taken up.
    pub learned: BTreeMap<String, LearningTaken>,
    /// How hands work and customers tell, if that was taken up.
    pub habits: Option<HabitsTaken>,
}

impl Shop {
    /// Gives the shop as it stands after all of these events of the book.
    #[must_use]
    pub fn now(events: &[Event]) -> Self {
        let book = fold_book(events);
        let (prices, learned, habits) = (book.prices, book.learned, book.habits);
        Self { settings: book.settings, van: book.van, machines: book.machines, prices, learned, habits }
    }

    /// Gives the shop as it stood when a job was begun, by the job's own events; as it is now where it is not begun yet.
    #[must_use]
    pub fn when_begun(events: &[Event], of_job: &[Event]) -> Self {
        let begun = of_job.iter().filter_map(|event| events.iter().position(|of| of.id() == event.id())).min();
        Self::now(&events[..begun.unwrap_or(events.len())])
    }

    /// Gives what a call on this machine is worked with.
    ///
    /// # Errors
    /// The file's prices are in money that the shop has said nothing of, or that does not read; in words with the mend.
    pub fn call(&self, machine: &Machine, file: MachineFile) -> Result<Settings, String> {
        let currency: Currency = machine.currency.parse().map_err(|error: book::BadCurrency| error.to_string())?;
        let mut settings = Settings::usual(file, currency);
        if let Some(set) = &self.settings {
            settings.rates.currency = set.call_out.currency;
            settings.rates.call_out = set.call_out.amount;
            settings.rates.per_hour = set.per_hour.amount;
            settings.rates.exchange = exchange(set, currency)?;
            settings.rates.mark_up = set.mark_up;
            settings.prices.money_per_minute = set.minute.amount / settings.rates.exchange;
            settings.prices.clipped_danger = f64::from(set.danger_minutes);
            settings.prices.second_visit = f64::from(set.second_visit_minutes);
            settings.temperatures = set.temperatures;
        }
        if let Some(habits) = &self.habits {
            take_up_paces(&mut settings.prices, habits);
            settings.assumed.slip = habits.slip.get();
            settings.assumed.wrong_report = habits.wrong_report.get();
        }
        let own = self.prices.get(&machine.id).into_iter().flatten();
        let own = own.filter(|(_, set)| set.price.currency == settings.rates.currency);
        settings.rates.own_prices = own.map(|(part, set)| (part.clone(), set.price.amount)).collect();
        settings.van = Van::Counted(self.van.get(&machine.id).cloned().unwrap_or_default());
        Ok(settings)
    }
}

/// Gives what one unit of a file's money comes to in the shop's.
fn exchange(set: &SettingsSet, of: Currency) -> Result<Decimal, String> {
    let own = set.call_out.currency;
    if own == of {
        return Ok(Decimal::ONE);
    }
    let said = set.exchange.iter().find(|said| said.of == of && said.comes_to.currency == own);
    said.map(|said| said.comes_to.amount).filter(|amount| *amount > Decimal::ZERO).ok_or_else(|| {
        format!("this machine's parts are priced in {of}; say in the settings what 1 {of} comes to in {own}")
    })
}
