//! The technician's meter: a resistor in the network on volts, a source on ohms, a clamp round a branch; with an error
//! of its own, leads that have resistance, and a hand that slips now and then.

use crate::dice::Dice;
use crate::draw::DrawSettings;
use crate::unit::Unit;
use crate::values::within_reach;
use crate::wire::{Body, Stance};
use circuit::{Complex64, Law as Element, Port, magnitude};
use machine::model::{BranchId, StateId, TerminalId};

/// What the meter is set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quantity {
    /// Alternating volts.
    Volts,
    /// Resistance; the machine must be unplugged, or over-range is all that shows.
    Ohms,
    /// Alternating current by clamp.
    Amps,
    /// Capacitance; the machine must be unplugged, or over-range is all that shows.
    Farads,
}

/// Where the meter is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Probe {
    /// Red on the first, black on the second.
    Across(TerminalId, TerminalId),
    /// The clamp around this branch.
    Around(BranchId),
}

/// What the meter shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shown {
    /// A figure in volts, ohms or amperes.
    Value(f64),
    /// Over-range.
    OverRange,
}

/// What is printed in a meter's manual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterKind {
    /// Input resistance on volts, ohms.
    pub volts_input_ohms: f64,
    /// Above this it shows over-range, ohms.
    pub ohms_limit: f64,
    /// Relative error that it keeps to.
    pub accuracy: f64,
    /// Usual resistance of leads and contact points together, ohms.
    pub lead_ohms: f64,
    /// Smallest step that means anything, volts.
    pub volts_floor: f64,
    /// Smallest current that the clamp tells from none, amperes.
    pub amps_floor: f64,
}

impl MeterKind {
    /// Gives an ordinary handheld meter: 10 Mohm on volts, over-range above 60 Mohm, 1.2 %, leads of 0.2 ohm.
    ///
    /// Common practice, no source.
    #[must_use]
    pub fn ordinary() -> Self {
        Self {
            volts_input_ohms: 1e7,
            ohms_limit: 6e7,
            accuracy: 0.012,
            lead_ohms: 0.2,
            volts_floor: 0.5,
            amps_floor: 0.1,
        }
    }
}

/// One meter as the technician owns it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct OwnMeter {
    kind: MeterKind,
    /// Factor of its error on volts, ohms, amperes, farads: the same for every reading.
    gains: [f64; 4],
    /// Shares of readings that slip; 0 for a meter without errors.
    wrong_terminal: f64,
    bad_contact: f64,
    /// Draws anything at all.
    errs: bool,
}

/// Words that keep the streams of chance apart.
const GAIN: u64 = 11;
const READING: u64 = 12;
const GHOST: u64 = 13;

impl OwnMeter {
    /// A meter that shows exactly what its kind would, its loading and usual leads included.
    pub(crate) fn exact(kind: MeterKind) -> Self {
        Self { kind, gains: [1.0; 4], wrong_terminal: 0.0, bad_contact: 0.0, errs: false }
    }

    /// Draws one technician's meter.
    pub(crate) fn draw(seed: u64, settings: &DrawSettings) -> Self {
        let kind = settings.meter;
        let mut dice = Dice::of(seed, &[GAIN]);
        let gains = std::array::from_fn(|_| 1.0 + 0.5 * kind.accuracy * dice.normal(2.0));
        let (wrong_terminal, bad_contact) = (settings.wrong_terminal, settings.bad_contact);
        Self { kind, gains, wrong_terminal, bad_contact, errs: true }
    }

    /// Shows a figure through this meter's error and this reading's noise.
    fn show(&self, quantity: Quantity, value: f64, dice: &mut Dice) -> Shown {
        let (gain, floor) = match quantity {
            Quantity::Volts => (self.gains[0], self.kind.volts_floor),
            Quantity::Ohms => (self.gains[1], 0.0),
            Quantity::Amps => (self.gains[2], self.kind.amps_floor),
            Quantity::Farads => (self.gains[3], 0.0),
        };
        let noise =
            if self.errs { 0.002 * value.abs() * dice.normal(3.0) + 0.25 * floor * dice.normal(3.0) } else { 0.0 };
        let figure = (value * gain + noise).max(0.0);
        if quantity == Quantity::Ohms && figure > self.kind.ohms_limit {
            return Shown::OverRange;
        }
        Shown::Value(figure)
    }

    /// Gives the resistance of leads and points for this reading: never quite the same twice.
    fn leads(&self, dice: &mut Dice) -> f64 {
        if self.errs { self.kind.lead_ohms * libm::exp(0.3 * dice.normal(2.5)) } else { self.kind.lead_ohms }
    }
}

