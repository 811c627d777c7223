//! Walks the spanned tables of a TOML text into the raw layer and collects every mistake on the way; it never stops at
//! the first. Knows nothing of parts and circuits.

mod leaf;

pub(crate) use leaf::{Above0, Any, AtLeast0, Celsius, Id, Label, Leaf, Money, Names, Num, Share, Wear, Whole};

use crate::based_on::{Source, Sources};
use crate::diagnostic::{
    Diagnostic, MISSING_KEY, NOT_TOML, Severity, TOO_BIG, UNKNOWN_KEY, UNKNOWN_NAME, UNKNOWN_WORD, WRONG_VALUE,
};
use schemars::{JsonSchema, Schema, SchemaGenerator};
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::ops::{Deref, Range};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

pub(crate) type Span = Range<usize>;
pub(crate) type Value<'i> = Spanned<DeValue<'i>>;
/// Words as written, with their place.
pub(crate) type Text = At<String>;

/// Diagnostics after which the reader keeps quiet: a text that wrong is not a description.
const MOST_DIAGNOSTICS: usize = 200;
/// Name of a place that stands in for one that could not be read.
pub(crate) const STAND_IN: &str = "(stand-in)";
/// Unknown keys of one table that are looked at for a misspelt one.
const MOST_MISSPELT: usize = 50;
/// Bytes of a word for which a near one is looked up.
const LONGEST_GUESSED: usize = 256;
/// Characters of a message: a word of the file may be as long as the file.
const LONGEST_MESSAGE: usize = 800;
/// Entries of one list.
const MOST_ENTRIES: usize = 1000;

/// Collects what is found wrong in one text.
#[derive(Debug)]
pub(crate) struct Reader<'t> {
    text: &'t str,
    line_starts: Vec<usize>,
    /// Descriptions that the text builds on: where each begins, and its id.
    bases: Vec<(usize, String)>,
    diagnostics: Vec<Diagnostic>,
    /// Ids of things that were described but could not be read: naming them is no second mistake.
    broken: BTreeSet<String>,
}

impl<'t> Reader<'t> {
    pub(crate) fn new(text: &'t str) -> Self {
        let line_starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Self { text, line_starts, bases: Vec::new(), diagnostics: Vec::new(), broken: BTreeSet::new() }
    }

    /// Reads texts that build on each other.
    pub(crate) fn over(text: &'t str, sources: &Sources) -> Self {
        let named = |source: &Source| source.id.clone().map(|id| (source.start, id));
        Self { bases: sources.all.iter().filter_map(named).collect(), ..Self::new(text) }
    }

    /// Gives everything found, in the order of the text.
    pub(crate) fn finish(mut self) -> Vec<Diagnostic> {
        self.diagnostics.sort_by(|a, b| (a.span.start, a.code).cmp(&(b.span.start, b.code)));
        self.diagnostics.dedup();
        self.diagnostics
    }

