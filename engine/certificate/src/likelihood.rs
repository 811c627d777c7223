//! How likely the evidence is with one suspect, from the definition and a fresh solve; and the most it can be with any.
//!
//! A reading: (1 - e) times a normal density about what is expected, a twentieth of it three times as wide, plus e times
//! a slip's broad one; over-range is what lies above the meter's limit. A thing seen: right but for a chance, beyond a
//! close limit with another. A fault of uncertain size is a mixture of five sizes, one that comes and goes a mixture of showing
//! and hiding, each the same for every item.

use crate::check::{built, unknown};
use crate::data::{Assumed, Function, Given, Item, Meter, Quantity, Read, Seen};
use crate::refused::Refused;
use machine::builds::Build;
use machine::faults::Effect;
use machine::model::{FaultId, Machine, ObservationId, PartId, StateId, VariantId};
use std::cell::RefCell;
use std::collections::BTreeMap;
use truth::{Asked, Expected, Probe, Unit};

/// Share and standard deviate of the five sizes of a fault.
///
/// SOURCE: Gauss-Hermite quadrature with five points, Abramowitz and Stegun, Handbook of Mathematical Functions, table
/// 25.10, for a standard normal variable.
const SIZES: [(f64, f64); 5] = [
    (0.011_257_41, -2.856_970_0),
    (0.222_075_92, -1.355_626_2),
    (0.533_333_34, 0.0),
    (0.222_075_92, 1.355_626_2),
    (0.011_257_41, 2.856_970_0),
];
/// Spread of the logarithm of a fault's resistance, and the ohms up to which it is certain; the tool's stated settings, as
/// are all constants below.
const OHMS_SPREAD: f64 = 0.4;
const CERTAIN_OHMS: f64 = 0.1;
/// Share of a limit within which what is seen may be taken for the other side of it.
const CLOSE: f64 = 0.12;
/// Share of the expected density that is three times as wide.
const WIDE: f64 = 0.05;
/// Volts below which a floating point mostly reads.
const GHOST_LOW: f64 = 3.0;
/// Chance that a second look at the same run repeats whatever was wrong with the first.
const SEEN_AGAIN: f64 = 0.4;
/// Chance that a unit is taken for another build.
const MISTAKEN_BUILD: f64 = 0.01;
/// Input from which a floating point may show all of the voltage beside it, and the stray reactance below it, ohms.
const HIGH_INPUT_OHMS: f64 = 1e6;
const STRAY_OHMS: f64 = 2.652_582e6;
/// Root of the circle's circumference over its radius: the norm of a normal density.
const ROOT_TAU: f64 = 2.506_628_274_631_000_7;

/// Who saw it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Source {
    OwnAccord,
    Asked,
    Watched,
}

/// One thing seen in a state, with what lies beyond its nearest limit and how far off that is.
type Look = ((ObservationId, u8), Option<(u8, f64)>);
/// Likelihoods of items together with faults, by size, as far as they were worked out.
type Known = BTreeMap<(Vec<FaultId>, Vec<usize>), Vec<f64>>;
/// What each state shows at each size, as far as it was looked at.
type Looks = BTreeMap<StateId, Vec<Vec<Look>>>;

/// An item with its names found.
enum Found {
    Seen {
        state: StateId,
        what: ObservationId,
        value: u8,
        values: f64,
        wrong: f64,
        sound: Vec<u8>,
        told: Option<f64>,
        now: bool,
    },
    Read {
        asked: Asked,
        quantity: Quantity,
        shows: Option<f64>,
    },
    Looked {
        part: PartId,
        damage: bool,
    },
    Built(VariantId, Option<usize>),
    Opinion {
        part: PartId,
        times: f64,
    },
}

/// The evidence and all that its likelihood depends on beside the suspect.
pub(crate) struct Model<'a> {
    machine: &'a Machine,
    assumed: &'a Assumed,
    meter: &'a Meter,
    items: Vec<Found>,
    pub(crate) most: Vec<f64>,
    known: RefCell<Known>,
}

