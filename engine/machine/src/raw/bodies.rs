//! What each kind of part adds to the keys that all parts share.

use super::{table, words};
use crate::reader::{Above0, Any, At, AtLeast0, Celsius, FromTable, Label, Names, Num, Reader, Share, Table, Text};
use schemars::{JsonSchema, Schema, SchemaGenerator};

/// Ties each kind's word to its table, so that reading, keys and schema go over one list.
macro_rules! bodies {
    ($($variant:ident = $word:literal: $table:ty,)*) => {
        words! {
            /// The kinds of part that a file can describe.
            PartWord { $($variant = $word,)* }
        }

        /// What a part's kind adds.
        #[derive(Clone, Debug)]
        #[allow(clippy::large_enum_variant, reason = "a few hundred parts at most, each read once; on 32 bits it is small enough")]
        pub(crate) enum Body { $($variant($table),)* }

        impl Body {
            pub(crate) fn from_table(
                reader: &mut Reader<'_>,
                table: &Table<'_, '_>,
                kind: PartWord,
            ) -> Option<Self> {
                match kind {
                    $(PartWord::$variant => <$table>::from_table(reader, table).map(Self::$variant),)*
                }
            }
            pub(crate) fn keys(kind: PartWord) -> Vec<&'static str> {
                match kind { $(PartWord::$variant => <$table>::keys(),)* }
            }
            pub(crate) fn json_schema(generator: &mut SchemaGenerator, kind: PartWord) -> Schema {
                match kind { $(PartWord::$variant => <$table>::json_schema(generator),)* }
            }
        }
    };
}

bodies! {
    Heater = "heater": Heater,
    Fuse = "fuse": Ohmic,
    CutOff = "cut-off": Ohmic,
    Joint = "joint": Ohmic,
    Thermostat = "thermostat": Thermostat,
    Switch = "switch": Operated,
    DoorSwitch = "door-switch": Operated,
    Button = "button": Operated,
    Timer = "timer": Timer,
    Relay = "relay": Relay,
    Control = "control": Control,
    Sensor = "sensor": Sensor,
    Motor = "motor": Motor,
    Capacitor = "capacitor": Capacitor,
    Lamp = "lamp": Lamp,
    Connector = "connector": Connector,
    Belt = "belt": Driven,
    Drum = "drum": Driven,
    Blower = "blower": Driven,
    Vent = "vent": Driven,
    Starter = "starter": Starter,
    Valve = "valve": Valve,
    Tap = "tap": Driven,
    Pipe = "pipe": Driven,
    Pump = "pump": Driven,
    Burner = "burner": Burner,
    Winding = "winding": Winding,
    Assembly = "assembly": Driven,
}

table! {
    /// A heater.
    Heater {
        /// Rated watts.
        watts: At<Num<Above0>>,
        /// Rated volts.
        volts: At<Num<Above0>>,
        /// Relative half-width that 95 % keep; 0.07 if left out.
        tolerance: Option<At<Num<Share>>>,
        /// Cold over hot resistance; 0.94 if left out.
        cold_ratio: Option<At<Num<Above0>>>,
        /// What its wire is made of, in place of `cold_ratio`.
        alloy: Option<At<AlloyWord>>,
        /// Temperature of the wire at rated power, °C, for `alloy`; 700 if left out.
        wire_c: Option<At<Num<Celsius>>>,
        /// Where along the element it touches the frame when grounded, from terminal 1; 0.3 if left out.
        grounded_at: Option<At<Num<Share>>>,
    }
}

table! {
    /// A fuse, a one-shot cut-off, a joint.
    Ohmic {
        /// Ohms when sound.
        ohms: Option<At<Num<Above0>>>,
    }
}

table! {
    /// A thermostat.
    Thermostat {
        /// Zone it feels.
        zone: Text,
        /// Temperature of the change on rising, °C.
        trips_c: At<Num<Celsius>>,
        /// Temperature of the change back, °C; left out for one that a hand resets or that never comes back.
        resets_c: Option<At<Num<Celsius>>>,
        /// Closed when cold; true if left out.
        closed_cold: Option<At<bool>>,
        /// Ohms when closed; 0.02 if left out.
        ohms: Option<At<Num<Above0>>>,
    }
}

table! {
    /// A switch, a door switch, a button.
    Operated {
        /// Positions it can be set to; a door switch has `shut` and `open`, a button `out` and `in`.
        positions: Option<Vec<At<Label>>>,
        /// Its contacts.
        contacts: Vec<Contact>,
    }
}

table! {
    /// A timer.
    Timer {
        /// Positions it can be set to.
        positions: Vec<At<Label>>,
        /// Its contacts.
        contacts: Vec<Contact>,
        /// The motor that advances it.
        motor: Option<TimerMotor>,
    }
}

