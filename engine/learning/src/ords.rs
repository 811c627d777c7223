//! Repair records in the open repair data standard, without personal data. SOURCE: Open Repair Data Standard (ORDS), its
//! modules, fields and codes as published in its documentation.

use crate::closed::Closed;
use book::End;

/// Names of the columns. SOURCE: ORDS, field reference.
const HEAD: [&str; 14] = [
    "id",
    "partner_product_category",
    "product_category",
    "product_category_id",
    "brand",
    "year_of_manufacture",
    "product_age_estimate",
    "problem",
    "repair_status",
    "repair_barrier_if_end_of_life",
    "group_identifier",
    "event_date",
    "data_provider",
    "country",
];

/// Writes closed jobs; `kind` gives the kind of a machine by its id; `country` is two letters. No name,
/// address, serial number or job's own id stands in it: records are numbered in their order. The brand is not kept here.
///
/// # Errors
/// A fault of the writer.
pub fn csv(jobs: &[Closed], provider: &str, country: &str, kind: impl Fn(&str) -> String) -> Result<String, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEAD).map_err(|error| error.to_string())?;
    for (number, job) in (1_u32..).zip(jobs) {
        let kind = kind(&job.machine);
        let date = job.at.as_str().get(..10).unwrap_or_default();
        let made =
            job.age_years.and_then(|years| year_made(date, years)).map_or_else(String::new, |year| year.to_string());
        let (category, category_id) = category(&kind);
        let age = job.age_years.map_or_else(String::new, |years| format!("{years:.0}"));
        let none = String::new;
        let row = [
            number.to_string(),
            kind.clone(),
            category.to_owned(),
            category_id.to_string(),
            none(),
            made,
            age,
            job.found.clone(),
            status(job).to_owned(),
            none(),
            provider.to_owned(),
            date.to_owned(),
            provider.to_owned(),
            three_letters(country).to_owned(),
        ];
        writer.write_record(&row).map_err(|error| error.to_string())?;
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|error| error.to_string())
}

fn year_made(date: &str, years: f64) -> Option<i32> {
    let year: i32 = date.get(..4)?.parse().ok()?;
    // Ages are whole years or months; a year more or less is what the standard expects of it.
    (0..200).find(|back| f64::from(*back) + 1.0 > years).map(|back| year - back)
}

/// SOURCE: ORDS, repair status: fixed, repairable, end of life, unknown.
fn status(job: &Closed) -> &'static str {
    match &job.end {
        Some(End::Proved | End::UseExplained | End::SettledByTelephone { .. }) if !job.came_back => "Fixed",
        Some(End::Referred { .. } | End::AwaitingPart { .. } | End::Declined { .. }) => "Repairable",
        _ => "Unknown",
    }
}

/// SOURCE: ORDS, product category values.
fn category(kind: &str) -> (&'static str, u8) {
    if kind.contains("air conditioner") {
        ("Aircon/dehumidifier", 1)
    } else if kind.contains("microwave") || kind.contains("ice maker") {
        ("Small kitchen item", 29)
    } else if kind.is_empty() {
        ("Misc", 18)
    } else {
        ("Large home electrical", 17)
    }
}

/// Countries by two letters and by the three that the standard wants. SOURCE: ISO 3166-1, from memory; where a country is
/// not among them the field stays empty.
const COUNTRIES: [(&str, &str); 32] = [
    ("AT", "AUT"),
    ("AU", "AUS"),
    ("BE", "BEL"),
    ("CA", "CAN"),
    ("CH", "CHE"),
    ("CZ", "CZE"),
    ("DE", "DEU"),
    ("DK", "DNK"),
    ("EE", "EST"),
    ("ES", "ESP"),
    ("FI", "FIN"),
    ("FR", "FRA"),
    ("GB", "GBR"),
    ("GR", "GRC"),
    ("HR", "HRV"),
    ("HU", "HUN"),
    ("IE", "IRL"),
    ("IT", "ITA"),
    ("LT", "LTU"),
    ("LU", "LUX"),
    ("LV", "LVA"),
    ("MX", "MEX"),
    ("NL", "NLD"),
    ("NO", "NOR"),
    ("NZ", "NZL"),
    ("PL", "POL"),
    ("PT", "PRT"),
    ("RO", "ROU"),
    ("SE", "SWE"),
    ("SI", "SVN"),
    ("SK", "SVK"),
    ("US", "USA"),
];

fn three_letters(country: &str) -> &'static str {
    COUNTRIES.iter().find(|(two, _)| *two == country).map_or("", |(_, three)| three)
}
