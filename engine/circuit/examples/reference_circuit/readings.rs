//! Takes every reading of a reference circuit: one base a state, the faults as low-rank changes to it.

use circuit::{
    Branch, Change, Changed, CircuitError, Complex64, Law, Network, Node, Port, Solved, VoltsRead, volts_read,
};

use crate::folder::{Analysis, Element, Folder, Kind, Mistake, Place, Setting};
use crate::sense;

/// Says how a fault is solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    /// As a change to the state's solution.
    LowRank,
    /// As a network of its own.
    #[allow(dead_code, reason = "the tests hold both ways against the reference")]
    Fresh,
}

/// Is what a probe shows.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Shown {
    Volts(Complex64),
    Amperes(Complex64),
    Ohms(f64),
}

/// Is one reading with all its names.
#[derive(Debug)]
pub(crate) struct Reading {
    pub(crate) analysis: Analysis,
    pub(crate) state: String,
    pub(crate) fault: String,
    pub(crate) kind: String,
    pub(crate) probe: String,
    pub(crate) shown: Shown,
}

/// Takes all readings in the order of the files: states, then faults, then currents before voltages.
pub(crate) fn all(folder: &Folder, way: Way) -> Result<Vec<Reading>, Mistake> {
    let mut readings = Vec::new();
    for (s, state) in folder.states.iter().enumerate() {
        let bench = Bench::of(folder, state.of, &state.settings)?;
        let left_out = sense::left_out(folder, s)?;
        bench.read(folder, way, &[], &mut |probe, shown| {
            readings.push(reading(state.of, &state.name, ("healthy", "healthy"), probe, shown));
        })?;
        for (fault, _) in folder.faults.iter().zip(left_out).filter(|(_, out)| !out) {
            bench.read(folder, way, &fault.settings, &mut |probe, shown| {
                readings.push(reading(state.of, &state.name, (&fault.name, &fault.of), probe, shown));
            })?;
        }
    }
    Ok(readings)
}

fn reading(analysis: Analysis, state: &str, (fault, kind): (&str, &str), probe: &str, shown: Shown) -> Reading {
    let (state, fault, kind, probe) = (state.to_owned(), fault.to_owned(), kind.to_owned(), probe.to_owned());
    Reading { analysis, state, fault, kind, probe, shown }
}

/// Is a circuit in one state, solved.
pub(crate) struct Bench {
    analysis: Analysis,
    values: Vec<(f64, f64)>,
    solved: Solved,
}

impl Bench {
    pub(crate) fn of(folder: &Folder, analysis: Analysis, settings: &[Setting]) -> Result<Self, Mistake> {
        let mut values: Vec<(f64, f64)> = folder.elements.iter().map(|e| (e.value, e.phase)).collect();
        lay_over(&mut values, settings);
        let mut network = Network::new(folder.node_count);
        for (element, &value) in folder.elements.iter().zip(&values) {
            let [a, b] = element.ends;
            network.add(Node(a), Node(b), law(element, value, analysis, folder.hertz));
        }
        let solved = network.solve().map_err(|error| explain(folder, &error))?;
        Ok(Self { analysis, values, solved })
    }

    /// Lists what settings change.
    fn changes(&self, folder: &Folder, settings: &[Setting]) -> Vec<Change> {
        let mut values = self.values.clone();
        lay_over(&mut values, settings);
        settings
            .iter()
            .map(|s| {
                let law = law(&folder.elements[s.element], values[s.element], self.analysis, folder.hertz);
                Change::Law(branch(s.element), law)
            })
            .collect()
    }

    /// Gives the magnitude of the current in an element under a fault.
    pub(crate) fn amperes(&self, folder: &Folder, settings: &[Setting], element: usize) -> Result<f64, Mistake> {
        let changed = self.solved.with(&self.changes(folder, settings)).map_err(|error| explain(folder, &error))?;
        Ok(circuit::magnitude(changed.current(branch(element))))
    }

