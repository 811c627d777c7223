//! Rehearses calls on one machine and prints the tool beside its rivals.
//!
//! `report FILE.toml SEED CALLS [nodes=N]`.
#![allow(clippy::print_stdout, reason = "an example prints its answer")]

use rehearsal::{Settings, rehearse};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [path, seed, calls, rest @ ..] = args.as_slice() else {
        return Err("give a machine's file, a seed and how many calls".into());
    };
    let mut settings = Settings::default();
    if let Some(nodes) = rest.first().and_then(|word| word.strip_prefix("nodes=")) {
        settings.nodes = nodes.parse()?;
    }
    let read = machine::read(&std::fs::read_to_string(path)?);
    let machine = read.machine.ok_or("the machine does not read clean; run `callwright check` on it")?;
    println!("{}", rehearse(&machine, calls.parse()?, seed.parse()?, &settings)?.table());
    Ok(())
}