    pub(crate) fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|d| d.severity == Severity::Error)
    }

    pub(crate) fn is_full(&self) -> bool {
        self.diagnostics.len() > MOST_DIAGNOSTICS
    }

    /// Gives the line of an offset, from 1, in the text that it stands in.
    pub(crate) fn line(&self, offset: usize) -> usize {
        let before = |offset: usize| self.line_starts.partition_point(|start| *start <= offset);
        self.base_at(offset).map_or_else(|| before(offset), |(start, _)| before(offset) - before(*start) + 1)
    }

    /// Gives the description that the text builds on in which an offset stands.
    fn base_at(&self, offset: usize) -> Option<&(usize, String)> {
        self.bases.iter().rev().find(|(start, _)| *start <= offset)
    }

    fn column(&self, offset: usize) -> usize {
        let line = self.line_starts.partition_point(|start| *start <= offset);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        self.text.get(start..offset).map_or(1, |before| before.chars().count() + 1)
    }

    fn push(&mut self, severity: Severity, code: &'static str, span: &Span, message: &str, hints: Vec<String>) {
        if self.is_full() {
            return;
        }
        let message: String = message.chars().take(LONGEST_MESSAGE).collect();
        let (line, column) = (self.line(span.start), self.column(span.start));
        let of: Option<Box<str>> = self.base_at(span.start).map(|(_, id)| id.as_str().into());
        let (last, at) = (of.clone(), span.clone());
        self.diagnostics.push(Diagnostic { code, severity, message, of, line, column, span: at, hints });
        if self.diagnostics.len() == MOST_DIAGNOSTICS {
            let message = format!("more than {MOST_DIAGNOSTICS} mistakes: the rest is not listed");
            let hints = vec!["mend these first and read again".into()];
            self.diagnostics.push(Diagnostic {
                code: TOO_BIG,
                severity: Severity::Error,
                message,
                of: last,
                line,
                column,
                span: span.clone(),
                hints,
            });
        }
    }

    pub(crate) fn error(&mut self, code: &'static str, span: &Span, message: impl Into<String>, hint: &str) {
        self.push(Severity::Error, code, span, &message.into(), vec![hint.into()]);
    }

    pub(crate) fn warn(&mut self, code: &'static str, span: &Span, message: impl Into<String>, hint: &str) {
        self.push(Severity::Warning, code, span, &message.into(), vec![hint.into()]);
    }

    /// Gives what stands for a thing that could not be read, if its sort has such.
    fn stand_in<T: Field>(&mut self) -> Option<T> {
        let found = T::stand_in();
        if found.is_some() {
            self.note_broken(STAND_IN);
        }
        found
    }

    /// Says whether anything was described that could not be read.
    pub(crate) fn has_broken(&self) -> bool {
        !self.broken.is_empty()
    }

    /// Notes that a thing of this id was described but could not be read.
    pub(crate) fn note_broken(&mut self, id: &str) {
        self.broken.insert(id.to_owned());
    }

    /// Says whether a thing of this id was described but could not be read, or not told from another.
    pub(crate) fn is_broken(&self, id: &str) -> bool {
        self.broken.contains(id)
    }

    /// Says that `name` is not known as a `what`, unless it names something already complained about.
    pub(crate) fn unknown_name<'n>(&mut self, what: &str, name: &Text, known: impl IntoIterator<Item = &'n str>) {
        let owner = name.split(['.', ':']).next().unwrap_or("");
        if self.is_full() || self.is_broken(name) || self.is_broken(owner) {
            return;
        }
        let known: Vec<&str> = known.into_iter().collect();
        let candidates = known.iter().copied().chain(self.broken.iter().map(String::as_str));
        let hint = match guess(name, candidates) {
            Some(guess) => guess,
            None if known.is_empty() => "nothing of that sort is described".into(),
            None if known.len() <= 12 => format!("known: {}", list_words(known)),
            None => "write one that the description has".into(),
        };
        self.error(UNKNOWN_NAME, &name.span, format!("there is no {what} `{}`", name.value), &hint);
    }

    fn wrong_value(&mut self, key: &str, value: &Value<'_>, wanted: &str) {
        let got = match value.get_ref() {
            DeValue::String(_) => "text in quotes",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "`true` or `false`",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        self.error(
            WRONG_VALUE,
            &value.span(),
            format!("`{key}` takes {wanted}, not {got}"),
            &format!("write {wanted}"),
        );
    }

    /// Parses a text; what is not TOML is complained about and left out.
    pub(crate) fn parse<'s>(&mut self, text: &'s str) -> Spanned<DeTable<'s>> {
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            let message = error.message().to_lowercase();
            self.error(NOT_TOML, &span, message, "mend the TOML here; what follows is read as well as it can be");
        }
        table
    }
}

/// Picks the known words nearest to what was written, if they are near enough to be meant.
fn near_words<'n>(word: &str, known: impl IntoIterator<Item = &'n str>) -> Vec<&'n str> {
    if word.len() > LONGEST_GUESSED {
        return Vec::new();
    }
    let lower = word.to_lowercase();
    let far = |near: &str| strsim::osa_distance(&lower, &near.to_lowercase());
    let most = |near: &str| near.chars().count().max(lower.chars().count()).div_ceil(3);
    let mut found: Vec<(usize, &str)> =
        known.into_iter().map(|near| (far(near), near)).filter(|(far, near)| *far <= most(near)).collect();
    found.sort_unstable();
    found.dedup();
    let least = found.first().map_or(0, |(far, _)| *far);
    found.into_iter().take_while(|(far, _)| *far == least).map(|(_, near)| near).collect()
}

/// Picks the known word nearest to what was written, if any is near enough to be meant.
pub(crate) fn nearest<'n>(word: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    near_words(word, known).first().copied()
}

/// Asks whether the nearest known words were meant; `None` if none is near.
pub(crate) fn guess<'n>(word: &str, known: impl IntoIterator<Item = &'n str>) -> Option<String> {
    match near_words(word, known).as_slice() {
        [] => None,
        [one] => Some(format!("did you mean `{one}`?")),
        [many @ .., last] => {
            let many = many.iter().take(3).copied();
            Some(format!("did you mean {} or `{last}`?", list_words(many)))
        }
    }
}

