//! What may be live, what proves it dead, and the gate that every step passes. Knows no probabilities.
//!
//! Three ideas. [`LiveMap`] is reachability with everything in its worst position: an upper bound that no belief can
//! lower. [`DeadProof`] is evidence: only measured facts make one, and energising the machine spends it. [`Gate`] hands
//! out a [`Permit`] for a step or a [`Refusal`]; a step of any other crate carries its permit, and no price buys one.

mod board;
mod caution;
mod dead;
mod duties;
mod energy;
mod found;
mod gate;
mod live;
mod make_safe;
mod words;

pub use board::{
    BoardEvidence, BoardFacts, BoardTrouble, NeedFact, OutputFact, WhyNotBoard, display_vouches, judge_board,
};
pub use caution::{Caution, Signal, caution};
pub use dead::{
    Against, DEAD_LIMIT_VOLTS, DeadFact, DeadProof, DeadReading, DeadRecord, EarthCheck, KnownSource, MeterCheck, Pair,
    WhyNot, WorkPoint, judge_dead, required_measurements,
};
pub use duties::{Duty, Topic, duties};
pub use energy::{
    Energy, EnergyKind, EnergySource, Feed, Heat, Isolator, Secured, Springs, Store, Valve, Water, WhyNotDone,
    energy_sources, stores,
};
pub use found::{End, EndRefusal, HazardAction, HazardFound, Signature, may_end};
pub use gate::Gate;
pub use gate::permit::{Class, Counts, Permit};
pub use gate::refusal::Refusal;
pub use gate::request::{IsolatedReading, LastResort, Situation, StepRequest};
pub use live::{LiveMap, Origin, Reach};
pub use make_safe::{BLEED_OHMS, MakeSafe, SafeStep, discharge_seconds, make_safe};
