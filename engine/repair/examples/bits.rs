//! Prints one number for each shipped machine that stands for the exact bits of what the engine computes on it: readings
//! under every single fault, the belief after a complaint and two readings, and the proposals that follow.
//!
//! `make same-bits` runs it natively and as WebAssembly; the two must print the same.
#![allow(clippy::print_stdout, reason = "an example prints its answer")]

use diagnosis::{Assumptions, Belief, Evidence, Measured};
use machine::model::Machine;
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Shown};
use repair::{Bench, Prices, advise};

const MACHINES: [&str; 2] =
    [include_str!("../../../machines/dryer-timer-240.toml"), include_str!("../../../machines/range-control-240.toml")];

/// FNV-1a over the bits of numbers. SOURCE: Fowler, Noll, Vo; constants of the 64-bit variant.
struct Bits(u64);

impl Bits {
    fn take(&mut self, value: f64) {
        for byte in value.to_bits().to_le_bytes() {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for text in MACHINES {
        let machine = machine::read(text).machine.ok_or("a shipped machine does not read clean")?;
        let mut bits = Bits(0xcbf2_9ce4_8422_2325);
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let readings = readings(&machine, &predictor);
        for reading in &readings {
            predictor.fault_ids().for_each(|fault| take_shown(&mut bits, predictor.predict(reading, &[fault]).shown));
        }
        let mut belief = Belief::new(&predictor, Assumptions::default());
        let state = predictor.state_ids().max_by_key(|&s| predictor.observed_in(s).count()).ok_or("no state")?;
        let fault = predictor.fault_ids().find(|&f| predictor.observe(state, &[f]) != predictor.observe(state, &[]));
        for seen in predictor.observe(state, &[fault.ok_or("no fault shows")?]) {
            belief.take(Evidence::Reported(seen));
        }
        for reading in readings.into_iter().take(2) {
            belief.take(Evidence::Read { reading, measured: Measured::Value(10.0) });
        }
        belief.shares().iter().for_each(|(_, share)| bits.take(*share));
        let bench = Bench { trouble: vec![state], ..Bench::default() };
        for advice in advise(&belief, &bench, &Prices::default(), 300)? {
            bits.take(advice.expected);
            advice.outcomes.iter().for_each(|outcome| bits.take(outcome.chance));
        }
        println!("{} {:016x}", machine.id, bits.0);
    }
    Ok(())
}

/// Ohms across every part at rest, and volts across every part in each state, as far as probes reach.
fn readings(machine: &Machine, predictor: &Predictor<'_>) -> Vec<Reading> {
    let hidden = |t: machine::model::TerminalId| machine.terminals[t.index()].hidden;
    let reached = machine.branches.iter().filter(|b| !hidden(b.from) && !hidden(b.to));
    let probes: Vec<Probe> = reached.map(|b| Probe::Across(b.from, b.to)).collect();
    let states: Vec<_> = predictor.state_ids().collect();
    let mut readings = Vec::new();
    for (index, &probe) in probes.iter().enumerate() {
        let ohms = Condition::isolated(machine::model::StateId(0));
        readings.push(Reading { quantity: Quantity::Ohms, probe, condition: ohms });
        let volts = Condition::running(states[index % states.len()]);
        readings.push(Reading { quantity: Quantity::Volts, probe, condition: volts });
    }
    readings
}

fn take_shown(bits: &mut Bits, shown: Shown) {
    match shown {
        Shown::Value { value, phase_deg, sigma } => [value, phase_deg, sigma].map(|part| bits.take(part)),
        Shown::OverRange => [f64::INFINITY, 0.0, 0.0].map(|part| bits.take(part)),
        Shown::Ghost { highest } => [highest, 1.0, 1.0].map(|part| bits.take(part)),
    };
}
