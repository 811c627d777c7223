//! A job told on two devices, used by several tests and frozen as the first book of version 1.
//!
//! All values are made up. A dryer does not heat; the phone is in the cellar, the tablet in the office. A second job
//! goes through every other kind of fact and every other end, so that the frozen book holds each of them.

use std::collections::BTreeMap;

use book::*;

pub(crate) const PHONE: DeviceId = DeviceId::from_random([0xa1; 16]);
pub(crate) const TABLET: DeviceId = DeviceId::from_random([0xb2; 16]);
pub(crate) const KEY: KeyId = KeyId::from_random([0x0c; 16]);
pub(crate) const DETAILS: RecordId = RecordId::from_random([0x0d; 16]);
pub(crate) const SIGNED: RecordId = RecordId::from_random([0x0e; 16]);

/// Minutes after eight o'clock on the second of March.
pub(crate) fn at(minute: u32) -> ZonedTime {
    let minute = 8 * 60 + minute;
    let (day, hour) = (2 + minute / 1440, minute / 60 % 24);
    format!("2026-03-{day:02}T{hour:02}:{:02}:00+01:00[Europe/Berlin]", minute % 60).parse().unwrap()
}

pub(crate) fn machine() -> MachineFile {
    MachineFile { machine: "timer-dryer".to_owned(), hash: "5e".repeat(32) }
}

pub(crate) fn money(text: &str) -> Money {
    Money { amount: text.parse().unwrap(), currency: "USD".parse().unwrap() }
}

pub(crate) fn ohms(places: &[&str], typed: &str, parsed: Parsed) -> Reading {
    Reading {
        instrument: Instrument { name: "multimeter".to_owned(), function: "ohm".to_owned(), range: None },
        places: places.iter().map(|id| Place::at(id)).collect(),
        connection: Connection::Clip,
        state: "off".to_owned(),
        energised: false,
        lifted: vec![Place { id: "heater.lead.1".to_owned(), label: Some("H1".to_owned()) }],
        part_temperature: Value::new(21.5, Unit::DegreeCelsius),
        time_since_off: Value::new(1800.0, Unit::Second),
        typed: typed.to_owned(),
        parsed,
    }
}

pub(crate) fn volts(places: &[&str], typed: &str, amount: f64) -> Reading {
    Reading {
        instrument: Instrument {
            name: "multimeter".to_owned(),
            function: "volt_ac_low_impedance".to_owned(),
            range: Some("600 V".to_owned()),
        },
        places: places.iter().map(|id| Place::at(id)).collect(),
        connection: Connection::ByHand,
        state: "off".to_owned(),
        energised: true,
        lifted: Vec::new(),
        part_temperature: None,
        time_since_off: None,
        typed: typed.to_owned(),
        parsed: Parsed::Value(Value::new(amount, Unit::Volt).unwrap()),
    }
}

pub(crate) fn shown() -> Shown {
    let suspect = |fault: &str, words: &str, probability| SuspectShown {
        faults: vec![fault.to_owned()],
        words: words.to_owned(),
        probability: Number::new(probability).unwrap(),
    };
    Shown {
        engine: "0.1.0".to_owned(),
        machine: machine(),
        suspects: vec![
            suspect("heater.open", "the heater is open", 0.611_111_111_111_111),
            suspect("thermal_cutoff.open", "the thermal cut-off is open", 0.3),
        ],
        rest: Number::new(0.088_888_888_888_889),
        sentence: "Read the heater in ohms with one lead lifted.".to_owned(),
        changes_if: Some("the thermal cut-off were three times likelier".to_owned()),
    }
}

pub(crate) fn settings() -> SettingsSet {
    SettingsSet {
        call_out: money("95"),
        per_hour: money("120.00"),
        minute: money("1.60"),
        exchange: vec![Exchange { of: "EUR".parse().unwrap(), comes_to: money("1.08") }],
        danger_minutes: 3,
        second_visit_minutes: 60,
        temperatures: TemperatureScale::Fahrenheit,
        meters: Some("callwright-meters = 1".to_owned()),
        letterhead: Letterhead { name: "Invented shop".to_owned(), ..Letterhead::default() },
        taxes: vec![TaxRule { sort: ChargeSort::Part, category: TaxCategory::Rated, percent: "8.25".parse().unwrap() }],
        mark_up: "30".parse().unwrap(),
        pay_within_days: 14,
        day: WorkingDay::default(),
        loading: Loading::default(),
        template: None,
    }
}

