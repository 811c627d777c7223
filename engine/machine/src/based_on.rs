//! Descriptions that build on others: the texts one after the other in one line of offsets, and their tables laid over
//! each other. Knows no machines.

use crate::diagnostic::{BASE, UNKNOWN_NAME};
use crate::raw::BasedOn;
use crate::reader::{Field, Reader, Span};
use serde_json::{Map, Value, json};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most descriptions built on each other.
const DEEPEST: usize = 4;
/// Section that names the description another builds on.
const SECTION: &str = "based_on";

/// Gives the text of a description by its id, where it is at hand.
pub type BaseOf<'a> = &'a dyn Fn(&str) -> Option<String>;

/// One text with the offset at which it begins.
#[derive(Debug)]
pub(crate) struct Source {
    /// Id by which it was named; none for the text that was handed in.
    pub(crate) id: Option<String>,
    pub(crate) start: usize,
    text: String,
}

/// A text and all that it builds on, the nearest first.
#[derive(Debug)]
pub(crate) struct Sources {
    pub(crate) all: Vec<Source>,
    /// Where a base cannot be had, what is wrong and the mend.
    missing: Option<(Span, String, String)>,
}

impl Sources {
    /// Gathers what a text builds on, what that builds on, and so on.
    pub(crate) fn of(text: &str, base_of: BaseOf<'_>) -> Self {
        let mut sources = Self { all: Vec::new(), missing: None };
        let mut next = Some((None, text.to_owned()));
        while let Some((id, text)) = next.take() {
            let start = sources.all.last().map_or(0, |last| last.start + last.text.len() + 1);
            let named = base_named_in(&text).map(|(base, at)| (base, start + at.start..start + at.end));
            sources.all.push(Source { id, start, text });
            let Some((base, at)) = named else { break };
            if sources.all.len() > DEEPEST || sources.all.iter().any(|known| known.id.as_deref() == Some(&base)) {
                let message = format!("`{base}` is built on in a ring, or through more than {DEEPEST} descriptions");
                sources.missing = Some((at, message, "build on a description that stands by itself".to_owned()));
                break;
            }
            match base_of(&base).filter(|text| text.len() <= crate::MOST_BYTES) {
                Some(text) => next = Some((Some(base), text)),
                None => {
                    let message = format!("the description `{base}` that this one builds on is not at hand");
                    let mend = "name a shipped machine, or put its file beside this one";
                    sources.missing = Some((at, message, mend.to_owned()));
                }
            }
        }
        sources
    }

    /// Gives all texts in the one line of offsets.
    pub(crate) fn joined(&self) -> String {
        self.all.iter().fold(String::new(), |all, source| all + &source.text + "\n")
    }

    /// Gives each text with so much space before it that a parser finds everything at its own offset.
    pub(crate) fn spaced(&self) -> Vec<String> {
        self.all.iter().map(|source| " ".repeat(source.start) + &source.text).collect()
    }

    /// Parses all texts and lays each over what it builds on; complains and gives `None` where a base cannot be had.
    pub(crate) fn table<'s>(&self, reader: &mut Reader<'_>, spaced: &'s [String]) -> Option<Spanned<DeTable<'s>>> {
        let tables: Vec<Spanned<DeTable<'s>>> = spaced.iter().map(|text| reader.parse(text)).collect();
        if let Some((span, message, mend)) = &self.missing {
            reader.error(BASE, span, message, mend);
            return None;
        }
        tables.into_iter().rev().reduce(|base, own| lay_over(reader, base, own))
    }
}

/// Gives the id that a text says it builds on, with its place.
fn base_named_in(text: &str) -> Option<(String, Span)> {
    // Most texts build on nothing: those are not parsed twice.
    if !text.contains(SECTION) {
        return None;
    }
    let (table, _) = DeTable::parse_recoverable(text);
    let named = table.get_ref().get(SECTION)?.get_ref().as_table()?.get("machine")?;
    Some((named.get_ref().as_str()?.to_owned(), named.span()))
}

/// Gives the title that a description has in its own text, without reading all of it.
#[must_use]
pub fn title_in(text: &str) -> Option<String> {
    let section = text.get(text.find("[machine]")?..)?;
    let section = section.get(..section.find("\n[").unwrap_or(section.len()))?;
    let (table, _) = DeTable::parse_recoverable(section);
    let title = table.get_ref().get("machine")?.get_ref().as_table()?.get("title")?;
    title.get_ref().as_str().map(str::to_owned)
}

/// Lays a description over the one it builds on, without what it does without.
fn lay_over<'s>(
    reader: &mut Reader<'_>,
    mut base: Spanned<DeTable<'s>>,
    own: Spanned<DeTable<'s>>,
) -> Spanned<DeTable<'s>> {
    base.get_mut().remove(SECTION);
    let section = own.get_ref().get(SECTION).and_then(|section| BasedOn::read(reader, SECTION, section));
    for left_out in section.and_then(|section| section.without).into_iter().flatten() {
        if !remove(base.get_mut(), &left_out) {
            let message = format!("the description that this one builds on has no `{}`", left_out.value);
            let mend = "write a section and an id, such as `lead.W4`, or a key of it, such as `supply.receptacle`";
            reader.error(UNKNOWN_NAME, &left_out.span, message, mend);
        }
    }
    let span = own.span();
    Spanned::new(span, merged(base.into_inner(), own.into_inner()))
}