impl<'a> Model<'a> {
    pub(crate) fn of(machine: &'a Machine, given: &'a Given) -> Result<Self, Refused> {
        let (assumed, meter) = (&given.assumed, &given.meter);
        let mut model =
            Self { machine, assumed, meter, items: Vec::new(), most: Vec::new(), known: RefCell::default() };
        for (at, item) in given.evidence.iter().enumerate() {
            model.items.push(model.found(item, given.evidence[..at].contains(item))?);
        }
        model.most = model.items.iter().map(|item| model.most_of(item)).collect();
        Ok(model)
    }

    pub(crate) fn every_item(&self) -> Vec<usize> {
        (0..self.items.len()).collect()
    }

    /// Gives the logarithm of the most that all items but these can be with any suspect.
    pub(crate) fn log_most_of_others(&self, named: &[usize]) -> f64 {
        let others = self.most.iter().enumerate().filter(|(at, _)| !named.contains(at));
        others.map(|(_, most)| libm::log(*most)).sum()
    }

    /// Gives the likelihood of these items together with a suspect, over the sizes of its faults and over what shows of them.
    ///
    /// What was watched and read goes by the faults that showed at the sitting, all else by all of them.
    pub(crate) fn likelihood(&self, suspect: &[FaultId], items: &[usize]) -> f64 {
        let now = |item: &&usize| matches!(self.items[**item], Found::Read { .. } | Found::Seen { now: true, .. });
        let (now, told): (Vec<usize>, Vec<usize>) = items.iter().partition(now);
        let told = self.joint(suspect, &told);
        let shares: Vec<f64> = self.sizes(suspect).iter().map(|(share, _)| *share).collect();
        let mut sum = 0.0;
        for (shown, chance) in self.showings(suspect) {
            let now = if shown.len() < 2 { self.known_joint(&shown, &now) } else { self.joint(&shown, &now) };
            let at = shares.iter().zip(&told).zip(now.iter().cycle());
            sum += chance * at.map(|((share, told), now)| share * told * now).sum::<f64>();
        }
        sum.max(1e-300)
    }

    /// Lists what may show of a suspect at one sitting, each with its chance: a fault that comes and goes may hide.
    fn showings(&self, suspect: &[FaultId]) -> Vec<(Vec<FaultId>, f64)> {
        let mut list = vec![(Vec::new(), 1.0)];
        for &fault in suspect {
            let how = self.machine.faults[fault.index()].intermittent.as_ref();
            let times = self.assumed.intermittents;
            let hides = how.map_or(0.0, |how| (how.share * times).clamp(0.0, 1.0) * (1.0 - how.shows));
            let hidden: Vec<_> = list.iter().map(|(shown, chance)| (shown.clone(), chance * hides)).collect();
            list.iter_mut().for_each(|(shown, chance)| {
                shown.push(fault);
                *chance *= 1.0 - hides;
            });
            list.extend(hidden.into_iter().filter(|(_, chance)| *chance > 0.0));
        }
        list
    }

    /// Gives the likelihood of these items together with these faults for each size that they can have.
    fn joint(&self, faults: &[FaultId], items: &[usize]) -> Vec<f64> {
        let sizes = self.sizes(faults);
        let mut joint = vec![1.0; sizes.len()];
        let mut looks = BTreeMap::new();
        for &item in items {
            let each = self.of_item(item, faults, &sizes, &mut looks);
            joint.iter_mut().zip(each).for_each(|(joint, of_size)| *joint *= of_size);
        }
        joint
    }

    /// Gives the same, and remembers it: what is left of a pair is left of many.
    fn known_joint(&self, faults: &[FaultId], items: &[usize]) -> Vec<f64> {
        let key = (faults.to_vec(), items.to_vec());
        let known = self.known.borrow().get(&key).cloned();
        known.unwrap_or_else(|| {
            let joint = self.joint(faults, items);
            self.known.borrow_mut().insert(key, joint.clone());
            joint
        })
    }

