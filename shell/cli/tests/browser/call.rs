//! A call in the browser: what is touched, what comes next.

use super::driver::{Browser, ENTER, USUAL_LETTERS};
use super::site::{Site, folder};
use serde_json::Value;

/// What a screen shows that a reload must not change.
pub(crate) const PLACE: &str = "return [document.querySelector('#say').textContent, \
    [...document.querySelectorAll('.move p')].map((p) => p.textContent).join('|'), \
    document.querySelector('.stages .now')?.textContent]";

/// Opens the app and waits for the day, and until everything is kept for work without a network.
pub(crate) fn open(width: u32, height: u32) -> (Site, Browser) {
    open_with(width, height, USUAL_LETTERS)
}

/// The same where the reader has set letters of so many pixels.
pub(crate) fn open_with(width: u32, height: u32, letters: u32) -> (Site, Browser) {
    let site = Site::serve(&folder(), "127.0.0.1:0");
    let browser = Browser::start(width, height, letters);
    open_at(&site, &browser);
    (site, browser)
}

/// Opens the app that is served there.
pub(crate) fn open_at(site: &Site, browser: &Browser) {
    browser.load(&site.url);
    browser.wait("return document.querySelector('.day #demo') !== null");
    browser.wait("return navigator.serviceWorker.controller !== null");
}

/// Does something, and waits for the screen after it.
pub(crate) fn then_next(browser: &Browser, act: impl FnOnce()) {
    let count = "document.querySelector('#app')?.dataset.screens";
    let before = browser.run(&format!("return {count}"));
    act();
    browser.wait(&format!("const now = {count}; return now !== undefined && now !== {before}"));
}

pub(crate) fn begin_demo(browser: &Browser) {
    then_next(browser, || browser.touch("#demo", 0));
    browser.wait("return document.querySelector('.call') !== null");
}

pub(crate) fn ended(browser: &Browser) -> bool {
    browser.run("return document.querySelector('#say.done') !== null") == Value::Bool(true)
}

fn must_hold(browser: &Browser) -> bool {
    browser.run("return document.querySelector('#main-button.hold') !== null") == Value::Bool(true)
}

/// Takes what the demo's appliance shows; holds what must be held.
pub(crate) fn go_on(browser: &Browser) {
    then_next(browser, || {
        if must_hold(browser) {
            browser.touch("#main-button", 1100);
        } else {
            browser.run("document.querySelector('#offer').click()");
        }
    });
    assert_eq!(browser.run("return document.querySelector('#notice')?.textContent ?? null"), Value::Null);
}

/// Goes on to the end of the call, or until a script gives true.
pub(crate) fn go_on_until(browser: &Browser, wanted: &str) {
    for _ in 0..300 {
        if browser.run(wanted) == Value::Bool(true) {
            return;
        }
        assert!(!ended(browser), "the call ended before: {wanted}");
        go_on(browser);
    }
    panic!("never so: {wanted}");
}

/// The same by keys alone.
pub(crate) fn go_on_by_keys(browser: &Browser) {
    use super::driver::TAB;
    if must_hold(browser) {
        for _ in 0..60 {
            if browser.run("return document.activeElement.id") == "main-button" {
                break;
            }
            browser.press(TAB, 0);
        }
        then_next(browser, || browser.press(" ", 1100));
        return;
    }
    let offered =
        browser.run("return document.querySelector('#typed') && document.querySelector('#offer')?.textContent");
    let figure = offered.as_str().and_then(|text| text.strip_prefix("demo: ")).map(str::to_owned);
    then_next(browser, || match figure {
        Some(figure) => {
            browser.press(&figure, 0);
            assert_eq!(browser.run("return document.querySelector('#typed').firstChild.textContent"), figure.as_str());
            browser.press(ENTER, 0);
        }
        None => browser.press(ENTER, 0),
    });
}
