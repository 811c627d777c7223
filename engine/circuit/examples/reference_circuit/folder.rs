//! Reads the folder of a reference circuit. Knows its columns, and says file and line of what is wrong.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Is something wrong in a file; line 0 stands for the file as a whole.
#[derive(Debug)]
pub(crate) struct Mistake {
    pub(crate) file: PathBuf,
    pub(crate) line: u64,
    pub(crate) message: String,
}

impl std::fmt::Display for Mistake {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.line {
            0 => write!(f, "{}: {}", self.file.display(), self.message),
            line => write!(f, "{}:{line}: {}", self.file.display(), self.message),
        }
    }
}

/// Is the kind of an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Resistor,
    Inductor,
    Capacitor,
    Source,
}

/// Is one element with its base value: ohms, henries, farads or volts, and degrees for a source.
#[derive(Debug)]
pub(crate) struct Element {
    pub(crate) name: String,
    pub(crate) kind: Kind,
    pub(crate) ends: [u32; 2],
    pub(crate) value: f64,
    pub(crate) phase: f64,
}

/// Is one element's other value. No phase leaves the phase as it is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Setting {
    pub(crate) element: usize,
    pub(crate) value: f64,
    pub(crate) phase: Option<f64>,
}

/// Is the kind of an analysis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Analysis {
    Energised,
    Resistance,
}

/// Is a state or a fault: a name and what it sets.
#[derive(Debug)]
pub(crate) struct Settings<T> {
    pub(crate) name: String,
    pub(crate) of: T,
    pub(crate) settings: Vec<Setting>,
}

/// Is a place to read at.
#[derive(Debug)]
pub(crate) enum Place {
    Volts { ends: [u32; 2], meter_ohm: f64 },
    Amperes { element: usize },
    Ohms { ends: [u32; 2] },
}

/// Is a place to read at, with its name.
#[derive(Debug)]
pub(crate) struct Probe {
    pub(crate) name: String,
    pub(crate) place: Place,
}

/// Is all of the folder.
#[derive(Debug)]
pub(crate) struct Folder {
    pub(crate) dir: PathBuf,
    pub(crate) hertz: f64,
    pub(crate) node_count: u32,
    pub(crate) elements: Vec<Element>,
    pub(crate) states: Vec<Settings<Analysis>>,
    /// Kind of fault as written; the healthy machine is not among them.
    pub(crate) faults: Vec<Settings<String>>,
    pub(crate) probes: Vec<Probe>,
}

impl Folder {
    /// Reads everything, or gives the first mistake.
    pub(crate) fn read(dir: &Path) -> Result<Self, Mistake> {
        let mut names = Names { nodes: BTreeMap::from([("0".to_owned(), 0)]), elements: BTreeMap::new() };
        let elements = names.elements(&Table::read(dir, "elements.csv")?)?;
        Ok(Self {
            states: names.states(&Table::read(dir, "states.csv")?, &elements)?,
            faults: names.faults(&Table::read(dir, "faults.csv")?, &elements)?,
            probes: names.probes(&Table::read(dir, "probes.csv")?, &elements)?,
            hertz: hertz(dir)?,
            node_count: u32::try_from(names.nodes.len()).unwrap_or(u32::MAX),
            elements,
            dir: dir.to_owned(),
        })
    }
}

/// Is a file with a header: each row's line and fields.
struct Table {
    file: PathBuf,
    header: Vec<String>,
    rows: Vec<(u64, csv::StringRecord)>,
}

/// Is one row of a table.
struct Row<'a> {
    table: &'a Table,
    line: u64,
    record: &'a csv::StringRecord,
}

impl Table {
    fn read(dir: &Path, name: &str) -> Result<Self, Mistake> {
        let file = dir.join(name);
        let mistake = |line: u64, message: String| Mistake { file: file.clone(), line, message };
        let text = std::fs::read_to_string(&file).map_err(|error| mistake(0, format!("cannot read: {error}")))?;
        // The reader counts lines by line feeds alone once no carriage return stands before them.
        let text = text.replace("\r\n", "\n");
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
        let line = |error: &csv::Error| error.position().map_or(1, csv::Position::line);
        let header =
            reader.headers().map_err(|e| mistake(line(&e), e.to_string()))?.iter().map(str::to_owned).collect();
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| mistake(line(&e), e.to_string()))?;
            rows.push((record.position().map_or(0, csv::Position::line), record));
        }
        Ok(Self { file, header, rows })
    }

    fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, record)| Row { table: self, line: *line, record })
    }
}

