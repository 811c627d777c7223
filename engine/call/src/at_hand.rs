//! The unit at hand: what the book has learned of it, laid over the description of its machine. Keeps nothing itself.

use crate::settings::Shop;
use book::{Body, Event, HabitsTaken, ShopFact, Work};
use machine::Machine;
use repair::Prices;

/// Settles the variants and puts on the labels that these events have learned of the unit, the latest last.
///
/// What the description no longer has is passed over: it was learned under an older text.
pub fn adapt(machine: &mut Machine, events: &[Event]) {
    for event in events {
        let Body::Shop(ShopFact::ApplianceLearned(learned)) = event.body() else { continue };
        let settled: Vec<_> =
            learned.variants.iter().filter_map(|(id, way)| machine.variant_way(id, way).ok()).collect();
        machine.settle(&settled);
        for (name, printed) in &learned.labels {
            machine.print_label(name, printed);
        }
    }
}

/// Takes up what the shop's own jobs taught, where it took it up: the weights of this machine's faults, also by age, and the
/// minutes of its covers and repairs.
pub fn take_up(machine: &mut Machine, shop: &Shop) {
    for of in shop.learned.get(&machine.id).into_iter().flat_map(|learned| &learned.weights) {
        let id = format!("{}:{}", of.fault.part, of.fault.fault);
        for fault in machine.faults.iter_mut().filter(|fault| fault.id == id) {
            fault.weight = of.weight.get();
            fault.at_ages = of.ages.iter().map(|age| (age.from.get(), age.times.get())).collect();
        }
    }
    let Some(habits) = &shop.habits else { return };
    for cover in &mut machine.access.steps {
        cover.minutes_off *= pace(habits, Work::CoverOff);
        cover.minutes_on *= pace(habits, Work::CoverOn);
    }
    for repair in &mut machine.repairs {
        repair.minutes *= pace(habits, Work::Repair);
    }
}

/// Takes up how quick the shop's hands are at readings and looks.
pub(crate) fn take_up_paces(prices: &mut Prices, habits: &HabitsTaken) {
    for minutes in [&mut prices.reading, &mut prices.set_controls, &mut prices.lift_lead] {
        *minutes *= pace(habits, Work::Reading);
    }
    prices.look *= pace(habits, Work::Look);
}

fn pace(habits: &HabitsTaken, work: Work) -> f64 {
    habits.paces.iter().find(|pace| pace.work == work).map_or(1.0, |pace| pace.times.get())
}
