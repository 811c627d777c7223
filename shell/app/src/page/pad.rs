//! What lies under the thumb.

use super::camera::PhotoPad;
use super::hands::Hands;
use super::keys;
use super::signature::Signature;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Choice, Pad, Screen, Seen};
use std::collections::BTreeMap;
use std::time::Duration;

/// How long a thumb holds what makes something live.
const HELD: Duration = Duration::from_millis(900);

#[component]
pub(super) fn PadView(screen: Screen, hands: Hands) -> impl IntoView {
    let offered = screen.offered.clone().filter(|text| !text.is_empty());
    // What makes something live is held, in the demo too.
    let held = matches!(screen.pad, Pad::Button { hold: true, .. });
    let watched = matches!(screen.pad, Pad::Seen(_));
    let offer = (screen.offered.is_some() && !held).then(|| {
        let say = match offered {
            None => "demo: go on".to_owned(),
            Some(_) if watched => "demo: what it does".to_owned(),
            Some(text) => format!("demo: {text}"),
        };
        view! { <button class="offer" id="offer" on:click=move |_| hands.touch(&Touch::TakeOffered)>{say}</button> }
    });
    let pad = match screen.pad {
        Pad::Button { label, answer, hold: false } => view! {
            <button class="main" id="main-button" on:click=move |_| hands.answer(answer.clone())>{label}</button>
        }
        .into_any(),
        Pad::Photo { instead } => view! { <PhotoPad instead=instead hands=hands/> }.into_any(),
        Pad::Button { label, answer, hold: true } => view! { <Hold label=label answer=answer hands=hands/> }.into_any(),
        Pad::Choices(choices) => view! { <div class="choices">{buttons(choices, hands)}</div> }.into_any(),
        Pad::Reading { unit } => view! { <Reading unit=unit hands=hands/> }.into_any(),
        Pad::Seen(seen) => view! { <Watched seen=seen hands=hands/> }.into_any(),
        Pad::Count { expected } => view! { <Count expected=expected hands=hands/> }.into_any(),
        Pad::Words { hint, fields, instead } => {
            view! { <Words hint=hint fields=fields instead=instead hands=hands/> }.into_any()
        }
        Pad::Signature { field, most_points, instead } => {
            view! { <Signature field=field most_points=most_points instead=instead hands=hands/> }.into_any()
        }
        Pad::Nothing => view! {
            <button class="main" id="main-button" on:click=move |_| hands.touch(&Touch::Day)>"back to the day"</button>
        }
        .into_any(),
    };
    view! { <div class="pad">{offer}{pad}</div> }
}

pub(super) fn buttons(choices: Vec<Choice>, hands: Hands) -> impl IntoView {
    choices
        .into_iter()
        .map(|choice| {
            let answer = choice.answer;
            view! { <button class="choice" on:click=move |_| hands.answer(answer.clone())>{choice.say}</button> }
        })
        .collect_view()
}

/// A button that is held down: it makes something live.
#[component]
fn Hold(label: String, answer: String, hands: Hands) -> impl IntoView {
    let holding = RwSignal::new(0_u32);
    let down = RwSignal::new(false);
    let begin = move || {
        if down.get_untracked() {
            return;
        }
        down.set(true);
        holding.update(|count| *count += 1);
        let (which, answer) = (holding.get_untracked(), answer.clone());
        set_timeout(
            move || {
                // The page may have gone on in the meantime.
                if down.try_get_untracked() == Some(true) && holding.try_get_untracked() == Some(which) {
                    hands.answer(answer);
                }
            },
            HELD,
        );
    };
    let by_key = begin.clone();
    let is_press = |key: &str| matches!(key, " " | "Enter");
    view! {
        <button class="main hold" id="main-button" class:holding=move || down.get()
            on:pointerdown=move |_| begin()
            on:pointerup=move |_| down.set(false)
            on:pointerleave=move |_| down.set(false)
            on:contextmenu=move |event| event.prevent_default()
            on:keydown=move |event| if is_press(&event.key()) { event.prevent_default(); by_key(); }
            on:keyup=move |_| down.set(false)
        >{label}</button>
        <p class="soft">"Hold it down: from here on it is live."</p>
    }
}

/// Keys of the reading pad, in rows.
const KEYS: [&str; 15] = ["7", "8", "9", "k", "OL", "4", "5", "6", "M", "-", "1", "2", "3", "0", "."];

