//! What only simulation can find wrong with a description: contacts that chatter, a dead short, a state that cannot be
//! solved, a zone that is waited for and never gets hot. Says what is wrong, where, and the mend; the reader finds everything else.

use crate::moment::watts;
use crate::predictor::Predictor;
use crate::reading::{Condition, Probe, Quantity, Reading};
use crate::settle::{Config, Size};
use machine::model::{Branch, BranchId, FlagRule, Law, Observed, Proof, ProofHow, StateId};

/// Least that all loads together, and most that those of a state may take, as shares of the plate's watts.
const PLATE_LEAST: f64 = 0.8;
const PLATE_MOST: f64 = 1.2;

/// One thing found wrong by simulating the sound machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Stable code.
    pub code: &'static str,
    /// Where it shows.
    pub state: StateId,
    /// Line of the file of the part concerned, 0 where there is none.
    pub line: u32,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub hints: Vec<String>,
}

impl Predictor<'_> {
    /// Simulates the sound machine in every state and gives all that is wrong with it.
    #[must_use]
    pub fn check(&self) -> Vec<Trouble> {
        let states =
            self.state_ids().flat_map(|state| self.check_state(state).into_iter().chain(self.check_warmth(state)));
        let proofs = self.machine().proofs.iter().filter_map(|proof| self.unattainable(proof));
        states.chain(proofs).chain(self.off_its_plate()).collect()
    }

    /// Gives the trouble of a plate that the sound machine exceeds in some state, or does not come near with all its loads
    /// together, each in the state in which it takes most.
    ///
    /// SOURCE: IEC 60335-1, power input, table 1: heating appliances +5 % and -10 %, motor-operated and combined ones
    /// +20 % (from memory). The wider is held both ways: the description's own tolerances are within it.
    fn off_its_plate(&self) -> Option<Trouble> {
        let machine = self.machine();
        let plate = machine.plate_watts;
        let draws: Vec<(StateId, Vec<f64>)> =
            self.state_ids().filter_map(|state| Some((state, self.taken(state)?))).collect();
        let (state, most) = draws
            .iter()
            .map(|(state, loads)| (*state, loads.iter().sum::<f64>()))
            .max_by(|(_, a), (_, b)| a.total_cmp(b))?;
        let together: f64 = (0..machine.branches.len())
            .map(|load| draws.iter().map(|(_, loads)| loads[load]).fold(0.0, f64::max))
            .sum();
        let name = &machine[state].id;
        let message = if most > PLATE_MOST * plate {
            format!("the plate says {plate:.0} W, the sound machine takes {most:.0} W in the state `{name}`")
        } else if together < PLATE_LEAST * plate {
            format!("the plate says {plate:.0} W, all loads of the sound machine together take {together:.0} W")
        } else {
            return None;
        };
        let mend =
            "correct the plate's watts or the ratings of the loads, or add the states in which the others are on";
        Some(Trouble { code: "s007-off-its-plate", state, line: 0, message, hints: vec![mend.to_owned()] })
    }

    /// Gives the watts that each branch of the sound machine takes in a state; `None` where it cannot be solved.
    fn taken(&self, state: StateId) -> Option<Vec<f64>> {
        let machine = self.machine();
        self.running(state, (&[], Size::DESCRIBED), |solution, _| {
            let of = |(id, branch): (BranchId, &Branch)| {
                let own = !machine[branch.part].installation && !matches!(branch.law, Law::Source { .. });
                if own { watts(machine, id, solution) } else { 0.0 }
            };
            (0..).map(BranchId).zip(&machine.branches).map(of).collect()
        })
    }

    /// Gives the trouble of a proof that the sound machine does not pass.
    fn unattainable(&self, proof: &Proof) -> Option<Trouble> {
        let (quantity, ends, condition, limits) = match proof.how {
            ProofHow::Ohms { from, to, at_least, at_most, .. } => {
                (Quantity::Ohms, (from, to), Condition::isolated(StateId(0)), (at_least, at_most))
            }
            ProofHow::Volts { from, to, state, at_least, at_most } => {
                (Quantity::Volts, (from, to), Condition::running(state), (at_least, at_most))
            }
            ProofHow::Amps { .. } | ProofHow::Run { .. } | ProofHow::Look => return None,
        };
        let state = condition.state;
        let reading = Reading { quantity, probe: Probe::Across(ends.0, ends.1), condition };
        let (low, high) = self.predict(&reading, &[]).interval(quantity, self.meter());
        let passes = limits.0.is_none_or(|least| high >= least) && limits.1.is_none_or(|most| low <= most);
        let unit = if quantity == Quantity::Ohms { "ohm" } else { "V" };
        (!passes).then(|| Trouble {
            code: "s006-unattainable",
            state,
            line: 0,
            message: format!(
                "the sound machine does not pass the proof `{}`: it reads {low:.3} to {high:.3} {unit}",
                proof.id
            ),
            hints: vec!["correct its limits or its points, or the ratings and leads between them".to_owned()],
        })
    }

    /// A zone that is watched must get hot on the sound machine, else nothing is slow against it.
    fn check_warmth(&self, state: StateId) -> Vec<Trouble> {
        let machine = self.machine();
        let cool = self.observe(state, &[]).into_iter().filter_map(|seen| {
            let Observed::Warms { zone, to_c, .. } = machine[seen.what].of else { return None };
            let gets_there = self.pace(state, seen.what, 0).is_some() && seen.value == Observed::IN_TIME;
            (!gets_there).then_some((zone, to_c))
        });
        let name = &machine[state].id;
        cool.map(|(zone, to_c)| Trouble {
            code: "s004-never-warm",
            state,
            line: 0,
            message: format!(
                "the sound machine does not get `{}` to {to_c:.0} °C in the state `{name}`",
                machine.zones[zone.index()].id
            ),
            hints: vec![
                "name only states in which its heaters are on, or lower `to_c`".to_owned(),
                "a temperature in `holds` must lie well above `to_c`".to_owned(),
            ],
        })
        .collect()
    }

    fn check_state(&self, state: StateId) -> Vec<Trouble> {
        let machine = self.machine();
        let name = &machine.states[state.index()].id;
        let settled = self.settle(state, &[]);
        let mut troubles: Vec<Trouble> = settled
            .chatters
            .iter()
            .map(|flag| {
                let part = &machine.parts[machine.flags[flag.index()].part.index()];
                Trouble {
                    code: "s001-chatters",
                    state,
                    line: part.line,
                    message: format!("`{}` never comes to rest in the state `{name}`", part.id),
                    hints: vec![
                        "a contact that it moves switches off what holds it; check which terminals its contacts join"
                            .to_owned(),
                        "if it cycles by temperature, declare the temperature in the state".to_owned(),
                    ],
                }
            })
            .collect();
        for (index, flag) in machine.flags.iter().enumerate() {
            if matches!(flag.rule, FlagRule::Breaker { .. }) && settled.config.0 >> index & 1 == 1 {
                troubles.push(Trouble {
                    code: "s002-dead-short",
                    state,
                    line: 0,
                    message: format!("the breaker trips on the sound machine in the state `{name}`"),
                    hints: vec!["two legs, or a leg and neutral, are joined without a load between them; follow the leads of the parts that this state closes".to_owned()],
                });
            }
        }
        troubles.extend(self.nuisance_trip(state, settled.config));
        if self.running(state, (&[], Size::DESCRIBED), |_, _| ()).is_none() {
            troubles.push(Trouble {
                code: "s003-no-solution",
                state,
                line: 0,
                message: format!("the circuit of the state `{name}` has no solution"),
                hints: vec!["look for two sources joined without resistance between them".to_owned()],
            });
        }
        troubles
    }
    /// Gives the trouble of a residual-current device that the sound machine's own leakage trips.
    fn nuisance_trip(&self, state: StateId, config: Config) -> Option<Trouble> {
        let machine = self.machine();
        let device = machine.supply.residual.as_ref().filter(|device| config.stands(device.flag))?;
        let name = &machine.states[state.index()].id;
        Some(Trouble {
            code: "s005-nuisance-trip",
            state,
            line: 0,
            message: format!("the residual-current device trips on the sound machine in the state `{name}`"),
            hints: vec![format!(
                "more than {} mA return by earth; look at every `leaks`, at filters wired to the frame, and whether neutral touches the frame",
                device.amps * 1e3
            )],
        })
    }
}
