//! The single values of a description: ids, numbers within limits, money. Their limits are the schema's limits too.

use super::{Field, Reader, Value};
use crate::diagnostic::{BAD_ID, BAD_MONEY, OUT_OF_RANGE, TOO_BIG};
use rust_decimal::Decimal;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;
use std::marker::PhantomData;
use std::ops::Deref;
use toml::de::DeValue;

/// Signs of an id or a terminal's name.
const LONGEST_NAME: usize = 64;
/// Signs of a sentence.
const LONGEST_TEXT: usize = 600;

/// A value that stands alone, without keys of its own.
pub(crate) trait Leaf: Sized {
    /// Reads it; complains and gives `None` if it cannot.
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self>;
}

impl Leaf for String {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let Some(text) = value.get_ref().as_str() else {
            reader.wrong_value(key, value, "text in quotes");
            return None;
        };
        if text.chars().count() > LONGEST_TEXT {
            let message = format!("`{key}` is longer than {LONGEST_TEXT} signs");
            reader.error(TOO_BIG, &value.span(), message, "shorten it");
            return None;
        }
        Some(text.to_owned())
    }
}

impl Leaf for bool {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let found = value.get_ref().as_bool();
        if found.is_none() {
            reader.wrong_value(key, value, "`true` or `false`");
        }
        found
    }
}

/// An id: lower-case letters, digits and hyphens.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Id(pub(crate) String);

/// A name as printed on the machine or its wiring sheet: letters, digits, `-`, `_`, `+`, `/`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Label(pub(crate) String);

impl Deref for Id {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl Deref for Label {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

fn is_id_sign(sign: char) -> bool {
    sign.is_ascii_lowercase() || sign.is_ascii_digit() || sign == '-'
}

fn is_label_sign(sign: char) -> bool {
    sign.is_ascii_alphanumeric() || matches!(sign, '-' | '_' | '+' | '/')
}

fn name_of(
    reader: &mut Reader<'_>,
    key: &str,
    value: &Value<'_>,
    allowed: fn(char) -> bool,
    signs: &str,
) -> Option<String> {
    let text = String::leaf(reader, key, value)?;
    if text.is_empty() || text.len() > LONGEST_NAME || !text.chars().all(allowed) {
        reader.note_broken(&text);
        let message = format!("`{text}` cannot be used for `{key}`");
        let hint = format!("use {signs}, 1 to {LONGEST_NAME} of them");
        reader.error(BAD_ID, &value.span(), message, &hint);
        return None;
    }
    Some(text)
}

impl Leaf for Id {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        name_of(reader, key, value, is_id_sign, "lower-case letters, digits and hyphens").map(Self)
    }
}

impl Leaf for Label {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        name_of(reader, key, value, is_label_sign, "letters, digits, `-`, `_`, `+` and `/`").map(Self)
    }
}

impl JsonSchema for Id {
    fn schema_name() -> Cow<'static, str> {
        "Id".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^[a-z0-9-]{1,64}$" })
    }
}

impl JsonSchema for Label {
    fn schema_name() -> Cow<'static, str> {
        "Label".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^[A-Za-z0-9_+/-]{1,64}$" })
    }
}

/// Limits of a number.
pub(crate) trait Limit: Copy {
    const NAME: &'static str;
    const WORDS: &'static str;
    /// Least value, itself not allowed if `ABOVE`.
    const LEAST: f64;
    const ABOVE: bool;
    const MOST: f64;
}

macro_rules! limit {
    ($(#[$doc:meta])* $name:ident, $least:expr, $above:expr, $most:expr, $words:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug)]
        pub(crate) struct $name;
        impl Limit for $name {
            const NAME: &'static str = stringify!($name);
            const WORDS: &'static str = $words;
            const LEAST: f64 = $least;
            const ABOVE: bool = $above;
            const MOST: f64 = $most;
        }
    };
}

limit!(/// Above zero.
    Above0, 0.0, true, 1e9, "above 0 and at most 1e9");
limit!(/// Zero or above.
    AtLeast0, 0.0, false, 1e9, "from 0 to 1e9");
limit!(/// From zero to one.
    Share, 0.0, false, 1.0, "from 0 to 1");
limit!(/// The shape of a life.
    Wear, 0.2, false, 5.0, "from 0.2 to 5");
limit!(/// Any number that is not absurd.
    Any, -1e9, false, 1e9, "from -1e9 to 1e9");
limit!(/// A temperature that a machine can have, °C.
    Celsius, -100.0, false, 2000.0, "from -100 to 2000 °C");

/// A number within limits.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Num<L> {
    value: f64,
    limit: PhantomData<L>,
}

