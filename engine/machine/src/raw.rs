//! The description as the file writes it: typed, spanned, names not yet looked up. The JSON Schema is generated from
//! these structs and the reader reads by them, so the two cannot part. Knows no wiring.

mod access;
mod bodies;
mod leak;
mod part;
mod usage;
mod variant;

pub(crate) use access::{Cover, Fastener, Heat, Place, Zone};
pub(crate) use bodies::{
    AlloyWord, Body, Capacitor, CodeWords, Coil, Connector, Contact, Control, ControlSupply, Driven, Heater, Lamp,
    Motor, MovedContact, Ohmic, Output, PartWord, Relay, RunWinding, Sense, Sensor, StartWinding, Starter, Thermostat,
    Timer, Valve, When, Winding, WorkWord,
};
pub(crate) use leak::{BranchLeak, Leak, Residual};
pub(crate) use part::{
    Cause, Common, EffectWords, FaultWords, IntermittentWords, Lead, MendWord, Part, Spare, StirWord,
};
pub(crate) use usage::{Observe, ObserveWord, Proof, State};
pub(crate) use variant::{Variant, VariantOption};

use crate::based_on::Sources;
use crate::reader::{
    Above0, At, AtLeast0, Field, FromTable, Id, Map, Num, Reader, Table, Text, Value, Whole, read_table,
};
use schemars::{JsonSchema, Schema, SchemaGenerator};
use std::borrow::Cow;
use std::ops::Deref;

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
                crate::reader::read_table(reader, table)
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
        /// The description that this one builds on, if any.
        based_on: Option<BasedOn>,
        /// What it is.
        machine: Must<Head>,
        /// What the rating plate says.
        plate: Must<Plate>,
        /// The installation in front of it.
        supply: Must<Supply>,
        /// Temperature zones.
        zone: Option<Vec<Zone>>,
        /// Where things are.
        place: Must<Vec<Place>>,
        /// Steps of getting in.
        cover: Option<Vec<Cover>>,
        /// Parts.
        part: Must<Vec<Part>>,
        /// Leads.
        lead: Must<Vec<Lead>>,
        /// Operating states; the first is the rest state.
        state: Must<Vec<State>>,
        /// What a person can notice.
        observe: Option<Vec<Observe>>,
        /// What must hold before handing back.
        proof: Option<Vec<Proof>>,
        /// In what units commonly differ.
        variant: Option<Vec<Variant>>,
    }
}

table! {
    /// The description that this one builds on: what is written here is laid over it.
    BasedOn {
        /// Id of the description.
        machine: At<Id>,
        /// What of it this machine does not have: a section and an id (`lead.W4`), or a key (`supply.receptacle`).
        without: Option<Vec<Text>>,
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
        /// A residual-current device in the panel; none if left out.
        residual: Option<Residual>,
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

/// A section that must be given; if it cannot be read, a sample stands in for it so that the rest is still looked at.
#[derive(Clone, Debug)]
pub(crate) struct Must<T>(T);

/// What can stand in for a section once its absence is complained about.
pub(crate) trait Sample: Sized {
    fn sample() -> Option<Self>;

    /// Says how the section is added.
    fn mend(key: &str) -> String {
        format!("add the section `[{key}]`")
    }
}

impl<T> Deref for Must<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T: JsonSchema> JsonSchema for Must<T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<T>()
    }
}

impl<T: Field + Sample> Field for Must<T> {
    fn mend(key: &str) -> String {
        <T as Sample>::mend(key)
    }
    fn stand_in() -> Option<Self> {
        T::sample().map(Self)
    }
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        T::read(reader, key, value).map(Self)
    }
}

impl<T> Sample for Vec<T> {
    fn mend(key: &str) -> String {
        format!("add a section `[[{key}]]`")
    }
    fn sample() -> Option<Self> {
        Some(Self::new())
    }
}

fn sample_of<T: FromTable>() -> Option<T> {
    let mut reader = Reader::new(SAMPLE);
    let table = reader.parse(SAMPLE);
    T::from_table(&mut reader, &Table::root(&table))
}

impl Sample for Head {
    fn sample() -> Option<Self> {
        sample_of()
    }
}

impl Sample for Plate {
    fn sample() -> Option<Self> {
        sample_of()
    }
}

impl Sample for Supply {
    fn sample() -> Option<Self> {
        sample_of()
    }
}

/// Values for every section that [`Must`] guards; its place is [`crate::reader::STAND_IN`], never complained about.
const SAMPLE: &str = r#"
id = "sample"
title = "sample"
kind = "split-phase"
volts = 240
watts = 1000
receptacle = "sample"
cord = "four-wire"
breaker_amps = 30
receptacle_place = "(stand-in)"
block_place = "(stand-in)"
panel_place = "(stand-in)"
"#;

/// Reads the whole text, laid over what it builds on.
pub(crate) fn read_file(reader: &mut Reader<'_>, sources: &Sources) -> Option<File> {
    let spaced = sources.spaced();
    let table = sources.table(reader, &spaced)?;
    read_table(reader, Table::root(&table))
}