table! {
    /// A timer's motor.
    TimerMotor {
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// Rated watts.
        watts: At<Num<Above0>>,
        /// Rated volts.
        volts: At<Num<Above0>>,
    }
}

table! {
    /// A contact that a person moves.
    Contact {
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// Positions in which it is closed.
        closed_in: Vec<Text>,
        /// Ohms when closed; 0.02 if left out.
        ohms: Option<At<Num<Above0>>>,
    }
}

table! {
    /// A contact that a coil or a motor moves.
    MovedContact {
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// When it is closed.
        when: At<When>,
        /// Ohms when closed; 0.02 if left out.
        ohms: Option<At<Num<Above0>>>,
    }
}

words! {
    /// What a heater's wire is made of.
    AlloyWord {
        NickelChromium = "nickel-chromium",
        IronChromiumAluminium = "iron-chromium-aluminium",
    }
}

words! {
    /// When a moved contact is closed: `pulled` and `released` for a relay, `running` and `still` for a motor.
    When {
        Pulled = "pulled",
        Released = "released",
        Running = "running",
        Still = "still",
    }
}

table! {
    /// A relay.
    Relay {
        /// Its coil.
        coil: Coil,
        /// Its contacts.
        contacts: Vec<MovedContact>,
    }
}

table! {
    /// A relay's coil.
    Coil {
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// Copper resistance.
        ohms: At<Num<Above0>>,
        /// Reactance at supply frequency, ohms; 0 if left out.
        reactance: Option<At<Num<AtLeast0>>>,
        /// Volts to pull.
        pull_in_volts: At<Num<Above0>>,
        /// Volts to hold.
        drop_out_volts: At<Num<Above0>>,
    }
}

table! {
    /// An electronic control: a black box with needs and outputs.
    Control {
        /// What it lives on.
        supply: ControlSupply,
        /// Voltages it looks for.
        inputs: Option<Vec<Input>>,
        /// Sensors it reads.
        senses: Option<Vec<Sense>>,
        /// Work of other parts that it feels: a flame, turning, water that runs.
        feels: Option<Vec<Feel>>,
        /// Contacts it closes.
        outputs: Option<Vec<Output>>,
        /// What its display shows beside the codes of its senses, first rule that fits.
        codes: Option<Vec<CodeWords>>,
        /// Has a display; true if left out.
        display: Option<At<bool>>,
    }
}

table! {
    /// What a control lives on.
    ControlSupply {
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// Watts it draws at `volts`.
        watts: At<Num<Above0>>,
        /// Rated volts; 120 if left out, the plate's on a single-phase machine.
        volts: Option<At<Num<Above0>>>,
        /// Volts below which it is dead.
        at_least_volts: At<Num<Above0>>,
    }
}

table! {
    /// A voltage that a control looks for.
    Input {
        /// Its id.
        id: At<Label>,
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// Volts above which it is taken as present.
        at_least_volts: At<Num<Above0>>,
    }
}

table! {
    /// A sensor that a control reads.
    Sense {
        /// Its id.
        id: At<Label>,
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// Volts at the open terminals; 5 if left out.
        open_volts: Option<At<Num<Above0>>>,
        /// The control's reference resistor.
        reference_ohms: At<Num<Above0>>,
        /// Least resistance taken as sound.
        low_ohms: At<Num<AtLeast0>>,
        /// Most resistance taken as sound.
        high_ohms: At<Num<Above0>>,
        /// Code shown when it is out of range.
        code: Option<At<Label>>,
        /// Code shown when it is below its range; `code` if left out.
        code_low: Option<At<Label>>,
    }
}

table! {
    /// The work of another part that a control feels.
    Feel {
        /// Its id.
        id: At<Label>,
        /// The part.
        part: Text,
        /// How much of its work is enough; `little` if left out.
        at_least: Option<At<WorkWord>>,
        /// States in which it is asked for; in others it counts as felt. Every state if left out.
        asked_in: Option<Vec<Text>>,
    }
}

words! {
    /// How much of its work a part does.
    WorkWord {
        Little = "little",
        All = "all",
    }
}

table! {
    /// A code by rule.
    CodeWords {
        /// What is shown.
        code: At<Label>,
        /// States in which it may be shown; every state if left out.
        r#in: Option<Vec<Text>>,
        /// Inputs, senses and what is felt that hold.
        with: Option<Vec<Text>>,
        /// Inputs, senses and what is felt that do not hold; at least one here or in `with`.
        without: Option<Vec<Text>>,
    }
}

table! {
    /// A contact that a control closes.
    Output {
        /// Its id.
        id: At<Label>,
        /// One terminal.
        from: At<Label>,
        /// The other.
        to: At<Label>,
        /// States in which it is called for.
        requested_in: Vec<Text>,
        /// Inputs, senses and what is felt that must hold besides the control's own supply.
        needs: Option<Vec<Text>>,
        /// Ohms when closed; 0.02 if left out.
        ohms: Option<At<Num<Above0>>>,
    }
}