    /// Builds a unit for each size that the suspect's faults can have and each build of the machine, with its share.
    fn sizes(&self, suspect: &[FaultId]) -> Vec<(f64, Unit<'a>)> {
        let uncertain = |effect: &Effect| match *effect {
            Effect::Ohms(_, ohms) => ohms > CERTAIN_OHMS,
            Effect::Bridge(..) => true,
            _ => false,
        };
        let effects = |fault: FaultId| self.machine.faults[fault.index()].effects.iter();
        let of_size = |z: f64, build: &Build| {
            let times = libm::exp(OHMS_SPREAD * z);
            let sized = |effect: &Effect| match *effect {
                Effect::Ohms(branch, ohms) if ohms > CERTAIN_OHMS => Effect::Ohms(branch, ohms * times),
                Effect::Bridge(a, b, ohms) => Effect::Bridge(a, b, ohms * times),
                other => other,
            };
            let faults = suspect.iter().map(|&fault| (fault, effects(fault).map(sized).collect()));
            Unit::with_effects(self.machine, faults.collect()).built(&build.effects)
        };
        let sizes = match suspect.iter().flat_map(|&fault| effects(fault)).any(uncertain) {
            true => &SIZES[..],
            false => &[(1.0, 0.0)],
        };
        let each = |&(share, z): &(f64, f64)| {
            self.machine.builds.iter().map(move |build| (share * build.share, of_size(z, build)))
        };
        sizes.iter().flat_map(each).collect()
    }

