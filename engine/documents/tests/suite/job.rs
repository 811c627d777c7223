//! A job told in a few events. All values are made up.

use book::{
    ApprovalRecorded, Body, CallEnded, CallId, CallOpened, Charge, ChargeSort, Complaint, ComplaintAdded, Connection,
    CoverClosed, CoverOpened, CustomerAdded, Decision, DeviceId, End, Event, EventId, FaultFound, FaultName,
    HandedOver, HazardAction, HazardFound, HazardKind, Instrument, Job, JobFact, JobId, JobOpened, KeyId, MachineFile,
    MemoryStore, Money, Offer, OldPart, Outcome, Parsed, PartChanged, Pen, Place, ProofResult, Purpose, QuoteGiven,
    Reading, ReadingTaken, RecordId, Report, Role, Shown, Signature, StepProposed, TryTaken, Unit, Value, fold_job,
    record,
};
use documents::Heading;
use std::collections::BTreeMap;

const KEY: KeyId = KeyId::from_random([3; 16]);
const RECORD: RecordId = RecordId::from_random([4; 16]);
const SIGNED: Signature = Signature::Signed { record: RECORD };

struct Teller {
    store: MemoryStore,
    pen: Pen,
    events: Vec<Event>,
}

impl Teller {
    fn tell(&mut self, body: &Body) -> EventId {
        let at = "2026-03-02T09:15:00+01:00[Europe/Berlin]".parse().unwrap();
        let events = record(&mut self.store, &mut self.pen, &at, std::slice::from_ref(body)).unwrap();
        let id = events[0].id();
        self.events.extend(events);
        id
    }
}

pub(crate) fn money(text: &str) -> Money {
    Money { amount: text.parse().unwrap(), currency: "USD".parse().unwrap() }
}

fn charge(what: &str, sort: ChargeSort, amount: &str) -> Charge {
    Charge { what: what.to_owned(), sort, amount: money(amount) }
}

fn shown(sentence: &str) -> Shown {
    let machine = MachineFile { machine: "dryer".to_owned(), hash: "ab".repeat(32) };
    Shown {
        engine: "0.1.0".to_owned(),
        machine,
        suspects: Vec::new(),
        rest: None,
        sentence: sentence.to_owned(),
        changes_if: None,
    }
}

fn ohms(typed: &str, parsed: Parsed) -> Reading {
    Reading {
        instrument: Instrument { name: "multimeter".to_owned(), function: "ohm".to_owned(), range: None },
        places: vec![Place::at("heater.1"), Place::at("heater.2")],
        connection: Connection::ByHand,
        state: "off".to_owned(),
        energised: false,
        lifted: Vec::new(),
        part_temperature: None,
        time_since_off: None,
        typed: typed.to_owned(),
        parsed,
    }
}

fn complaint(words: &str) -> Complaint {
    let report = |value: &str| Report {
        observation: "drum".to_owned(),
        value: value.to_owned(),
        state: Some("heat".to_owned()),
    };
    Complaint {
        reports: vec![report("yes"), report("")],
        since: Some(words.to_owned()),
        touched_last: Some(Role::Customer),
        code_shown: None,
        gas_smell: Some(false),
        standing_water: None,
        words: None,
    }
}

