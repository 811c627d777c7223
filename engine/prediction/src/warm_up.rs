//! How a zone warms up: the heaters' watts from the solved circuit, fed into the zone's heat network.
//!
//! *Exact* in the linear network of the description; *approximate because* hot elements also radiate, and the heaters'
//! resistance is taken as hot from the start. Where a control or a thermostat lets go of the heat, the zone is taken to
//! stay from then on: what it swings about that is not reckoned.
//!
//! Refuses to know when somebody turns the heat off, and what the time is good for.

use crate::heat::{carried, lay};
use crate::predictor::Predictor;
use crate::settle::{Size, effects_of};
use circuit::{Node, Transient};
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, Law, Machine, PartKind, StateId, ZoneId};
use num_complex::Complex64;

/// How one zone warms up.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// What its heaters give in all, watts.
    pub watts: f64,
    /// Where it would end with the heat left on, °C.
    pub ends_c: f64,
    /// Where its control or a thermostat lets go of the heat, °C; `None` where nothing does.
    pub lets_go_c: Option<f64>,
    /// Seconds from rest to the target; `None` if it never gets there.
    pub seconds: Option<f64>,
    /// Seconds and °C, every [`CURVE_STEP`] from rest until the target is passed, for [`CURVE_LONGEST`] at most.
    pub curve: Vec<(f64, f64)>,
}

/// Seconds between two points of the curve.
pub const CURVE_STEP: f64 = 30.0;
/// Seconds after which the curve ends in any case.
pub const CURVE_LONGEST: f64 = 7200.0;
/// Points of the longest curve.
const MOST_POINTS: u32 = 241;

/// Why a warm-up cannot be reckoned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoWarmUp {
    /// The description does not say how this zone warms up.
    NoHeat,
    /// The circuit of this state has no solution with these faults.
    Unsolved,
    /// The supply factor is below 0, or is no finite number.
    BadSupply,
    /// The target is no finite number.
    BadTarget,
}

impl core::fmt::Display for NoWarmUp {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::NoHeat => "the description does not say how this zone warms up; give the zone its `heat`",
            Self::Unsolved => "the circuit has no solution in this state with these faults; leave one of them out",
            Self::BadSupply => "the supply must be 0 or more volts",
            Self::BadTarget => "the target must be a temperature",
        })
    }
}

impl core::error::Error for NoWarmUp {}

impl Predictor<'_> {
    /// Reckons how a zone warms up in this state with these faults, from rest, at a supply of `supply_factor` times the
    /// described one.
    ///
    /// Every supply source is scaled, so that a leg's loads and the controls feel it too. The controls settle anew.
    ///
    /// # Errors
    /// A zone without `heat`, a supply below 0, a target that is no number, a circuit without a solution.
    pub fn warm_up(
        &self,
        state: StateId,
        faults: &[FaultId],
        supply_factor: f64,
        zone: ZoneId,
        target_c: f64,
    ) -> Result<WarmUp, NoWarmUp> {
        let described = self.machine().zones.get(zone.index()).ok_or(NoWarmUp::NoHeat)?;
        let heat = described.heat.as_ref().ok_or(NoWarmUp::NoHeat)?;
        if !(supply_factor.is_finite() && supply_factor >= 0.0) {
            return Err(NoWarmUp::BadSupply);
        }
        if !target_c.is_finite() {
            return Err(NoWarmUp::BadTarget);
        }
        let machine = at_supply(self.machine(), supply_factor);
        let predictor = Predictor::new(&machine, *self.meter());
        let heating = predictor.heating(state, zone, (faults, Size::DESCRIBED)).ok_or(NoWarmUp::Unsolved)?;
        let share = carried(heat, heating.air);
        let arrives: Vec<f64> = heating.watts.iter().map(|watts| watts * share).collect();
        let (transient, inside) = lay(heat, &arrives, share).ok_or(NoWarmUp::NoHeat)?;
        let lets_go_c = heating.lets_go.map(|lets_go| lets_go.celsius);
        let ways = (described.rest_c, target_c, lets_go_c.unwrap_or(f64::INFINITY));
        course(&transient, inside, ways)
            .map(|(ends_c, seconds, curve)| WarmUp {
                watts: heating.watts.iter().sum(),
                ends_c,
                lets_go_c,
                seconds,
                curve,
            })
            .ok_or(NoWarmUp::NoHeat)
    }

    /// Gives the volts of the described supply: between its legs, or of its one leg.
    #[must_use]
    pub fn supply_volts(&self) -> f64 {
        self.supply_volts_with(&[])
    }

    /// Gives the volts of the supply without load, between its legs or of its one leg, with these faults of the house.
    #[must_use]
    pub fn supply_volts_with(&self, faults: &[FaultId]) -> f64 {
        let effects = effects_of(self.machine(), faults, Size::DESCRIBED);
        let branches = (0..).map(BranchId).zip(&self.machine().branches);
        let phasors: Vec<Complex64> =
            branches.filter_map(|(id, b)| Some(altered(emf(self.machine(), b)?, id, &effects))).collect();
        let size = |a: Complex64| (a.re * a.re + a.im * a.im).sqrt();
        let pairs = phasors.iter().flat_map(|&a| phasors.iter().map(move |&b| size(a - b)));
        let between = pairs.fold(0.0, f64::max);
        if between > 0.0 { between } else { phasors.first().map_or(0.0, |&a| size(a)) }
    }
}

