//! How long the app takes in Chromium: to its first screen, and from each touch of the demo's call to the next screen.
//!
//! Needs the built app, Chromium and its driver, as the browser's tests do; says so and measures nothing without them.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a benchmark prints and may stop"
)]
#![allow(dead_code, reason = "the tests' browser can do more than this needs")]

#[path = "../tests/browser/call.rs"]
mod call;
#[path = "../tests/browser/driver.rs"]
mod driver;
#[path = "../tests/browser/site.rs"]
mod site;

use call::{begin_demo, ended, go_on};
use driver::{Browser, USUAL_LETTERS};
use serde_json::json;
use site::{Site, folder};
use std::time::Duration;

/// Notes milliseconds from each click to the next screen, with the stage and the sentence that stand there then.
const WATCH: &str = "window.took = []; let at = null; \
    document.addEventListener('click', () => { at = performance.now(); }, true); \
    new MutationObserver(() => { if (at === null) return; \
        window.took.push([performance.now() - at, document.querySelector('.stages .now')?.textContent ?? '', \
            document.querySelector('#say')?.textContent ?? '']); at = null; }) \
    .observe(document.querySelector('#app'), { attributes: true, attributeFilter: ['data-screens'] });";

fn main() {
    if std::env::var_os("CALLWRIGHT_APP").is_none() {
        println!("browser: not measured; build the app and name its folder in CALLWRIGHT_APP (`make bench` does)");
        return;
    }
    for (slowed, pause) in [(1, 0), (1, 1), (4, 1)] {
        let site = Site::serve(&folder(), "127.0.0.1:0");
        let browser = Browser::start(390, 844, USUAL_LETTERS);
        browser.developer("Emulation.setCPUThrottlingRate", &json!({ "rate": slowed }));
        browser.load(&site.url);
        let first = browser.wait("return document.querySelector('.day #demo') !== null && performance.now()");
        println!("browser, processor slowed {slowed} times: first screen after {:.0} ms", first.as_f64().unwrap());
        browser.wait("return navigator.serviceWorker.controller !== null");
        touches(&browser, slowed, Duration::from_secs(pause));
    }
}

/// Plays the demo's call, a touch after so long a pause, and prints how long the screens took to come.
fn touches(browser: &Browser, slowed: u32, pause: Duration) {
    begin_demo(browser);
    browser.run(WATCH);
    while !ended(browser) {
        std::thread::sleep(pause);
        go_on(browser);
    }
    let took = browser.run("return window.took");
    let mut took: Vec<(f64, &str, &str)> = took
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|one| Some((one[0].as_f64()?, one[1].as_str()?, one[2].as_str()?)))
        .collect();
    took.sort_by(|a, b| b.0.total_cmp(&a.0));
    let middle = took.get(took.len() / 2).map_or(f64::NAN, |one| one.0);
    println!(
        "  {} touches of the demo's call, {} s between them, slowed {slowed} times: half within {middle:.0} ms; the slowest:",
        took.len(),
        pause.as_secs()
    );
    for (milliseconds, stage, say) in took.iter().take(3) {
        println!("    {milliseconds:.0} ms, {stage}: {say}");
    }
}
