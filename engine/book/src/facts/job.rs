//! Facts about a job as a whole, said during a call or between calls.
//!
//! Refuses to know what a quote adds up to or whether a proof's limit is right.

use serde::{Deserialize, Serialize};

use super::common::{Charge, FaultName, Instrument, Photo, Place, Reading, Role, Shown, Signature, TaxedCharge};
use super::shop::Complaint;
use super::{facts, kinds_of_job};
use crate::ids::{ApplianceId, EventId, RecordId};
use crate::time::ZonedTime;
use crate::value::Money;

facts!(
    /// A fact about a job.
    JobFact {
        CallOpened = "call_opened",
        ApplianceFound = "appliance_found",
        ComplaintAdded = "complaint_added",
        QuoteGiven = "quote_given",
        ApprovalRecorded = "approval_recorded",
        HazardFound = "hazard_found",
        HazardCleared = "hazard_cleared",
        FaultFound = "fault_found",
        ProofResult = "proof_result",
        PhotoTaken = "photo_taken",
        NoteTaken = "note_taken",
        VisitPromised = "visit_promised",
        PartOrdered = "part_ordered",
        PartArrived = "part_arrived",
        PaperIssued = "paper_issued",
        PaymentTaken = "payment_taken",
        HandedOver = "handed_over",
        JobClosed = "job_closed",
    }
);

kinds_of_job!(
    JobFact in Job:
    CallOpened,
    ApplianceFound,
    ComplaintAdded,
    QuoteGiven,
    ApprovalRecorded,
    HazardFound,
    HazardCleared,
    FaultFound,
    ProofResult,
    PhotoTaken,
    NoteTaken,
    VisitPromised,
    PartOrdered,
    PartArrived,
    PaperIssued,
    PaymentTaken,
    HandedOver,
    JobClosed,
);

/// A visit is opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CallOpened {
    /// What the visit is for.
    pub purpose: Purpose,
    /// Start and end of the window promised to the customer.
    pub promised: Option<(ZonedTime, ZonedTime)>,
}

/// What a visit is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    /// The first visit of the job.
    First,
    /// Return with an ordered part.
    WithPart,
    /// Return for a proof that had to wait.
    DeferredProof,
    /// Return for any other reason.
    Return,
}

/// The job's appliance is named after the job was opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ApplianceFound {
    /// The appliance.
    pub appliance: ApplianceId,
}

/// The customer tells more.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ComplaintAdded {
    /// What is added.
    pub complaint: Complaint,
}

/// What the customer may choose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Offer {
    /// Repair it.
    Repair,
    /// Refer it to one licensed or equipped for it.
    Refer,
    /// Replace the appliance.
    Replace,
    /// Leave it as it is.
    Leave,
    /// Disconnect it, where a dangerous fault is open.
    Disconnect,
}

/// A quote is given.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct QuoteGiven {
    /// What is offered.
    pub offer: Offer,
    /// Its lines.
    #[serde(default)]
    pub charges: Vec<Charge>,
    /// Lowest total said.
    pub low: Money,
    /// Highest total said.
    pub high: Money,
    /// Until when it holds.
    pub holds_until: Option<ZonedTime>,
    /// What it rests on, if computed.
    pub shown: Option<Shown>,
}

/// What the customer decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// Go ahead.
    Approved,
    /// Do not.
    Declined,
}

/// The customer's decision about a quote.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ApprovalRecorded {
    /// The event of the quote.
    pub quote: EventId,
    /// The decision.
    pub decision: Decision,
    /// Who put his name to it.
    pub signature: Signature,
}

/// What kind of harm a hazard can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the trade's full name of the hazard")]
pub enum HazardKind {
    Shock,
    StoredCharge,
    HotSurface,
    Scald,
    SharpEdge,
    HeavyLift,
    FuelGas,
    CombustionProducts,
    Fire,
    WaterByElectricity,
    Refrigerant,
    MovingParts,
    Glass,
    TipOver,
    Dirt,
    Other,
}

/// What was done about a hazard on the spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HazardAction {
    /// Disconnected from its supply.
    Disconnected,
    /// Tagged do-not-use.
    Tagged,
    /// Both.
    DisconnectedAndTagged,
    /// Nothing but telling.
    None,
}

/// A hazard is found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HazardFound {
    /// What harm it can do.
    pub kind: HazardKind,
    /// What was found, in words without names.
    pub what: String,
    /// Where.
    #[serde(default)]
    pub places: Vec<Place>,
    /// Whether it is so dangerous that leaving it as it is may not be offered.
    pub dangerous: bool,
    /// Who was told.
    #[serde(default)]
    pub told: Vec<Role>,
    /// What was done.
    pub action: HazardAction,
    /// Whether the one told put his name to it.
    pub signature: Signature,
}

