//! The demo: an invented customer and a dryer that tumbles but stays cold, its hidden fault drawn by a seed. Answers
//! what is asked as the appliance itself would, so that Enter alone leads through a call. Advises nothing.

use crate::ask::{About, Ask, Wants};
use book::{Body, CallFact, Event};
use machine::faults::RepairKind;
use machine::model::{FaultId, Machine, Observed, StateId};
use prediction::Reading;
use quantity::{Unit, show};
use truth::{Dice, DrawSettings, Shown, Unit as Appliance, Workshop};

/// The demo's appliance and people.
#[derive(Debug)]
pub struct Demo<'m> {
    machine: &'m Machine,
    appliance: Appliance<'m>,
    fault: FaultId,
    trouble: StateId,
}

/// Words that keep the streams of chance apart.
const FAULT: u64 = 41;

impl<'m> Demo<'m> {
    /// Draws the demo's appliance; `None` if no fault of the machine fits the complaint.
    #[must_use]
    pub fn draw(machine: &'m Machine, seed: u64) -> Option<Self> {
        let settings = steady();
        let workshop = Workshop::new(machine);
        let trouble = trouble(machine)?;
        let fits: Vec<FaultId> = (0..machine.faults.len())
            .filter_map(|index| u16::try_from(index).ok().map(FaultId))
            .filter(|&fault| fits(&workshop, machine, fault, trouble, seed, &settings))
            .collect();
        let weights: Vec<f64> = fits.iter().map(|&fault| machine[fault].weight).collect();
        let fault = fits.get(Dice::of(seed, &[FAULT]).pick(&weights)?).copied()?;
        Some(Self { machine, appliance: workshop.unit(seed, &settings, &[fault]), fault, trouble })
    }

    /// Makes an appliance with this fault, whatever the complaint is; `None` if no state shows it.
    #[must_use]
    pub fn with(machine: &'m Machine, seed: u64, fault: FaultId) -> Option<Self> {
        let settings = steady();
        let appliance = Workshop::new(machine).unit(seed, &settings, &[fault]);
        let trouble = appliance.state_ids().find(|&state| appliance.differs(state))?;
        Some(Self { machine, appliance, fault, trouble })
    }

    /// Draws an appliance with any fault that shows and that this technician can mend, by the weights of the description;
    /// `None` if no fault does.
    #[must_use]
    pub fn any(machine: &'m Machine, seed: u64) -> Option<Self> {
        let mendable = |fault: &FaultId| {
            let of = &machine[*fault];
            let referred = machine[of.repair].kind == RepairKind::Refer;
            of.weight > 0.0 && !of.dangerous && !referred && !machine[of.part].installation
        };
        let ids = (0..machine.faults.len()).filter_map(|index| u16::try_from(index).ok().map(FaultId));
        let mut fits: Vec<FaultId> = ids.filter(mendable).collect();
        let mut dice = Dice::of(seed, &[FAULT]);
        while !fits.is_empty() {
            let weights: Vec<f64> = fits.iter().map(|&fault| machine[fault].weight).collect();
            let at = dice.pick(&weights)?;
            if let Some(demo) = Self::with(machine, seed, fits[at]) {
                return Some(demo);
            }
            fits.remove(at);
        }
        None
    }

    /// Gives the hidden fault: for judging, never for the technician.
    #[must_use]
    pub fn hidden(&self) -> FaultId {
        self.fault
    }

    /// Says whether the appliance does in every state what a sound one does.
    #[must_use]
    pub fn sound(&self) -> bool {
        self.appliance.sound()
    }

    /// Takes note of an event: a repair changes the appliance.
    pub fn note(&mut self, event: &Event) {
        let Body::Call { fact: CallFact::PartChanged(changed), .. } = event.body() else { return };
        let kind = if changed.spare.is_some() { RepairKind::Replace } else { RepairKind::Mend };
        let ids = (0..).map(machine::model::RepairId).zip(&self.machine.repairs);
        let of_part = ids.filter(|(_, repair)| self.machine[repair.part].id == changed.part);
        let fits: Vec<_> = of_part.map(|(id, repair)| (id, repair.kind)).collect();
        let exact = fits.iter().find(|(_, of)| (*of == RepairKind::Replace) == (kind == RepairKind::Replace));
        if let Some((id, _)) = exact {
            self.appliance.repair(*id);
        }
    }

    /// Gives what Enter answers: what the appliance shows, or what the invented people say.
    pub fn answer(&mut self, ask: &Ask) -> String {
        if let Some(said) = before(ask) {
            return said;
        }
        match &ask.about {
            About::Since => "three loads ago, from one day to the next".to_owned(),
            About::ComesAndGoes => {
                if self.appliance.come_and_go().is_empty() { "every-time" } else { "comes-and-goes" }.to_owned()
            }
            About::Use => self.use_asked(ask),
            About::Report(state, what) => self
                .seen(*state)
                .into_iter()
                .find(|(id, _)| *id == self.machine[*what].id)
                .map_or_else(String::new, |(_, value)| value),
            About::Try(state) => {
                let seen = self.seen(*state).into_iter().map(|(what, value)| format!("{what}={value}"));
                seen.collect::<Vec<_>>().join(" ")
            }
            About::Read(reading) => self.read(reading),
            About::Insulation(at) => self.insulation(*at),
            About::KnownSource { at, expected } => match at {
                Some((a, b)) => self.volts(*a, *b),
                None => format!("{expected:.0}"),
            },
            About::Earth => "120".to_owned(),
            About::DeadTest(_) | About::Discharge(_) => "0.0".to_owned(),
            About::Look(part) => if self.appliance.look(*part) { "yes" } else { "no" }.to_owned(),
            About::HazardGone(_) | About::ProofLook(_) => "yes".to_owned(),
            About::Hazard(_) => format!("disconnected {NAME}"),
            About::Choose => "repair".to_owned(),
            About::Approve | About::HandOver => NAME.to_owned(),
            About::Explain => "explained".to_owned(),
            _ => first_choice(ask),
        }
    }

