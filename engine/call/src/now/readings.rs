//! Readings as the book keeps them, and what each means for the call. Predicts nothing.

use crate::now::{Now, Taken};
use crate::steps::act_of;
use book::{Connection, Instrument, Number, Parsed, Place, Value};
use danger::{DeadFact, DeadReading, EarthCheck, KnownSource, MeterCheck, WorkPoint, required_measurements, stores};
use diagnosis::{Evidence, Measured};
use machine::model::{Conductor, Machine, TerminalId, ZoneId};
use prediction::{Probe, Quantity, Reading, ZoneReading};
use quantity::{Typed, TypedError, Unit, parse_reading};
use repair::{Act, Hands, supply_check};

/// What the instrument is set to, in the book's words.
pub(crate) mod function {
    pub(crate) const OHM: &str = "ohm";
    pub(crate) const FARAD: &str = "capacitance";
    /// The insulation tester's ohms.
    pub(crate) const INSULATION: &str = "ohm_insulation";
    pub(crate) const VOLT: &str = "volt_ac";
    pub(crate) const AMP: &str = "amp_ac";
    /// Volts at the receptacle or disconnect, the machine parted from it.
    pub(crate) const SUPPLY: &str = "volt_ac_supply";
    /// The meter on a known live source.
    pub(crate) const KNOWN: &str = "volt_known_source";
    /// A live leg to the earth that is measured to.
    pub(crate) const EARTH: &str = "volt_earth";
    /// Each conductor to every other and to earth, AC then DC; the highest seen.
    pub(crate) const DEAD: &str = "volt_dead_test";
    /// A thermometer in a zone, so long after the start.
    pub(crate) const THERMOMETER: &str = "temperature";
    /// DC across a store after it was discharged.
    pub(crate) const DISCHARGE: &str = "volt_dc_discharge";
}

impl Now {
    /// Takes a reading for what it is.
    pub(super) fn read(&mut self, machine: &Machine, kept: &book::Reading) {
        let volts = value(&kept.parsed);
        match kept.instrument.function.as_str() {
            function::KNOWN => {
                let expected_volts = kept.part_of("expected", " V").unwrap_or(0.0);
                let check =
                    MeterCheck { source: KnownSource::Supply, expected_volts, read_volts: volts.unwrap_or(0.0) };
                self.record.push(DeadFact::Meter(check));
                self.kept_proofs.push(kept.clone());
            }
            function::EARTH => self.earth("the earth measured to", volts),
            function::DEAD => self.dead_tested(machine, kept, volts),
            function::DISCHARGE => {
                let id = kept.places.first().map_or("", |place| place.id.as_str());
                let store = stores(machine).into_iter().find(|store| store_id(machine, *store) == id);
                if let (Some(store), Some(volts)) = (store, volts) {
                    // What is still charged stays so; the next ask says it again.
                    let _ = self.energy.discharged(store, volts);
                }
            }
            function::INSULATION => self.insulation_tested(machine, kept),
            function::THERMOMETER => self.evidence.extend(warmed(machine, kept)),
            _ => self.read_of_plan(machine, kept),
        }
    }

    /// The tester's volts charge what they touch: what was dead is to be proved dead again.
    fn insulation_tested(&mut self, machine: &Machine, kept: &book::Reading) {
        self.energy.charged_by_test();
        let Some((reading, measured)) = reading_of(machine, kept) else { return };
        let (after_changes, call) = (self.changes.len(), self.calls);
        self.insulation.push(Taken { reading, measured, kept: kept.clone(), after_changes, call });
    }

    fn earth(&mut self, which: &str, volts: Option<f64>) {
        let check = EarthCheck { which: which.to_owned(), leg_volts: volts.unwrap_or(0.0) };
        self.record.push(DeadFact::Earth(check));
    }

    fn dead_tested(&mut self, machine: &Machine, kept: &book::Reading, volts: Option<f64>) {
        let terminals: Vec<TerminalId> = kept.places.iter().filter_map(|p| machine.terminal(&p.id).ok()).collect();
        let work = WorkPoint::at(machine, &terminals);
        let highest = volts.unwrap_or(f64::NAN);
        let measured = required_measurements(&work)
            .into_iter()
            .map(|pair| DeadFact::Reading(DeadReading { pair, ac_volts: highest, dc_volts: highest }));
        self.record.extend(measured);
        self.work = Some(work);
        self.kept_proofs.push(kept.clone());
    }

