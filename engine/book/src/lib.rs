//! The append-only log of a shop: events, sealed records, folds, and the contract every store keeps.
//!
//! # How it fits together
//! - An [`Event`] says what one device recorded: who wrote it ([`EventId`]: device and counter), what that device had
//!   seen of the others ([`Seen`]), a zoned time for display only, and a [`Body`].
//! - An event is a line of canonical JSON, and **the text is the event**. It is never written anew, so fields and
//!   kinds that a newer version added pass through an older one byte for byte; folds skip them. A SHA-256 checksum
//!   beside the text tells damage from truth, one event at a time.
//! - Order never rests on a clock. [`Event::rank`] is a total order that agrees with cause and effect and needs no
//!   other event to be known: see [`Rank`].
//! - Names, addresses, signatures and photos sit in [`SealedRecord`]s under a key per customer. Events hold only their
//!   ids. Erasure destroys the key; the log stays whole.
//! - State is a pure fold ([`fold_book`], [`fold_job`]) of the set of events: any order of arrival and any repetition
//!   gives the same state. An event that rests on a computation carries the result that was shown.
//! - [`Store`] is the contract; [`MemoryStore`] keeps it in memory; [`suite`] is the test every
//!   store must pass.
//!
//! The byte format is fixed in `FORMAT.md` beside this crate.
//!
//! This crate refuses to know: machines, circuits and beliefs (it holds their names as plain text), the clock, any
//! source of randomness, files and databases. Time, random bytes and device ids are handed in.

mod canonical;
mod event;
mod facts;
mod file;
mod filing;
mod fold;
mod ids;
mod memory;
mod pen;
mod sealed;
mod seen;
mod store;
pub mod suite;
mod time;
mod value;

pub use event::{Body, Checksum, Event, FORMAT_VERSION, Rank, ReadError, Scope, Undone, WriteError};
pub use facts::call::{
    Arrived, CallEnded, CallFact, CoverClosed, CoverOpened, End, Energised, Isolated, LeadsLifted, LeadsRefitted,
    LookTaken, MadeSafe, OldPart, PartChanged, Provocation, Provoked, ReadingTaken, Stage, StageEntered, StepDone,
    StepProposed, SupplyChecked, SupplyReading, TryTaken, Verdict,
};
pub use facts::common::{
    Answers, Charge, ChargeSort, Connection, FaultName, Instrument, MachineFile, Parsed, Photo, Place, Reading, Role,
    Shown, Signature, SuspectShown, TaxCategory, TaxedCharge,
};
pub use facts::job::{
    ApplianceFound, ApprovalRecorded, CallOpened, Came, ComplaintAdded, Decision, FaultFound, HandedOver, HazardAction,
    HazardCleared, HazardFound, HazardKind, JobClosed, JobFact, NoteTaken, Offer, Outcome, PaidBy, PaperIssued,
    PaperSort, PartArrived, PartOrdered, PaymentTaken, PhotoTaken, ProofResult, Purpose, QuoteGiven, VisitPromised,
};
pub use facts::shop::{
    AgeLearned, ApplianceAdded, ApplianceLearned, Complaint, CustomerAdded, CustomerChanged, Exchange, HabitsTaken,
    JobOpened, KeyDestroyed, LearningTaken, Letterhead, Loading, MachineDescribed, MachineSet, PaceLearned, PriceSet,
    Report, SettingsSet, ShopFact, TaxRule, TemperatureScale, VanCounted, Warranty, WeightLearned, Work, WorkingDay,
};
pub use file::{read_book_file, write_book_file};
pub use filing::{Filing, filing, stays};
pub use fold::{
    Appliance, Approval, Book, Call, Customer, Entry, Fact, FactKind, Hazard, Job, ScrewsMissing, Standing, Summary,
    Writers, fold_book, fold_job,
};
pub use ids::{
    ApplianceId, BadName, CallId, CustomerId, DeviceId, EventId, HIGHEST_COUNTER, JobId, KeyId, RecordId,
    bytes_from_hex,
};
pub use memory::MemoryStore;
pub use pen::{Pen, RecordError, record};
pub use sealed::{BadStrokes, Content, Key, Person, SealError, SealedRecord, Signed, Strokes};
pub use seen::Seen;
pub use store::{Damage, KeyHeld, Loaded, Store, StoreError, check_kept, clash_within, key_destroyed_by};
pub use time::{BadTime, ZonedTime};
pub use value::{BadCurrency, Currency, Money, Number, Unit, Value};