    fn use_asked(&self, ask: &Ask) -> String {
        let id = &self.machine[self.trouble].id;
        match &ask.wants {
            Wants::Choice(choices) if choices.iter().any(|choice| choice.id == *id) => id.clone(),
            _ => "none".to_owned(),
        }
    }

    fn seen(&self, state: StateId) -> Vec<(String, String)> {
        let seen = self.appliance.observe(state);
        seen.into_iter()
            .filter_map(|(what, value)| {
                let observation = &self.machine[what];
                Some((observation.id.clone(), observation.values.get(usize::from(value))?.id.clone()))
            })
            .collect()
    }

    fn volts(&mut self, a: machine::model::TerminalId, b: machine::model::TerminalId) -> String {
        let shown = self.appliance.read(truth::Quantity::Volts, truth::Probe::Across(a, b), StateId(0), false, &[]);
        in_words(shown, Unit::Volt)
    }

    /// The appliance's own leakage is all that the tester would find; *approximate because* no insulation here breaks
    /// down at the tester's volts only.
    fn insulation(&mut self, at: usize) -> String {
        match self.machine.proofs.get(at).map(|proof| &proof.how) {
            Some(&machine::model::ProofHow::Ohms { from, to, .. }) => {
                let probe = truth::Probe::Across(from, to);
                in_words(self.appliance.read(truth::Quantity::Ohms, probe, StateId(0), false, &[]), Unit::Ohm)
            }
            _ => String::new(),
        }
    }

    fn read(&mut self, reading: &Reading) -> String {
        let shown = rehearsal::shown(&mut self.appliance, reading);
        in_words(shown, reading.quantity.unit())
    }
}

/// Gives what is answered before the appliance is known: who the customer is, how old it is.
#[must_use]
pub fn before(ask: &Ask) -> Option<String> {
    match &ask.about {
        About::Customer => Some(CUSTOMER.to_owned()),
        About::Appliance => Some("9 no warranty".to_owned()),
        _ => None,
    }
}

/// The invented customer, as typed at intake.
pub const CUSTOMER: &str = "Ada Example, 1 Invented Street, Sampleton, 555-0100, side door, no stairs";
/// Her name under approval and record.
pub const NAME: &str = "Ada Example";
/// The invented shop, as it says itself.
pub const SHOP: &str = "Demo shop of Sampleton: all of it invented.";

/// New parts are good, looks tell the truth, probes land where they should; the meter has its own error all the same.
fn steady() -> DrawSettings {
    DrawSettings { bad_part: 0.0, false_look: 0.0, wrong_terminal: 0.0, bad_contact: 0.0, ..DrawSettings::default() }
}

fn in_words(shown: Shown, unit: Unit) -> String {
    match shown {
        Shown::Value(value) => show(value, unit),
        Shown::OverRange => "OL".to_owned(),
    }
}

fn first_choice(ask: &Ask) -> String {
    match &ask.wants {
        Wants::Choice(choices) if ask.enter.is_none() => {
            choices.first().map_or_else(String::new, |choice| choice.id.clone())
        }
        _ => String::new(),
    }
}

/// The state in which a sound machine both turns and heats.
fn trouble(machine: &Machine) -> Option<StateId> {
    let sound = Appliance::nominal(machine, &[]);
    sound.state_ids().find(|&state| {
        let seen = sound.observe(state);
        let of = |wanted: fn(&Observed) -> bool, value: u8| {
            seen.iter().any(|(what, got)| wanted(&machine[*what].of) && *got == value)
        };
        of(|o| matches!(o, Observed::Turns(_)), 1) && of(|o| matches!(o, Observed::Heats { .. }), 2)
    })
}

/// The drum turns, no heat, everything else as it should; mended by this technician, with nothing dangerous about it.
fn fits(
    workshop: &Workshop<'_>,
    machine: &Machine,
    fault: FaultId,
    trouble: StateId,
    seed: u64,
    settings: &DrawSettings,
) -> bool {
    let of = &machine[fault];
    let repair = &machine[of.repair];
    if of.weight <= 0.0 || of.dangerous || machine[of.part].installation || repair.kind == RepairKind::Refer {
        return false;
    }
    let sound = Appliance::nominal(machine, &[]).observe(trouble);
    let seen = workshop.unit(seed, settings, &[fault]).observe(trouble);
    let cold = seen.iter().any(|(what, value)| matches!(machine[*what].of, Observed::Heats { .. }) && *value == 0);
    let rest = seen
        .iter()
        .zip(&sound)
        .all(|((what, got), (_, should))| matches!(machine[*what].of, Observed::Heats { .. }) || got == should);
    cold && rest
}
