//! Proving before handing back: the readings that the machine's proofs ask for are really taken, with the technician's
//! own meter, judged as a call judges them, the check of the supply with them; what fails sends him on. What fails is read once more before he acts.

use super::Visiting;
use crate::reading;
use crate::technician::Event;
use machine::faults::RepairKind;
use machine::model::RepairId;
use prediction::{Quantity, Reading};
use repair::proving::{self, Owed, Proved};
use repair::{Act, Hands};

impl Visiting<'_, '_> {
    /// Takes the proving readings that are due; says whether none of them fails.
    pub(super) fn prove_by_reading(&mut self) -> bool {
        for (owed, reading, hands) in proving::owed(self.machine) {
            if self.proved.contains_key(&owed) {
                continue;
            }
            if !self.holds(owed, &reading, hands) {
                return false;
            }
        }
        true
    }

    /// Takes one reading that is owed, and what fails once more; tells the technician if it fails both times.
    fn holds(&mut self, owed: Owed, reading: &Reading, hands: Hands) -> bool {
        let mut proved = self.proving_reading(owed, reading, hands);
        if proved == Proved::Failed {
            proved = self.proving_reading(owed, reading, hands);
        }
        let fails = proved == Proved::Failed;
        if fails {
            self.failing = Some(owed);
            if proving::is_hazard(self.machine, owed) {
                self.watch_for.danger(true);
            }
            self.technician.learn(&Event::ProofFails(owed));
        } else {
            self.proved.insert(owed, proved);
        }
        !fails
    }

    /// After a repair, before anything is switched on: says whether the hazard that a proof had shown is gone.
    pub(super) fn hazard_is_gone(&mut self, owed: Owed) -> bool {
        let of = proving::owed(self.machine).into_iter().find(|(at, _, _)| *at == owed);
        let gone = of.is_none_or(|(_, reading, hands)| self.holds(owed, &reading, hands));
        if gone {
            self.watch_for.danger(false);
        }
        gone
    }

    fn proving_reading(&mut self, owed: Owed, reading: &Reading, hands: Hands) -> Proved {
        if reading.quantity == Quantity::Amps && !self.predictor.meter().functions.clamp {
            return Proved::NotDecided("no clamp is owned");
        }
        let act = Act::Read(reading.clone(), hands);
        let begun = self.ledger.minutes();
        self.ledger.prove(&act);
        let measured = reading::take(&mut self.unit, reading, self.settings);
        self.bench.read.push(reading.clone());
        self.tell(begun, &act, &Event::Read { reading: reading.clone(), measured });
        proving::judge_owed(self.predictor, owed, reading, measured)
    }

    /// Forgets what a repair may have changed: the readings at the supply stand unless the installation was worked on.
    pub(super) fn prove_anew(&mut self, repair: RepairId) {
        let described = &self.machine.repairs[repair.index()];
        let house = self.machine.parts[described.part.index()].installation || described.kind == RepairKind::Refer;
        let mut at_supply = proving::owed(self.machine);
        at_supply.retain(|(_, _, hands)| *hands == Hands::Supply);
        self.proved.retain(|owed, _| !house && at_supply.iter().any(|(at, _, _)| at == owed));
        self.failing = None;
    }
}
