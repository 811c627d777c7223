//! The shop's settings as fields, and one field set. Every change is a whole new setting in the book; calls that are open
//! keep theirs.

use crate::screen::{Choice, Field, Fields, Setting};
use crate::{kit, shelf};
use book::{ChargeSort, Currency, Exchange, Money, Number, SettingsSet, TaxCategory, TaxRule, TemperatureScale};
use call::{Refused, Shop, usual_set};
use meters::{Owned, write};
use quantity::Decimal;

/// Most minutes that anything may be as dear as.
const MOST_MINUTES: u32 = 600;
/// Most money that can be set, and most places after the point.
const MOST_MONEY: u32 = 100_000;
const MOST_PLACES: u32 = 4;
/// How the field of a currency's exchange begins.
const EXCHANGE: &str = "exchange-";

/// Gives the fields.
pub(super) fn fields(shop: &Shop) -> Vec<Fields> {
    let set = in_force(shop);
    let currency = set.call_out.currency;
    let typed = |id: &str, say: &str, value: String, note: &str| Field {
        id: id.to_owned(),
        say: say.to_owned(),
        value,
        note: note.to_owned(),
        set: Setting::Typed,
    };
    let money = |id: &str, say: &str, of: &Money| typed(id, say, of.amount.to_string(), &currency.to_string());
    let mut rates = vec![
        Field { set: Setting::Words, ..typed("currency", "money", currency.to_string(), "three letters, such as USD") },
        money("call-out", "the call and finding the fault", &set.call_out),
        money("per-hour", "an hour of repair", &set.per_hour),
    ];
    for of in in_files(shop).into_iter().filter(|of| *of != currency) {
        let said = set.exchange.iter().find(|said| said.of == of).map(|said| said.comes_to.amount.to_string());
        let say = format!("1 {of} of a machine's file comes to");
        rates.push(typed(&format!("{EXCHANGE}{of}"), &say, said.unwrap_or_default(), &currency.to_string()));
    }
    let weighing = vec![
        money("minute", "a minute of yours", &set.minute),
        typed("danger", "a reading on the energised machine is as dear as", set.danger_minutes.to_string(), "minutes"),
        typed("second-visit", "another visit is as dear as", set.second_visit_minutes.to_string(), "minutes"),
    ];
    let scale = if set.temperatures == TemperatureScale::Celsius { "celsius" } else { "fahrenheit" };
    let temperatures = Field {
        set: choices(&[("celsius", "°C"), ("fahrenheit", "°F")]),
        ..typed("temperatures", "temperatures in", scale.to_owned(), "")
    };
    vec![
        group("Rates", None, rates),
        group("The next step", Some("what a step is weighed by; danger has its price beside its minutes"), weighing),
        group("Shown", None, vec![temperatures]),
        papers_group(&set),
        day_group(&set),
        meters_group(shop),
    ]
}

/// Sets a field; gives all settings as they are from now on.
pub(super) fn set(shop: &Shop, id: &str, value: &str) -> Result<SettingsSet, Refused> {
    let mut set = in_force(shop);
    let value = value.trim();
    match id {
        "currency" => {
            let currency = value
                .to_uppercase()
                .parse()
                .map_err(|error: book::BadCurrency| Refused::new(error.to_string(), "write three letters"))?;
            for money in [&mut set.call_out, &mut set.per_hour, &mut set.minute] {
                money.currency = currency;
            }
            set.exchange.retain(|said| said.of != currency && said.comes_to.currency == currency);
        }
        "call-out" => set.call_out.amount = amount(value)?,
        "per-hour" => set.per_hour.amount = amount(value)?,
        "minute" => set.minute.amount = above_zero(value)?,
        "danger" => set.danger_minutes = minutes(value)?,
        "second-visit" => set.second_visit_minutes = minutes(value)?,
        "temperatures" => {
            set.temperatures = match value {
                "celsius" => TemperatureScale::Celsius,
                "fahrenheit" => TemperatureScale::Fahrenheit,
                _ => return Err(Refused::new(format!("`{value}` is no scale"), "write `celsius` or `fahrenheit`")),
            }
        }
        "meters" => set.meters = own_meters(value)?,
        "shop" => value.clone_into(&mut set.letterhead.name),
        "street" => value.clone_into(&mut set.letterhead.street),
        "town" => value.clone_into(&mut set.letterhead.town),
        "postcode" => value.clone_into(&mut set.letterhead.postcode),
        "country" => set.letterhead.country = country(value)?,
        "tax-number" => value.clone_into(&mut set.letterhead.tax_number),
        "account" => value.clone_into(&mut set.letterhead.account),
        "mark-up" => set.mark_up = amount(value)?,
        "pay-within" => set.pay_within_days = minutes(value)?,
        "template" => set.template = (!value.is_empty()).then(|| value.to_owned()),
        "leaves" => set.day.leaves = super::plan::clock(value)?,
        "back-by" => set.day.back_by = super::plan::clock(value)?,
        "speed" => set.day.speed = minutes(value)?.max(1),
        "home" => set.day.home = home(value)?,
        "load-money" => set.loading.money = amount(value)?,
        "load-litres" => set.loading.litres = minutes(value)?,
        _ if id.starts_with(TAX) => set_tax(&mut set, id, value)?,
        _ => match id.strip_prefix(EXCHANGE).and_then(|of| of.parse::<Currency>().ok()) {
            Some(of) => {
                let comes_to = Money { amount: above_zero(value)?, currency: set.call_out.currency };
                set.exchange.retain(|said| said.of != of);
                set.exchange.push(Exchange { of, comes_to });
            }
            None => set.meters = Some(with_owned(shop, id, value)?),
        },
    }
    Ok(set)
}

