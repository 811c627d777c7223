//! Cautions: signal word, hazard, sentence. They cannot be turned off, so there is no switch here.
//!
//! SOURCE: signal words after ANSI Z535.4 and ISO 3864-2. DANGER: will result in death or serious injury if not
//! avoided, kept for the most extreme; WARNING: could result in death or serious injury; CAUTION: could result in
//! minor or moderate injury.

use machine::access::Hazard;

/// The signal word, gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Signal {
    /// Will kill or maim if not avoided.
    Danger,
    /// Could kill or maim.
    Warning,
    /// Could hurt.
    Caution,
}

impl Signal {
    /// The word as it is printed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Danger => "DANGER",
            Self::Warning => "WARNING",
            Self::Caution => "CAUTION",
        }
    }
}

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Caution {
    /// Signal word.
    pub signal: Signal,
    /// What can hurt.
    pub hazard: Hazard,
    /// What to do about it, in a sentence.
    pub sentence: &'static str,
}

/// Words the caution for a hazard; `energised` says whether the machine is, or is about to be, live during the step.
#[must_use]
pub fn caution(hazard: Hazard, energised: bool) -> Caution {
    let (signal, sentence) = match (hazard, energised) {
        (Hazard::Shock, true) => (Signal::Danger, "Live parts inside. Keep hands and tools out. Stand clear."),
        (Hazard::Shock, false) => (Signal::Warning, "Treat every conductor as live until you have measured it dead."),
        (Hazard::StoredCharge, true) => {
            (Signal::Danger, "Capacitors are charged. Touch nothing until it is isolated, discharged and measured.")
        }
        (Hazard::StoredCharge, false) => (
            Signal::Warning,
            "A capacitor holds its charge with the plug out. Discharge it through a resistor and measure.",
        ),
        (Hazard::HighVoltage, true) => {
            (Signal::Danger, "Thousands of volts, with the current to kill. Keep out and keep everyone away.")
        }
        (Hazard::HighVoltage, false) => (
            Signal::Danger,
            "It kills with the plug out. Only a trained hand discharges the capacitor, to the frame, before anything else; nobody measures there.",
        ),
        (Hazard::Water, true) => (Signal::Danger, "Water by live parts. Dry it up before you switch on."),
        (Hazard::Water, false) => {
            (Signal::Warning, "Water by electricity. Keep it off the wiring and dry what is wet.")
        }
        (Hazard::FuelGas, _) => (
            Signal::Warning,
            "Gas may be here. No flame, no spark. If you smell it, switch nothing and get everyone out.",
        ),
        (Hazard::Refrigerant, _) => {
            (Signal::Warning, "The sealed system may hold flammable refrigerant. Do not heat, pierce or open it.")
        }
        (Hazard::MovingParts, true) => (Signal::Warning, "Parts will move. Keep hands, hair and sleeves clear."),
        (Hazard::MovingParts, false) => (Signal::Caution, "Springs and moving parts. Block them before you reach in."),
        (Hazard::TipOver, _) => (Signal::Warning, "It can tip. Fit the bracket or have it held."),
        (Hazard::Scald, _) => (Signal::Warning, "Hot water or steam. Let it cool and drain it first."),
        (Hazard::HotSurface, _) => (Signal::Caution, "Surfaces may be hot. Let them cool or wear gloves."),
        (Hazard::SharpEdge, _) => (Signal::Caution, "Sheet metal edges cut. Wear gloves."),
        (Hazard::HeavyLift, _) => (Signal::Caution, "Heavy. Lift with two or use the dolly."),
        (Hazard::Glass, _) => (Signal::Caution, "Glass breaks. Wear glasses and set it down on cloth."),
        (Hazard::Dirt, _) => (Signal::Caution, "Dust and droppings. Wear a mask and gloves."),
    };
    Caution { signal, hazard, sentence }
}
