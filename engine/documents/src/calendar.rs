//! Appointments as iCalendar. SOURCE: RFC 5545; its escapes (3.3.11), folded lines of at most 75 octets (3.1), times without
//! a zone (3.3.5, form 1), which are those of whoever reads them.

/// An appointment.
#[derive(Clone, Debug, PartialEq)]
pub struct Appointment {
    /// What tells it from every other, for ever.
    pub id: String,
    /// The day, as `2026-12-01`.
    pub day: String,
    /// When it begins and ends, minutes after midnight.
    pub from: f64,
    /// When it ends.
    pub to: f64,
    /// What it is.
    pub title: String,
    /// Where.
    pub place: String,
}

/// Writes a calendar. What has no day is left out.
#[must_use]
pub fn calendar(appointments: &[Appointment]) -> String {
    let mut text = String::new();
    for line in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//callwright//plan//EN"] {
        fold(&mut text, line);
    }
    for of in appointments {
        let Some(day) = date(&of.day) else { continue };
        fold(&mut text, "BEGIN:VEVENT");
        fold(&mut text, &format!("UID:{}@callwright.invalid", escaped(&of.id)));
        // When it was written is not known here; the day itself stands for it.
        fold(&mut text, &format!("DTSTAMP:{day}T000000Z"));
        fold(&mut text, &format!("DTSTART:{day}T{}", clock(of.from)));
        fold(&mut text, &format!("DTEND:{day}T{}", clock(of.to.max(of.from + 1.0))));
        fold(&mut text, &format!("SUMMARY:{}", escaped(&of.title)));
        if !of.place.is_empty() {
            fold(&mut text, &format!("LOCATION:{}", escaped(&of.place)));
        }
        fold(&mut text, "END:VEVENT");
    }
    fold(&mut text, "END:VCALENDAR");
    text
}

fn date(day: &str) -> Option<String> {
    let digits: String = day.chars().filter(char::is_ascii_digit).collect();
    (digits.len() == 8 && day.len() == 10).then_some(digits)
}

fn clock(minutes: f64) -> String {
    let whole = minutes.round().clamp(0.0, 1439.0);
    let hour = (whole / 60.0).floor();
    format!("{hour:02.0}{:02.0}00", whole - 60.0 * hour)
}

fn escaped(text: &str) -> String {
    let mut safe = String::new();
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => safe.extend(['\\', c]),
            '\n' => safe.push_str("\\n"),
            c if c.is_control() => {}
            c => safe.push(c),
        }
    }
    safe
}

/// Ends a line, folded so that none is longer than 75 octets and no letter is torn.
fn fold(text: &mut String, line: &str) {
    let mut octets = 0;
    for c in line.chars() {
        if octets + c.len_utf8() > 75 {
            text.push_str("\r\n ");
            octets = 1;
        }
        text.push(c);
        octets += c.len_utf8();
    }
    text.push_str("\r\n");
}