#[component]
fn Reading(unit: String, hands: Hands) -> impl IntoView {
    let keys = KEYS
        .into_iter()
        .map(|key| {
            let press = move |_| hands.typed.update(|typed| typed.push_str(key));
            view! { <button class="key" on:click=press>{key}</button> }
        })
        .collect_view();
    view! {
        <div class="reading">
            <output id="typed" aria-label="reading">{move || hands.typed.get()}" "<span class="soft">{unit}</span></output>
            <div class="keys">{keys}</div>
            <div class="row">
                <button class="choice" aria-label="delete the last key" on:click=move |_| hands.delete_last()>
                    "delete"
                </button>
                <button class="main" id="main-button" on:click=move |_| keys::take(hands)>"take it"</button>
            </div>
        </div>
    }
}

/// Everything that was watched, each as on a sound machine until it is tapped otherwise.
#[component]
fn Watched(seen: Vec<Seen>, hands: Hands) -> impl IntoView {
    let as_sound: BTreeMap<String, String> = seen.iter().map(|of| (of.what.clone(), of.sound.clone())).collect();
    let picked = RwSignal::new(as_sound);
    let rows =
        seen.into_iter()
            .map(|of| {
                let values = of.values.into_iter().map(|value| {
            let (what, id) = (of.what.clone(), value.answer.clone());
            let on = {
                let (what, id) = (what.clone(), id.clone());
                move || picked.with(|picked| picked.get(&what) == Some(&id))
            };
            let pressed = on.clone();
            let pick = move |_| picked.update(|picked| drop(picked.insert(what.clone(), id.clone())));
            view! {
                <button class="choice" class:picked=on aria-pressed=move || pressed().to_string() on:click=pick>
                    {value.say}
                </button>
            }
        }).collect_view();
                view! { <div class="seen" role="group">{values}</div> }
            })
            .collect_view();
    let answer = move |_| {
        let words =
            picked.with_untracked(|picked| picked.iter().map(|(what, id)| format!("{what}={id}")).collect::<Vec<_>>());
        hands.answer(words.join(" "));
    };
    view! {
        <div class="watched">{rows}</div>
        <button class="main" id="main-button" on:click=answer>"this is what I saw"</button>
    }
}

#[component]
fn Count(expected: u32, hands: Hands) -> impl IntoView {
    let count = RwSignal::new(expected);
    let short = move || count.get() < expected;
    let answer = move |_| {
        let counted = count.get_untracked();
        hands.answer(if counted < expected { format!("missing {counted}") } else { counted.to_string() });
    };
    view! {
        <div class="row">
            <button class="choice" aria-label="one less" on:click=move |_| count.update(|count| *count = count.saturating_sub(1))>"-"</button>
            <output id="count">{move || format!("{} of {expected}", count.get())}</output>
            <button class="choice" aria-label="one more" on:click=move |_| count.update(|count| *count += 1)>"+"</button>
        </div>
        <button class="main" id="main-button" on:click=answer>
            {move || if short() { "some are missing: note it" } else { "counted" }}
        </button>
    }
}

#[component]
fn Words(hint: String, fields: Vec<String>, instead: Vec<Choice>, hands: Hands) -> impl IntoView {
    let names = if fields.is_empty() { vec![hint.clone()] } else { fields };
    let written = RwSignal::new(vec![String::new(); names.len()]);
    let answer = move || {
        let words = written.with_untracked(|written| {
            let filled = written.iter().map(|word| word.trim()).filter(|word| !word.is_empty());
            filled.collect::<Vec<_>>().join(", ")
        });
        if words.is_empty() {
            hands.answer("");
        } else {
            hands.answer(words);
        }
    };
    let rows = names
        .into_iter()
        .enumerate()
        .map(|(at, name)| {
            let id = format!("field-{at}");
            view! {
                <label for=id.clone()>{name}</label>
                <input id=id type="text" autocomplete="off"
                    on:input=move |event| written.update(|written| written[at] = event_target_value(&event))
                    on:keydown=move |event| if event.key() == "Enter" { answer(); }
                />
            }
        })
        .collect_view();
    view! {
        <div class="words">{rows}</div>
        <div class="row">{buttons(instead, hands)}
            <button class="main" id="main-button" on:click=move |_| answer()>"take it"</button>
        </div>
    }
}
