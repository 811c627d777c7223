//! What the reader has to say about a description: a stable code, the place, the words, the mend. Knows no TOML.

use std::fmt::Write as _;
use std::ops::Range;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The machine cannot be used.
    Error,
    /// The machine can be used, but something in it is likely not meant so.
    Warning,
}

/// One thing found wrong in a description.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Stable code, one of [`CODES`].
    pub code: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// What is wrong, lower case, without a full stop, the file's own words in backticks.
    pub message: String,
    /// The description in which the place is, where that is one that the text builds on: its id.
    pub of: Option<Box<str>>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Bytes of the text it is about; past the text's end where the place is in a description that it builds on.
    pub span: Range<usize>,
    /// What can be done about it.
    pub hints: Vec<String>,
}

/// Every code the reader can give, with its meaning in one line.
pub const CODES: &[(&str, &str)] = &[
    (NOT_TOML, "the text is not TOML"),
    (TOO_BIG, "the text, a list or the machine is larger than the reader takes"),
    (MISSING_KEY, "a key that must be given is not there"),
    (WRONG_VALUE, "a value of another sort than the key takes"),
    (UNKNOWN_KEY, "a key that nothing reads"),
    (VERSION, "a version of the format that this reader does not know"),
    (BAD_ID, "an id with signs that ids do not have, or too long"),
    (DUPLICATE_ID, "two things with the same id"),
    (OUT_OF_RANGE, "a number that the thing cannot have"),
    (BAD_MONEY, "an amount of money that cannot be read"),
    (UNKNOWN_WORD, "a word that is none of the words the key takes"),
    (UNKNOWN_NAME, "a name that nothing in the description has"),
    (WRONG_KIND, "a part of a kind that cannot do what is asked of it"),
    (LEAD_TO_ITSELF, "a lead, a contact or a winding with both ends on one terminal"),
    (LEAD_OUTSIDE, "a lead that ends on the house's side of the terminal block"),
    (UNUSED_TERMINAL, "a terminal with no lead on it"),
    (FLOATING, "terminals that no way joins to the supply"),
    (DEAD_SHORT, "two supply conductors joined for good by leads and closed parts"),
    (COVER_CYCLE, "a step of getting in that needs itself first"),
    (CLOSED_PLACE, "a place that no step exposes"),
    (STATE_CYCLE, "states that are entered from each other in a ring"),
    (UNKNOWN_POSITION, "a position that the part does not have"),
    (REST_STATE, "a rest state that leaves a part unset"),
    (CAUSE_CYCLE, "faults that bring each other about in a ring"),
    (SHARES, "causes that explain more than all cases of a fault"),
    (SUPPLY_MISMATCH, "a supply whose keys do not go together"),
    (DRIVE_CYCLE, "parts that drive each other in a ring"),
    (CHOOSE_ONE, "exactly one of several keys must be given"),
    (NO_LIMIT, "a proof without a limit"),
    (BACKWARD, "two values that stand the wrong way round"),
    (HEAT_TRAPPED, "a zone that warms up and loses nothing"),
    (HEATS_TWICE, "a heater that warms two zones, or one zone twice"),
    (NOT_JUDGED, "a warm-up that cannot be judged"),
    (BASE, "a description to build on that is not at hand, or that builds on this one"),
];

