//! What a step costs: minutes, and money and danger turned into minutes. All of it visible settings.

use crate::candidates::{Act, places};
use machine::faults::{Repair, RepairKind};
use machine::model::{Machine, RepairId};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use teardown::{Blocked, Open, plan_teardown};

/// Prices of hands' work. The defaults are common practice, no source.
#[derive(Clone, Debug)]
pub struct Prices {
    /// Money for one minute of the technician, in the machine's currency.
    pub money_per_minute: Decimal,
    /// Setting probes and reading, minutes.
    pub reading: f64,
    /// Setting controls on the isolated machine for a reading, minutes.
    pub set_controls: f64,
    /// Lifting a lead and putting it back, minutes.
    pub lift_lead: f64,
    /// Reading the receptacle, meter proved, minutes.
    pub supply_reading: f64,
    /// Clipping on dead, standing clear, energising, reading, isolating, proving dead: minutes.
    pub clipped: f64,
    /// Danger of one clipped reading, in minutes.
    pub clipped_danger: f64,
    /// Looking closely at an exposed part, minutes.
    pub look: f64,
    /// Unplugging, proving the meter, proving dead, minutes.
    pub isolate: f64,
    /// Plugging in again and standing clear, minutes.
    pub energise: f64,
    /// Explaining the use and watching a run, minutes.
    pub explain: f64,
    /// Handing the fault on to those licensed for it, minutes.
    pub refer: f64,
    /// A second visit for a part that is not on the van, minutes.
    pub second_visit: f64,
    /// Giving the job up, minutes.
    pub give_up: f64,
    /// What a repair for nothing costs beside hands and part: the part returned, the customer told: minutes. It is laid on
    /// every repair, since every plan ends with the one that cures.
    pub needless: f64,
    /// Chance that a part fitted for nothing cannot be returned is in this share of its price.
    pub needless_share: f64,
}

impl Default for Prices {
    fn default() -> Self {
        Self {
            money_per_minute: Decimal::new(160, 2),
            reading: 1.0,
            set_controls: 0.3,
            lift_lead: 1.0,
            supply_reading: 2.0,
            clipped: 4.0,
            clipped_danger: 3.0,
            look: 0.6,
            isolate: 3.0,
            energise: 1.0,
            explain: 6.0,
            refer: 15.0,
            second_visit: 60.0,
            give_up: 150.0,
            needless: 12.0,
            needless_share: 1.0,
        }
    }
}

impl Prices {
    /// Gives a repair's own price in minutes once the part is exposed: hands and part.
    #[must_use]
    pub fn repair_minutes(&self, repair: &Repair, on_van: bool) -> f64 {
        if repair.kind == RepairKind::Refer {
            // Nothing can be tried after it, so a referral for nothing costs another visit.
            return self.refer + self.second_visit;
        }
        let money = (repair.price / self.money_per_minute).to_f64().unwrap_or(0.0) * self.needless_share;
        let visit = if on_van { 0.0 } else { self.second_visit };
        let needless = if repair.kind == RepairKind::Clean { 0.0 } else { self.needless };
        repair.minutes + money + visit + needless
    }

    /// Gives what a repair done for nothing costs from the closed machine back to the closed machine, try included; with
    /// `None` what handing back a machine costs that is not mended. Minutes.
    ///
    /// # Errors
    /// [`Blocked`] when the part cannot be got at.
    pub fn minutes_if_wrong(&self, machine: &Machine, repair: Option<RepairId>) -> Result<f64, Blocked> {
        let Some(id) = repair else { return Ok(self.second_visit) };
        let repair = &machine.repairs[id.index()];
        let way = plan_teardown(&machine.access, &places(machine, &Act::Change(id)), &Open::nothing())?;
        let longest = machine.states.iter().map(|state| state.minutes).fold(0.0, f64::max);
        let energy = self.isolate + self.energise;
        Ok(self.repair_minutes(repair, repair.stocked) + way.minutes() + energy + longest)
    }
}