    fn read_of_plan(&mut self, machine: &Machine, kept: &book::Reading) {
        let Some((reading, measured)) = reading_of(machine, kept) else { return };
        if kept.instrument.function == function::SUPPLY {
            self.supply_proves(machine, &reading, measured, kept);
        }
        self.evidence.push(Evidence::Read { reading: reading.clone(), measured });
        let hands = match kept.instrument.function.as_str() {
            function::SUPPLY => Hands::Supply,
            _ if kept.energised => Hands::Clipped,
            _ => Hands::Isolated,
        };
        self.reach(&Act::Read(reading.clone(), hands));
        if let Some((clipped, read)) = self.clips_on.as_mut() {
            *read |= *clipped == reading;
        }
        let (after_changes, call) = (self.changes.len(), self.calls);
        self.taken.push(Taken { reading, measured, kept: kept.clone(), after_changes, call });
    }

    /// A good reading between the legs proves the meter; one from a leg to the ground slot proves that earth.
    fn supply_proves(&mut self, machine: &Machine, reading: &Reading, measured: Measured, kept: &book::Reading) {
        let (Probe::Across(a, b), Measured::Value(volts)) = (reading.probe, measured) else { return };
        let conductor = |id: TerminalId| machine.supply.slots.iter().find(|(_, slot)| *slot == id).map(|(of, _)| *of);
        let is_leg = |of: Option<Conductor>| matches!(of, Some(Conductor::Leg1 | Conductor::Leg2));
        let (first, second) = (conductor(a), conductor(b));
        if let Some(expected) = supply_check::nominal(machine, first, second) {
            let agrees = (volts - expected).abs() <= 0.1 * expected;
            if agrees {
                let check = MeterCheck { source: KnownSource::Supply, expected_volts: expected, read_volts: volts };
                self.record.push(DeadFact::Meter(check));
                self.kept_proofs.push(kept.clone());
            }
        }
        let to_ground = is_leg(first) && second == Some(Conductor::Ground);
        if to_ground && volts >= 0.8 * supply_check::nominal(machine, first, second).unwrap_or(120.0) {
            self.earth("ground slot of the receptacle", Some(volts));
        }
    }
}

/// Names a store in the book.
pub(crate) fn store_id(machine: &Machine, store: danger::Store) -> String {
    match store {
        danger::Store::Capacitor(branch) => machine[branch].name.clone(),
        danger::Store::Bus(place) => {
            machine.access.places.get(place.index()).map_or_else(String::new, |p| p.id.clone())
        }
    }
}

trait Parts {
    fn part_of(&self, name: &str, unit: &str) -> Option<f64>;
}

impl Parts for book::Reading {
    /// Reads `name=120 V` out of the instrument's range, where what belongs to the reading is kept.
    fn part_of(&self, name: &str, unit: &str) -> Option<f64> {
        let range = self.instrument.range.as_deref()?;
        range.strip_prefix(name)?.strip_prefix('=')?.trim_end_matches(unit).parse().ok()
    }
}

/// Gives what a thermometer showed out of what the book keeps; `None` if it is in none of the machine's zones.
fn warmed(machine: &Machine, kept: &book::Reading) -> Option<Evidence> {
    let id = &kept.places.first()?.id;
    let zone = (0..).map(ZoneId).zip(&machine.zones).find(|(_, zone)| zone.id == *id)?.0;
    let minutes = kept.part_of(AFTER, MINUTES)?;
    let reading = ZoneReading::after_minutes(machine.state(&kept.state).ok()?, zone, minutes)?;
    let Measured::Value(celsius) = measured_of(&kept.parsed)? else { return None };
    Some(Evidence::Warmed { reading, celsius })
}

/// How the minutes since the start are kept beside a thermometer's reading.
const AFTER: &str = "after";
const MINUTES: &str = " min";

/// Writes a thermometer's reading as the book keeps it.
pub(crate) fn kept_thermometer(machine: &Machine, reading: ZoneReading, typed: &str, parsed: Parsed) -> book::Reading {
    let minutes = f64::from(reading.seconds) / 60.0;
    book::Reading {
        instrument: Instrument {
            name: "thermometer".to_owned(),
            function: function::THERMOMETER.to_owned(),
            range: Some(format!("{AFTER}={minutes}{MINUTES}")),
        },
        places: vec![Place::at(&machine.zones[reading.zone.index()].id)],
        connection: Connection::ByHand,
        state: machine[reading.state].id.clone(),
        energised: true,
        lifted: Vec::new(),
        part_temperature: None,
        time_since_off: None,
        typed: typed.to_owned(),
        parsed,
    }
}

/// Gives the reading and its value out of what the book keeps; `None` if it is none of the machine's.
pub(crate) fn reading_of(machine: &Machine, kept: &book::Reading) -> Option<(Reading, Measured)> {
    let word = match kept.instrument.function.as_str() {
        function::OHM | function::INSULATION => "ohms",
        function::VOLT => "volts",
        function::AMP => "amps",
        function::FARAD => "farads",
        function::SUPPLY => "supply",
        _ => return None,
    };
    let points: Vec<&str> = kept.places.iter().map(|place| place.id.as_str()).collect();
    let lifted: String = kept.lifted.iter().map(|place| format!("+{}", place.id)).collect();
    let id = format!("{word}:{}@{}{lifted}", points.join(","), kept.state);
    let Act::Read(reading, _) = act_of(machine, &id).ok()?? else { return None };
    Some((reading, measured_of(&kept.parsed)?))
}

