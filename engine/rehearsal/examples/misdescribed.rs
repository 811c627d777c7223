//! Rehearses calls on units that are not as described.
//!
//! `misdescribed [calls=N] [seed=N] FILE.toml...`
#![allow(clippy::print_stdout, reason = "an example prints")]

use rehearsal::{Settings, misdescribed};
use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let (mut calls, mut seed) = (50, 1);
    for word in std::env::args().skip(1) {
        match word.split_once('=').unwrap_or((&word, "")) {
            ("calls", number) => calls = number.parse()?,
            ("seed", number) => seed = number.parse()?,
            (path, _) => {
                let read = machine::read(&std::fs::read_to_string(path)?);
                let machine = read.machine.ok_or_else(|| format!("`{path}` does not read clean"))?;
                let mut tell = |said: &rehearsal::Said| {
                    let differs = said.peculiarity.as_deref().unwrap_or("as described");
                    if said.misled || said.wrong_part || said.unexplained {
                        println!(
                            "{:>20} misled {:5} said {:5} first {:5} wrong part {:5} named {:5}  {differs} {}",
                            said.seed,
                            said.misled,
                            said.unexplained,
                            said.said_first,
                            said.wrong_part,
                            said.named,
                            said.faults.join(" ")
                        );
                        said.told.iter().for_each(|told| println!("{:>22}{told}", ""));
                    }
                };
                let report = misdescribed(&machine, calls, seed, &Settings::default(), &mut tell)?;
                println!("{} {report:?}", machine.id);
            }
        }
    }
    Ok(())
}
