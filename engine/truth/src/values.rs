//! Where one unit's values lie within their tolerances, and how large its faults are. Knows no circuit.

use crate::dice::Dice;
use crate::draw::DrawSettings;
use machine::faults::Effect;
use machine::model::{FaultId, Law, Machine, PartKind};

/// Words that keep the streams of chance apart.
const VALUE: u64 = 1;
const ROOM: u64 = 2;
const SIZE: u64 = 3;

/// One unit's own values.
#[derive(Clone, Debug)]
pub(crate) struct Values {
    /// Factor on each branch's stated value.
    pub(crate) factors: Vec<f64>,
    /// Kelvins by which each zone at rest differs from what is stated: the weather in the house.
    pub(crate) rest_shift: f64,
}

impl Values {
    /// Exactly as described.
    pub(crate) fn nominal(machine: &Machine) -> Self {
        Self { factors: vec![1.0; machine.branches.len()], rest_shift: 0.0 }
    }

    /// Draws every value within its tolerance: normal, two sigmas to the tolerance, cut there.
    pub(crate) fn draw(machine: &Machine, seed: u64, settings: &DrawSettings) -> Self {
        let factors = machine.branches.iter().zip(0..).map(|(branch, index)| {
            let half = 0.5 * tolerance(&branch.law);
            1.0 + half * Dice::of(seed, &[VALUE, index]).normal(2.0)
        });
        let rest_shift = settings.room_kelvins * 0.5 * Dice::of(seed, &[ROOM]).normal(2.0);
        Self { factors: factors.collect(), rest_shift }
    }
}

pub(crate) fn tolerance(law: &Law) -> f64 {
    match law {
        Law::Resistance(r) => r.tolerance,
        Law::Sensor { tolerance, .. }
        | Law::Winding { tolerance, .. }
        | Law::Capacitor { tolerance, .. }
        | Law::Source { tolerance, .. } => *tolerance,
        Law::Contact { .. } => 0.0,
    }
}

/// Gives a fault's effects as described.
pub(crate) fn stated(machine: &Machine, fault: FaultId) -> Vec<Effect> {
    machine.faults[fault.index()].effects.clone()
}

/// Gives a fault's effects with sizes of this unit: a burnt joint is not always 3 ohm.
///
/// One factor for all resistances and one for all scalings of a fault; what is next to no resistance (a weld, a
/// strap) stays as it is.
pub(crate) fn sized(machine: &Machine, fault: FaultId, seed: u64, settings: &DrawSettings) -> Vec<Effect> {
    let mut dice = Dice::of(seed, &[SIZE, u64::from(fault.0)]);
    let ohms_factor = libm::exp(settings.fault_ohms_spread * dice.normal(2.0));
    let scale_factor = 1.0 + settings.fault_scale_spread * dice.normal(2.0);
    let size = |ohms: f64| if ohms > WELDED { ohms * ohms_factor } else { ohms };
    stated(machine, fault)
        .into_iter()
        .map(|effect| match effect {
            Effect::Ohms(branch, ohms) => Effect::Ohms(branch, size(ohms)),
            Effect::Bridge(a, b, ohms) => Effect::Bridge(a, b, size(ohms)),
            Effect::Scale(branch, factor) => Effect::Scale(branch, factor * scale_factor),
            other => other,
        })
        .collect()
}

/// Ohms up to which a fault's resistance is a metal joint and has no spread worth a draw.
pub(crate) const WELDED: f64 = 0.1;

/// Says whether a part is a place where a probe may land by mistake: the house's side is not.
pub(crate) fn within_reach(kind: PartKind) -> bool {
    !matches!(kind, PartKind::House)
}
