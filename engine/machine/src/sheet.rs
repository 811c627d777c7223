//! The loose string: the wiring as one reads it off the sheet in the cabinet with a finger, taken to a description that
//! can grow. What the string does not say is assumed: every hazard there may be, one cover before everything, usual faults.
//! Knows no circuits; what it writes is read like any other description.

mod write;

use std::collections::BTreeMap;
use std::fmt;

/// Something in a string that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub mend: String,
}

impl fmt::Display for Unreadable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}; {}", self.line, self.message, self.mend)
    }
}

/// What a string is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Id of the description.
    pub id: String,
    /// One line for a person.
    pub title: String,
    /// What the house gives it.
    pub mains: Mains,
}

/// The house's supply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Mains {
    /// 120 V from each of two legs to neutral, 60 Hz.
    #[default]
    Legs120,
    /// One line of 230 V to neutral, 50 Hz.
    Line230,
}

impl Mains {
    /// Volts from a leg to neutral.
    fn volts(self) -> f64 {
        match self {
            Self::Legs120 => 120.0,
            Self::Line230 => 230.0,
        }
    }
}

/// Takes the lines of a string to the text of a description.
///
/// A line goes from a conductor (`L1`, `L2`, `N`) or a point (`@a`) to another, with ` - ` between: parts (`fuse`,
/// `thermostat 250F`, `switch [heat]`, `heater 5400W`), colours of the leads between them (`BK`, `RD/WH`) and points that
/// other lines go on from. In square brackets stand the states in which a contact is closed; without them it always is.
///
/// # Errors
/// The first line that cannot be read.
pub fn from_sheet(sheet: &Sheet, text: &str) -> Result<String, Unreadable> {
    let mut string = Loose { mains: sheet.mains, ..Loose::default() };
    for (index, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or_default().trim();
        if !line.is_empty() {
            string.take(index + 1, line)?;
        }
    }
    if string.parts.is_empty() {
        let mend = "write a line such as `L1 - fuse - heater 1500W - N`".to_owned();
        return Err(Unreadable { line: 1, message: "nothing is on the sheet".to_owned(), mend });
    }
    Ok(write::description(sheet, &string))
}

/// Kinds of part by the words that sheets have for them; the first that a name has counts.
const KINDS: [(&str, &[&str]); 11] = [
    ("fuse", &["fuse", "fu"]),
    ("cut-off", &["cut-off", "cutoff", "tco", "limit", "high-limit", "overload"]),
    ("thermostat", &["thermostat", "stat", "tstat", "thermo"]),
    ("door-switch", &["door", "lid"]),
    ("switch", &["switch", "sw", "timer", "contact", "selector", "button", "start", "relay", "control"]),
    ("heater", &["heater", "element", "htr", "elem", "igniter", "heat"]),
    ("motor", &["motor", "mtr", "fan", "pump", "compressor"]),
    ("lamp", &["lamp", "light", "lt", "pilot"]),
    ("valve", &["valve", "solenoid", "vlv"]),
    ("capacitor", &["capacitor", "cap"]),
    ("joint", &["joint", "splice", "connector", "terminal"]),
];

/// Codes of colours: IEC 60757, and beside it the letters that sheets of the American market use (common practice, no
/// source).
const COLOURS: [(&str, &str); 24] = [
    ("BK", "black"),
    ("BN", "brown"),
    ("BR", "brown"),
    ("RD", "red"),
    ("R", "red"),
    ("OG", "orange"),
    ("OR", "orange"),
    ("O", "orange"),
    ("YE", "yellow"),
    ("Y", "yellow"),
    ("GN", "green"),
    ("G", "green"),
    ("BU", "blue"),
    ("BL", "blue"),
    ("VT", "violet"),
    ("V", "violet"),
    ("P", "violet"),
    ("GY", "grey"),
    ("WH", "white"),
    ("W", "white"),
    ("PK", "pink"),
    ("TQ", "turquoise"),
    ("TN", "tan"),
    ("T", "tan"),
];

