//! The move in letters to be read at arm's length while both hands hold probes: the labels 20 mm high.

use super::hands::{Hands, speak};
use leptos::prelude::*;
use screens::screen::{Panel, ProbePlace, Screen};

#[component]
pub(super) fn LargeView(screen: Screen, spoken: String, hands: Hands) -> impl IntoView {
    let words = screen.cautions.iter().map(word).collect_view();
    let condition = screen.condition.map(|say| view! { <p class="condition"><b>{say}</b></p> });
    let expect = screen.ruler.map(|ruler| ruler.healthy_say).map(|say| view! { <p>"sound: " {say}</p> });
    let body = if screen.places.is_empty() {
        view! { <h1 id="say" tabindex="-1">{screen.say}</h1> }.into_any()
    } else {
        let places = screen.places.into_iter().zip([("+", "red"), ("-", "black")]).map(place).collect_view();
        view! { <h1 id="say" class="aloud" tabindex="-1">{screen.say}</h1>{condition}{places}{expect} }.into_any()
    };
    view! {
        <main class="arm-length">
            <div class="row">{words}</div>
            {body}
            <div class="row">
                <button class="choice" on:click=move |_| speak(&spoken)>"say it"</button>
                <button class="main" id="small-again" on:click=move |_| hands.large.set(false)>"back to the pad"</button>
            </div>
        </main>
    }
}

fn word(panel: &Panel) -> impl IntoView + use<> {
    let class = format!("hazard {}", panel.word.to_lowercase());
    view! { <div class=class title=panel.sentence.clone()><b>{panel.word.clone()}</b></div> }
}

fn place((place, (sign, color)): (ProbePlace, (&'static str, &'static str))) -> impl IntoView {
    view! {
        <p class="place">
            <span class=format!("probe {color}") aria-hidden="true">{sign}</span>
            <b>{place.label}</b>
            <span class="on">{place.part}</span>
        </p>
    }
}
