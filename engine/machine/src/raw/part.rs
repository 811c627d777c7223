//! Parts and leads as the file writes them: what all kinds share, faults, spares. What each kind adds is in `bodies`.

use super::{Body, Leak, PartWord, table, words};
use crate::reader::{
    At, AtLeast0, Field, FromTable, Id, Label, Map, Money, Num, Reader, Share, Span, Table, Text, Value, Wear, Whole,
};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;

/// One part: what all kinds share, and what its kind adds.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    pub(crate) common: Common,
    pub(crate) body: Body,
    /// Where the part is described.
    pub(crate) span: Span,
}

table! {
    /// Keys of every part.
    Common {
        /// Its id.
        id: At<Id>,
        /// Its kind.
        kind: At<PartWord>,
        /// What a person calls it; the kind's word if left out.
        name: Option<Text>,
        /// Where it sits.
        place: Text,
        /// The machine's own labels for the kind's terminals, in the kind's order.
        terminals: Option<Vec<At<Label>>>,
        /// Anything worth saying about it.
        note: Option<Text>,
        /// Changes of the kind's usual faults, and faults of its own.
        fault: Option<Map<FaultWords>>,
        /// What it leaks to the frame when sound.
        leaks: Option<Vec<Leak>>,
        /// What curing it takes.
        spare: Option<Spare>,
        /// Parts changed in the same go.
        replace_together: Option<Vec<Text>>,
    }
}

table! {
    /// What one fault is, as far as it differs from the kind's usual one.
    FaultWords {
        /// Prior weight; 0 takes the fault away.
        weight: Option<At<Num<AtLeast0>>>,
        /// Weibull shape of its life: above 1 it comes with age, below 1 early, 1 at any age alike.
        wear: Option<At<Num<Wear>>>,
        /// In words, after the part's name.
        say: Option<Text>,
        /// Chance that a look at the exposed part shows it.
        visible: Option<At<Num<Share>>>,
        /// Can hurt someone if handed back.
        dangerous: Option<At<bool>>,
        /// Faults that bring it about.
        caused_by: Option<Vec<Cause>>,
        /// What changes in the wiring; needed for a fault that the kind does not have.
        effects: Option<Vec<EffectWords>>,
        /// How it is cured, if not as the part is.
        mend: Option<At<MendWord>>,
        /// How it comes and goes in some of its cases.
        intermittent: Option<IntermittentWords>,
    }
}

table! {
    /// How a fault comes and goes; what is left out is usual for the part.
    IntermittentWords {
        /// Share of its cases in which it does; 0 for never.
        share: Option<At<Num<Share>>>,
        /// Share of the time that it then shows; 0.5 if left out.
        shows: Option<At<Num<Share>>>,
        /// Chance that it shows once it is provoked; 0.8 if left out.
        provoked: Option<At<Num<Share>>>,
        /// What provokes it.
        provoked_by: Option<Vec<At<StirWord>>>,
    }
}

words! {
    /// What provokes a fault that comes and goes.
    StirWord {
        Moved = "moved",
        Warmed = "warmed",
    }
}

table! {
    /// A fault that brings another about.
    Cause {
        /// `PART:MODE`.
        fault: Text,
        /// Share of the cases that it explains.
        share: At<Num<Share>>,
    }
}

table! {
    /// One change of the wiring; exactly one of `open`, `ohms`, `scale`, `bridge`, `stops`, `weakens`, `stalls`.
    EffectWords {
        /// The part's way `A-B` conducts no more.
        open: Option<Text>,
        /// The part's way `A-B` has `value` ohms.
        ohms: Option<Text>,
        /// The part's way `A-B` is multiplied by `value`.
        scale: Option<Text>,
        /// `value` ohms between the terminals `A-B`, `CH` for the frame.
        bridge: Option<Text>,
        /// Ohms, or the factor.
        value: Option<At<Num<AtLeast0>>>,
        /// The part no longer does its work.
        stops: Option<At<bool>>,
        /// The part does its work weakly.
        weakens: Option<At<bool>>,
        /// This motor is stalled.
        stalls: Option<Text>,
    }
}

table! {
    /// What curing a part takes.
    Spare {
        /// Price of what is fitted.
        price: Option<At<Money>>,
        /// Minutes once the part is exposed.
        minutes: Option<At<Num<AtLeast0>>>,
        /// On the van as a rule.
        stocked: Option<At<bool>>,
        /// How it is cured; `replace` if left out.
        mend: Option<At<MendWord>>,
    }
}

words! {
    /// How a fault is cured.
    MendWord {
        Replace = "replace",
        Mend = "mend",
        Clean = "clean",
        Refer = "refer",
    }
}

table! {
    /// A wire with its two ends.
    Lead {
        /// As the wiring sheet names it.
        id: At<Label>,
        /// One end, `PART.TERMINAL`.
        from: Text,
        /// The other end.
        to: Text,
        /// Colour of the jacket.
        color: Option<Text>,
        /// Gauge, American wire gauge; 16 if left out.
        awg: Option<At<Whole>>,
        /// Length; 0.6 if left out.
        metres: Option<At<Num<AtLeast0>>>,
        /// Where it is mended; the place of `from` if left out.
        place: Option<Text>,
        /// Multiplies the weights of its faults; 1 if left out.
        weight: Option<At<Num<AtLeast0>>>,
        /// Changes of its faults.
        fault: Option<Map<FaultWords>>,
    }
}

impl Field for Part {
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let mut table = Table::of(reader, key, value)?;
        let kind = table.quiet_word("kind", PartWord::WORDS);
        let own = kind.map(Body::keys).unwrap_or_default();
        table.expect(own.into_iter().chain(Common::keys()).collect());
        let common = Common::from_table(reader, &table);
        let body = kind.and_then(|kind| Body::from_table(reader, &table, kind));
        if kind.is_some() {
            table.refuse_others(reader);
        }
        let (Some(common), Some(body)) = (common, body) else {
            table.note_broken(reader);
            return None;
        };
        Some(Self { common, body, span: table.span().clone() })
    }
}

impl JsonSchema for Part {
    fn schema_name() -> Cow<'static, str> {
        "Part".into()
    }

    /// One alternative for each kind: the shared keys, the kind's own, and the kind's word.
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let common = Common::json_schema(generator);
        let kinds: Vec<Schema> = PartWord::WORDS
            .iter()
            .map(|(word, kind)| one_kind(word, common.clone(), &Body::json_schema(generator, *kind)))
            .collect();
        json_schema!({ "oneOf": kinds })
    }
}

fn one_kind(word: &str, mut shared: Schema, own: &Schema) -> Schema {
    let object = shared.ensure_object();
    for key in ["properties", "required"] {
        match (object.get_mut(key), own.get(key)) {
            (Some(serde_json::Value::Object(all)), Some(serde_json::Value::Object(more))) => {
                all.extend(more.clone());
            }
            (Some(serde_json::Value::Array(all)), Some(serde_json::Value::Array(more))) => {
                all.extend(more.iter().cloned());
            }
            _ => {}
        }
    }
    if let Some(serde_json::Value::Object(all)) = object.get_mut("properties") {
        all.insert("kind".into(), serde_json::json!({ "const": word }));
    }
    object.insert("title".into(), word.into());
    shared
}
