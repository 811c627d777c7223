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
            let mut proved = self.proving_reading(owed, &reading, hands);
            if proved == Proved::Failed {
                proved = self.proving_reading(owed, &reading, hands);
            }
            if proved == Proved::Failed {
                self.failing = Some(owed);
                self.technician.learn(&Event::ProofFails(owed));
                return false;
            }
            self.proved.insert(owed, proved);
        }
        true
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