#[cfg(test)]
mod tests {
    use super::bodies::{Burner, Feel};
    use super::{
        BasedOn, Body, BranchLeak, Cause, CodeWords, Common, Connector, Contact, Control, ControlSupply, Cover,
        EffectWords, Fastener, FaultWords, File, Head, IntermittentWords, Lead, Leak, MovedContact, Observe, Output,
        Part, PartWord, Place, Plate, Proof, Relay, Residual, RunWinding, Sense, Spare, StartWinding, Starter, State,
        Supply, Timer, Valve, Variant, VariantOption, Winding, Zone,
    };
    use crate::reader::{Field, FromTable, Reader, Table};
    use schemars::{JsonSchema, SchemaGenerator};
    use serde_json::Value;

    fn keys_of(schema: &Value) -> Vec<String> {
        let mut keys: Vec<String> =
            schema["properties"].as_object().map(|all| all.keys().cloned().collect()).unwrap_or_default();
        keys.sort();
        keys
    }

    fn required_of(schema: &Value) -> Vec<String> {
        let list = schema["required"].as_array().cloned().unwrap_or_default();
        let mut keys: Vec<String> = list.iter().filter_map(|key| key.as_str().map(str::to_owned)).collect();
        keys.sort();
        keys
    }

    /// Reads an empty table: every key that must be given is complained about.
    fn missed<T: FromTable>() -> Vec<String> {
        let mut reader = Reader::new("");
        let table = reader.parse("");
        let _ = T::from_table(&mut reader, &Table::root(&table));
        let mut keys: Vec<String> =
            reader.finish().iter().filter_map(|d| d.message.split('`').nth(1).map(str::to_owned)).collect();
        keys.sort();
        keys
    }

    fn same<T: FromTable + JsonSchema>() {
        let schema = T::json_schema(&mut SchemaGenerator::default()).to_value();
        let mut keys: Vec<String> = T::keys().into_iter().map(str::to_owned).collect();
        keys.sort();
        assert_eq!(keys_of(&schema), keys, "keys of {}", T::schema_name());
        assert_eq!(required_of(&schema), missed::<T>(), "required keys of {}", T::schema_name());
        assert_eq!(schema["additionalProperties"], Value::Bool(false), "{}", T::schema_name());
    }

    #[test]
    fn schema_and_reader_know_the_same_keys_and_require_the_same_ones() {
        same::<File>();
        same::<BasedOn>();
        same::<Head>();
        same::<Plate>();
        same::<Supply>();
        same::<Residual>();
        same::<BranchLeak>();
        same::<Leak>();
        same::<Zone>();
        same::<Place>();
        same::<Cover>();
        same::<Fastener>();
        same::<Common>();
        same::<FaultWords>();
        same::<IntermittentWords>();
        same::<Cause>();
        same::<EffectWords>();
        same::<Spare>();
        same::<Lead>();
        same::<State>();
        same::<Observe>();
        same::<Proof>();
        same::<Variant>();
        same::<VariantOption>();
        same::<Timer>();
        same::<Contact>();
        same::<MovedContact>();
        same::<Relay>();
        same::<Control>();
        same::<ControlSupply>();
        same::<Sense>();
        same::<Output>();
        same::<Feel>();
        same::<CodeWords>();
        same::<Winding>();
        same::<Burner>();
        same::<Starter>();
        same::<Valve>();
        same::<RunWinding>();
        same::<StartWinding>();
        same::<Connector>();
    }

    #[test]
    fn schema_of_a_part_has_one_alternative_for_each_kind_with_its_keys() {
        let schema = Part::json_schema(&mut SchemaGenerator::default()).to_value();
        let kinds = schema["oneOf"].as_array().unwrap();
        assert_eq!(kinds.len(), PartWord::WORDS.len());
        for (one, (word, kind)) in kinds.iter().zip(PartWord::WORDS) {
            assert_eq!(one["properties"]["kind"]["const"], *word);
            let mut keys: Vec<String> =
                Common::keys().into_iter().chain(Body::keys(*kind)).map(str::to_owned).collect();
            keys.sort();
            assert_eq!(keys_of(one), keys, "keys of {word}");
        }
    }

    #[test]
    fn a_part_with_only_its_kind_lacks_what_the_schema_requires() {
        let schema = Part::json_schema(&mut SchemaGenerator::default()).to_value();
        for (one, (word, _)) in schema["oneOf"].as_array().unwrap().iter().zip(PartWord::WORDS) {
            let text = format!("part = {{ kind = \"{word}\" }}");
            let mut reader = Reader::new(&text);
            let table = reader.parse(&text);
            let _ = Part::read(&mut reader, "part", table.get_ref().get("part").unwrap());
            let mut missed: Vec<String> =
                reader.finish().iter().filter_map(|d| d.message.split('`').nth(1).map(str::to_owned)).collect();
            missed.push("kind".to_owned());
            missed.sort();
            assert_eq!(required_of(one), missed, "{word}");
        }
    }
}