    /// Gives the likelihood of one item at each size; what a state shows at each is looked at once.
    fn of_item(&self, item: usize, suspect: &[FaultId], sizes: &[(f64, Unit<'_>)], looks: &mut Looks) -> Vec<f64> {
        let of_part =
            |part: PartId| suspect.iter().map(|f| &self.machine.faults[f.index()]).filter(move |f| f.part == part);
        let alike = |likelihood: f64| vec![likelihood; sizes.len()];
        match &self.items[item] {
            Found::Looked { part, damage } => {
                let hidden = of_part(*part).fold(1.0 - self.assumed.false_look, |hidden, f| hidden * (1.0 - f.visible));
                alike(if *damage { 1.0 - hidden } else { hidden })
            }
            Found::Built(variant, option) => {
                let of = |build: &Build| if build.options[variant.index()] == *option { 1.0 } else { MISTAKEN_BUILD };
                self.machine.builds.iter().map(of).cycle().take(sizes.len()).collect()
            }
            Found::Opinion { part, times } => alike(of_part(*part).next().map_or(1.0, |_| *times)),
            Found::Read { asked, quantity, shows } => {
                let of_unit = |unit: &Unit<'_>| {
                    let meant = self.meant(*quantity, *shows, unit.expect(asked, self.meter.volts_input_ohms));
                    (1.0 - self.assumed.slip) * meant + self.assumed.slip * self.slipped(*quantity, *shows)
                };
                let stand_ins = stand_ins(asked, sizes, self.machine.builds.len());
                let mut known = BTreeMap::new();
                stand_ins.iter().map(|&at| *known.entry(at).or_insert_with(|| of_unit(&sizes[at].1))).collect()
            }
            found @ Found::Seen { state, what, .. } => {
                let look =
                    |(_, unit): &(f64, Unit<'_>)| unit.observe(*state).into_iter().zip(unit.nearest_limits(*state));
                let looks =
                    looks.entry(*state).or_insert_with(|| sizes.iter().map(|size| look(size).collect()).collect());
                let of_look = |look: &Vec<Look>| {
                    let seen = look.iter().find(|((other, _), _)| other == what);
                    seen.map_or(1.0, |((_, actual), limit)| self.taken_for(found, *actual, *limit, suspect))
                };
                looks.iter().map(of_look).collect()
            }
        }
    }

    /// Gives the chance of what was seen over what is there and what it is close enough to be taken for.
    fn taken_for(&self, found: &Found, actual: u8, limit: Option<(u8, f64)>, suspect: &[FaultId]) -> f64 {
        let as_is = self.told(found, actual, suspect);
        limit.filter(|(_, away)| *away < CLOSE).map_or(as_is, |(beyond, away)| {
            let chance = 0.5 * (1.0 - away / CLOSE);
            (1.0 - chance) * as_is + chance * self.told(found, beyond, suspect)
        })
    }

    /// Gives the chance of what was seen where `actual` is there; a trouble that is none is one of many, and where nothing
    /// is wrong some trouble is told all the same.
    fn told(&self, found: &Found, actual: u8, suspect: &[FaultId]) -> f64 {
        let Found::Seen { value, values, wrong, sound, told, .. } = found else { return 1.0 };
        match told {
            Some(each) if sound.contains(&actual) => each * if suspect.is_empty() { 1.0 } else { *wrong },
            _ if *values < 2.0 => 1.0,
            _ if actual == *value => 1.0 - wrong,
            _ => wrong / (values - 1.0),
        }
    }

    /// Gives the density (for over-range the chance) of what a reading shows if it was taken as meant.
    fn meant(&self, quantity: Quantity, shows: Option<f64>, expected: Option<Expected>) -> f64 {
        let leads = if quantity == Quantity::Ohms { self.meter.lead_shown } else { 0.0 };
        let (value, sigma) = match (expected, quantity) {
            (None, _) => return shows.map_or(0.0, |_| self.slipped(quantity, shows)),
            (Some(Expected::Figure { value, sigma }), _) => (value + leads, sigma),
            (Some(Expected::Apart { .. }), Quantity::Ohms) => (f64::INFINITY, 0.0),
            (Some(Expected::Apart { highest_volts: most }), _) => match (self.stray(most), shows) {
                (Some(reach), _) => (0.0, reach / 2.0),
                (None, None) => return 0.0,
                (None, Some(x)) if most.is_finite() => {
                    return 0.5 * even(x, GHOST_LOW) + 0.5 * even(x, most.max(GHOST_LOW));
                }
                (None, Some(_)) => return self.slipped(quantity, shows),
            },
        };
        if quantity == Quantity::Ohms && value > self.meter.ohms_limit {
            return if shows.is_none() { 1.0 } else { 0.0 };
        }
        let own = self.own_sigma(quantity, value);
        let width = (own * own + sigma * sigma).sqrt();
        match shows {
            Some(x) => (1.0 - WIDE) * normal(x - value, width) + WIDE * normal(x - value, 3.0 * width),
            None => 0.5 * libm::erfc((self.meter.ohms_limit - value) / (width * std::f64::consts::SQRT_2)),
        }
    }

    /// Gives what stray coupling puts on a low-impedance input beside so many volts; `None` for a high one.
    fn stray(&self, most: f64) -> Option<f64> {
        let input = self.meter.volts_input_ohms;
        let divided = most * input / (input * input + STRAY_OHMS * STRAY_OHMS).sqrt();
        (input < HIGH_INPUT_OHMS && most.is_finite()).then_some(divided)
    }

    fn slipped(&self, quantity: Quantity, shows: Option<f64>) -> f64 {
        let least = self.function(quantity).least;
        match (quantity, shows) {
            (Quantity::Ohms, None) => 0.3,
            (Quantity::Ohms, Some(x)) => {
                let lowest = least.max(1e-3);
                0.7 / (x.abs().max(lowest) * libm::log(self.meter.ohms_limit / lowest))
            }
            (Quantity::Volts, Some(x)) => 0.25 * even(x, 4.0 * least) + 0.75 / 300.0,
            (Quantity::Amps, Some(x)) => 0.25 * even(x, 4.0 * least) + 0.75 / 60.0,
            (Quantity::Volts | Quantity::Amps, None) => 1e-3,
        }
    }

    /// Gives the one-sigma width of the meter alone at a value; it never falls as the value rises.
    fn own_sigma(&self, quantity: Quantity, value: f64) -> f64 {
        let function = self.function(quantity);
        let (off, least) = (function.half_width(value) / 2.0, function.least / 2.0);
        (off * off + least * least).sqrt()
    }

    fn function(&self, quantity: Quantity) -> &'a Function {
        match quantity {
            Quantity::Volts => &self.meter.volts,
            Quantity::Ohms => &self.meter.ohms,
            Quantity::Amps => &self.meter.amps,
        }
    }

    /// Gives the most that an item's likelihood can be with any suspect.
    ///
    /// A density at x: where at least x / 2 is expected, the width is at least the meter's own there; where less is, no
    /// normal density x / 2 off its middle is above 1 / (x / 2 sqrt(2 pi e)), whatever its width. Nowhere is the width
    /// below the meter's least; what floats is spread over 3 V.
    fn most_of(&self, item: &Found) -> f64 {
        match item {
            Found::Looked { .. } | Found::Built(..) => 1.0,
            Found::Opinion { times, .. } => times.max(1.0),
            Found::Seen { values, .. } if *values < 2.0 => 1.0,
            Found::Seen { values, wrong, told, .. } => {
                (1.0 - wrong).max(wrong / (values - 1.0)).max(told.unwrap_or(0.0))
            }
            Found::Read { quantity, shows, .. } => {
                let slipped = self.slipped(*quantity, *shows);
                let peak = shows.map_or(1.0, |x| {
                    let sharp = |value: f64| (1.0 - WIDE + WIDE / 3.0) / (self.own_sigma(*quantity, value) * ROOT_TAU);
                    let off = 1.0 / (0.5 * x.abs() * ROOT_TAU * std::f64::consts::E.sqrt());
                    sharp(0.5 * x.abs()).max(off.min(sharp(0.0))).max(1.0 / GHOST_LOW)
                });
                (1.0 - self.assumed.slip) * peak.max(slipped) + self.assumed.slip * slipped
            }
        }
    }

    /// Gives the likelihood of all items where the machine is not as described: each on the slips' broad scale.
    pub(crate) fn not_as_described(&self) -> f64 {
        let of = |item: &Found| match item {
            Found::Seen { values, .. } => 1.0 / values.max(1.0),
            Found::Read { quantity, shows, .. } => self.slipped(*quantity, *shows),
            Found::Looked { damage, .. } => [0.9, 0.1][usize::from(*damage)],
            Found::Built(variant, option) => {
                let has = self.machine.builds.iter().filter(|build| build.options[variant.index()] == *option);
                has.map(|build| build.share).sum::<f64>().max(MISTAKEN_BUILD)
            }
            Found::Opinion { .. } => 1.0,
        };
        self.items.iter().map(of).product()
    }

    fn found(&self, item: &Item, again: bool) -> Result<Found, Refused> {
        let part = |name: &str| self.machine.part(name).map_err(|name| unknown(&name));
        match item {
            Item::Reported(seen) => self.seen(seen, self.assumed.wrong_report, Source::OwnAccord),
            Item::Answered(seen) => self.seen(seen, self.assumed.wrong_report, Source::Asked),
            Item::Watched(seen) => {
                self.seen(seen, if again { SEEN_AGAIN } else { self.assumed.wrong_watch }, Source::Watched)
            }
            Item::Looked { part: name, damage } => Ok(Found::Looked { part: part(name)?, damage: *damage }),
            Item::Built(way) => built(self.machine, way).map(|(variant, option)| Found::Built(variant, option)),
            Item::Opinion { part: name, times } => Ok(Found::Opinion { part: part(name)?, times: *times }),
            Item::Read(read) => {
                Ok(Found::Read { asked: self.asked(read)?, quantity: read.quantity, shows: read.shows })
            }
        }
    }

    fn seen(&self, seen: &Seen, wrong: f64, source: Source) -> Result<Found, Refused> {
        let state = self.machine.state(&seen.state).map_err(|name| unknown(&name))?;
        let what = self.machine.observation(&seen.observe).map_err(|name| unknown(&name))?;
        let known = &self.machine.observations[what.index()].values;
        let value = (0..).zip(known).find(|(_, value)| value.id == seen.value).map(|(at, _)| at);
        let value =
            value.ok_or_else(|| Refused::Unknown(format!("`{}` has no value `{}`", seen.observe, seen.value)))?;
        let as_sound = |build: &Build| Unit::nominal(self.machine, &[]).built(&build.effects).observe(state);
        let sound = self.machine.builds.iter().flat_map(as_sound).filter(|(other, _)| *other == what);
        let sound: Vec<u8> = sound.map(|(_, value)| value).collect();
        let told = (source == Source::OwnAccord && !sound.contains(&value))
            .then(|| 1.0 / count(self.machine.observations.len()));
        let now = source == Source::Watched;
        Ok(Found::Seen { state, what, value, values: count(known.len()), wrong, sound, told, now })
    }

    fn asked(&self, read: &Read) -> Result<Asked, Refused> {
        let terminal = |name: &String| self.machine.terminal(name).map_err(|name| unknown(&name));
        let branch = |name: &String| self.machine.branch(name).map_err(|name| unknown(&name));
        let (quantity, probe) = match (read.quantity, read.at.as_slice(), read.plugged) {
            (Quantity::Volts, [a, b], _) => (truth::Quantity::Volts, Probe::Across(terminal(a)?, terminal(b)?)),
            (Quantity::Ohms, [a, b], false) => (truth::Quantity::Ohms, Probe::Across(terminal(a)?, terminal(b)?)),
            (Quantity::Amps, [around], _) => (truth::Quantity::Amps, Probe::Around(branch(around)?)),
            _ => return Err(Refused::Unknown(format!("a reading of this kind at {:?}", read.at))),
        };
        let lifted = read.lifted.iter().map(branch).collect::<Result<_, _>>()?;
        let state = self.machine.state(&read.state).map_err(|name| unknown(&name))?;
        Ok(Asked { quantity, probe, state, plugged: read.plugged, lifted })
    }
}

impl Function {
    /// Gives how far a shown value may be off by the manual, in the quantity's unit; a 95 % half-width.
    fn half_width(&self, value: f64) -> f64 {
        let fits = |digit: f64| self.counts.is_none_or(|counts| value.abs() <= counts * digit);
        // Twelve tenfold ranges lead from milliohms to gigohms.
        let digit = (0..12).fold(self.resolution, |digit, _| if fits(digit) { digit } else { digit * 10.0 });
        self.share * value.abs() + self.digits * digit
    }
}

/// Gives, for each size, the one whose unit stands for it in a reading: with the plug in, the likeliest of those at which
/// the controls rest alike; unplugged, the fault as described, its spread being in the width. Each build for itself.
fn stand_ins(asked: &Asked, sizes: &[(f64, Unit<'_>)], builds: usize) -> Vec<usize> {
    if !asked.plugged || sizes.len() == builds {
        let described = sizes.len() / builds / 2 * builds;
        return (0..sizes.len()).map(|size| described + size % builds).collect();
    }
    let rests: Vec<Vec<bool>> = sizes.iter().map(|(_, unit)| unit.flags(asked.state)).collect();
    let of = |size: usize| {
        let alike = (0..sizes.len()).filter(|&at| at % builds == size % builds && rests[at] == rests[size]);
        alike.max_by(|&a, &b| sizes[a].0.total_cmp(&sizes[b].0)).unwrap_or(size)
    };
    (0..sizes.len()).map(of).collect()
}

fn even(x: f64, high: f64) -> f64 {
    if (0.0..=high).contains(&x) { 1.0 / high } else { 0.0 }
}

fn normal(off: f64, sigma: f64) -> f64 {
    libm::exp(-0.5 * (off / sigma) * (off / sigma)) / (sigma * ROOT_TAU)
}

fn count(of: usize) -> f64 {
    f64::from(u32::try_from(of).unwrap_or(u32::MAX))
}
