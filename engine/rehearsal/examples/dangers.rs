//! Lists the dangerous faults of machines and what tells each before handing back: `dangers FILE.toml...`

use prediction::{Meter, Predictor};
use rehearsal::{ToldBy, told_by};
use repair::proving::Owed;
use std::error::Error;

#[expect(clippy::print_stdout, reason = "an example prints")]
fn main() -> Result<(), Box<dyn Error>> {
    for path in std::env::args().skip(1) {
        let read = machine::read(&std::fs::read_to_string(&path)?);
        let machine = read.machine.ok_or_else(|| format!("`{path}` does not read clean"))?;
        let predictor = Predictor::new(&machine, Meter::ordinary());
        for (fault, id) in machine.faults.iter().zip(0..) {
            if !fault.dangerous || fault.weight <= 0.0 {
                continue;
            }
            let id = machine::model::FaultId(id);
            let told = match told_by(&predictor, &truth::Unit::nominal(&machine, &[id]), id) {
                ToldBy::Run(state) => format!("run {}", machine.states[state.index()].id),
                ToldBy::Reading(Owed::Proof(at)) => format!("proof {}", machine.proofs[at].id),
                ToldBy::Reading(Owed::Supply(at)) => format!("check of the supply, reading {}", at + 1),
                ToldBy::Nothing => "NOTHING".to_owned(),
            };
            println!("{:24} {:34} {:5.2}  {told}", machine.id, fault.id, fault.weight);
        }
    }
    Ok(())
}