fn proof(name: &str, outcome: Outcome) -> ProofResult {
    ProofResult {
        proof: name.to_owned(),
        limit: "at most 0.1 ohm".to_owned(),
        source: "made up".to_owned(),
        method: "frame to earth pin".to_owned(),
        instrument: None,
        readings: Vec::new(),
        outcome,
    }
}

/// Two devices that write in turn; each holds what it was shown.
pub(crate) struct Teller {
    pub(crate) phone: Pen,
    pub(crate) tablet: Pen,
    pub(crate) events: Vec<Event>,
    minute: u32,
}

impl Teller {
    pub(crate) fn new() -> Self {
        Self { phone: Pen::new(PHONE), tablet: Pen::new(TABLET), events: Vec::new(), minute: 0 }
    }

    pub(crate) fn phone(&mut self, body: &Body) -> EventId {
        self.minute += 1;
        let event = self.phone.write(&at(self.minute), body).unwrap();
        self.events.push(event.clone());
        event.id()
    }

    pub(crate) fn tablet(&mut self, body: &Body) -> EventId {
        self.minute += 1;
        let event = self.tablet.write(&at(self.minute), body).unwrap();
        self.events.push(event.clone());
        event.id()
    }

    /// Each device receives what the other wrote.
    pub(crate) fn exchange(&mut self) {
        for event in &self.events {
            self.phone.note(event);
            self.tablet.note(event);
        }
    }
}

pub(crate) fn complaint() -> Complaint {
    Complaint {
        reports: vec![
            Report { observation: "drum".to_owned(), value: "turns".to_owned(), state: None },
            Report { observation: "air".to_owned(), value: "cold".to_owned(), state: None },
        ],
        since: Some("since Sunday".to_owned()),
        touched_last: Some(Role::Occupant),
        code_shown: None,
        gas_smell: Some(false),
        standing_water: Some(false),
        words: None,
    }
}

fn open_job(told: &mut Teller) -> JobId {
    let customer = told.tablet(&Body::shop(CustomerAdded { key: KEY, record: DETAILS, listed: false }));
    let appliance = told.tablet(&Body::shop(ApplianceAdded {
        customer: customer.into(),
        machine: Some(machine()),
        plate: BTreeMap::from([("rated_voltage".to_owned(), "120/240 V".to_owned())]),
        serial: None,
        age_months: Some(86),
        warranty: Warranty::None,
    }));
    let job = told.tablet(&Body::shop(JobOpened {
        customer: customer.into(),
        appliance: Some(appliance.into()),
        complaint: complaint(),
        callback_of: None,
        shown: Some(shown()),
    }));
    told.exchange();
    job.into()
}

fn begin_call(told: &mut Teller, job: JobId) -> CallId {
    let call: CallId =
        told.phone(&Body::job(job, CallOpened { purpose: Purpose::First, promised: Some((at(0), at(120))) })).into();
    told.phone(&Body::call(job, call, StageEntered { stage: Stage::Travel }));
    let arrived = Arrived { complaint_seen: Some(true), floor_protected: true, photos: Vec::new() };
    told.phone(&Body::call(job, call, arrived));
    let loaded = SupplyReading { loaded: true, reading: volts(&["slot.l1", "slot.l2"], "239.4", 239.4) };
    told.phone(&Body::call(
        job,
        call,
        SupplyChecked { supply: "mains".to_owned(), readings: vec![loaded], verdict: Verdict::Good, shown: None },
    ));
    call
}

fn make_safe(told: &mut Teller, job: JobId, call: CallId) {
    let known_live = volts(&["proving_unit"], "230", 230.0);
    told.phone(&Body::call(
        job,
        call,
        MadeSafe {
            isolated: vec![Isolated {
                source: "mains".to_owned(),
                how: "plug pulled".to_owned(),
                secured: Some("plug in sight".to_owned()),
                could_restore: Some(Role::Technician),
            }],
            meter_proved_before: Some(known_live.clone()),
            dead: vec![volts(&["block.l1", "block.l2"], "0", 0.0), volts(&["block.l1", "frame"], "0.0", 0.0)],
            meter_proved_after: Some(known_live),
        },
    ));
}

