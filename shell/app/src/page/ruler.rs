//! A ruler as a picture: the scale, the healthy band, the hills, the plumb line; and the same in words.

use leptos::prelude::*;
use screens::screen::{Hill, Ruler};

/// Width and heights of the picture, its units.
const WIDE: f64 = 340.0;
const BASE: f64 = 62.0;
const MARGIN: f64 = 14.0;

#[component]
pub(super) fn RulerView(ruler: Ruler, id: String) -> impl IntoView {
    let x = |at: f64| MARGIN + at * (WIDE - 2.0 * MARGIN);
    let tallest = ruler.hills.iter().map(|hill| hill.share).fold(0.05, f64::max);
    let (from, to) = (x(ruler.healthy.0), x(ruler.healthy.1));
    let marks = ruler
        .marks
        .iter()
        .map(|mark| {
            view! {
                <line class="tick" x1=x(mark.at) x2=x(mark.at) y1=BASE y2=BASE + 5.0/>
                <text class="figure" x=x(mark.at) y=BASE + 16.0 text-anchor="middle">{mark.label.clone()}</text>
            }
        })
        .collect_view();
    let hills = ruler.hills.iter().enumerate().map(|(at, hill)| {
        let class = if hill.missed { "hill missed" } else { "hill" };
        view! {
            <path class=class d=shape(hill, tallest, x)/>
            <text class="number" x=0.5 * (x(hill.from) + x(hill.to)) y=BASE - height(hill, tallest) - 3.0 text-anchor="middle">
                {at + 1}
            </text>
        }
    }).collect_view();
    let plumb = ruler.plumb.map(|at| {
        view! {
            <line class="plumb" x1=x(at) x2=x(at) y1="6" y2=BASE + 3.0/>
            <circle class="plumb" cx=x(at) cy="6" r="3"/>
        }
    });
    let list = ruler
        .hills
        .iter()
        .map(|hill| {
            view! {
                <li class:missed=hill.missed>{format!("{}: {}", hill.label, hill.say)}</li>
            }
        })
        .collect_view();
    let label = format!("ruler: {}; a sound machine shows {}", ruler.title, ruler.healthy_say);
    view! {
        <figure class="ruler" id=id>
            <svg viewBox="0 0 340 82" role="img" aria-label=label>
                <rect class="healthy" x=from y="14" width=to - from height=BASE - 14.0/>
                {hills}
                <line class="scale" x1=MARGIN x2=WIDE - MARGIN y1=BASE y2=BASE/>
                {marks}
                {plumb}
            </svg>
            <figcaption><span class="band"></span>" sound: " {ruler.healthy_say}</figcaption>
            <ol>{list}</ol>
        </figure>
    }
}

fn height(hill: &Hill, tallest: f64) -> f64 {
    8.0 + 34.0 * hill.share / tallest
}

/// A hill from one end of what is predicted to the other, as high as its share.
fn shape(hill: &Hill, tallest: f64, x: impl Fn(f64) -> f64) -> String {
    let (from, to) = (x(hill.from), x(hill.to));
    let (middle, top) = (0.5 * (from + to), BASE - height(hill, tallest));
    let lean = 0.25 * (to - from);
    format!(
        "M{from:.1},{BASE} C{:.1},{BASE} {:.1},{top:.1} {middle:.1},{top:.1} C{:.1},{top:.1} {:.1},{BASE} {to:.1},{BASE} Z",
        from + lean,
        middle - lean,
        middle + lean,
        to - lean
    )
}