/// Tells a job in which the heater is changed, and one thing more is quoted and declined; `words` stand wherever a
/// person's own words can.
pub(crate) fn told(words: &str) -> Job {
    let mut teller =
        Teller { store: MemoryStore::new(), pen: Pen::new(DeviceId::from_random([1; 16])), events: Vec::new() };
    let customer = teller.tell(&Body::shop(CustomerAdded { key: KEY, record: RECORD, listed: false })).into();
    let opened = JobOpened { customer, appliance: None, complaint: complaint(words), callback_of: None, shown: None };
    let job = JobId(teller.tell(&Body::shop(opened)));
    let call = CallId(teller.tell(&Body::job(job, CallOpened { purpose: Purpose::First, promised: None })));
    let on_call = |fact: JobFact| Body::Job { job, call: Some(call), fact };
    teller.tell(&on_call(JobFact::from(ComplaintAdded {
        complaint: Complaint { reports: Vec::new(), ..complaint(words) },
    })));
    let proposed = StepProposed {
        step: "ohms".to_owned(),
        shown: shown("Unplugged: ohms. A sound machine shows 9.6 to 11.2 ohm. 3 min."),
    };
    let step = teller.tell(&Body::call(job, call, proposed));
    teller.tell(&Body::call(job, call, CoverOpened { cover: "back".to_owned(), screws_out: 9, answers: Some(step) }));
    teller.tell(&Body::call(job, call, ReadingTaken { reading: ohms("OL", Parsed::OverRange), answers: Some(step) }));
    let lines = vec![
        charge("call and finding the fault", ChargeSort::Diagnosis, "95"),
        charge(words, ChargeSort::Labour, "58.10"),
        charge("parts: heating element", ChargeSort::Part, "64.05"),
    ];
    let quote = QuoteGiven {
        offer: Offer::Repair,
        charges: lines,
        low: money("217.15"),
        high: money("274.15"),
        holds_until: None,
        shown: Some(shown(words)),
    };
    let quote = teller.tell(&on_call(quote.into()));
    teller.tell(&on_call(ApprovalRecorded { quote, decision: Decision::Approved, signature: SIGNED }.into()));
    let changed = PartChanged {
        part: "heater".to_owned(),
        spare: Some("heating element".to_owned()),
        cures: vec![FaultName { part: "heater".to_owned(), fault: "open".to_owned() }],
        leads_touched: Vec::new(),
        old_part: OldPart::LeftWithCustomer,
        price: Some(money("64.05")),
        answers: None,
    };
    teller.tell(&Body::call(job, call, changed));
    let more = QuoteGiven {
        offer: Offer::Repair,
        charges: vec![charge("labor: clean the vent duct", ChargeSort::Labour, "50.00")],
        low: money("50.00"),
        high: money("50.00"),
        holds_until: None,
        shown: None,
    };
    let more = teller.tell(&on_call(more.into()));
    teller.tell(&on_call(
        ApprovalRecorded { quote: more, decision: Decision::Declined, signature: Signature::Refused }.into(),
    ));
    hand_over(&mut teller, job, call, words);
    fold_job(&teller.events, job).unwrap()
}

/// Tells what is found after the repair, the proofs, and the end.
fn hand_over(teller: &mut Teller, job: JobId, call: CallId, words: &str) {
    let on_call = |fact: JobFact| Body::Job { job, call: Some(call), fact };
    let cures = vec![FaultName { part: "heater".to_owned(), fault: "open".to_owned() }];
    let hazard = HazardFound {
        kind: HazardKind::Fire,
        what: words.to_owned(),
        places: Vec::new(),
        dangerous: true,
        told: vec![Role::Customer],
        action: HazardAction::Tagged,
        signature: Signature::Refused,
    };
    teller.tell(&on_call(hazard.into()));
    let observed = vec![Report { observation: "drum".to_owned(), value: "yes".to_owned(), state: None }];
    let tried = TryTaken { state: "heat".to_owned(), made_ready: Vec::new(), observed, ran: None, answers: None };
    teller.tell(&Body::call(job, call, tried));
    let value = Parsed::Value(Value::new(0.21, Unit::Ohm).unwrap());
    let proof = |id: &str, outcome, readings| ProofResult {
        proof: id.to_owned(),
        limit: "at most 0.30 ohm".to_owned(),
        source: "a published limit".to_owned(),
        method: "resistance".to_owned(),
        instrument: None,
        readings,
        outcome,
    };
    let undecided = Outcome::NotDecided { why: "two leads do not decide this limit".to_owned() };
    teller.tell(&on_call(proof("bond", undecided, vec![ohms("0.21", value)]).into()));
    teller.tell(&on_call(proof("run", Outcome::Passed, Vec::new()).into()));
    teller.tell(&Body::call(job, call, CoverClosed { cover: "back".to_owned(), screws_in: 8 }));
    teller.tell(&on_call(
        FaultFound { faults: cures, words: "heating element: burnt through".to_owned(), shown: None }.into(),
    ));
    let handed = HandedOver {
        papers: vec!["record".to_owned()],
        to: Role::Customer,
        hash: None,
        copy: None,
        signature: Some(SIGNED),
    };
    teller.tell(&on_call(handed.into()));
    teller.tell(&Body::call(job, call, CallEnded { end: End::Proved, minutes: None, present: None, note: None }));
}

pub(crate) fn heading(words: &str) -> Heading {
    let of = [
        ("heater.1", "1 of the heating element"),
        ("heater.2", "2 of the heating element"),
        ("heat", "timed dry on high"),
        ("drum=yes", "the drum turns"),
        ("back", "take off the back panel"),
        ("proof:bond", "frame to the ground pin of the plug"),
        ("proof:run", "run it on high"),
    ];
    Heading {
        shop: words.to_owned(),
        note: Some("Everything here is invented.".to_owned()),
        customer: Some(book::Person {
            name: words.to_owned(),
            address: vec![words.to_owned()],
            ..book::Person::default()
        }),
        signed: BTreeMap::new(),
        appliance: words.to_owned(),
        words: of.into_iter().map(|(id, say)| (id.to_owned(), say.to_owned())).collect::<BTreeMap<_, _>>(),
    }
}