fn find(told: &mut Teller, job: JobId, call: CallId) {
    let step = told.phone(&Body::call(job, call, StepProposed { step: "read.heater".to_owned(), shown: shown() }));
    told.phone(&Body::call(job, call, CoverOpened { cover: "back".to_owned(), screws_out: 8, answers: Some(step) }));
    let leads = vec![Place::at("heater.lead.1")];
    told.phone(&Body::call(job, call, LeadsLifted { leads: leads.clone(), photos: Vec::new(), answers: Some(step) }));
    let slip = Parsed::Value(Value::new(9.6, Unit::Ohm).unwrap());
    let mistyped = told.phone(&Body::call(
        job,
        call,
        ReadingTaken { reading: ohms(&["heater.1", "heater.2"], "9.6", slip), answers: Some(step) },
    ));
    let scope = Scope { job: Some(job), call: Some(call) };
    told.phone(&Body::undo(scope, mistyped, Some("read the wrong part".to_owned())));
    let open = ohms(&["heater.1", "heater.2"], "OL", Parsed::OverRange);
    told.phone(&Body::call(job, call, ReadingTaken { reading: open, answers: Some(step) }));
    told.phone(&Body::job_on_call(
        job,
        call,
        FaultFound {
            faults: vec![FaultName { part: "heater".to_owned(), fault: "open".to_owned() }],
            words: "The heater is open.".to_owned(),
            shown: Some(shown()),
        },
    ));
}

fn agree_and_repair(told: &mut Teller, job: JobId, call: CallId) {
    told.phone(&Body::job_on_call(
        job,
        call,
        HazardFound {
            kind: HazardKind::Fire,
            what: "The vent hose is crushed and full of lint.".to_owned(),
            places: vec![Place::at("vent")],
            dangerous: false,
            told: vec![Role::Customer],
            action: HazardAction::None,
            signature: Signature::Refused,
        },
    ));
    let part = Charge { what: "Heater".to_owned(), sort: ChargeSort::Part, amount: money("64.90") };
    let quote = told.phone(&Body::job_on_call(
        job,
        call,
        QuoteGiven {
            offer: Offer::Repair,
            charges: vec![part],
            low: money("150.00"),
            high: money("190.00"),
            holds_until: None,
            shown: None,
        },
    ));
    let signature = Signature::Signed { record: SIGNED };
    told.phone(&Body::job_on_call(job, call, ApprovalRecorded { quote, decision: Decision::Approved, signature }));
    told.phone(&Body::call(
        job,
        call,
        PartChanged {
            part: "heater".to_owned(),
            spare: Some("heater 240 V 5.4 kW".to_owned()),
            cures: vec![FaultName { part: "heater".to_owned(), fault: "open".to_owned() }],
            leads_touched: vec![Place::at("heater.lead.1"), Place::at("heater.lead.2")],
            old_part: OldPart::LeftWithCustomer,
            price: Some(money("64.90")),
            answers: None,
        },
    ));
    told.phone(&Body::call(job, call, LeadsRefitted { leads: vec![Place::at("heater.lead.1")] }));
    told.phone(&Body::call(job, call, CoverClosed { cover: "back".to_owned(), screws_in: 7 }));
    let sources = vec!["mains".to_owned()];
    told.phone(&Body::call(job, call, Energised { sources, why: "to prove it".to_owned() }));
}

fn prove_and_leave(told: &mut Teller, job: JobId, call: CallId) {
    told.phone(&Body::job_on_call(job, call, proof("heats", Outcome::Passed)));
    let why = "two leads do not decide 0.1 ohm".to_owned();
    told.phone(&Body::job_on_call(job, call, proof("earth_bond", Outcome::NotDecided { why })));
    let waits = Outcome::Deferred { until: at(1440), by: Role::Customer };
    told.phone(&Body::job_on_call(job, call, proof("dries_a_full_load", waits)));
    told.phone(&Body::call(
        job,
        call,
        CallEnded { end: End::Proved, minutes: Some(55), present: Some(Role::Customer), note: None },
    ));
    told.phone(&Body::job_on_call(
        job,
        call,
        HandedOver {
            papers: vec!["record".to_owned(), "invoice".to_owned()],
            to: Role::Customer,
            hash: Some("ab".repeat(32)),
            copy: None,
            signature: Some(Signature::Signed { record: SIGNED }),
        },
    ));
}

