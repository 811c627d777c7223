//! From machine, values and faults to one network, whole, with every value written into it as a number.

use crate::values::Values;
use circuit::{Branch as Wire, Complex64, Law as Element, Network, Node};
use machine::faults::Effect;
use machine::model::{BranchId, Law, Machine, Rule, SensorTable, StateId, TerminalId};
use quantity::thermistor::BetaCurve;
use quantity::{Celsius, Ohms, platinum};

/// How the machine stands while one network is built.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stance<'a> {
    /// State whose controls are set.
    pub(crate) state: StateId,
    /// Buttons that are held only while entering are held.
    pub(crate) pressed: bool,
    /// The plug is in.
    pub(crate) plugged: bool,
    /// Direct current with every source dead: an ohm-meter looks.
    pub(crate) direct: bool,
    /// Leads that are off.
    pub(crate) lifted: &'a [BranchId],
    /// Flags that stand.
    pub(crate) flags: &'a [bool],
}

/// The machine with its own values and the faults it has.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Body<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) values: &'a Values,
    pub(crate) effects: &'a [Effect],
    /// Those of them that make it another build, and no fault.
    pub(crate) build: &'a [Effect],
}

impl Body<'_> {
    /// Builds the network; branch n of the machine is its branch n, bridges come after.
    pub(crate) fn network(&self, stance: &Stance<'_>) -> Network {
        let nodes = u32::try_from(self.machine.terminals.len()).unwrap_or(u32::MAX);
        let mut network = Network::new(nodes);
        for (index, branch) in self.machine.branches.iter().enumerate() {
            let law = self.law(index, stance);
            network.add(self.node(branch.from), self.node(branch.to), law);
        }
        for effect in self.effects {
            if let Effect::Bridge(a, b, ohms) = *effect {
                network.add(self.node(a), self.node(b), Element::ohms(ohms));
            }
        }
        network
    }

    /// Gives the node of a terminal: true earth is node 0, the terminals before it move up by one.
    pub(crate) fn node(&self, terminal: TerminalId) -> Node {
        let earth = self.machine.supply.earth;
        let number = u32::from(terminal.0);
        if terminal == earth {
            Node(0)
        } else if terminal < earth {
            Node(number + 1)
        } else {
            Node(number)
        }
    }

    /// Gives the network's branch of a machine's branch.
    pub(crate) fn wire(branch: BranchId) -> Wire {
        Wire(u32::from(branch.0))
    }

    /// Says what one branch is: what its faults make of it, else what it is when sound.
    ///
    /// What is pulled or lifted is open before all else; a broken branch is open whatever else ails it.
    fn law(&self, index: usize, stance: &Stance<'_>) -> Element {
        let is = |branch: BranchId| branch.index() == index;
        let pulled = !stance.plugged && self.machine.supply.plug.iter().any(|&b| is(b));
        let lifted = stance.lifted.iter().any(|&b| is(b));
        let broken = self.effects.iter().any(|e| matches!(*e, Effect::Open(b) if is(b)));
        if pulled || lifted || broken {
            return Element::Open;
        }
        let set = self.effects.iter().rev().find_map(|e| match *e {
            Effect::Ohms(b, ohms) if is(b) => Some(ohms),
            _ => None,
        });
        if let Some(ohms) = set {
            return Element::ohms(ohms);
        }
        let scale: f64 = self
            .effects
            .iter()
            .filter_map(|e| if let Effect::Scale(b, factor) = *e { is(b).then_some(factor) } else { None })
            .product();
        let law = self.sound_law(index, stance, scale * self.values.factors[index]);
        let turned =
            self.effects.iter().filter_map(|e| if let Effect::Turn(b, by) = *e { is(b).then_some(by) } else { None });
        match law {
            Element::Source { emf, series } => {
                let turn = turned.sum::<f64>() * std::f64::consts::PI / 180.0;
                Element::Source { emf: emf * Complex64::new(libm::cos(turn), libm::sin(turn)), series }
            }
            other => other,
        }
    }

    /// Gives the law of a branch without fault, its value multiplied by `factor`.
    fn sound_law(&self, index: usize, stance: &Stance<'_>, factor: f64) -> Element {
        match &self.machine.branches[index].law {
            Law::Resistance(r) => Element::ohms(factor * if stance.direct { r.cold_ohms } else { r.hot_ohms }),
            Law::Sensor { zone, table, .. } => {
                Element::ohms(factor * sensor(*table, self.celsius(zone.index(), stance)))
            }
            Law::Winding { ohms, .. } if stance.direct => Element::ohms(factor * ohms),
            Law::Winding { ohms, reactance, running, flag, .. } => {
                let runs = flag.is_some_and(|flag| stance.flags[flag.index()]);
                let (re, im) = if runs { *running } else { (*ohms, *reactance) };
                Element::Impedance(Complex64::new(factor * re, factor * im))
            }
            Law::Capacitor { .. } if stance.direct => Element::Open,
            Law::Capacitor { farads, .. } => {
                let siemens = 2.0 * std::f64::consts::PI * self.machine.hertz * farads * factor;
                Element::Impedance(Complex64::new(0.0, -1.0 / siemens))
            }
            Law::Contact { rule, ohms } if self.closed(rule, stance) => Element::ohms(factor * ohms),
            Law::Contact { .. } => Element::Open,
            Law::Source { series_ohms, .. } if stance.direct => Element::ohms(*series_ohms),
            Law::Source { volts, degrees, series_ohms, .. } => {
                let turn = degrees * std::f64::consts::PI / 180.0;
                let emf = Complex64::new(libm::cos(turn), libm::sin(turn)) * (volts * factor);
                Element::Source { emf, series: Complex64::new(*series_ohms, 0.0) }
            }
        }
    }

    fn closed(&self, rule: &Rule, stance: &Stance<'_>) -> bool {
        match rule {
            Rule::Always => true,
            Rule::Flag { flag, inverted } => stance.flags[flag.index()] != *inverted,
            Rule::Position { part, closed_in } => {
                let state = &self.machine.states[stance.state.index()];
                let held = state.pressed.iter().find(|(p, _)| p == part).filter(|_| stance.pressed);
                let set = held.or_else(|| state.positions.iter().find(|(p, _)| p == part));
                set.is_some_and(|(_, position)| closed_in.contains(position))
            }
            Rule::Temperature { zone, trips_c, resets_c, closed_cold } => {
                let tripped = self
                    .history(zone.index(), stance)
                    .fold(false, |tripped, celsius| celsius >= *trips_c || (tripped && celsius >= *resets_c));
                tripped != *closed_cold
            }
        }
    }

    /// Gives a zone's temperatures on the way to this state, the present one last.
    fn history(&self, zone: usize, stance: &Stance<'_>) -> impl Iterator<Item = f64> {
        let mut way = vec![self.celsius(zone, stance)];
        if stance.plugged {
            let mut before = self.machine.states[stance.state.index()].entered_from;
            while let Some(state) = before.filter(|_| way.len() <= self.machine.states.len()) {
                let state = &self.machine.states[state.index()];
                way.push(state.temperatures_c[zone]);
                before = state.entered_from;
            }
        }
        way.into_iter().rev()
    }

    /// Gives a zone's temperature: declared while it runs, the room's once it is unplugged and cold.
    fn celsius(&self, zone: usize, stance: &Stance<'_>) -> f64 {
        if stance.plugged {
            self.machine.states[stance.state.index()].temperatures_c[zone]
        } else {
            self.machine.zones[zone].rest_c + self.values.rest_shift
        }
    }
}

fn sensor(table: SensorTable, celsius: f64) -> f64 {
    match table {
        SensorTable::Platinum { ohms_at_0c } => platinum::resistance(Ohms(ohms_at_0c), Celsius(celsius)).0,
        SensorTable::Thermistor { ohms_at_25c, beta } => {
            BetaCurve::at_25(Ohms(ohms_at_25c), beta).resistance(Celsius(celsius)).0
        }
    }
}
