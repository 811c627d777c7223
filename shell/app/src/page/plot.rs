//! Curves as a picture, and the same in words.

use leptos::prelude::*;
use screens::screen::{Curve, Plot};

/// The picture's units: its size, and what its edges leave for the figures.
const WIDE: f64 = 360.0;
const HIGH: f64 = 220.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 10.0;
const ABOVE: f64 = 10.0;
const BELOW: f64 = 36.0;
/// Dashes that tell the curves apart without colors, and the sign that stands at the end of each.
const DASHES: [&str; 6] = ["", "7 3", "2 3", "9 3 2 3", "4 2", "1 4"];

#[component]
pub(super) fn PlotView(plot: Plot) -> impl IntoView {
    let x = |at: f64| LEFT + at * (WIDE - LEFT - RIGHT);
    let y = |at: f64| HIGH - BELOW - at * (HIGH - ABOVE - BELOW);
    let across = plot.marks_across.iter().map(|mark| {
        view! {
            <line class="tick" x1=x(mark.at) x2=x(mark.at) y1=y(0.0) y2=y(0.0) + 4.0/>
            <text x=x(mark.at) y=y(0.0) + 15.0 text-anchor="middle">{mark.label.clone()}</text>
        }
    });
    let upward = plot.marks_upward.iter().map(|mark| {
        view! {
            <line class="grid" x1=x(0.0) x2=x(1.0) y1=y(mark.at) y2=y(mark.at)/>
            <text x=x(0.0) - 5.0 y=y(mark.at) + 3.5 text-anchor="end">{mark.label.clone()}</text>
        }
    });
    let curves = plot.curves.iter().enumerate().rev().map(|(at, curve)| {
        let dash = DASHES[at % DASHES.len()];
        let class = if at == 0 { "curve first" } else { "curve" };
        view! {
            <polyline class=class stroke-dasharray=dash points=points(curve, x, y)/>
            {numbered(curve, at).map(|(left, up)| view! {
                <text class="number" x=x(left) + 3.0 y=y(up) - 4.0 text-anchor="middle">{at + 1}</text>
            })}
        }
    });
    let dots = plot.dots.iter().map(|&(left, up)| view! { <circle class="dot" cx=x(left) cy=y(up) r="4"/> });
    let key = plot.curves.iter().zip(&plot.words).enumerate().map(|(at, (_, words))| {
        let dash = DASHES[at % DASHES.len()];
        view! {
            <li>
                <svg class="dash" viewBox="0 0 30 8" aria-hidden="true">
                    <line class="curve" class:first=at == 0 x1="0" x2="30" y1="4" y2="4" stroke-dasharray=dash/>
                </svg>
                " " {words.clone()}
            </li>
        }
    });
    let more = plot.words.iter().skip(plot.curves.len()).map(|words| view! { <li>{words.clone()}</li> });
    let more = (plot.words.len() > plot.curves.len()).then(|| view! { <ul>{more.collect_view()}</ul> });
    view! {
        <figure class="plot">
            <figcaption><h3>{plot.title.clone()}</h3></figcaption>
            <svg viewBox=format!("0 0 {WIDE} {HIGH}") role="img" aria-label=plot.title.clone()>
                {upward.collect_view()}
                <line class="scale" x1=x(0.0) x2=x(1.0) y1=y(0.0) y2=y(0.0)/>
                {across.collect_view()}
                <text x=x(0.5) y=HIGH - 5.0 text-anchor="middle">{plot.across.clone()}</text>
                <text x=x(0.0) + 4.0 y=y(1.0) + 11.0>{plot.upward.clone()}</text>
                {curves.collect_view()}
                {dots.collect_view()}
            </svg>
            <ol>{key.collect_view()}</ol>
            {more}
        </figure>
    }
}

fn points(curve: &Curve, x: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> String {
    let each = curve.points.iter().map(|&(left, up)| format!("{:.1},{:.1}", x(left), y(up)));
    each.collect::<Vec<_>>().join(" ")
}

/// Gives where a curve bears its number: each a little further left than the one before, so that they do not meet.
fn numbered(curve: &Curve, at: usize) -> Option<(f64, f64)> {
    let back = (at + 1) * curve.points.len() / 8;
    curve.points.get(curve.points.len().checked_sub(1 + back)?).copied()
}
