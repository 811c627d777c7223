//! States, observations and proofs as the file writes them.

use super::{table, words};
use crate::reader::{Above0, At, AtLeast0, Celsius, Id, Map, Num, Strict, Text};

table! {
    /// What the user has asked the machine to do.
    State {
        /// Its id.
        id: At<Id>,
        /// In words.
        say: Text,
        /// The state from which it is entered; the rest state if left out.
        from: Option<Text>,
        /// What a person does to enter it, in order.
        r#do: Option<Vec<Text>>,
        /// Positions of parts; what is not named stays as in `from`.
        set: Option<Map<Text>>,
        /// Positions held only while entering.
        press: Option<Map<Text>>,
        /// Temperatures of zones, °C; what is not named stays as in `from`.
        temperatures: Option<Map<At<Num<Celsius>>>>,
        /// Temperatures at which the control holds zones, °C; what is not named stays as in `from`.
        holds: Option<Map<At<Num<Celsius>>>>,
        /// Minutes to bring the machine into it; 1 if left out, 0 for the rest state.
        minutes: Option<At<Num<AtLeast0>>>,
    }
}

table! {
    /// What a person can notice without a meter.
    Observe {
        /// Its id.
        id: At<Id>,
        /// What it is.
        what: At<ObserveWord>,
        /// The part it is about.
        part: Option<Text>,
        /// The heaters it is about.
        parts: Option<Vec<Text>>,
        /// What carries the heat: a vent or a blower.
        air: Option<Text>,
        /// States in which it is looked for; every state but the rest state if left out.
        states: Option<Vec<Text>>,
        /// Rated watts of all heaters together, if not the sum of their own.
        rated_watts: Option<At<Num<Above0>>>,
        /// The zone that warms up.
        zone: Option<Text>,
        /// The temperature by which it is judged, °C.
        to_c: Option<At<Num<Celsius>>>,
        /// Times the sound machine's time from which it is slow; 1.25 if left out.
        slow_times: Option<At<Num<Above0>>>,
        /// Times the sound machine's time from which nobody waits for it; 4 if left out.
        never_times: Option<At<Num<Above0>>>,
        /// What sentences are made from, such as `the drum`.
        name: Option<Text>,
        /// Sentences for single values.
        say: Option<Map<Text>>,
    }
}

words! {
    /// What can be noticed.
    ObserveWord {
        Turns = "turns",
        Sounds = "sounds",
        Heats = "heats",
        Lights = "lights",
        Blows = "blows",
        Flows = "flows",
        Works = "works",
        Burns = "burns",
        Trips = "trips",
        Tingles = "tingles",
        Shows = "shows",
        Warms = "warms",
    }
}

table! {
    /// What must hold after the repair; exactly one of `ohms`, `volts`, `amps`, `run`, `look`.
    Proof {
        /// Its id.
        id: At<Id>,
        /// What to do.
        say: Text,
        /// A resistance with the machine isolated.
        ohms: Option<Strict<OhmsProof>>,
        /// A voltage in a state.
        volts: Option<Strict<VoltsProof>>,
        /// A current in a state, against the prediction.
        amps: Option<Strict<AmpsProof>>,
        /// A run in a state, everything as a sound machine shows it.
        run: Option<Strict<RunProof>>,
        /// Something to look at.
        look: Option<At<bool>>,
        /// Where the limit comes from.
        source: Option<Text>,
        /// Hours after the visit when it can be decided; 0 if left out.
        deferred_hours: Option<At<Num<AtLeast0>>>,
        /// Minutes it takes; 1 if left out.
        minutes: Option<At<Num<AtLeast0>>>,
    }
}

table! {
    /// A resistance within limits.
    OhmsProof {
        /// From.
        from: Text,
        /// To.
        to: Text,
        /// Ohms at least.
        at_least: Option<Strict<At<Num<AtLeast0>>>>,
        /// Ohms at most.
        at_most: Option<Strict<At<Num<AtLeast0>>>>,
        /// Only an insulation tester decides it; false if left out.
        insulation_test: Option<At<bool>>,
    }
}

table! {
    /// A voltage within limits.
    VoltsProof {
        /// From.
        from: Text,
        /// To.
        to: Text,
        /// State.
        state: Text,
        /// Volts at least.
        at_least: Option<Strict<At<Num<AtLeast0>>>>,
        /// Volts at most.
        at_most: Option<Strict<At<Num<AtLeast0>>>>,
    }
}

table! {
    /// A clamp around one conductor.
    AmpsProof {
        /// The conductor: a lead's id or a terminal of the plug.
        branch: Text,
        /// State.
        state: Text,
    }
}

table! {
    /// A run.
    RunProof {
        /// State.
        state: Text,
    }
}