/// Writes words as a list in backticks.
pub(crate) fn list_words<'n>(words: impl IntoIterator<Item = &'n str>) -> String {
    let quoted: Vec<String> = words.into_iter().map(|word| format!("`{word}`")).collect();
    quoted.join(", ")
}

/// A value with its place in the text.
#[derive(Clone, Debug)]
pub(crate) struct At<T> {
    pub(crate) value: T,
    pub(crate) span: Span,
}

impl<T> At<T> {
    pub(crate) fn new(value: T, span: &Span) -> Self {
        Self { value, span: span.clone() }
    }
}

impl<T> Deref for At<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}

impl<T: JsonSchema> JsonSchema for At<T> {
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

/// Something that the value of a key can be read as.
pub(crate) trait Field: Sized {
    /// A wrong value of an optional key spoils the table, instead of counting as left out.
    const SPOILS: bool = false;

    /// What stands for a key that is left out; `None` if it must be given.
    fn absent() -> Option<Self> {
        None
    }

    /// Says how a missing key is added.
    fn mend(key: &str) -> String {
        format!("add `{key} = ...`")
    }

    /// What stands for a value that is missing or wrong once that is complained about, so that reading goes on.
    fn stand_in() -> Option<Self> {
        None
    }

    /// Reads the value of `key`; complains and gives `None` if it cannot.
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self>;
}

impl<T: Field> Field for Option<T> {
    fn absent() -> Option<Self> {
        Some(None)
    }
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let read = T::read(reader, key, value);
        (read.is_some() || !T::SPOILS).then_some(read)
    }
}

/// A value that, there and wrong, spoils its table even where it may be left out.
#[derive(Clone, Debug)]
pub(crate) struct Strict<T>(pub(crate) T);

impl<T: Field> Field for Strict<T> {
    const SPOILS: bool = true;
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        T::read(reader, key, value).map(Self)
    }
}

impl<T: JsonSchema> JsonSchema for Strict<T> {
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

impl<T: Leaf> Field for At<T> {
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        T::leaf(reader, key, value).map(|leaf| Self { value: leaf, span: value.span() })
    }
}

impl<T: Field> Field for Vec<T> {
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let Some(array) = value.get_ref().as_array() else {
            reader.wrong_value(key, value, "a list in square brackets");
            return None;
        };
        if array.len() > MOST_ENTRIES {
            let message = format!("`{key}` has {} entries, more than {MOST_ENTRIES}", array.len());
            reader.error(TOO_BIG, &value.span(), message, "shorten the list");
        }
        Some(array.iter().take(MOST_ENTRIES).filter_map(|item| T::read(reader, key, item)).collect())
    }
}

/// Keys chosen by the file, in its order, each with its value.
#[derive(Clone, Debug)]
pub(crate) struct Map<T>(pub(crate) Vec<(Text, T)>);

impl<T: Field> Field for Map<T> {
    fn read(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        let Some(table) = value.get_ref().as_table() else {
            reader.wrong_value(key, value, "a table, `{ name = ... }`");
            return None;
        };
        let mut entries: Vec<(Text, T)> = Vec::new();
        for (name, value) in table {
            let text = At::new(name.get_ref().clone().into_owned(), &name.span());
            if let Some(item) = T::read(reader, name.get_ref(), value) {
                entries.push((text, item));
            }
        }
        entries.sort_by_key(|(name, _)| name.span.start);
        Some(Self(entries))
    }
}

impl<T: JsonSchema> JsonSchema for Map<T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("Map_of_{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let item = generator.subschema_for::<T>();
        schemars::json_schema!({ "type": "object", "additionalProperties": item })
    }
}

/// One table of the text, with what it is called in messages.
#[derive(Debug)]
pub(crate) struct Table<'v, 'i> {
    table: &'v DeTable<'i>,
    span: Span,
    label: String,
    /// Keys that are read from it.
    known: Vec<&'static str>,
}

impl<'v, 'i> Table<'v, 'i> {
    /// Takes a value as a table; complains if it is none.
    pub(crate) fn of(reader: &mut Reader<'_>, key: &str, value: &'v Value<'i>) -> Option<Self> {
        let Some(table) = value.get_ref().as_table() else {
            reader.wrong_value(key, value, "a table, `{ ... }`");
            return None;
        };
        let label = match table.get("id").and_then(|id| id.get_ref().as_str()) {
            Some(id) => format!("{key} `{id}`"),
            None => format!("`{key}`"),
        };
        Some(Self { table, span: value.span(), label, known: Vec::new() })
    }