/// Gives the value that a reading showed.
pub(crate) fn measured_of(parsed: &Parsed) -> Option<Measured> {
    match parsed {
        Parsed::Value(value) => Some(Measured::Value(value.amount.get())),
        Parsed::OverRange => Some(Measured::OverRange),
        Parsed::Between { .. } | Parsed::Buzzer { .. } | Parsed::NotUnderstood => None,
    }
}

/// The value, or the higher end of what wandered.
fn value(parsed: &Parsed) -> Option<f64> {
    match parsed {
        Parsed::Value(value) => Some(value.amount.get()),
        Parsed::Between { high, .. } => Some(high.get()),
        Parsed::OverRange | Parsed::Buzzer { .. } | Parsed::NotUnderstood => None,
    }
}

/// Understands what was typed for a reading.
pub(crate) fn parsed_from(typed: &str, unit: Unit) -> Result<Option<Parsed>, TypedError> {
    Ok(match parse_reading(typed, Some(unit))? {
        Typed::Blank => None,
        Typed::OverRange => Some(Parsed::OverRange),
        got @ Typed::Value { .. } => {
            got.value_in(unit).and_then(|value| Value::new(value, book_unit(unit))).map(Parsed::Value)
        }
    })
}

fn book_unit(unit: Unit) -> book::Unit {
    match unit {
        Unit::Ohm => book::Unit::Ohm,
        Unit::Volt => book::Unit::Volt,
        Unit::Amp => book::Unit::Ampere,
        Unit::Watt => book::Unit::Watt,
        Unit::Farad => book::Unit::Farad,
        Unit::Hertz => book::Unit::Hertz,
        Unit::Celsius | Unit::Fahrenheit => book::Unit::DegreeCelsius,
        Unit::Minute | Unit::Second => book::Unit::Second,
    }
}

/// Writes a reading of the plan as the book keeps it.
pub(crate) fn kept(machine: &Machine, reading: &Reading, hands: Hands, typed: &str, parsed: Parsed) -> book::Reading {
    let (name, function) = match (reading.quantity, hands) {
        (Quantity::Ohms, _) => ("multimeter", function::OHM),
        (Quantity::Farads, _) => ("multimeter", function::FARAD),
        (Quantity::Amps, _) => ("clamp", function::AMP),
        (Quantity::Volts, Hands::Supply) => ("multimeter", function::SUPPLY),
        (Quantity::Volts, _) => ("multimeter", function::VOLT),
    };
    let places = match reading.probe {
        Probe::Across(a, b) => vec![Place::at(&machine[a].name), Place::at(&machine[b].name)],
        Probe::Around(branch) => vec![Place::at(&machine[branch].name)],
    };
    let connection = match (reading.probe, hands) {
        (Probe::Around(_), _) => Connection::AroundLead,
        (_, Hands::Clipped) => Connection::Clip,
        _ => Connection::ByHand,
    };
    book::Reading {
        instrument: Instrument { name: name.to_owned(), function: function.to_owned(), range: None },
        places,
        connection,
        state: machine[reading.condition.state].id.clone(),
        energised: reading.condition.plugged,
        lifted: reading.condition.lifted.iter().map(|&lead| Place::at(&machine[lead].name)).collect(),
        part_temperature: None,
        time_since_off: None,
        typed: typed.to_owned(),
        parsed,
    }
}

/// Writes what the insulation tester showed as the book keeps it.
pub(crate) fn kept_insulation(
    machine: &Machine,
    reading: &Reading,
    test_volts: f64,
    typed: &str,
    parsed: Parsed,
) -> book::Reading {
    let kept = kept(machine, reading, Hands::Isolated, typed, parsed);
    let range = Some(quantity::show(test_volts, Unit::Volt));
    let (name, function) = ("insulation tester".to_owned(), function::INSULATION.to_owned());
    book::Reading { instrument: Instrument { name, function, range }, ..kept }
}

/// Writes a proving reading: known source, earth, dead test, discharge.
pub(crate) fn kept_proving(
    function: &str,
    places: Vec<Place>,
    range: Option<String>,
    typed: &str,
    parsed: Parsed,
) -> book::Reading {
    book::Reading {
        instrument: Instrument { name: "multimeter".to_owned(), function: function.to_owned(), range },
        places,
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

/// Turns the highest value of a dead test into what was seen of each pair: no more than that.
pub(crate) fn no_more_than(parsed: Parsed) -> Parsed {
    match parsed {
        Parsed::Value(value) => match Number::new(0.0) {
            Some(low) => Parsed::Between { low, high: value.amount, unit: value.unit },
            None => Parsed::Value(value),
        },
        other => other,
    }
}