/// A part as the string names it.
#[derive(Clone, Debug)]
struct Item {
    id: String,
    kind: &'static str,
    name: String,
    watts: Option<f64>,
    ohms: Option<f64>,
    microfarads: Option<f64>,
    trips_c: Option<f64>,
    /// States in which it is closed; none for one that always is.
    states: Vec<String>,
    /// Volts over its line.
    volts: f64,
}

/// A lead between two terminals.
#[derive(Clone, Debug)]
struct Wire {
    from: String,
    to: String,
    color: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Conductor {
    L1,
    L2,
    N,
}

/// The string as far as it is read.
#[derive(Debug, Default)]
struct Loose {
    parts: Vec<Item>,
    wires: Vec<Wire>,
    /// Terminal of each point, and the conductor from which its line came.
    points: BTreeMap<String, (String, Conductor)>,
    second_leg: bool,
    mains: Mains,
}

impl Conductor {
    fn of(word: &str) -> Option<Self> {
        match word.to_ascii_uppercase().as_str() {
            "L1" | "L" => Some(Self::L1),
            "L2" => Some(Self::L2),
            "N" => Some(Self::N),
            _ => None,
        }
    }

    fn terminal(self) -> &'static str {
        match self {
            Self::L1 => "block.L1",
            Self::L2 => "block.L2",
            Self::N => "block.N",
        }
    }
}

impl Loose {
    fn take(&mut self, line: usize, text: &str) -> Result<(), Unreadable> {
        let wrong = |message: String, mend: &str| Unreadable { line, message, mend: mend.to_owned() };
        let dashed = text.replace(['–', '—'], "-");
        let words: Vec<&str> = dashed.split(" - ").map(str::trim).collect();
        let (Some(&first), Some(&last), true) = (words.first(), words.last(), words.len() >= 3) else {
            let mend = "write it as `L1 - fuse - heater 1500W - N`, with spaces about each dash";
            return Err(wrong(format!("`{text}` goes through no part"), mend));
        };
        let (mut at, begins) = self.end(first).ok_or_else(|| {
            let mend = "begin with `L1`, `L2`, `N`, or a point such as `@a` that a line above has passed";
            wrong(format!("`{first}` is no conductor and no point that was passed"), mend)
        })?;
        let ends = Conductor::of(last).or_else(|| self.points.get(last).map(|(_, side)| *side)).unwrap_or(begins);
        self.second_leg |= [begins, ends].contains(&Conductor::L2);
        if self.second_leg && self.mains == Mains::Line230 {
            return Err(wrong("230 V comes on one line, and there is no second".to_owned(), "go from `L` to `N`"));
        }
        let both = [Conductor::L1, Conductor::L2].iter().all(|leg| [begins, ends].contains(leg));
        let volts = if both { 2.0 * self.mains.volts() } else { self.mains.volts() };
        let mut color = None;
        for &word in &words[1..words.len() - 1] {
            if let Some(name) = word.strip_prefix('@') {
                let known = self.points.insert(word.to_owned(), (at.clone(), begins));
                if known.is_some() || name.is_empty() {
                    return Err(wrong(
                        format!("`{word}` is passed twice"),
                        "name each point once, then begin lines with it",
                    ));
                }
            } else if let Some(named) = colour(word) {
                color = Some(named);
            } else {
                let item = self.item(word, volts).map_err(|(message, mend)| wrong(message, &mend))?;
                self.wires.push(Wire { from: at, to: format!("{}.1", item.id), color: color.take() });
                at = format!("{}.2", item.id);
                self.parts.push(item);
            }
        }
        match self.end(last) {
            Some((to, _)) if to == at => Ok(()),
            Some((to, _)) => {
                self.wires.push(Wire { from: at, to, color });
                Ok(())
            }
            None if last.starts_with('@') && last.len() > 1 => {
                self.points.insert(last.to_owned(), (at, begins));
                Ok(())
            }
            None => Err(wrong(
                format!("`{last}` is no conductor and no point"),
                "end with `L1`, `L2`, `N`, or a point such as `@a`",
            )),
        }
    }

    /// Gives the terminal of a conductor or point, and from which conductor it is reached.
    fn end(&self, word: &str) -> Option<(String, Conductor)> {
        let conductor = Conductor::of(word).map(|of| (of.terminal().to_owned(), of));
        conductor.or_else(|| self.points.get(word).cloned())
    }