    /// Takes the whole text as a table.
    pub(crate) fn root(table: &'v Spanned<DeTable<'i>>) -> Self {
        Self { table: table.get_ref(), span: 0..0, label: "the description".into(), known: Vec::new() }
    }

    pub(crate) fn span(&self) -> &Span {
        &self.span
    }

    /// Says which keys are read from it, so that a misspelt one is told from a missing one.
    pub(crate) fn expect(&mut self, known: Vec<&'static str>) {
        self.known = known;
    }

    /// Reads one key.
    pub(crate) fn field<T: Field>(&self, reader: &mut Reader<'_>, key: &str) -> Option<T> {
        let key = plain(key);
        match self.table.get(key) {
            Some(value) => T::read(reader, key, value).or_else(|| reader.stand_in()),
            None => T::absent().or_else(|| {
                if !self.is_misspelt(key) {
                    let message = format!("`{key}` is missing in {}", self.label);
                    reader.error(MISSING_KEY, &self.span, message, &T::mend(key));
                }
                reader.stand_in()
            }),
        }
    }

    /// Says whether a key that nothing reads is likely meant to be this one.
    fn is_misspelt(&self, key: &str) -> bool {
        let keys = self.table.keys().map(|other| other.get_ref().as_ref());
        let unknown = keys.filter(|other| !self.known.contains(other)).take(MOST_MISSPELT);
        unknown.into_iter().any(|other: &str| nearest(other, self.known.iter().copied()) == Some(key))
    }

    /// Reads a word without complaint.
    pub(crate) fn quiet_word<W: Copy>(&self, key: &str, words: &[(&str, W)]) -> Option<W> {
        let text = self.table.get(key)?.get_ref().as_str()?;
        words.iter().find(|(word, _)| *word == text).map(|(_, word)| *word)
    }

    /// Complains about every key that nothing reads.
    pub(crate) fn refuse_others(&self, reader: &mut Reader<'_>) {
        let known = &self.known;
        for (key, _) in self.table {
            let word: &str = key.get_ref();
            if reader.is_full() || known.contains(&word) {
                continue;
            }
            let hint = guess(word, known.iter().copied())
                .unwrap_or_else(|| format!("known here: {}", list_words(known.iter().copied())));
            reader.error(UNKNOWN_KEY, &key.span(), format!("{} has no key `{word}`", self.label), &hint);
        }
    }

    /// Notes the table's id as that of a thing that could not be read.
    pub(crate) fn note_broken(&self, reader: &mut Reader<'_>) {
        if let Some(id) = self.table.get("id").and_then(|id| id.get_ref().as_str()) {
            reader.note_broken(id);
        }
    }
}

/// Gives a key's name as the file writes it: a Rust keyword loses its mark.
pub(crate) fn plain(key: &str) -> &str {
    key.strip_prefix("r#").unwrap_or(key)
}

/// A raw struct read from one table; the `table!` macro writes it.
pub(crate) trait FromTable: Sized {
    /// Every key that the struct reads.
    fn keys() -> Vec<&'static str>;
    /// Reads all keys, complaining about each that cannot be read.
    fn from_table(reader: &mut Reader<'_>, table: &Table<'_, '_>) -> Option<Self>;
}

/// Reads a table whole: its keys, and the complaint about keys that nothing reads.
pub(crate) fn read_table<T: FromTable>(reader: &mut Reader<'_>, mut table: Table<'_, '_>) -> Option<T> {
    table.expect(T::keys());
    let read = T::from_table(reader, &table);
    table.refuse_others(reader);
    if read.is_none() {
        table.note_broken(reader);
    }
    read
}

/// One of a fixed list of words.
pub(crate) fn read_word<W: Copy>(
    reader: &mut Reader<'_>,
    key: &str,
    value: &Value<'_>,
    words: &[(&str, W)],
) -> Option<W> {
    let Some(text) = value.get_ref().as_str() else {
        reader.wrong_value(key, value, "a word in quotes");
        return None;
    };
    if let Some((_, word)) = words.iter().find(|(known, _)| *known == text) {
        return Some(*word);
    }
    let known: Vec<&str> = words.iter().map(|(known, _)| *known).collect();
    let hint = guess(text, known.iter().copied()).unwrap_or_else(|| format!("known: {}", list_words(known)));
    reader.error(UNKNOWN_WORD, &value.span(), format!("`{key}` cannot be `{text}`"), &hint);
    None
}