table! {
    /// A temperature sensor; one of `platinum` and `thermistor`.
    Sensor {
        /// Zone it feels.
        zone: Text,
        /// Platinum with so many ohms at 0 °C.
        platinum: Option<At<Num<Above0>>>,
        /// A thermistor.
        thermistor: Option<Thermistor>,
        /// Relative half-width that 95 % keep; 0.01 if left out.
        tolerance: Option<At<Num<Share>>>,
    }
}

table! {
    /// A thermistor's two numbers.
    Thermistor {
        /// Ohms at 25 °C.
        ohms_at_25c: At<Num<Above0>>,
        /// Beta, kelvin.
        beta: At<Num<Above0>>,
    }
}

table! {
    /// A motor.
    Motor {
        /// Main winding.
        run: RunWinding,
        /// Start winding.
        start: Option<StartWinding>,
        /// A centrifugal switch stands in series with `start`; false if left out.
        start_switch: Option<At<bool>>,
        /// Rated volts.
        volts: At<Num<Above0>>,
        /// Share of its standing torque that the load needs; 0.5 if left out.
        load_share: Option<At<Num<Share>>>,
        /// Volts above which it runs on; 0.6 of `volts` if left out.
        hold_volts: Option<At<Num<Above0>>>,
        /// Contacts of its centrifugal switch.
        contacts: Option<Vec<MovedContact>>,
    }
}

table! {
    /// A motor's main winding; `from` is the end towards the line.
    RunWinding {
        /// End towards the line.
        from: At<Label>,
        /// The other end.
        to: At<Label>,
        /// Copper resistance.
        ohms: At<Num<Above0>>,
        /// Reactance standing still, ohms.
        reactance: At<Num<Any>>,
        /// Resistance while it runs.
        running_ohms: At<Num<Above0>>,
        /// Reactance while it runs.
        running_reactance: At<Num<Any>>,
    }
}

table! {
    /// A motor's start winding.
    StartWinding {
        /// End towards the line.
        from: At<Label>,
        /// The other end.
        to: At<Label>,
        /// Copper resistance.
        ohms: At<Num<Above0>>,
        /// Reactance standing still, ohms.
        reactance: At<Num<Any>>,
        /// The start capacitor that leads put in series with it, microfarads; none if left out.
        capacitor_microfarads: Option<At<Num<Above0>>>,
    }
}

table! {
    /// A capacitor.
    Capacitor {
        /// Capacitance.
        microfarads: At<Num<Above0>>,
        /// Relative half-width that 95 % keep; 0.1 if left out.
        tolerance: Option<At<Num<Share>>>,
    }
}

table! {
    /// A lamp.
    Lamp {
        /// Rated watts.
        watts: At<Num<Above0>>,
        /// Rated volts.
        volts: At<Num<Above0>>,
        /// Cold over hot resistance; 0.1 if left out.
        cold_ratio: Option<At<Num<Above0>>>,
    }
}

table! {
    /// A connector: each pin joins its two halves.
    Connector {
        /// The pins.
        pins: Vec<At<Label>>,
    }
}

table! {
    /// A contact that starts a motor and lets go once it runs.
    Starter {
        /// The motor.
        motor: Text,
        /// Resistance closed; 0.02 if left out.
        ohms: Option<At<Num<Above0>>>,
    }
}

table! {
    /// What lets water or gas through while its coil is energised.
    Valve {
        /// Its coil.
        coil: Coil,
        /// What brings the water or gas.
        driven_by: Option<Names>,
    }
}

table! {
    /// A winding that does its work by itself: a transformer, a spark module, a tachometer.
    Winding {
        /// Copper resistance.
        ohms: At<Num<Above0>>,
        /// Reactance at supply frequency, ohms; 0 if left out.
        reactance: Option<At<Num<AtLeast0>>>,
        /// Resistance while it does its work; `ohms` if left out.
        running_ohms: Option<At<Num<Above0>>>,
        /// Reactance while it does its work; `reactance` if left out.
        running_reactance: Option<At<Num<AtLeast0>>>,
        /// Volts over it from which it does its work; left out: it needs none of its own.
        works_volts: Option<At<Num<Above0>>>,
        /// Relative half-width that 95 % keep; 0.1 if left out.
        tolerance: Option<At<Num<Share>>>,
        /// What drives it.
        driven_by: Option<Names>,
    }
}

table! {
    /// What burns gas.
    Burner {
        /// The valves.
        driven_by: Option<Names>,
        /// What lights it: a heater that gives enough of its watts, or any other part that does its work; left out: it
        /// needs none.
        lit_by: Option<Text>,
    }
}

table! {
    /// A part that is driven and does not conduct.
    Driven {
        /// What drives it.
        driven_by: Option<Names>,
    }
}
