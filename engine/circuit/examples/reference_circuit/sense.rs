//! Says which faults are left out of a state because the two cannot be together.
//!
//! The reference readings leave out combinations that make no sense. The files do not list them, so they are
//! inferred from what states and faults set:
//! - a state in which the motor turns, when with the fault the motor could not have got there from standstill;
//! - a state with the plug out, when the fault is in the plug's own blades;
//! - a state with parts taken off, when the fault is in such a part;
//! - a contact that leaks when open, in a state where the contact is closed.

use crate::folder::{Analysis, Element, Folder, Kind, Mistake, Setting};
use crate::readings::{Bench, lay_over};

/// Ohms from which a resistor of the reference circuits stands for something open.
const OPEN_OHMS: f64 = 1e9;
/// Ohms of a closed contact in the reference circuits.
const CONTACT_OHMS: f64 = 0.01;
/// Ohms from which a contact's resistance is a leak across it and not a bad joint in it.
const LEAK_OHMS: f64 = 1e3;
/// Share of the healthy starting currents that a motor needs at least. Common practice, no source.
const STARTING_SHARE: f64 = 0.1;
/// Current in amperes that is none.
const NO_AMPERES: f64 = 1e-3;

/// Tells for each fault whether the state leaves it out.
pub(crate) fn left_out(folder: &Folder, state: usize) -> Result<Vec<bool>, Mistake> {
    let (analysis, settings) = (folder.states[state].of, &folder.states[state].settings);
    let mut out: Vec<bool> = folder.faults.iter().map(|f| leaks_when_closed(folder, settings, &f.settings)).collect();
    match analysis {
        Analysis::Resistance => {
            let taken_off = taken_off(folder, settings);
            for (out, fault) in out.iter_mut().zip(&folder.faults) {
                *out |= fault.settings.iter().any(|s| taken_off.contains(&s.element));
            }
        }
        Analysis::Energised => {
            if let Some(motor) = Motor::of(folder, settings)? {
                for (out, fault) in out.iter_mut().zip(&folder.faults) {
                    *out |= !motor.starts(folder, &fault.settings)?;
                }
            }
        }
    }
    Ok(out)
}

fn is_contact(element: &Element) -> bool {
    element.kind == Kind::Resistor && (element.value <= CONTACT_OHMS || element.value >= OPEN_OHMS)
}

/// Finds a contact that the fault makes leak while the state has it closed.
fn leaks_when_closed(folder: &Folder, state: &[Setting], fault: &[Setting]) -> bool {
    let mut values: Vec<(f64, f64)> = folder.elements.iter().map(|e| (e.value, e.phase)).collect();
    lay_over(&mut values, state);
    fault.iter().any(|s| {
        is_contact(&folder.elements[s.element])
            && (LEAK_OHMS..OPEN_OHMS).contains(&s.value)
            && values[s.element].0 < OPEN_OHMS
    })
}

fn opens(settings: &[Setting], element: usize) -> bool {
    settings.iter().any(|s| s.element == element && s.value >= OPEN_OHMS)
}

/// Lists what is out of a resistance state: the plug's blades, which every such state opens, and, if the state
/// opens anything that is not a contact, all else that it opens.
fn taken_off(folder: &Folder, settings: &[Setting]) -> Vec<usize> {
    let mut dead = folder.states.iter().filter(|s| s.of == Analysis::Resistance);
    let opened = |e: &usize| opens(settings, *e) && folder.elements[*e].kind == Kind::Resistor;
    let all: Vec<usize> = (0..folder.elements.len()).filter(opened).collect();
    if all.iter().any(|&e| !is_contact(&folder.elements[e])) {
        return all;
    }
    all.into_iter().filter(|&e| dead.clone().all(|s| opens(&s.settings, e)) && dead.next().is_some()).collect()
}

/// Is the motor of a state in which it turns: the state at standstill, and the currents that start it.
struct Motor {
    standstill: Bench,
    starting: Vec<(usize, f64)>,
}

impl Motor {
    /// Finds the elements that the state raises without opening them: a rotor that turns stands for more
    /// resistance, a start device that is warm too. The capacitors in series with them start the motor as well.
    fn of(folder: &Folder, settings: &[Setting]) -> Result<Option<Self>, Mistake> {
        let raised = |s: &Setting| {
            let element = &folder.elements[s.element];
            element.kind == Kind::Resistor && s.value > element.value && s.value < OPEN_OHMS && !is_leak(element)
        };
        let turning: Vec<usize> = settings.iter().filter(|s| raised(s)).map(|s| s.element).collect();
        if turning.is_empty() {
            return Ok(None);
        }
        let still: Vec<Setting> = settings.iter().copied().filter(|s| !raised(s)).collect();
        let standstill = Bench::of(folder, Analysis::Energised, &still)?;
        let capacitors = (0..folder.elements.len()).filter(|&e| folder.elements[e].kind == Kind::Capacitor);
        let mut starting = Vec::new();
        for e in turning.iter().copied().chain(capacitors) {
            let amperes = standstill.amperes(folder, &[], e)?;
            if amperes > NO_AMPERES {
                starting.push((e, amperes));
            }
        }
        Ok(Some(Self { standstill, starting }))
    }

    fn starts(&self, folder: &Folder, fault: &[Setting]) -> Result<bool, Mistake> {
        for &(element, healthy) in &self.starting {
            if self.standstill.amperes(folder, fault, element)? < STARTING_SHARE * healthy {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

fn is_leak(element: &Element) -> bool {
    element.value >= OPEN_OHMS
}
