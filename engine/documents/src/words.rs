//! Facts in plain words. Decides nothing.

use crate::Heading;
use book::{
    Charge, Connection, End, HazardAction, Money, Outcome, Parsed, Reading, Role, Signature, Unit, Value, ZonedTime,
};
use quantity::show;

pub(crate) fn money(money: &Money) -> String {
    format!("{} {:.2}", money.currency, money.amount)
}

pub(crate) fn charge_row(charge: &Charge) -> Vec<String> {
    vec![charge.what.clone(), money(&charge.amount)]
}

pub(crate) fn time(at: &ZonedTime) -> String {
    match at.on_the_wall() {
        Some(wall) => {
            let (date, time) = (wall.date(), wall.time());
            format!("{:04}-{:02}-{:02} {:02}:{:02}", date.year(), date.month(), date.day(), time.hour(), time.minute())
        }
        None => at.as_str().to_owned(),
    }
}

pub(crate) fn parsed(reading: &Reading) -> String {
    match &reading.parsed {
        Parsed::Value(of) => value(of),
        Parsed::Between { low, high, unit } => match (low.get() <= 0.0, quantity_unit(*unit)) {
            (true, Some(unit)) => format!("at most {}", show(high.get(), unit)),
            (false, Some(unit)) => format!("{} to {}", show(low.get(), unit), show(high.get(), unit)),
            (_, None) => reading.typed.clone(),
        },
        Parsed::OverRange => "OL".to_owned(),
        Parsed::Buzzer { sounded } => if *sounded { "buzzer" } else { "no buzzer" }.to_owned(),
        Parsed::NotUnderstood => reading.typed.clone(),
    }
}

fn value(value: &Value) -> String {
    quantity_unit(value.unit).map_or_else(|| format!("{}", value.amount.get()), |unit| show(value.amount.get(), unit))
}

fn quantity_unit(unit: Unit) -> Option<quantity::Unit> {
    Some(match unit {
        Unit::Ohm => quantity::Unit::Ohm,
        Unit::Volt => quantity::Unit::Volt,
        Unit::Ampere => quantity::Unit::Amp,
        Unit::Watt => quantity::Unit::Watt,
        Unit::Farad => quantity::Unit::Farad,
        Unit::Hertz => quantity::Unit::Hertz,
        Unit::Second => quantity::Unit::Second,
        Unit::DegreeCelsius => quantity::Unit::Celsius,
        _ => return None,
    })
}

pub(crate) fn places(reading: &Reading, heading: &Heading) -> String {
    let names: Vec<&str> =
        reading.places.iter().map(|place| place.label.as_deref().unwrap_or_else(|| heading.say(&place.id))).collect();
    match names.as_slice() {
        [a, b] => format!("{a} to {b}"),
        _ => names.join(", "),
    }
}

pub(crate) fn how(reading: &Reading, heading: &Heading) -> String {
    let mut words = match reading.instrument.function.as_str() {
        "ohm" => "ohms".to_owned(),
        "volt_known_source" => "meter on a known live source".to_owned(),
        "volt_earth" => "live leg to the earth measured to".to_owned(),
        "volt_dead_test" => "dead test, each to every other and to earth, AC and DC".to_owned(),
        "volt_dc_discharge" => "DC volts after discharging".to_owned(),
        "volt_ac_supply" => "AC volts at the supply".to_owned(),
        "amp_ac" => "amperes by clamp".to_owned(),
        _ => "AC volts".to_owned(),
    };
    if reading.energised && reading.connection == Connection::Clip {
        words.push_str(", clipped on dead");
    }
    if reading.energised && !reading.instrument.function.starts_with("volt_known") {
        words.push_str(&format!(", {}", heading.say(&reading.state)));
    }
    for lead in &reading.lifted {
        words.push_str(&format!(", {} lifted", heading.say(&lead.id)));
    }
    words
}

pub(crate) fn outcome(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Passed => "holds".to_owned(),
        Outcome::Failed => "DOES NOT HOLD".to_owned(),
        Outcome::NotDecided { why } => format!("not decided with this meter: {why}"),
        Outcome::Deferred { until, by } => format!("later, {} by the {}", time(until), role(*by)),
    }
}

pub(crate) fn role(role: Role) -> &'static str {
    match role {
        Role::Customer => "customer",
        Role::Occupant => "occupant",
        Role::Landlord => "landlord",
        Role::Manager => "manager",
        Role::OtherPresent => "someone present",
        Role::Technician => "technician",
        Role::AnotherTechnician => "another technician",
        Role::Utility => "utility",
        Role::Maker => "maker",
    }
}

pub(crate) fn signature(signature: Signature) -> &'static str {
    match signature {
        Signature::Signed { .. } => "signed",
        Signature::Remote { .. } => "agreed by telephone or message",
        Signature::Refused => "refused to sign",
        Signature::NobodyThere => "nobody there to sign",
    }
}

pub(crate) fn action(action: HazardAction) -> &'static str {
    match action {
        HazardAction::Disconnected => "disconnected",
        HazardAction::Tagged => "tagged",
        HazardAction::DisconnectedAndTagged => "disconnected and tagged",
        HazardAction::None => "told only",
    }
}

pub(crate) fn end(end: &End, heading: &Heading) -> String {
    match end {
        End::VisitPromised => "a visit was promised".to_owned(),
        End::SettledByTelephone { how } => format!("settled on the telephone: {how}"),
        End::Proved => "repaired and proved".to_owned(),
        End::NotReproduced => "the complaint did not show".to_owned(),
        End::UseExplained => "nothing wrong; the use was explained".to_owned(),
        End::Declined { put_back, made_safe, charged } => {
            let mut words = "declined".to_owned();
            words.push_str(if *put_back { "; put back together" } else { "; not put back" });
            words.push_str(if *made_safe { ", left off and tagged" } else { "" });
            if let Some(charged) = charged {
                words.push_str(&format!("; charged {}", money(charged)));
            }
            words
        }
        End::Referred { why } => format!("referred: {why}"),
        End::MadeSafe { why } => format!("made safe, not repaired: {why}"),
        End::AwaitingPart { parts, .. } => {
            let parts: Vec<&str> = parts.iter().map(|part| heading.say(part)).collect();
            format!("waits for a part: {}", parts.join(", "))
        }
    }
}
