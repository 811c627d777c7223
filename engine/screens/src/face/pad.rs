//! What lies under the thumb for each kind of answer.

use crate::desk::{Desk, is_photo};
use crate::screen::{Choice, Pad, Seen};
use book::Strokes;
use call::{About, Ask, Wants};
use quantity::Unit;

/// Gives what lies under the thumb.
pub(super) fn pad(desk: &Desk<'_, '_>, ask: &Ask) -> Pad {
    let machine = desk.session.machine();
    match &ask.wants {
        Wants::Done if is_photo(ask) => Pad::Photo { instead: vec![choice("done", "taken with another camera")] },
        Wants::Done => {
            let live = matches!(ask.about, About::Energise { .. });
            let label = if live { "hold: all clear, it is on" } else { "done" };
            Pad::Button { label: label.to_owned(), answer: "done".to_owned(), hold: live }
        }
        Wants::YesNo => Pad::Choices(vec![choice("yes", "yes"), choice("no", "no")]),
        Wants::Choice(choices) => Pad::Choices(choices.iter().map(|of| choice(&of.id, &of.say)).collect()),
        Wants::Reading(unit) => Pad::Reading { unit: symbol(*unit).to_owned() },
        Wants::Seen(observed) => {
            let seen = observed.iter().map(|of| Seen {
                what: machine[of.what].id.clone(),
                values: of.values.iter().map(|value| choice(&value.id, &value.say)).collect(),
                sound: of.sound.clone(),
            });
            Pad::Seen(seen.collect())
        }
        Wants::Count(expected) => Pad::Count { expected: *expected },
        Wants::Words => words("in your own words", &[], &[]),
        Wants::Person => words("who is the customer", &["name", "address", "telephone", "how to get in"], &[]),
        Wants::Appliance => {
            words("years, such as 9; `warranty` if somebody owes the repair", &[], &[("skip", "not known")])
        }
        Wants::Signature => {
            let instead = vec![choice("refused", "refused"), choice("nobody", "nobody is there")];
            Pad::Signature { field: Strokes::FIELD, most_points: Strokes::MOST_POINTS, instead }
        }
        Wants::Hazard => words(
            "what was done (disconnected, tagged, both or told), then the name of the one told",
            &[],
            &[("disconnected refused", "disconnected; will not sign"), ("tagged nobody", "tagged; nobody is there")],
        ),
        Wants::Nothing => Pad::Nothing,
    }
}

fn choice(answer: &str, say: &str) -> Choice {
    Choice { answer: answer.to_owned(), say: say.to_owned() }
}

fn words(hint: &str, fields: &[&str], instead: &[(&str, &str)]) -> Pad {
    Pad::Words {
        hint: hint.to_owned(),
        fields: fields.iter().map(|field| (*field).to_owned()).collect(),
        instead: instead.iter().map(|(answer, say)| choice(answer, say)).collect(),
    }
}

/// Gives a unit's symbol without a scale.
fn symbol(unit: Unit) -> &'static str {
    unit.scales().iter().find(|(power, _)| *power == 0).map_or("", |(_, symbol)| symbol)
}