fn words(id: &str, say: &str, value: &str, note: &str) -> Field {
    Field::new(id, say, value.to_owned(), note, Setting::Words)
}

/// What stands on the papers, and how charges are taxed.
fn papers_group(set: &SettingsSet) -> Fields {
    let head = &set.letterhead;
    let mut fields = vec![
        words("shop", "the shop's name", &head.name, "on every paper"),
        words("street", "street and number", &head.street, ""),
        words("town", "town", &head.town, ""),
        words("postcode", "code for the post", &head.postcode, ""),
        words("country", "country", &head.country, "two letters, such as US"),
        words("tax-number", "tax number", &head.tax_number, "where there is one"),
        words("account", "account that is paid to", &head.account, ""),
        words("mark-up", "put on a part's price", &set.mark_up.to_string(), "per cent"),
        words("pay-within", "to be paid within", &set.pay_within_days.to_string(), "days"),
        Field::new(
            "template",
            "your own template of a typeset page",
            set.template.clone().unwrap_or_default(),
            "docs/papers.md",
            Setting::File(Some("the program's".to_owned())),
        ),
    ];
    fields.extend(TAXED.iter().map(|(word, sort)| {
        let rule = set.taxes.iter().find(|rule| rule.sort == *sort);
        let value = rule.map_or_else(String::new, |rule| match rule.category {
            TaxCategory::Exempt => "exempt".to_owned(),
            _ => rule.percent.normalize().to_string(),
        });
        words(&format!("{TAX}{word}"), &format!("tax on {word}"), &value, "per cent, `exempt`, or empty for none")
    }));
    group("Papers and taxes", None, fields)
}

/// When and where the van drives, and what it may load.
fn day_group(set: &SettingsSet) -> Fields {
    let clock = |minutes: u32| format!("{}:{:02}", minutes / 60, minutes % 60);
    let home = set.day.home.map_or_else(String::new, |(north, east)| format!("{}, {}", north.get(), east.get()));
    let fields = vec![
        words("leaves", "the van leaves at", &clock(set.day.leaves), "o'clock"),
        words("back-by", "and is back by", &clock(set.day.back_by), "o'clock"),
        words("home", "where it stands at night", &home, "latitude, longitude in degrees"),
        words("speed", "on the road", &set.day.speed.to_string(), "km an hour"),
        words("load-money", "parts loaded for a day may cost", &set.loading.money.to_string(), "in the shop's money"),
        words("load-litres", "and take room", &set.loading.litres.to_string(), "litres"),
    ];
    group("The day", None, fields)
}

/// How the field of a tax begins, and the sorts that have one.
const TAX: &str = "tax-on-";
const TAXED: [(&str, ChargeSort); 5] = [
    ("calls", ChargeSort::Diagnosis),
    ("labor", ChargeSort::Labour),
    ("parts", ChargeSort::Part),
    ("travel", ChargeSort::Travel),
    ("other", ChargeSort::Other),
];

fn set_tax(set: &mut SettingsSet, id: &str, value: &str) -> Result<(), Refused> {
    let unknown = || Refused::new(format!("there is no setting `{id}`"), "take one that is listed");
    let word = id.strip_prefix(TAX).ok_or_else(unknown)?;
    let (_, sort) = TAXED.iter().find(|(known, _)| *known == word).ok_or_else(unknown)?;
    let rule = match value {
        "" => None,
        "exempt" => Some((TaxCategory::Exempt, Decimal::ZERO)),
        _ => {
            let percent = amount(value)?;
            if percent > Decimal::ONE_HUNDRED {
                return Err(Refused::new(format!("{percent} per cent is no tax"), "write it as `8.25`"));
            }
            Some((if percent.is_zero() { TaxCategory::Zero } else { TaxCategory::Rated }, percent))
        }
    };
    set.taxes.retain(|of| of.sort != *sort);
    set.taxes.extend(rule.map(|(category, percent)| TaxRule { sort: *sort, category, percent }));
    Ok(())
}

fn country(value: &str) -> Result<String, Refused> {
    let upper = value.to_uppercase();
    if upper.is_empty() || (upper.len() == 2 && upper.bytes().all(|letter| letter.is_ascii_uppercase())) {
        return Ok(upper);
    }
    Err(Refused::new(format!("`{value}` is no country"), "write its two letters, such as `US` (ISO 3166-1)"))
}