    fn read(
        &self,
        folder: &Folder,
        way: Way,
        settings: &[Setting],
        take: &mut dyn FnMut(&str, Shown),
    ) -> Result<(), Mistake> {
        let changes = self.changes(folder, settings);
        if way == Way::LowRank {
            let changed = self.solved.with(&changes).map_err(|error| explain(folder, &error))?;
            self.show(folder, &changed, take);
            return Ok(());
        }
        let mut network = self.solved.network().clone();
        for change in &changes {
            if let Change::Law(branch, law) = change {
                network.set_law(*branch, *law).map_err(|error| explain(folder, &error))?;
            }
        }
        let fresh = network.solve().map_err(|error| explain(folder, &error))?;
        self.show(folder, &fresh.unchanged(), take);
        Ok(())
    }

    fn show(&self, folder: &Folder, changed: &Changed<'_>, take: &mut dyn FnMut(&str, Shown)) {
        let currents = folder.probes.iter().filter(|p| matches!(p.place, Place::Amperes { .. }));
        let others = folder.probes.iter().filter(|p| !matches!(p.place, Place::Amperes { .. }));
        for probe in currents.chain(others) {
            let shown = match (&probe.place, self.analysis) {
                (Place::Amperes { element }, Analysis::Energised) => Shown::Amperes(changed.current(branch(*element))),
                (Place::Volts { ends, meter_ohm }, Analysis::Energised) => {
                    let port = changed.port(Node(ends[0]), Node(ends[1]));
                    match volts_read(&port, Complex64::from(*meter_ohm)) {
                        VoltsRead::Value(volts) => Shown::Volts(volts),
                        // Nothing ties the two points: the meter's own resistance pulls them together.
                        VoltsRead::UpTo(_) => Shown::Volts(Complex64::ZERO),
                    }
                }
                (Place::Ohms { ends }, Analysis::Resistance) => {
                    Shown::Ohms(match changed.port(Node(ends[0]), Node(ends[1])) {
                        Port::Tied { source_impedance, .. } => source_impedance.re,
                        Port::Floating { .. } => f64::INFINITY,
                    })
                }
                _ => continue,
            };
            take(&probe.name, shown);
        }
    }
}

fn branch(element: usize) -> Branch {
    Branch(u32::try_from(element).unwrap_or(u32::MAX))
}

pub(crate) fn lay_over(values: &mut [(f64, f64)], settings: &[Setting]) {
    for s in settings {
        let phase = s.phase.unwrap_or(values[s.element].1);
        values[s.element] = (s.value, phase);
    }
}

/// Makes the law of an element: for resistance readings coils are wires, capacitors open and sources at zero.
fn law(element: &Element, (value, degrees): (f64, f64), analysis: Analysis, hertz: f64) -> Law {
    let reactance = |x: f64| Law::Impedance(Complex64::new(0.0, x));
    let omega = 2.0 * std::f64::consts::PI * hertz;
    match (element.kind, analysis) {
        (Kind::Resistor, _) => Law::ohms(value),
        (Kind::Inductor, Analysis::Resistance) => Law::ohms(0.0),
        (Kind::Inductor, Analysis::Energised) => reactance(omega * value),
        (Kind::Capacitor, Analysis::Energised) if value > 0.0 => reactance(-1.0 / (omega * value)),
        (Kind::Capacitor, _) => Law::Open,
        (Kind::Source, Analysis::Resistance) => Law::Source { emf: Complex64::ZERO, series: Complex64::ZERO },
        (Kind::Source, Analysis::Energised) => {
            let angle = degrees.to_radians();
            let emf = Complex64::new(value * libm::cos(angle), value * libm::sin(angle));
            Law::Source { emf, series: Complex64::ZERO }
        }
    }
}

/// Names the elements of an error of the network.
pub(crate) fn explain(folder: &Folder, error: &CircuitError) -> Mistake {
    let name = |b: &Branch| folder.elements.get(b.0 as usize).map_or("?", |e| e.name.as_str());
    let (first, message) = match error {
        CircuitError::IdealLoop { branches, .. } => {
            let names: Vec<&str> = branches.iter().map(name).collect();
            let list = names.join("`, `");
            (
                branches.first(),
                format!("`{list}` form a loop without any resistance; put a small resistance into one of them"),
            )
        }
        other => (None, other.to_string()),
    };
    // A header line comes first, so element n stands on line n + 2.
    let line = first.map_or(1, |b| u64::from(b.0) + 2);
    Mistake { file: folder.dir.join("elements.csv"), line, message }
}