pub(crate) const NOT_TOML: &str = "m001-not-toml";
pub(crate) const TOO_BIG: &str = "m002-too-big";
pub(crate) const MISSING_KEY: &str = "m003-missing-key";
pub(crate) const WRONG_VALUE: &str = "m004-wrong-value";
pub(crate) const UNKNOWN_KEY: &str = "m005-unknown-key";
pub(crate) const VERSION: &str = "m006-version";
pub(crate) const BAD_ID: &str = "m007-bad-id";
pub(crate) const DUPLICATE_ID: &str = "m008-duplicate-id";
pub(crate) const OUT_OF_RANGE: &str = "m009-out-of-range";
pub(crate) const BAD_MONEY: &str = "m010-bad-money";
pub(crate) const UNKNOWN_WORD: &str = "m011-unknown-word";
pub(crate) const UNKNOWN_NAME: &str = "m012-unknown-name";
pub(crate) const WRONG_KIND: &str = "m013-wrong-kind";
pub(crate) const LEAD_TO_ITSELF: &str = "m014-wired-to-itself";
pub(crate) const LEAD_OUTSIDE: &str = "m015-lead-outside";
pub(crate) const UNUSED_TERMINAL: &str = "m016-unused-terminal";
pub(crate) const FLOATING: &str = "m017-floating";
pub(crate) const DEAD_SHORT: &str = "m018-dead-short";
pub(crate) const COVER_CYCLE: &str = "m019-cover-cycle";
pub(crate) const CLOSED_PLACE: &str = "m020-closed-place";
pub(crate) const STATE_CYCLE: &str = "m021-state-cycle";
pub(crate) const UNKNOWN_POSITION: &str = "m022-unknown-position";
pub(crate) const REST_STATE: &str = "m023-rest-state";
pub(crate) const CAUSE_CYCLE: &str = "m024-cause-cycle";
pub(crate) const SHARES: &str = "m025-shares";
pub(crate) const SUPPLY_MISMATCH: &str = "m026-supply-mismatch";
pub(crate) const DRIVE_CYCLE: &str = "m027-drive-cycle";
pub(crate) const CHOOSE_ONE: &str = "m028-choose-one";
pub(crate) const NO_LIMIT: &str = "m029-no-limit";
pub(crate) const BACKWARD: &str = "m030-backward";
pub(crate) const HEAT_TRAPPED: &str = "m031-heat-trapped";
pub(crate) const HEATS_TWICE: &str = "m032-heats-twice";
pub(crate) const NOT_JUDGED: &str = "m033-not-judged";
pub(crate) const BASE: &str = "m034-based-on";

/// Characters of a line that are printed.
const MOST_SHOWN: usize = 160;
/// Characters of a line that are printed before the place.
const MOST_BEFORE: usize = 100;

impl Diagnostic {
    /// Prints the mistake with its line underlined, as a terminal shows it; a long line is cut to what stands about it.
    ///
    /// `text` must be the text that was read; a place in a description that it builds on is printed without the line, and
    /// so is a span that does not fit.
    #[must_use]
    pub fn render(&self, file_name: &str, text: &str) -> String {
        let word = match self.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        let mut out = format!("{word}[{}]: {}\n", self.code, self.message);
        let number = self.line.to_string();
        let margin = " ".repeat(number.len());
        let file_name = self.of.as_deref().unwrap_or(file_name);
        let _ = writeln!(out, "{margin}--> {file_name}:{}:{}", self.line, self.column);
        let line = text.lines().nth(self.line.saturating_sub(1)).filter(|_| self.of.is_none());
        if let Some(line) = line {
            let from = self.column.saturating_sub(1).saturating_sub(MOST_BEFORE);
            let shown: String = line.chars().skip(from).take(MOST_SHOWN).collect();
            let at = self.column - 1 - from;
            let before: String = shown.chars().take(at).map(|c| if c == '\t' { '\t' } else { ' ' }).collect();
            let _ = writeln!(out, "{margin} |");
            let _ = writeln!(out, "{number} | {shown}");
            let _ = writeln!(out, "{margin} | {before}{}", "^".repeat(self.marks(text, shown.chars().count(), at)));
        }
        for hint in &self.hints {
            let _ = writeln!(out, "{margin} = {hint}");
        }
        out
    }

    /// Counts the characters to underline: those of the span that stand on its first line, at least one.
    fn marks(&self, text: &str, shown: usize, at: usize) -> usize {
        let spanned = text.get(self.span.clone()).and_then(|span| span.lines().next());
        let wide = spanned.map_or(1, |span| span.chars().take(MOST_SHOWN).count());
        wide.min(shown.saturating_sub(at)).max(1)
    }
}
