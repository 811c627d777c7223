//! From the machine's branches to a network for one configuration. Knows nothing of faults' likelihood.

use crate::settle::Config;
use circuit::{Change, Law as Element, Network, Node};
use machine::faults::Effect;
use machine::model::{Branch, Law, Machine, Rule, SensorTable, TerminalId};
use num_complex::Complex64;

/// How the controls stand and how warm it is: all that a branch's law depends on beside the flags.
#[derive(Clone, Debug)]
pub(crate) struct Setting {
    /// Position of every part that a person sets.
    pub(crate) positions: Vec<(machine::model::PartId, String)>,
    /// Temperature of each zone, °C.
    pub(crate) temperatures_c: Vec<f64>,
    /// Plugged in.
    pub(crate) plugged: bool,
    /// Seen by an ohm-meter: direct current, sources dead.
    pub(crate) direct: bool,
}

/// Gives the network's node of a terminal; true earth is the reference.
pub(crate) fn node_of(machine: &Machine, terminal: TerminalId) -> Node {
    let earth = machine.supply.earth.0;
    Node(match terminal.0 {
        t if t == earth => 0,
        t if t < earth => u32::from(t) + 1,
        t => u32::from(t),
    })
}

/// Builds the network of one setting and configuration; branch n of the machine is branch n of the network.
pub(crate) fn network(machine: &Machine, setting: &Setting, config: Config) -> Network {
    let mut network = Network::new(u32::try_from(machine.terminals.len()).unwrap_or(u32::MAX));
    for (index, branch) in machine.branches.iter().enumerate() {
        let unplugged = !setting.plugged && machine.supply.plug.iter().any(|b| b.index() == index);
        let law = if unplugged { Element::Open } else { element(machine, branch, setting, config) };
        network.add(node_of(machine, branch.from), node_of(machine, branch.to), law);
    }
    network
}

/// Gives the element that a sound branch is in this setting and configuration.
pub(crate) fn element(machine: &Machine, branch: &Branch, setting: &Setting, config: Config) -> Element {
    scaled_element(machine, branch, setting, config, 1.0)
}

/// Gives the element that a branch is with its value multiplied.
pub(crate) fn scaled_element(
    machine: &Machine,
    branch: &Branch,
    setting: &Setting,
    config: Config,
    scale: f64,
) -> Element {
    let ohms = |r: f64| Element::Impedance(Complex64::new(r, 0.0));
    match &branch.law {
        Law::Resistance(r) => ohms(scale * if setting.direct { r.cold_ohms } else { r.hot_ohms }),
        Law::Sensor { zone, table, .. } => ohms(scale * sensor_ohms(*table, setting.temperatures_c[zone.index()])),
        Law::Winding { ohms: r, .. } if setting.direct => ohms(scale * r),
        Law::Winding { ohms: r, reactance, running, flag, .. } => {
            let (re, im) = match flag {
                Some(flag) if config.stands(*flag) => *running,
                _ => (*r, *reactance),
            };
            Element::Impedance(Complex64::new(re, im) * scale)
        }
        Law::Capacitor { .. } if setting.direct => Element::Open,
        Law::Capacitor { farads, .. } => {
            let omega = 2.0 * std::f64::consts::PI * machine.hertz;
            Element::Impedance(Complex64::new(0.0, -1.0 / (omega * farads * scale)))
        }
        Law::Contact { rule, ohms: r } => {
            if closed(rule, setting, config) {
                ohms(scale * r)
            } else {
                Element::Open
            }
        }
        Law::Source { series_ohms, .. } if setting.direct => ohms(*series_ohms),
        Law::Source { volts, degrees, series_ohms, .. } => {
            let angle = degrees.to_radians();
            let emf = Complex64::new(libm::cos(angle), libm::sin(angle)) * (volts * scale);
            Element::Source { emf, series: Complex64::new(*series_ohms, 0.0) }
        }
    }
}

/// Says whether a sound contact is closed.
pub(crate) fn closed(rule: &Rule, setting: &Setting, config: Config) -> bool {
    match rule {
        Rule::Position { part, closed_in } => {
            setting.positions.iter().any(|(set, position)| set == part && closed_in.iter().any(|p| p == position))
        }
        Rule::Temperature { zone, trips_c, closed_cold, .. } => {
            (setting.temperatures_c[zone.index()] < *trips_c) == *closed_cold
        }
        Rule::Flag { flag, inverted } => config.stands(*flag) != *inverted,
        Rule::Always => true,
    }
}

/// Gives a sensor's resistance at a temperature, ohms.
pub(crate) fn sensor_ohms(table: SensorTable, celsius: f64) -> f64 {
    match table {
        // SOURCE: IEC 60751, Callendar-Van Dusen above 0 °C; household zones do not go far below.
        SensorTable::Platinum { ohms_at_0c } => ohms_at_0c * (1.0 + 3.9083e-3 * celsius - 5.775e-7 * celsius * celsius),
        // SOURCE: the beta equation, R = R25 exp(B (1/T - 1/298.15)).
        SensorTable::Thermistor { ohms_at_25c, beta } => {
            ohms_at_25c * libm::exp(beta * (1.0 / (celsius + 273.15) - 1.0 / 298.15))
        }
    }
}

/// Gives the changes of the network that these effects make; what moves no branch gives none.
///
/// `unplugged` branches stay open whatever their fault says: a pulled plug conducts nothing.
pub(crate) fn changes(machine: &Machine, effects: &[Effect], setting: &Setting, config: Config) -> Vec<Change> {
    let pulled = |branch: &machine::model::BranchId| !setting.plugged && machine.supply.plug.contains(branch);
    effects
        .iter()
        .filter_map(|effect| match *effect {
            Effect::Open(branch) if pulled(&branch) => None,
            Effect::Ohms(branch, _) | Effect::Scale(branch, _) | Effect::Turn(branch, _) if pulled(&branch) => None,
            Effect::Open(branch) => Some(Change::Law(net(branch), Element::Open)),
            Effect::Ohms(branch, r) => Some(Change::Law(net(branch), Element::Impedance(Complex64::new(r, 0.0)))),
            Effect::Scale(branch, factor) => {
                let law = scaled_element(machine, &machine.branches[branch.index()], setting, config, factor);
                Some(Change::Law(net(branch), law))
            }
            Effect::Turn(branch, degrees) => {
                let law = turned(element(machine, &machine.branches[branch.index()], setting, config), degrees);
                Some(Change::Law(net(branch), law))
            }
            Effect::Bridge(a, b, r) => Some(Change::Bridge {
                a: node_of(machine, a),
                b: node_of(machine, b),
                impedance: Complex64::new(r, 0.0),
            }),
            Effect::Hold(..) | Effect::Stops(..) | Effect::Weakens(..) => None,
        })
        .collect()
}

/// Turns a source's phase; anything else stays as it is.
pub(crate) fn turned(law: Element, degrees: f64) -> Element {
    match law {
        Element::Source { emf, series } => {
            let angle = degrees.to_radians();
            Element::Source { emf: emf * Complex64::new(libm::cos(angle), libm::sin(angle)), series }
        }
        other => other,
    }
}

/// Gives the network's branch of a machine's branch.
pub(crate) fn net(branch: machine::model::BranchId) -> circuit::Branch {
    circuit::Branch(u32::from(branch.0))
}
