//! The description as the file writes it: typed, spanned, names not yet looked up. The JSON Schema is generated from
//! these structs and the reader reads by them, so the two cannot part. Knows no wiring.

mod access;
mod bodies;
mod part;
mod usage;

pub(crate) use access::{Cover, Fastener, Place, Zone};
pub(crate) use bodies::{
    Body, Capacitor, Connector, Contact, Control, ControlSupply, Driven, Heater, Lamp, Motor, MovedContact, Ohmic,
    Output, PartWord, Relay, RunWinding, Sense, Sensor, StartWinding, Thermostat, Timer, When,
};
pub(crate) use part::{Cause, Common, EffectWords, FaultWords, Lead, MendWord, Part, Spare};
pub(crate) use usage::{Observe, ObserveWord, Proof, State};

use crate::reader::{Above0, At, AtLeast0, Id, Map, Num, Reader, Table, Text, Whole, read_table};

/// Defines a raw table: the struct, its schema, its keys and how it is read, from one list of fields.
macro_rules! table {
    ($(#[$meta:meta])* $name:ident { $($(#[$doc:meta])* $field:ident: $kind:ty,)* }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, schemars::JsonSchema)]
        #[schemars(deny_unknown_fields)]
        pub(crate) struct $name {
            $($(#[$doc])* pub(crate) $field: $kind,)*
        }
        impl crate::reader::FromTable for $name {
            fn keys() -> Vec<&'static str> {
                vec![$(crate::reader::plain(stringify!($field))),*]
            }
            fn from_table(
                reader: &mut crate::reader::Reader<'_>,
                table: &crate::reader::Table<'_, '_>,
            ) -> Option<Self> {
                $(let $field = table.field::<$kind>(reader, stringify!($field));)*
                Some(Self { $($field: $field?,)* })
            }
        }
        impl crate::reader::Field for $name {
            fn read(
                reader: &mut crate::reader::Reader<'_>,
                key: &str,
                value: &crate::reader::Value<'_>,
            ) -> Option<Self> {
                let table = crate::reader::Table::of(reader, key, value)?;
                crate::reader::read_table(reader, &table)
            }
        }
    };
}
pub(crate) use table;

/// Defines a list of words that a key takes, each with what it stands for.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($variant:ident = $word:literal,)* }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(crate) enum $name { $($variant,)* }
        impl crate::reader::Leaf for $name {
            fn leaf(
                reader: &mut crate::reader::Reader<'_>,
                key: &str,
                value: &crate::reader::Value<'_>,
            ) -> Option<Self> {
                crate::reader::read_word(reader, key, value, Self::WORDS)
            }
        }
        impl $name {
            pub(crate) const WORDS: &'static [(&'static str, Self)] = &[$(($word, Self::$variant),)*];
        }
        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "string", "enum": [$($word),*] })
            }
        }
    };
}
pub(crate) use words;

table! {
    /// The whole description of one machine.
    File {
        /// Version of the format: 1.
        callwright: At<Whole>,
        /// What it is.
        machine: Head,
        /// What the rating plate says.
        plate: Plate,
        /// The installation in front of it.
        supply: Supply,
        /// Temperature zones.
        zone: Option<Vec<Zone>>,
        /// Where things are.
        place: Vec<Place>,
        /// Steps of getting in.
        cover: Option<Vec<Cover>>,
        /// Parts.
        part: Vec<Part>,
        /// Leads.
        lead: Vec<Lead>,
        /// Operating states; the first is the rest state.
        state: Vec<State>,
        /// What a person can notice.
        observe: Option<Vec<Observe>>,
        /// What must hold before handing back.
        proof: Option<Vec<Proof>>,
    }
}

table! {
    /// What the machine is.
    Head {
        /// Short id, also the file's name.
        id: At<Id>,
        /// The family in the trade's words.
        kind: Text,
        /// One line for a person.
        title: Text,
        /// Anything worth saying about it.
        note: Option<Text>,
        /// ISO 4217 code of the prices; USD if left out.
        currency: Option<Text>,
    }
}

table! {
    /// What the rating plate says.
    Plate {
        /// Nominal volts between the legs.
        volts: At<Num<Above0>>,
        /// Rated watts.
        watts: At<Num<Above0>>,
        /// Hertz; 60 if left out.
        hertz: Option<At<Num<Above0>>>,
    }
}

table! {
    /// The installation in front of the machine.
    Supply {
        /// How the legs stand to each other.
        kind: At<SupplyWord>,
        /// Pattern of the receptacle; left out for fixed wiring.
        receptacle: Option<Text>,
        /// Conductors of the cord.
        cord: At<CordWord>,
        /// Breaker rating, amperes.
        breaker_amps: At<Num<Above0>>,
        /// Ohms of each leg and of the neutral up to the panel; 0.03 if left out.
        source_ohms: Option<At<Num<Above0>>>,
        /// Ohms of each conductor from the panel to the receptacle; 0.06 if left out.
        branch_ohms: Option<At<Num<Above0>>>,
        /// Other loads of the house in watts, one number for each leg; 1000 each if left out.
        house_load_watts: Option<Vec<At<Num<AtLeast0>>>>,
        /// Place of the slots.
        receptacle_place: Text,
        /// Place of the machine's terminal block.
        block_place: Text,
        /// Place of the breaker.
        panel_place: Text,
        /// Changes of the usual faults, by part and fault.
        fault: Option<Map<Map<FaultWords>>>,
    }
}

words! {
    /// How the legs stand to each other.
    SupplyWord {
        SplitPhase = "split-phase",
        TwoOfThreePhases = "two-of-three-phases",
        SinglePhase = "single-phase",
    }
}

words! {
    /// Conductors of the cord.
    CordWord {
        FourWire = "four-wire",
        ThreeWire = "three-wire",
        Grounded = "grounded",
    }
}

/// Reads the whole text.
pub(crate) fn read_file(reader: &mut Reader<'_>) -> Option<File> {
    let table = reader.parse();
    read_table(reader, &Table::root(&table))
}