/// Gives the phasor of a source of the house.
fn emf(machine: &Machine, branch: &machine::model::Branch) -> Option<Complex64> {
    match branch.law {
        Law::Source { volts, degrees, .. } if machine[branch.part].kind == PartKind::House => {
            let angle = degrees.to_radians();
            Some(Complex64::new(libm::cos(angle), libm::sin(angle)) * volts)
        }
        _ => None,
    }
}

/// Gives a source's phasor with what these effects make of it.
fn altered(emf: Complex64, branch: BranchId, effects: &[Effect]) -> Complex64 {
    effects.iter().fold(emf, |emf, effect| match *effect {
        Effect::Open(b) if b == branch => Complex64::default(),
        Effect::Scale(b, factor) if b == branch => emf * factor,
        Effect::Turn(b, degrees) if b == branch => {
            let angle = degrees.to_radians();
            emf * Complex64::new(libm::cos(angle), libm::sin(angle))
        }
        _ => emf,
    })
}

/// Gives the machine on a supply of so many times the described volts.
fn at_supply(machine: &Machine, factor: f64) -> Machine {
    let mut scaled = machine.clone();
    for branch in &mut scaled.branches {
        let of_house = machine[branch.part].kind == PartKind::House;
        if let (Law::Source { volts, .. }, true) = (&mut branch.law, of_house) {
            *volts *= factor;
        }
    }
    scaled
}

type Course = (f64, Option<f64>, Vec<(f64, f64)>);

/// Reads end, time and curve off the network, the room's temperature added; `None` if it cannot be read.
fn course(transient: &Transient, inside: Node, (room_c, target_c, lets_go_c): (f64, f64, f64)) -> Option<Course> {
    let start = vec![0.0; transient.node_count()];
    // A zone with no way out for its heat (the air stands still) ends where it rests: nothing arrives either.
    let end = transient.steady(&start).ok()?.and_then(|rises| rises.first().copied()).unwrap_or(0.0);
    let reached =
        if target_c > lets_go_c { None } else { transient.first_time(&start, inside, target_c - room_c).ok()? };
    let until = reached.unwrap_or(f64::INFINITY);
    let mut times: Vec<f64> = (0..MOST_POINTS).map(|n| CURVE_STEP * f64::from(n)).collect();
    times.retain(|&t| t <= CURVE_LONGEST && t < until + CURVE_STEP);
    let rises = transient.curve(&start, inside, &times).ok()?;
    let curve = times.into_iter().zip(rises).map(|(t, rise)| (t, (room_c + rise).min(lets_go_c))).collect();
    Some((room_c + end, reached, curve))
}