/// A hazard is gone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HazardCleared {
    /// The event that found it.
    pub hazard: EventId,
    /// How, in words.
    pub how: String,
}

/// The cause is settled, by a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FaultFound {
    /// The faults; empty if nothing was wrong with the appliance.
    #[serde(default)]
    pub faults: Vec<FaultName>,
    /// In words.
    pub words: String,
    /// What the tool showed then.
    pub shown: Option<Shown>,
}

/// How a proof came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// It holds.
    Passed,
    /// It does not hold.
    Failed,
    /// The instrument at hand cannot decide it.
    NotDecided {
        /// Why, in words.
        why: String,
    },
    /// It has to wait; the job stays open.
    Deferred {
        /// Until when.
        until: ZonedTime,
        /// Who will look.
        by: Role,
    },
}

/// The result of a proof. A later result of the same proof takes its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProofResult {
    /// The proof, by id.
    pub proof: String,
    /// The limit, in words with units.
    pub limit: String,
    /// Where the limit comes from.
    pub source: String,
    /// How it is proved.
    pub method: String,
    /// With what.
    pub instrument: Option<Instrument>,
    /// What was read.
    #[serde(default)]
    pub readings: Vec<Reading>,
    /// How it came out.
    pub outcome: Outcome,
}

/// A photo is taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoTaken {
    /// The photo.
    pub photo: Photo,
}

/// A note is written; its text is in a sealed record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NoteTaken {
    /// The record.
    pub record: RecordId,
}

/// Papers are handed over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandedOver {
    /// Which papers, such as `record`, `quote`, `invoice`.
    pub papers: Vec<String>,
    /// To whom.
    pub to: Role,
    /// Hash of what was handed over, in hexadecimal.
    pub hash: Option<String>,
    /// A sealed copy.
    pub copy: Option<RecordId>,
    /// Whether the receiver signed for it.
    pub signature: Option<Signature>,
}

/// The job is closed. It stays open all the same while a proof is deferred.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobClosed {
    /// Why, in words without names.
    pub why: Option<String>,
}

/// A visit is promised to the customer within a window; a later promise takes its place, and making the visit uses it up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct VisitPromised {
    /// Start and end of the window.
    pub window: (ZonedTime, ZonedTime),
}

/// A part is ordered for the job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartOrdered {
    /// The part, by id.
    pub part: String,
    /// When it should be there, if known.
    pub expected: Option<ZonedTime>,
}

/// An ordered part is there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartArrived {
    /// The part that was ordered, by id.
    pub part: String,
    /// What came.
    pub came: Came,
}

/// What came for an ordered part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Came {
    /// The part.
    AsOrdered,
    /// Another one that does the same.
    Substitute {
        /// What it is, in words.
        what: String,
    },
    /// The wrong one: it is still waited for.
    Wrong {
        /// What it is, in words.
        what: String,
    },
}

/// The sort of an issued paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PaperSort {
    /// What the customer owes.
    Invoice,
    /// Takes an invoice back, whole or in part.
    CreditNote,
    /// What the customer has paid.
    Receipt,
}

/// A paper is issued. It holds for ever: undoing it does not count, a credit note takes it back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PaperIssued {
    /// What it is.
    pub sort: PaperSort,
    /// Its number in the gapless series of the device that issues it, from 1.
    pub number: u64,
    /// Its lines.
    #[serde(default)]
    pub lines: Vec<TaxedCharge>,
    /// What was paid before, deposits with it.
    pub paid_before: Money,
    /// What is still to be paid; of a credit note what is taken back, of a receipt what was paid.
    pub payable: Money,
    /// Until when, where something is.
    pub due: Option<ZonedTime>,
    /// The paper that it takes back, or that was paid.
    pub of: Option<EventId>,
    /// Why nothing or less is charged, or why it is taken back, in words without names.
    pub why: Option<String>,
}

/// How something was paid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the full name of a way to pay")]
pub enum PaidBy {
    Cash,
    Card,
    Transfer,
    Cheque,
}

/// The customer pays.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PaymentTaken {
    /// How much; under nothing where it is given back.
    pub amount: Money,
    /// How.
    pub by: PaidBy,
    /// The invoice it is for; a deposit where there is none yet.
    pub of: Option<EventId>,
}
