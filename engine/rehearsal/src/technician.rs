//! Who takes a call: what a technician is told and what he decides. Knows no truth.

mod flowchart;
mod tool;

pub(crate) use flowchart::Flowchart;
pub(crate) use tool::{Decisions, Policy, Tool};

use diagnosis::{Measured, Suspect};
use machine::model::{FaultId, PartId, RepairId, StateId};
use prediction::{Reading, Seen};
use repair::plan::ProblemError;
use repair::proving::Owed;
use repair::{Act, Bench};

/// One thing that a technician learns.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The meter showed this.
    Read {
        /// What was asked for.
        reading: Reading,
        /// What it showed.
        measured: Measured,
    },
    /// The customer was asked about a state and answers this.
    Answered(Vec<Seen>),
    /// A look at a part.
    Looked {
        /// The part.
        part: PartId,
        /// It shows damage.
        damage: bool,
        /// The faults it looks like, for one who knows what each looks like.
        like: Vec<FaultId>,
    },
    /// A state was run and watched.
    Watched {
        /// The state.
        state: StateId,
        /// Everything noticed.
        seen: Vec<Seen>,
    },
    /// A repair was done; the function is tried next.
    Repaired(RepairId),
    /// After a repair: everything watched went as it should, or not.
    Tried {
        /// It did.
        works: bool,
    },
    /// The final run showed something amiss.
    ProofFailed(Vec<Seen>),
    /// A reading owed before handing back is outside of its limit, read twice.
    ProofFails(Owed),
}

/// What a technician does next.
#[derive(Clone, Debug, PartialEq)]
pub enum Move {
    /// This.
    Do(Act),
    /// Runs everything once more and leaves if all is well.
    Prove,
    /// Has not decided yet: the visit is told as far as it went.
    Wait,
}

/// Someone who takes a call.
pub trait Technician {
    /// Decides what to do next.
    ///
    /// # Errors
    /// A problem that cannot be planned.
    fn next(&mut self, bench: &Bench) -> Result<Move, ProblemError>;

    /// Gives the use to ask the customer about next, before setting out; those in `asked` were asked about.
    ///
    /// A flowchart asks nothing: it takes the complaint as it comes and makes its own tries.
    fn ask(&mut self, _asked: &[StateId]) -> Option<StateId> {
        None
    }

    /// Takes in what came of it.
    fn learn(&mut self, event: &Event);

    /// Gives the suspects of at least this share with their shares, likeliest first; nothing for one whose shares are
    /// not judged, or once he holds the job for done.
    fn states(&mut self, _least: f64) -> Vec<(Suspect, f64)> {
        Vec::new()
    }

    /// Gives the share of his suspects that this repair cures, 0 to 1; `None` for one whose shares are not judged.
    fn claims(&mut self, _repair: RepairId) -> Option<f64> {
        None
    }

    /// Gives his likeliest suspects in words with their shares, for a trace; none for one who weighs none.
    fn top(&mut self, count: usize) -> Vec<(String, f64)>;
}