/// A fault that comes and goes, over many visits.
fn second_job(told: &mut Teller, first: JobId, customer: CustomerId) -> JobId {
    let mut complaint = complaint();
    complaint.code_shown = Some("E3".to_owned());
    complaint.words = Some(RecordId::from_random([0x0f; 16]));
    let job: JobId = told
        .tablet(&Body::shop(JobOpened { customer, appliance: None, complaint, callback_of: Some(first), shown: None }))
        .into();
    told.tablet(&Body::shop(CustomerChanged { customer, record: RecordId::from_random([0x1e; 16]) }));
    let until = Some(at(30_000));
    let appliance: ApplianceId = told
        .tablet(&Body::shop(ApplianceAdded {
            customer,
            machine: None,
            plate: BTreeMap::new(),
            serial: Some(RecordId::from_random([0x1f; 16])),
            age_months: None,
            warranty: Warranty::Owed { by: Role::Maker, until },
        }))
        .into();
    told.tablet(&Body::shop(MachineSet { appliance, machine: machine() }));
    told.tablet(&Body::job(job, ApplianceFound { appliance }));
    told.exchange();
    let call = told.phone(&Body::job(job, CallOpened { purpose: Purpose::Return, promised: None })).into();
    told.phone(&Body::shop(ApplianceLearned {
        appliance,
        variants: BTreeMap::from([("cord".to_owned(), "four_wire".to_owned())]),
        labels: BTreeMap::from([("heater.1".to_owned(), "H1".to_owned())]),
        plate: BTreeMap::from([("rated_power".to_owned(), "5400 W".to_owned())]),
        papers: BTreeMap::new(),
        differs: vec!["the belt switch is bridged".to_owned()],
    }));
    look_and_try(told, job, call);
    readings_of_every_sort(told, job, call);
    visits_of_every_end(told, job);
    job
}

fn look_and_try(told: &mut Teller, job: JobId, call: CallId) {
    let photo = Photo { record: RecordId::from_random([0x2e; 16]), shows: vec![Place::at("vent")] };
    let (places, observed) = (vec![Place::at("vent")], complaint().reports);
    let look = LookTaken {
        look: "vent".to_owned(),
        places: places.clone(),
        found: "crushed".to_owned(),
        photos: vec![photo.clone()],
        answers: None,
    };
    told.phone(&Body::call(job, call, look));
    told.phone(&Body::call(
        job,
        call,
        TryTaken {
            state: "heating".to_owned(),
            made_ready: vec!["load in".to_owned()],
            observed: observed.clone(),
            ran: Value::new(600.0, Unit::Second),
            answers: None,
        },
    ));
    told.phone(&Body::call(job, call, Provoked { way: Provocation::Wiggle, places, observed, answers: None }));
    told.phone(&Body::job_on_call(job, call, PhotoTaken { photo }));
    told.phone(&Body::job_on_call(job, call, NoteTaken { record: RecordId::from_random([0x2f; 16]) }));
    let hazard = told.phone(&Body::job_on_call(
        job,
        call,
        HazardFound {
            kind: HazardKind::Shock,
            what: "The frame is live.".to_owned(),
            places: vec![Place::at("frame")],
            dangerous: true,
            told: vec![Role::Customer, Role::Landlord],
            action: HazardAction::DisconnectedAndTagged,
            signature: Signature::Remote { record: SIGNED },
        },
    ));
    told.phone(&Body::job_on_call(job, call, HazardCleared { hazard, how: "The cord is replaced.".to_owned() }));
    let (step, said) = ("isolate".to_owned(), Some("plug".to_owned()));
    told.phone(&Body::call(job, call, StepDone { step, said, answers: None }));
}

fn readings_of_every_sort(told: &mut Teller, job: JobId, call: CallId) {
    let (low, high) = (Number::new(11.5).unwrap(), Number::new(230.25).unwrap());
    for (typed, parsed) in [
        ("4k7", Parsed::Value(Value::new(4700.0, Unit::Ohm).unwrap())),
        ("11.5 to 230.25", Parsed::Between { low, high, unit: Unit::Volt }),
        ("beep", Parsed::Buzzer { sounded: true }),
        ("??", Parsed::NotUnderstood),
    ] {
        let reading = ohms(&["heater.1", "heater.2"], typed, parsed);
        told.phone(&Body::call(job, call, ReadingTaken { reading, answers: None }));
    }
}

fn visits_of_every_end(told: &mut Teller, job: JobId) {
    let why = "sealed system".to_owned();
    for end in [
        End::NotReproduced,
        End::UseExplained,
        End::Declined { put_back: true, made_safe: false, charged: Some(money("85")) },
        End::Referred { why: why.clone() },
        End::MadeSafe { why },
        End::AwaitingPart { parts: vec!["heater".to_owned()], expected: Some(at(3000)) },
        End::VisitPromised,
        End::SettledByTelephone { how: "plugged in".to_owned() },
    ] {
        let call = told.phone(&Body::job(job, CallOpened { purpose: Purpose::WithPart, promised: None })).into();
        let note = Some(RecordId::from_random([0x3f; 16]));
        told.phone(&Body::call(job, call, CallEnded { end, minutes: None, present: None, note }));
    }
}