/// Takes what a path names out of a table: keys of tables, ids in lists of tables. Says whether it was there.
fn remove(table: &mut DeTable<'_>, path: &str) -> bool {
    let Some((key, rest)) = path.split_once('.') else { return table.remove(path).is_some() };
    match table.get_mut(key).map(Spanned::get_mut) {
        Some(DeValue::Table(inner)) => remove(inner, rest),
        Some(DeValue::Array(list)) => {
            let (id, within) = rest.split_once('.').map_or((rest, None), |(id, within)| (id, Some(within)));
            let Some(one) = list.iter_mut().find(|one| id_of(one) == Some(id)) else { return false };
            match (within, one.get_mut()) {
                (Some(within), DeValue::Table(inner)) => remove(inner, within),
                (Some(_), _) => false,
                (None, _) => {
                    let all = std::mem::replace(list, std::iter::empty().collect());
                    *list = all.into_iter().filter(|one| id_of(one) != Some(id)).collect();
                    true
                }
            }
        }
        _ => false,
    }
}

pub(crate) fn id_of<'v>(value: &'v Spanned<DeValue<'_>>) -> Option<&'v str> {
    value.get_ref().as_table()?.get("id")?.get_ref().as_str()
}

/// Tables are merged key by key; what both have is the own one's.
fn merged<'s>(mut base: DeTable<'s>, own: DeTable<'s>) -> DeTable<'s> {
    for (key, value) in own {
        let value = match base.remove(key.get_ref().as_ref()) {
            Some(below) => over(below, value),
            None => value,
        };
        base.insert(key, value);
    }
    base
}

/// Lists of things with ids are merged thing by thing, new ones last; every other value is the own one's.
fn over<'s>(base: Spanned<DeValue<'s>>, own: Spanned<DeValue<'s>>) -> Spanned<DeValue<'s>> {
    let span = own.span();
    let value = match (base.into_inner(), own.into_inner()) {
        (DeValue::Table(base), DeValue::Table(own)) => DeValue::Table(merged(base, own)),
        (DeValue::Array(base), DeValue::Array(own)) if own.iter().all(|one| id_of(one).is_some()) => {
            let mut own: Vec<Option<Spanned<DeValue<'s>>>> = own.into_iter().map(Some).collect();
            let mut all: Vec<Spanned<DeValue<'s>>> = Vec::new();
            for below in base {
                let mine = own.iter_mut().find(|one| one.as_ref().is_some_and(|one| id_of(one) == id_of(&below)));
                all.push(match mine.and_then(Option::take) {
                    Some(mine) => over(below, mine),
                    None => below,
                });
            }
            all.extend(own.into_iter().flatten());
            DeValue::Array(all.into_iter().collect())
        }
        (_, own) => own,
    };
    Spanned::new(span, value)
}

/// Takes the schema of a whole description to that of one that is whole or laid over another.
pub(crate) fn or_laid_over(mut whole: Value) -> Value {
    let mut definitions = match whole.get_mut("$defs").map(Value::take) {
        Some(Value::Object(definitions)) => definitions,
        _ => Map::new(),
    };
    let mut laid: Map<String, Value> =
        definitions.iter().map(|(name, one)| (format!("{LAID}{name}"), partial(one))).collect();
    definitions.append(&mut laid);
    let version = whole.as_object_mut().and_then(|whole| whole.remove("$schema"));
    if let Some(whole) = whole.as_object_mut() {
        whole.remove("$defs");
    }
    let mut over = partial(&whole);
    over["required"] = json!(["callwright", SECTION, "machine"]);
    // A whole description names nothing that it builds on, so exactly one of the two fits.
    if let Some(keys) = whole.get_mut("properties").and_then(Value::as_object_mut) {
        keys.remove(SECTION);
    }
    json!({ "$schema": version, "oneOf": [whole, over], "$defs": definitions })
}

/// What stands before the name of a definition of which everything may be left out.
const LAID: &str = "Over";

/// Leaves out what a schema requires: what is laid over another says only what differs.
fn partial(schema: &Value) -> Value {
    match schema {
        Value::Object(keys) => {
            let kept = keys.iter().filter(|(key, _)| *key != "required");
            let key_of = |key: &String| if key == "oneOf" { "anyOf".to_owned() } else { key.clone() };
            kept.map(|(key, value)| match value.as_str().and_then(|value| value.strip_prefix("#/$defs/")) {
                Some(name) if key == "$ref" => (key.clone(), json!(format!("#/$defs/{LAID}{name}"))),
                _ => (key_of(key), partial(value)),
            })
            .collect::<Map<String, Value>>()
            .into()
        }
        Value::Array(all) => all.iter().map(partial).collect(),
        other => other.clone(),
    }
}