impl Row<'_> {
    fn mistake(&self, message: impl Into<String>) -> Mistake {
        Mistake { file: self.table.file.clone(), line: self.line, message: message.into() }
    }

    fn text(&self, column: &str) -> Result<&str, Mistake> {
        let place = self.table.header.iter().position(|name| name == column);
        place.and_then(|i| self.record.get(i)).ok_or_else(|| Mistake {
            line: 1,
            ..self.mistake(format!("no column `{column}`; write it into the first line"))
        })
    }

    fn number(&self, column: &str) -> Result<f64, Mistake> {
        let text = self.text(column)?;
        text.parse().ok().filter(|v: &f64| v.is_finite()).ok_or_else(|| {
            self.mistake(format!("`{text}` in column `{column}` is not a number; write one such as 0.01 or 1e12"))
        })
    }

    fn optional_number(&self, column: &str) -> Result<Option<f64>, Mistake> {
        if self.text(column)?.is_empty() { Ok(None) } else { self.number(column).map(Some) }
    }
}

/// Resolves names of nodes and elements.
struct Names {
    nodes: BTreeMap<String, u32>,
    elements: BTreeMap<String, usize>,
}

impl Names {
    fn elements(&mut self, table: &Table) -> Result<Vec<Element>, Mistake> {
        let mut elements = Vec::new();
        for row in table.rows() {
            let name = row.text("element")?.to_owned();
            let kind = match row.text("kind")? {
                "R" => Kind::Resistor,
                "L" => Kind::Inductor,
                "C" => Kind::Capacitor,
                "V" => Kind::Source,
                other => return Err(row.mistake(format!("`{other}` is no kind of element; use R, L, C or V"))),
            };
            if self.elements.insert(name.clone(), elements.len()).is_some() {
                return Err(row.mistake(format!("element `{name}` is listed twice; give one of them another name")));
            }
            let ends = [self.new_node(&row, "n1")?, self.new_node(&row, "n2")?];
            let element = Element {
                name,
                kind,
                ends,
                value: row.number("base_value")?,
                phase: row.optional_number("phase_deg")?.unwrap_or(0.0),
            };
            check_value(&row, &element, element.value)?;
            elements.push(element);
        }
        Ok(elements)
    }

    fn new_node(&mut self, row: &Row<'_>, column: &str) -> Result<u32, Mistake> {
        let name = row.text(column)?;
        if name.is_empty() {
            return Err(row.mistake(format!("no node in column `{column}`; name the node, or 0 for earth")));
        }
        let next = u32::try_from(self.nodes.len()).unwrap_or(u32::MAX);
        Ok(*self.nodes.entry(name.to_owned()).or_insert(next))
    }

    fn node(&self, row: &Row<'_>, column: &str) -> Result<u32, Mistake> {
        let name = row.text(column)?;
        self.nodes.get(name).copied().ok_or_else(|| {
            row.mistake(format!(
                "no element in `elements.csv` has a node `{name}`; correct the name in column `{column}`"
            ))
        })
    }

    fn element(&self, row: &Row<'_>, column: &str) -> Result<usize, Mistake> {
        let name = row.text(column)?;
        let found = self.elements.get(name).copied();
        found.ok_or_else(|| {
            row.mistake(format!("no element `{name}` in `elements.csv`; correct the name in column `{column}`"))
        })
    }

    /// Reads what a row sets; a row without an element sets nothing.
    fn setting(&self, row: &Row<'_>, elements: &[Element]) -> Result<Option<Setting>, Mistake> {
        if row.text("element")?.is_empty() {
            return Ok(None);
        }
        let element = self.element(row, "element")?;
        let value = row.number("value")?;
        check_value(row, &elements[element], value)?;
        Ok(Some(Setting { element, value, phase: row.optional_number("phase_deg")? }))
    }