fn home(value: &str) -> Result<Option<(Number, Number)>, Refused> {
    if value.is_empty() {
        return Ok(None);
    }
    let wrong = || Refused::new(format!("`{value}` is no place"), "write latitude and longitude: `48.137, 11.575`");
    let point = super::plan::point(value).ok_or_else(wrong)?;
    Number::new(point.latitude).zip(Number::new(point.longitude)).map(Some).ok_or_else(wrong)
}

/// Gives the settings, or the usual ones where none were ever set.
pub(super) fn in_force(shop: &Shop) -> SettingsSet {
    let first = || shipped::ALL.first().and_then(|one| one.read()?.currency.parse().ok());
    let usual = || usual_set(first().unwrap_or(Currency::NONE));
    shop.settings.clone().unwrap_or_else(usual)
}

/// The money that the parts of the machines at hand are priced in.
fn in_files(shop: &Shop) -> Vec<Currency> {
    let machines = shelf::choices(shop).into_iter().filter_map(|of| shelf::read(shop, &of.answer).ok());
    let mut all: Vec<Currency> = machines.filter_map(|machine| machine.currency.parse().ok()).collect();
    all.sort_unstable();
    all.dedup();
    all
}

fn group(title: &str, note: Option<&str>, fields: Vec<Field>) -> Fields {
    Fields { title: title.to_owned(), note: note.map(str::to_owned), fields }
}

fn choices(of: &[(&str, &str)]) -> Setting {
    let choice = |(answer, say): &(&str, &str)| Choice { answer: (*answer).to_owned(), say: (*say).to_owned() };
    Setting::Choices(of.iter().map(choice).collect())
}

fn meters_group(shop: &Shop) -> Fields {
    let meters = match kit::meters(shop) {
        Ok(meters) => meters,
        Err(why) => return group("Meters", Some(&why), vec![file_field()]),
    };
    let owned = Owned::ALL.into_iter().map(|owned| Field {
        id: owned.id().to_owned(),
        say: owned.say().to_owned(),
        value: if meters.have(owned) { "yes" } else { "no" }.to_owned(),
        note: String::new(),
        set: choices(&[("yes", "mine"), ("no", "not mine")]),
    });
    let named: Vec<&str> = meters.meters.iter().map(|own| own.say.as_str()).collect();
    let note = format!("only readings that these can take are proposed: {}", named.join(", "));
    group("Meters", Some(&note), owned.chain([file_field()]).collect())
}

fn file_field() -> Field {
    Field {
        id: "meters".to_owned(),
        say: "your own meters, with the figures of their manuals".to_owned(),
        value: String::new(),
        note: "a meters file; an empty one gives an ordinary meter again".to_owned(),
        set: Setting::File(Some("an ordinary meter".to_owned())),
    }
}

fn own_meters(text: &str) -> Result<Option<String>, Refused> {
    if text.is_empty() {
        return Ok(None);
    }
    kit::read(text).map_err(|why| Refused::new(why, "mend the file there and take it again"))?;
    Ok(Some(text.to_owned()))
}

fn with_owned(shop: &Shop, id: &str, value: &str) -> Result<String, Refused> {
    let owned = Owned::ALL.into_iter().find(|owned| owned.id() == id);
    let owned = owned.ok_or_else(|| Refused::new(format!("there is no setting `{id}`"), "take one that is listed"))?;
    let mut meters = kit::meters(shop).map_err(|why| Refused::new(why, "take your meters file anew"))?;
    match value {
        "yes" => meters.take_in(owned),
        "no" => meters.leave_out(owned),
        _ => return Err(Refused::new(format!("`{value}` is neither `yes` nor `no`"), "write one of them")),
    }
    if meters.meters.is_empty() {
        return Err(Refused::new("then there is no meter left", "take a meters file with what you own"));
    }
    Ok(write(&meters))
}

fn amount(text: &str) -> Result<Decimal, Refused> {
    let read = text.parse::<Decimal>().ok();
    let fits = |amount: &Decimal| {
        !amount.is_sign_negative() && *amount <= Decimal::from(MOST_MONEY) && amount.scale() <= MOST_PLACES
    };
    read.filter(fits).ok_or_else(|| {
        Refused::new(format!("`{text}` is no amount of money"), "write it as `95` or `95.50`, no sign and no letters")
    })
}

fn above_zero(text: &str) -> Result<Decimal, Refused> {
    let read = amount(text)?;
    if read.is_zero() {
        return Err(Refused::new("it cannot be nothing: steps are weighed by it", "write an amount above 0"));
    }
    Ok(read)
}

fn minutes(text: &str) -> Result<u32, Refused> {
    let read = text.parse::<u32>().ok().filter(|minutes| *minutes <= MOST_MINUTES);
    read.ok_or_else(|| {
        Refused::new(format!("`{text}` is no count of minutes"), format!("write a whole number up to {MOST_MINUTES}"))
    })
}