    fn item(&self, text: &str, volts: f64) -> Result<Item, (String, String)> {
        let (named, states) = match text.split_once('[') {
            None => (text, Vec::new()),
            Some((named, rest)) => {
                let list = rest.strip_suffix(']').ok_or_else(|| {
                    (
                        format!("`{text}` opens a bracket and does not close it"),
                        "write `switch [heat, cool]`".to_owned(),
                    )
                })?;
                (named, list.split(',').map(slug).filter(|state| !state.is_empty()).collect())
            }
        };
        let mut item = Item {
            id: String::new(),
            kind: "",
            name: String::new(),
            watts: None,
            ohms: None,
            microfarads: None,
            trips_c: None,
            states,
            volts,
        };
        let mut name: Vec<&str> = Vec::new();
        let mut words = named.split_whitespace().peekable();
        while let Some(word) = words.next() {
            // A number may stand apart from its unit.
            let next = words.peek().copied().filter(|_| word.parse::<f64>().is_ok());
            let joined = next.map_or_else(|| word.to_owned(), |unit| format!("{word}{unit}"));
            if item.rate(&joined) {
                if next.is_some() {
                    words.next();
                }
            } else {
                name.push(word);
            }
        }
        item.name = name.join(" ").to_lowercase();
        let of_word = |word: &str| {
            let bare = word.trim_end_matches(|sign: char| sign.is_ascii_digit() || sign == '.');
            KINDS.iter().find(|(_, words)| words.contains(&bare)).map(|(kind, _)| *kind)
        };
        // The last word says what it is: a `door lamp` is a lamp.
        item.kind = item.name.split_whitespace().rev().find_map(of_word).ok_or_else(|| {
            let known: Vec<&str> = KINDS.iter().map(|(kind, _)| *kind).collect();
            (format!("`{text}` says of no part what it is"), format!("name one of: {}", known.join(", ")))
        })?;
        if !item.states.is_empty() && item.kind != "switch" {
            let message = format!("`{text}` has states in brackets and is no switch");
            return Err((message, "name the states at the contact that they close: `timer contact [heat]`".to_owned()));
        }
        let name = std::mem::take(&mut item.name);
        let taken = |name: &String| self.parts.iter().any(|part| part.name == *name);
        let mut names = std::iter::once(name.clone()).chain((2..).map(|n| format!("{name} {n}")));
        item.name = names.find(|name| !taken(name)).unwrap_or(name);
        item.id = slug(&item.name);
        Ok(item)
    }
}

impl Item {
    /// Takes a rating such as `5400W`, `25ohm`, `250F`, `35uF`; says whether it was one.
    fn rate(&mut self, word: &str) -> bool {
        let split = word.find(|sign: char| !sign.is_ascii_digit() && sign != '.').unwrap_or(word.len());
        let Some((number, unit)) = word.split_at_checked(split) else { return false };
        let Some(number) = number.parse::<f64>().ok().filter(|number| *number > 0.0) else { return false };
        match unit.to_lowercase().as_str() {
            "w" => self.watts = Some(number),
            "kw" => self.watts = Some(number * 1000.0),
            "ohm" | "ohms" | "r" | "ω" => self.ohms = Some(number),
            "f" | "°f" => self.trips_c = Some((number - 32.0) / 1.8),
            "c" | "°c" => self.trips_c = Some(number),
            "uf" | "µf" | "mfd" => self.microfarads = Some(number),
            // What is printed beside a part and changes nothing here.
            "v" | "a" | "hz" => {}
            _ => return false,
        }
        true
    }
}

/// Reads the colour of a lead, such as `BK` or `RD/WH`.
fn colour(word: &str) -> Option<String> {
    let of = |code: &str| COLOURS.iter().find(|(known, _)| *known == code).map(|(_, colour)| *colour);
    let colours: Option<Vec<&str>> = word.split(['/', '-']).map(of).collect();
    colours.map(|colours| colours.join("-"))
}

/// Gives an id for a name.
fn slug(name: &str) -> String {
    let signs = name.trim().to_lowercase();
    let parts = signs.split(|sign: char| !sign.is_ascii_alphanumeric()).filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join("-")
}