    fn states(&self, table: &Table, elements: &[Element]) -> Result<Vec<Settings<Analysis>>, Mistake> {
        let mut states = Vec::new();
        for row in table.rows() {
            let analysis = match row.text("analysis")? {
                "ac" => Analysis::Energised,
                "dc" => Analysis::Resistance,
                other => return Err(row.mistake(format!("`{other}` is no analysis; use ac or dc"))),
            };
            collect(&mut states, row.text("state")?, analysis, self.setting(&row, elements)?);
        }
        Ok(states)
    }

    fn faults(&self, table: &Table, elements: &[Element]) -> Result<Vec<Settings<String>>, Mistake> {
        let mut faults = Vec::new();
        for row in table.rows() {
            collect(&mut faults, row.text("fault")?, row.text("kind")?.to_owned(), self.setting(&row, elements)?);
        }
        Ok(faults)
    }

    fn probes(&self, table: &Table, elements: &[Element]) -> Result<Vec<Probe>, Mistake> {
        let mut probes = Vec::new();
        for row in table.rows() {
            let ends = || Ok([self.node(&row, "n1_or_red")?, self.node(&row, "n2_or_black")?]);
            let place = match row.text("quantity")? {
                "V" => {
                    let (ends, meter_ohm) = (ends()?, row.number("meter_ohm")?);
                    if meter_ohm <= 0.0 {
                        return Err(
                            row.mistake("a meter's resistance must be above zero; write its ohms in `meter_ohm`")
                        );
                    }
                    Place::Volts { ends, meter_ohm }
                }
                "R" => Place::Ohms { ends: ends()? },
                "I" => {
                    let element = self.element(&row, "ammeter")?;
                    if elements[element].kind != Kind::Source {
                        return Err(row.mistake("an ammeter must be an element of kind V with value 0"));
                    }
                    Place::Amperes { element }
                }
                other => return Err(row.mistake(format!("`{other}` is no quantity; use V, I or R"))),
            };
            probes.push(Probe { name: row.text("probe")?.to_owned(), place });
        }
        Ok(probes)
    }
}

fn check_value(row: &Row<'_>, element: &Element, value: f64) -> Result<(), Mistake> {
    if value < 0.0 && element.kind != Kind::Source {
        return Err(row.mistake(format!("`{}` has the negative value {value}; a part has none", element.name)));
    }
    Ok(())
}

/// Puts a row with what went before under the same name.
fn collect<T: PartialEq>(list: &mut Vec<Settings<T>>, name: &str, of: T, setting: Option<Setting>) {
    match list.iter_mut().find(|known| known.name == name && known.of == of) {
        Some(known) => known.settings.extend(setting),
        None => list.push(Settings { name: name.to_owned(), of, settings: setting.into_iter().collect() }),
    }
}

/// Takes the frequency from the `.ac` line of the `.cir` file, or 60 Hz without such a file.
fn hertz(dir: &Path) -> Result<f64, Mistake> {
    let mistake =
        |file: &Path, line: u64, message: &str| Mistake { file: file.to_owned(), line, message: message.to_owned() };
    let entries = std::fs::read_dir(dir).map_err(|error| mistake(dir, 0, &format!("cannot read: {error}")))?;
    let mut files: Vec<PathBuf> = entries
        .filter_map(|entry| entry.ok().map(|e| e.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "cir"))
        .collect();
    files.sort();
    let Some(file) = files.first() else { return Ok(60.0) };
    let text = std::fs::read_to_string(file).map_err(|error| mistake(file, 0, &format!("cannot read: {error}")))?;
    for (line, text) in (1..).zip(text.lines()) {
        let mut words = text.split_whitespace();
        if words.next() == Some(".ac") {
            return words
                .nth(2)
                .and_then(|word| word.parse().ok())
                .filter(|f: &f64| f.is_finite() && *f > 0.0)
                .ok_or_else(|| mistake(file, line, "no frequency; write `.ac lin 1 60 60`"));
        }
    }
    Ok(60.0)
}