impl<L> Deref for Num<L> {
    type Target = f64;
    fn deref(&self) -> &f64 {
        &self.value
    }
}

impl<L: Limit> Leaf for Num<L> {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let number = match value.get_ref() {
            DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().parse::<f64>().ok(),
            DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
            _ => None,
        };
        let Some(number) = number else {
            reader.wrong_value(key, value, "a number without quotes");
            return None;
        };
        let low = if L::ABOVE { number > L::LEAST } else { number >= L::LEAST };
        if !(low && number <= L::MOST) {
            let message = format!("`{key}` cannot be {number}");
            reader.error(OUT_OF_RANGE, &value.span(), message, &format!("write a number {}", L::WORDS));
            return None;
        }
        Some(Self { value: number, limit: PhantomData })
    }
}

impl<L: Limit> JsonSchema for Num<L> {
    fn schema_name() -> Cow<'static, str> {
        L::NAME.into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let least = if L::ABOVE { "exclusiveMinimum" } else { "minimum" };
        let mut schema = json_schema!({ "type": "number", "maximum": L::MOST });
        schema.insert(least.to_owned(), L::LEAST.into());
        schema
    }
}

/// A small count: fasteners, people, a wire gauge.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Whole(pub(crate) u16);

impl Leaf for Whole {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let Some(whole) = value.get_ref().as_integer() else {
            reader.wrong_value(key, value, "a whole number");
            return None;
        };
        let found = whole.as_str().parse::<u16>().ok().filter(|n| whole.radix() == 10 && *n <= 1000);
        if found.is_none() {
            let message = format!("`{key}` cannot be {whole}");
            reader.error(OUT_OF_RANGE, &value.span(), message, "write a whole number from 0 to 1000");
        }
        found.map(Self)
    }
}

impl JsonSchema for Whole {
    fn schema_name() -> Cow<'static, str> {
        "Whole".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "minimum": 0, "maximum": 1000 })
    }
}

/// An amount of money, written as text so that no cent is lost.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Money(pub(crate) Decimal);

impl Leaf for Money {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let Some(text) = value.get_ref().as_str() else {
            reader.wrong_value(key, value, "an amount in quotes, such as \"38.00\"");
            return None;
        };
        let (whole, cents) = text.split_once('.').unwrap_or((text, "0"));
        let digits =
            |part: &str, most: usize| (1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        let amount = text.parse::<Decimal>().ok().filter(|_| digits(whole, 7) && digits(cents, 3));
        if amount.is_none() {
            let message = format!("`{key}` is no amount of money: `{text}`");
            reader.error(BAD_MONEY, &value.span(), message, "write digits with a point, such as \"38.00\"");
        }
        amount.map(Self)
    }
}

impl JsonSchema for Money {
    fn schema_name() -> Cow<'static, str> {
        "Money".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^[0-9]{1,7}(\\.[0-9]{1,3})?$" })
    }
}

/// One name or a list of names.
#[derive(Clone, Debug)]
pub(crate) struct Names(pub(crate) Vec<super::Text>);

impl Field for Names {
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        if value.get_ref().is_array() {
            return Vec::read(reader, key, value).map(Self);
        }
        super::Text::read(reader, key, value).map(|one| Self(vec![one]))
    }
}

impl JsonSchema for Names {
    fn schema_name() -> Cow<'static, str> {
        "Names".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "anyOf": [{ "type": "string" }, { "type": "array", "items": { "type": "string" } }] })
    }
}
