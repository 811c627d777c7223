//! Practice: the complaint, the drawing to read in, what else can be done, and the review.

use super::drawing::DrawingView;
use super::hands::Hands;
use super::heading::{Heading, notice_view};
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Review, Screen, Way};

#[component]
pub(super) fn LessonView(screen: Screen, hands: Hands) -> impl IntoView {
    let lines = screen.lines.into_iter().map(|line| view! { <p>{line.say}</p> }).collect_view();
    let history = screen.history.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    let drawing = screen.drawing.map(|of| view! { <DrawingView of=of hands=hands/> });
    let review = screen.review.map(|review| review_view(review));
    let undo = screen.undo;
    view! {
        <main class="study">
            <Heading say=screen.say hands=hands>
                <button class="small" id="undo" disabled=!undo on:click=move |_| hands.touch(&Touch::Undo)>"undo"</button>
            </Heading>
            <p class="soft">"practice: " {screen.top.machine}</p>
            {notice_view(screen.notice)}
            <div id="complaint">{lines}</div>
            <ol class="history" id="done" reversed=true aria-live="polite">{history}</ol>
            {drawing}
            {ways(screen.ways, hands)}
            {review}
        </main>
    }
}

/// What else can be done, folded by what it belongs to.
fn ways(ways: Vec<Way>, hands: Hands) -> impl IntoView {
    let mut groups: Vec<(String, Vec<Way>)> = Vec::new();
    for way in ways {
        let group = way.group.clone().unwrap_or_default();
        match groups.last_mut().filter(|(name, _)| *name == group) {
            Some((_, of)) => of.push(way),
            None => groups.push((group, vec![way])),
        }
    }
    groups
        .into_iter()
        .map(|(name, of)| {
            let buttons = of
                .into_iter()
                .map(|way| {
                    view! { <button class="choice" on:click=move |_| hands.answer(way.answer.clone())>{way.say}</button> }
                })
                .collect_view();
            view! { <details class="group"><summary>{name}</summary><div class="choices">{buttons}</div></details> }
        })
        .collect_view()
}

fn review_view(review: Review) -> impl IntoView {
    let figures = review.figures.into_iter().map(|figure| view! { <li>{figure}</li> }).collect_view();
    let steps = review
        .steps
        .into_iter()
        .map(|step| {
            let tool = step.tool.map(|tool| view! { <p class="soft">"the tool: " {tool}</p> });
            view! { <li><p><b>{step.did}</b></p><p>{step.worth}</p>{tool}</li> }
        })
        .collect_view();
    let tool = review.tool.into_iter().map(|step| view! { <li>{step}</li> }).collect_view();
    view! {
        <section id="review">
            <p class="flag"><b>{review.verdict}</b></p>
            <ul>{figures}</ul>
            <h2>"Your steps"</h2>
            <ol class="steps">{steps}</ol>
            <h2>"The tool, from the start"</h2>
            <ol class="steps">{tool}</ol>
        </section>
    }
}