/// Tells the whole story: the shop's settings and its van, a job with a deferred proof, one with every other fact, one
/// opened by mistake, and a customer erased.
pub(crate) fn tell() -> (Vec<Event>, JobId) {
    let mut told = Teller::new();
    let job = open_job(&mut told);
    // At the same time in the office, unknown to the phone.
    let more = Complaint { reports: Vec::new(), since: Some("since the move".to_owned()), ..complaint() };
    told.tablet(&Body::job(job, ComplaintAdded { complaint: more }));
    let call = begin_call(&mut told, job);
    make_safe(&mut told, job, call);
    find(&mut told, job, call);
    agree_and_repair(&mut told, job, call);
    prove_and_leave(&mut told, job, call);
    told.phone(&Body::job(job, JobClosed { why: None }));
    told.exchange();
    second_job(&mut told, job, EventId::new(TABLET, 1).unwrap().into());
    told.exchange();
    let other = KeyId::from_random([0x1c; 16]);
    let gone = told.tablet(&Body::shop(CustomerAdded {
        key: other,
        record: RecordId::from_random([0x1d; 16]),
        listed: false,
    }));
    let mistaken = told.tablet(&Body::shop(JobOpened {
        customer: gone.into(),
        appliance: None,
        complaint: complaint(),
        callback_of: Some(job),
        shown: None,
    }));
    told.tablet(&Body::undo(Scope::default(), mistaken, None));
    told.tablet(&Body::shop(settings()));
    told.phone(&Body::shop(VanCounted { machine: machine().machine, part: "heater".to_owned(), count: 2 }));
    told.tablet(&Body::shop(MachineDescribed { machine: "own".to_owned(), text: "callwright = 1".to_owned() }));
    told.tablet(&Body::shop(PriceSet {
        machine: machine().machine,
        part: "heater".to_owned(),
        price: money("38.20"),
        number: Some("INVENTED-1".to_owned()),
    }));
    let weight = |mode: &str, weight| WeightLearned {
        fault: FaultName { part: "heater".to_owned(), fault: mode.to_owned() },
        weight: Number::new(weight).unwrap(),
        cases: 3,
        ages: vec![AgeLearned { from: Number::from(9), times: Number::new(1.4).unwrap(), cases: 2 }],
    };
    told.tablet(&Body::shop(LearningTaken {
        machine: machine().machine,
        weights: vec![weight("open", 5.5)],
        minutes: Number::new(1.2),
        from: vec![job],
    }));
    told.tablet(&Body::shop(HabitsTaken {
        paces: vec![PaceLearned { work: Work::CoverOff, times: Number::new(0.8).unwrap(), cases: 31 }],
        slip: Number::new(0.015).unwrap(),
        wrong_report: Number::new(0.09).unwrap(),
        from: vec![job],
    }));
    told.phone(&Body::job(job, VisitPromised { window: (at(60), at(180)) }));
    told.phone(&Body::job(job, PartOrdered { part: "heater".to_owned(), expected: Some(at(600)) }));
    let wrong = Came::Wrong { what: "another heater".to_owned() };
    told.phone(&Body::job(job, PartArrived { part: "heater".to_owned(), came: wrong }));
    let charge = Charge { what: "call".to_owned(), sort: ChargeSort::Diagnosis, amount: money("95.00") };
    let invoice = told.phone(&Body::job(
        job,
        PaperIssued {
            sort: PaperSort::Invoice,
            number: 1,
            lines: vec![TaxedCharge { charge, category: TaxCategory::Rated, percent: "8.25".parse().unwrap() }],
            paid_before: money("0"),
            payable: money("102.84"),
            due: Some(at(1200)),
            of: None,
            why: None,
        },
    ));
    told.phone(&Body::job(job, PaymentTaken { amount: money("102.84"), by: PaidBy::Card, of: Some(invoice) }));
    told.tablet(&Body::shop(KeyDestroyed { key: other, reason: "asked by the customer".to_owned() }));
    told.events.extend(from_the_future(job));
    (told.events, job)
}

/// Events of a newer version, as an old device would receive them.
fn from_the_future(job: JobId) -> [Event; 2] {
    let kind = format!(
        r#"{{"at":"2027-01-01T00:00:00Z","body":{{"cups":2}},"id":"{}-1","job":"{job}","kind":"tea_drunk","seen":{{"{PHONE}":3}},"v":1}}"#,
        "c3".repeat(16)
    );
    let version = format!(
        r#"{{"v":2,"id":"{}-2","seen":{{}},"at":"2027-01-01T00:00:00Z","kind":"reading_taken","shape":"new"}}"#,
        "c3".repeat(16)
    );
    [Event::read(&kind).unwrap(), Event::read(&version).unwrap()]
}