/// One reading as it is taken.
#[derive(Clone, Copy, Debug)]
struct Taken<'a> {
    quantity: Quantity,
    probe: Probe,
    state: StateId,
    plugged: bool,
    lifted: &'a [BranchId],
}

impl Unit<'_> {
    /// Takes a reading and gives what the meter shows.
    ///
    /// A voltage is asked for with the machine plugged in and running in `state`, or with the plug out (`state` then
    /// only says how the controls are set); a resistance with the plug out. Reading the same again draws new noise,
    /// and a slip the second time is as rare as the first.
    pub fn read(
        &mut self,
        quantity: Quantity,
        probe: Probe,
        state: StateId,
        plugged: bool,
        lifted: &[BranchId],
    ) -> Shown {
        let taken = Taken { quantity, probe, state, plugged, lifted };
        let mut words = words(&taken);
        let times = self.count_reading(&words);
        words.extend([READING, times]);
        let mut dice = Dice::of(self.seed(), &words);
        let taken = Taken { probe: self.slipped(probe, &mut dice), ..taken };
        if matches!(quantity, Quantity::Ohms | Quantity::Farads) && (plugged || dice.chance(self.meter().bad_contact)) {
            return Shown::OverRange;
        }
        match (quantity, taken.probe) {
            (Quantity::Ohms, Probe::Across(a, b)) => self.ohms(a, b, &taken, &mut dice),
            (Quantity::Farads, Probe::Across(a, b)) => self.farads(a, b, &taken, &mut dice),
            (Quantity::Volts, Probe::Across(a, b)) => self.volts(a, b, &taken, &mut dice),
            (Quantity::Amps, Probe::Around(branch)) => self.amps(branch, &taken, &mut dice),
            // A clamp between two points, or probes around a lead: the meter has nothing to show.
            _ => self.meter().show(quantity, 0.0, &mut dice),
        }
    }

    /// Moves one probe to a neighbouring point now and then.
    fn slipped(&self, probe: Probe, dice: &mut Dice) -> Probe {
        let Probe::Across(a, b) = probe else { return probe };
        if !dice.chance(self.meter().wrong_terminal) {
            return probe;
        }
        let first = dice.chance(0.5);
        let moved = if first { a } else { b };
        let here = &self.machine().terminals[moved.index()];
        let near: Vec<TerminalId> = (0..self.machine().terminals.len())
            .filter_map(|index| u16::try_from(index).ok().map(TerminalId))
            .filter(|&t| {
                let there = &self.machine().terminals[t.index()];
                let kind = self.machine().parts[there.part.index()].kind;
                !there.hidden && there.place == here.place && t != a && t != b && within_reach(kind)
            })
            .collect();
        match dice.one_of(near.len()).map(|index| near[index]) {
            Some(wrong) if first => Probe::Across(wrong, b),
            Some(wrong) => Probe::Across(a, wrong),
            None => probe,
        }
    }

    /// The meter as a source of one volt behind a thousand ohms, every other source dead.
    fn ohms(&self, a: TerminalId, b: TerminalId, taken: &Taken<'_>, dice: &mut Dice) -> Shown {
        let meter = *self.meter();
        let leads = meter.leads(dice);
        self.with_body(|body| {
            let flags = body.flags_down();
            let mut network = body.network(&stance(taken, true, &flags));
            let (red, black) = (body.node(a), body.node(b));
            let tied = network.solve().is_ok_and(|dead| dead.same_island(red, black));
            if !tied {
                return Shown::OverRange;
            }
            let series = Complex64::new(1000.0, 0.0);
            let own = network.add(red, black, Element::Source { emf: Complex64::new(1.0, 0.0), series });
            let Ok(at) = network.solve() else { return Shown::OverRange };
            let volts = at.voltage(red, black).unwrap_or_default();
            let ohms = (volts / -at.current(own)).re.max(0.0) + leads;
            if ohms > meter.kind.ohms_limit { Shown::OverRange } else { meter.show(Quantity::Ohms, ohms, dice) }
        })
    }

    /// The meter as an alternating source of one volt behind a thousand ohms, every other source dead: what it drives
    /// through the two points tells the admittance between them, and its imaginary part the capacitance.
    fn farads(&self, a: TerminalId, b: TerminalId, taken: &Taken<'_>, dice: &mut Dice) -> Shown {
        let meter = *self.meter();
        self.with_body(|body| {
            let flags = body.flags_down();
            let mut network = body.network(&stance(taken, false, &flags));
            let (red, black) = (body.node(a), body.node(b));
            let Ok(alone) = network.solve() else { return Shown::OverRange };
            if !alone.same_island(red, black) {
                return meter.show(Quantity::Farads, 0.0, dice);
            }
            let before = alone.voltage(red, black).unwrap_or_default();
            let series = Complex64::new(1000.0, 0.0);
            let own = network.add(red, black, Element::Source { emf: before + 1.0, series });
            let Ok(at) = network.solve() else { return Shown::OverRange };
            // By superposition: beside what stood there already, the current goes with the change of the voltage.
            let admittance = -at.current(own) / (at.voltage(red, black).unwrap_or_default() - before);
            if !admittance.is_finite() || admittance.im <= admittance.re.abs() {
                return Shown::OverRange;
            }
            let omega = 2.0 * std::f64::consts::PI * body.machine.hertz;
            meter.show(Quantity::Farads, admittance.im / omega, dice)
        })
    }

    /// The meter as a resistor between the two points; where nothing ties them, stray coupling decides what it shows.
    fn volts(&self, a: TerminalId, b: TerminalId, taken: &Taken<'_>, dice: &mut Dice) -> Shown {
        let meter = *self.meter();
        let rest = self.flags_for(taken.state, taken.plugged, taken.lifted);
        self.with_body(|body| {
            let mut network = body.network(&stance(taken, false, &rest));
            let (red, black) = (body.node(a), body.node(b));
            let Ok(alone) = network.solve() else { return meter.show(Quantity::Volts, 0.0, dice) };
            if let Port::Floating { highest_volts } = alone.port(red, black) {
                return meter.show(Quantity::Volts, self.ghost(taken, highest_volts), dice);
            }
            network.add(red, black, Element::ohms(meter.kind.volts_input_ohms));
            let volts = network.solve().ok().and_then(|at| at.voltage(red, black));
            meter.show(Quantity::Volts, volts.map_or(0.0, magnitude), dice)
        })
    }

    /// Draws the share of the neighbouring voltage that couples into a floating point: the same each time, since the
    /// leads lie as they lie, and mostly small, since the meter itself discharges it.
    fn ghost(&self, taken: &Taken<'_>, highest: f64) -> f64 {
        if !self.meter().errs || !highest.is_finite() {
            return 0.0;
        }
        let mut words = words(taken);
        words.push(GHOST);
        let share = Dice::of(self.seed(), &words).share();
        highest * share * share
    }

    fn amps(&self, branch: BranchId, taken: &Taken<'_>, dice: &mut Dice) -> Shown {
        let meter = *self.meter();
        let rest = self.flags_for(taken.state, taken.plugged, taken.lifted);
        self.with_body(|body| {
            let solved = body.network(&stance(taken, false, &rest)).solve();
            let amps = solved.map_or(0.0, |at| magnitude(at.current(Body::wire(branch))));
            meter.show(Quantity::Amps, amps, dice)
        })
    }

    /// Gives the highest voltage a floating reading may show and `None` for a tied one; what `ghost` draws below.
    #[must_use]
    pub fn ghost_bound(&self, a: TerminalId, b: TerminalId, state: StateId, plugged: bool) -> Option<f64> {
        let taken = Taken { quantity: Quantity::Volts, probe: Probe::Across(a, b), state, plugged, lifted: &[] };
        let rest = self.flags_for(state, plugged, &[]);
        self.with_body(|body| {
            let solved = body.network(&stance(&taken, false, &rest)).solve().ok()?;
            match solved.port(body.node(a), body.node(b)) {
                Port::Floating { highest_volts } => Some(highest_volts),
                Port::Tied { .. } => None,
            }
        })
    }
}

fn stance<'a>(taken: &Taken<'a>, direct: bool, flags: &'a [bool]) -> Stance<'a> {
    Stance { state: taken.state, pressed: false, plugged: taken.plugged, direct, lifted: taken.lifted, flags }
}

/// Spells a reading out as words for the dice.
fn words(taken: &Taken<'_>) -> Vec<u64> {
    let (kind, first, second) = match taken.probe {
        Probe::Across(a, b) => (0, u64::from(a.0), u64::from(b.0)),
        Probe::Around(branch) => (1, u64::from(branch.0), 0),
    };
    let quantity = match taken.quantity {
        Quantity::Volts => 0,
        Quantity::Ohms => 1,
        Quantity::Amps => 2,
        Quantity::Farads => 3,
    };
    let mut words = vec![quantity, kind, first, second, u64::from(taken.state.0), u64::from(taken.plugged)];
    words.extend(taken.lifted.iter().map(|lead| u64::from(lead.0)));
    words
}
